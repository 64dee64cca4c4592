"""From the record to the pictures: a bundle's timeline as a life, a trace as a lineage, each with its table behind."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Protocol
from uuid import UUID
from zoneinfo import ZoneInfo

from service.bundles.rules import MoveKind
from service.bundles.schemas import BundleRead
from service.lib.codes import group_code
from service.pages.pictures import life_views, lineage
from service.pages.pictures.drawing import safe
from service.pages.pictures.life import ruler_for
from service.pages.pictures.model import Count, Happening, Knot, Life, Lineage, Mark, Step, Thing
from service.pages.render import day
from service.provenance.queries.trace import Trace
from service.provenance.rules.timeline import EventKind
from service.provenance.schemas import EventRead
from service.trees.rules import StopState

WIDE, NARROW = 880.0, 372.0
MOST_ROWS = 60
_PAGES = {
    "tree": "/trees/",
    "collection": "/collections/",
    "bundle": "/bundles/",
    "graft": "/grafts/",
    "plant": "/plants/",
}
EVERY_KIND = frozenset(_PAGES)
SEASON = timedelta(days=240)  # from the first cutting to the last look at a take
_MOVES = {
    MoveKind.COLLECTED: Mark.CUT, MoveKind.RECEIVED: Mark.CAME, MoveKind.SPLIT_IN: Mark.CAME, MoveKind.HANDED_IN: Mark.CAME,
    MoveKind.SPLIT_OUT: Mark.SPLIT, MoveKind.HANDED_OUT: Mark.HAND, MoveKind.TABLE_OUT: Mark.HAND, MoveKind.GIVEN_OUTSIDE: Mark.HAND,
    MoveKind.TABLE_BACK: Mark.BACK, MoveKind.RETURNED: Mark.BACK, MoveKind.GRAFT_UNDONE: Mark.BACK, MoveKind.CUT_TO_LENGTH: Mark.LENGTH,
    MoveKind.DISCARDED: Mark.GONE, MoveKind.CORRECTED: Mark.COUNT, MoveKind.NOT_REPORTED: Mark.LOST,
}  # fmt: skip
_MARKS = {EventKind.GRAFT: Mark.GRAFT, EventKind.TAKE: Mark.TAKE}


def mark_of(kind: str, act: str) -> Mark | None:
    """The mark of an event; None for what has none of its own (a tag, a ledger line that a graft tells already)."""
    match kind:
        case EventKind.MOVE:
            return _MOVES.get(MoveKind(act)) if act else Mark.HAND
        case EventKind.LOOK:
            return Mark.WEIGHED if act == "weighed" else Mark.LOOK
        case EventKind.PLACE:
            return Mark.OUT if act == "out" else Mark.STORE
        case EventKind.STOP:
            return Mark.FREE if act in (StopState.CLEARED, "released") else Mark.STOP
    return _MARKS.get(EventKind(kind))


@dataclass(frozen=True)
class Row:
    """A bundle in a list, as far as its life line needs it."""

    id: UUID
    name: str
    on_hand: int
    stopped: bool


class Told(Protocol):
    """An event as far as a picture needs it."""

    @property
    def kind(self) -> EventKind: ...
    @property
    def act(self) -> str: ...
    @property
    def done_at(self) -> datetime: ...
    @property
    def sticks(self) -> int: ...
    @property
    def words(self) -> str: ...


def life_of(
    events: Sequence[Told],
    *,
    name: str,
    code: str,
    on_hand: int,
    stopped: bool,
    until: datetime | None = None,
) -> Life:
    """A bundle's life as it is recorded, up to `until` or to what happened last."""
    happenings, counts, sticks = [], [], 0
    for event in events:
        if event.sticks:
            sticks += event.sticks
            counts.append(Count(event.done_at, max(sticks, 0)))
        mark = mark_of(event.kind, event.act)
        if mark is not None:
            happenings.append(Happening(mark, event.done_at, event.words))
    last = max((event.done_at for event in events), default=until)
    if last is None:
        raise ValueError("a life needs an event, or until when it is drawn")
    ended = on_hand == 0 and bool(events)
    return Life(
        name=name, code=code, happenings=tuple(happenings), counts=tuple(counts), stopped=stopped, ended=ended,
        until=last if ended or until is None else max(until, last),
        end_words="none left" if ended else f"{on_hand} {'stick' if on_hand == 1 else 'sticks'}",
    )  # fmt: skip


def life_line_of(
    events: Sequence[EventRead],
    bundle: BundleRead,
    *,
    now: datetime | None = None,
    zone: str = "UTC",
    name: str = "this bundle",
) -> str:
    """The life line of a bundle's page, for a desk and for a phone. The sentences beside it say the same."""
    if not events:
        return '<p class="quiet">Nothing is recorded yet.</p>'
    life = life_of(
        events, name=name, code=bundle.code or "", on_hand=bundle.on_hand, stopped=bundle.stopped, until=now
    )
    return both_widths(
        life_views.middle(life, "life-wide", width=WIDE, zone=zone),
        life_views.middle(life, "life-narrow", width=NARROW, zone=zone),
    )


def life_line_of_card(card: Mapping[str, Any], today: date, zone: str) -> str:
    """The line of a scanned bundle, by what its answer tells everybody: cut, looked at, stopped, and what is left of it today."""
    cut_on = card.get("origin", {}).get("cut_on")
    if not cut_on:
        return ""
    sticks = card["sticks"]
    told = [(Mark.CUT, cut_on, f"{sticks['at_start']} sticks when it was tied")]
    if card.get("last_look"):
        told.append((Mark.LOOK, card["last_look"]["seen_on"], card["last_look"]["words"]))
    told += [(Mark.STOP, stop["since"], stop["words"]) for stop in card.get("stops", [])]
    happenings = [Happening(mark, _noon(day, zone), words) for mark, day, words in told]
    until = max(_noon(today.isoformat(), zone), *(each.at for each in happenings))
    on_hand = sticks["on_hand"]
    life = Life(
        name=card["name"]["short"], code=card.get("code") or "", happenings=tuple(sorted(happenings, key=lambda each: each.at)),
        until=until, counts=(Count(happenings[0].at, sticks["at_start"]), Count(until, on_hand)), stopped=card["state"] == "stopped",
        ended=on_hand == 0, end_words="none left" if on_hand == 0 else f"{on_hand} {'stick' if on_hand == 1 else 'sticks'}",
    )  # fmt: skip
    return both_widths(
        life_views.middle(life, "life-wide", width=WIDE, zone=zone),
        life_views.middle(life, "life-narrow", width=NARROW, zone=zone),
    )


def _noon(day: str, zone: str) -> datetime:
    return datetime.combine(date.fromisoformat(day), time(12), ZoneInfo(zone))


def small_lines_of(
    lives: Mapping[UUID, Sequence[Told]], rows: Sequence[Row], *, now: datetime
) -> dict[UUID, str]:
    """The life lines of a list's rows, all on one scale and to one thickness."""
    drawn = {
        each.id: life_of(
            lives[each.id], name=each.name, code="", on_hand=each.on_hand, stopped=each.stopped, until=now
        )
        for each in rows
        if lives.get(each.id)
    }
    if not drawn:
        return {}
    ruler = ruler_for(list(drawn.values()), life_views.SMALL_WIDTH, at_most=SEASON)
    most = max((count.sticks for life in drawn.values() for count in life.counts), default=1)
    return {
        key: life_views.small(life, f"life-{key.hex}", ruler=ruler, most=most)
        for key, life in drawn.items()
        if life.until >= ruler.start
    }


def lineage_of(trace: Trace, *, focus: UUID, opens: Collection[str] = EVERY_KIND) -> str:
    """The lineage of a page, for a desk and for a phone, with the same as a table behind; `opens`: kinds that may be followed."""
    told = trace.as_answer()
    drawn = Lineage(
        knots=tuple(_knot(node) for node in told["nodes"]),
        steps=tuple(Step(str(edge["from_id"]), str(edge["to_id"]), edge["how"]) for edge in told["edges"]),
        focus=str(focus), title=_title(told["summary"]),
    )  # fmt: skip
    pictures = both_widths(
        lineage.wide(drawn, "lineage-wide"),
        lineage.narrow(drawn, "lineage-narrow"),
        scrolls="Lineage, scrolls sideways",
    )
    return pictures + _table(told["nodes"], str(focus), opens)


def _knot(node: dict[str, Any]) -> Knot:
    words, code, name = str(node["words"]), node["code"], node["name"] or ""
    grouped = group_code(code) if code else ""
    thing = Thing(str(node["kind"]))
    note = [grouped if grouped and grouped not in words else "", node["state"] or ""]
    if thing is Thing.BUNDLE and node["on_hand"] is not None:
        note = [f"{node['on_hand']} {'stick' if node['on_hand'] == 1 else 'sticks'}"]
    title = (
        f"{words} · {name}" if name and thing in {Thing.TREE, Thing.PLANT} and name not in words else words
    )
    return Knot(
        str(node["id"]),
        thing,
        title,
        " · ".join(part for part in note if part),
        bool(node["stopped"]),
        node["on_hand"],
    )


def _title(summary: dict[str, int]) -> str:
    parts = [
        (summary["trees"], "tree"),
        (summary["collections"], "cut"),
        (summary["bundles"], "bundle"),
        (summary["grafts"], "graft"),
        (summary["plants"], "plant"),
    ]
    return "Lineage: " + ", ".join(
        f"{count} {word}{'' if count == 1 else 's'}" for count, word in parts if count
    )


def both_widths(wide: str, narrow: str, *, scrolls: str = "") -> str:
    """A picture for a desk and the same for a phone; only one of them is shown."""
    # What scrolls must be reachable with the keyboard.
    around = f' scroll" tabindex="0" role="group" aria-label="{scrolls}"' if scrolls else '"'
    return f'<div class="only-wide{around}>{wide}</div><div class="only-narrow">{narrow}</div>'


def _table(nodes: Sequence[dict[str, Any]], focus: str, opens: Collection[str]) -> str:
    rows = "".join(_table_row(node, str(node["id"]) == focus, opens) for node in nodes[:MOST_ROWS])
    more = len(nodes) - MOST_ROWS
    rest = f'<p class="quiet small">and {more} more.</p>' if more > 0 else ""
    head = "".join(f'<th scope="col">{word}</th>' for word in ("Thing", "Name", "Tag", "State", "Since"))
    return (
        '<details class="behind"><summary>The same as a table</summary><div class="scroll"><table class="cards">'
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>{rest}</details>"
    )


def _table_row(node: dict[str, Any], here: bool, opens: Collection[str]) -> str:
    state = "stopped" if node["stopped"] else str(node["state"] or "")
    if node["on_hand"] is not None:
        state += f"{', ' if state else ''}{node['on_hand']} on hand"
    at = node["at"]
    since = day(at if isinstance(at, datetime) else str(at)[:10])
    words = safe(str(node["words"]))
    if here:
        thing = f"<b>{words}</b>, this one"
    elif node["kind"] in opens:
        thing = f'<a href="{_PAGES[str(node["kind"])]}{safe(str(node["id"]))}">{words}</a>'
    else:
        thing = words
    tag = group_code(node["code"]) if node["code"] else ""
    cells = (("Name", safe(str(node["name"] or ""))), ("Tag", tag), ("State", safe(state)), ("Since", since))
    return (
        f'<tr><th scope="row">{thing}</th>'
        + "".join(f'<td data-label="{label}" dir="auto"><span>{value}</span></td>' for label, value in cells)
        + "</tr>"
    )
