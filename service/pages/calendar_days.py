"""What stands in somebody's calendar: what their pages tell them, each on its day, and nothing else.

No word of it hangs on the day it is read: what was told yesterday is told in the same words today, until something changes.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from datetime import UTC, date, datetime, timedelta
from typing import TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.grafting import queries as grafting_queries
from service.grafting.rules import Part
from service.grafting.schemas import GraftSummary
from service.lib.calendars import DayToMind
from service.lib.clock import day_words, local_day
from service.lib.codes import group_code
from service.lib.counted import several
from service.lib.paging import EVERY
from service.members.queries import CalendarReader
from service.members.rules import May, Role
from service.pages.render import stop_title
from service.storage import queries as storage_queries
from service.storage.queries import StoreLook, WoodInHand
from service.storage.queries.use_first import use_first
from service.storage.rules import DueWhy, StoreLimits, rang_words, what_to_do
from service.storage.rules.keeping_words import until_words
from service.storage.rules.reaching import GRAFTING, ClubDay, club_days
from service.storage.rules.weekly import LOOK_FIRST
from service.storage.schemas import RingRead
from service.storage.schemas.keeping import Ends, UseFirstRead
from service.trees import queries as tree_queries
from service.trees.schemas import StopSummary

BACK = timedelta(days=365)
START = datetime(1970, 1, 1, tzinfo=UTC)  # where nothing was ever moved
NAMED = 40  # bundles in one event; the page has them all
MOST_WOOD, MOST_RINGS = 2000, 400
STEWARDS = frozenset({Role.STEWARD, Role.ADMINISTRATOR})
MIND_STOPS = STEWARDS | {Role.HEALTH_STEWARD}
WHY_WORDS = {
    DueWhy.MOULD_BESIDE: "mould was found in its box",
    DueWhy.LOOK_AGAIN: "something was found at the last look",
    DueWhy.LONG_AGO: "four weeks after the last look",
    DueWhy.NEVER: "not looked at since it was cut",
}
STOPPED = "stopped, and not to be used until it is released"
T = TypeVar("T")


def days_of(session: Session, reader: CalendarReader, now: datetime) -> list[DayToMind]:
    """A year back at most, and all that is to come. Whoever may not read the record is told nothing of it."""
    if May.READ not in reader.may:
        return []
    changed = storage_queries.record_changed(session)
    changed_at = changed.wood_at or START
    first: list[UseFirstRead] = []
    found = _grafts(session, reader, local_day(now, reader.zone) - BACK)
    found += _own_wood(storage_queries.wood_in_hand(session, reader.party_id), reader.party_id, changed_at)
    if May.STORE in reader.may:
        host_id = None if reader.roles & STEWARDS else reader.party_id
        first = use_first(session, most=MOST_WOOD, host_id=host_id)
        found += _stores(session, reader, first, now, changed_at)
    found += [_club_day(day, first, changed_at) for day in club_days(reader.exchange_on, reader.grafting_on)]
    if reader.roles & MIND_STOPS:
        stops = tree_queries.list_stops(session, EVERY, is_open=True).items
        found += [_stop(stop, reader.zone, changed.stops_at) for stop in stops]
    return [day for day in found if day.on >= local_day(now, reader.zone) - BACK]


def _stores(
    session: Session, reader: CalendarReader, first: list[UseFirstRead], now: datetime, changed_at: datetime
) -> list[DayToMind]:
    """Of a host their own stores, of a steward all."""
    host_id = None if reader.roles & STEWARDS else reader.party_id
    looks, store_ids = storage_queries.looks_to_come(session, reader.zone, host_id)
    if not store_ids:
        return []
    only = None if host_id is None else store_ids
    rings = [
        one
        for one in storage_queries.list_rings(session, now - BACK, only, MOST_RINGS)
        if one.withdrawn_at is None
    ]
    here = storage_queries.limits_here(session, [ring.store_id for ring in rings])
    return [
        *(_looks(each, changed_at) for each in _grouped(looks, lambda look: (look.store_id, look.on))),
        *_use_first(first, changed_at),
        *(_ring(ring, reader.zone, here[ring.store_id]) for ring in rings),
    ]


def _grouped(things: Iterable[T], key: Callable[[T], Hashable]) -> list[list[T]]:
    groups: dict[Hashable, list[T]] = {}
    for each in things:
        groups.setdefault(key(each), []).append(each)
    return list(groups.values())


def _listed(lines: list[str]) -> str:
    left = [f"and {len(lines) - NAMED} more"] if len(lines) > NAMED else []
    return "\n".join([*lines[:NAMED], *left])


def _named(variety: str, code: str | None) -> str:
    return f"{variety} ({group_code(code) if code else 'a stick flag'})"


def _week_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


# -- stores --------------------------------------------------------------------------------------------------------


def _looks(looks: list[StoreLook], changed_at: datetime) -> DayToMind:
    first, lines = looks[0], []
    for each in sorted(looks, key=lambda look: (_where(look), look.wood.variety, look.wood.code or "")):
        stopped = ", stopped" if each.wood.open_stops else ""
        name = _named(each.wood.variety, each.wood.code or each.wood.parent_code)
        lines.append(f"{name}, {_where(each)}: {WHY_WORDS[each.why]}{stopped}")
    return DayToMind(
        f"looks/{first.store_id}/{first.on}", first.on, f"{first.store_name}: {several(len(looks), 'look')} due", _listed(lines),
        f"/store/{first.store_id}/due", max(changed_at, first.changed_at),
    )  # fmt: skip


def _where(look: StoreLook) -> str:
    return look.wood.box_name or look.wood.place_name


def _use_first(wood: list[UseFirstRead], changed_at: datetime) -> list[DayToMind]:
    dated = [(each, until) for each in wood if (until := each.keeping.first_on) is not None]
    groups = _grouped(dated, lambda told: (told[0].store_id, _week_of(told[1])))
    return [_use_first_week(each, changed_at) for each in groups]


def _use_first_week(told: list[tuple[UseFirstRead, date]], changed_at: datetime) -> DayToMind:
    store, on = told[0][0], min(until for _, until in told)
    free = sum(not each.stopped for each, _ in told)
    lines = [_why_first(each, until) for each, until in told]
    what = (
        f"use {several(free, 'bundle')} this week at the latest" if free else "stopped wood, not to be used"
    )
    return DayToMind(
        f"use-first/{store.store_id}/{_week_of(on)}", on, f"{store.store_name}: {what}", f"{_listed(lines)}\n{LOOK_FIRST}",
        f"/store/{store.store_id}/use-first", max(changed_at, *(each.keeping.as_of for each, _ in told)),
    )  # fmt: skip


def _why_first(each: UseFirstRead, on: date) -> str:
    name, keeping = _named(each.variety, each.code or each.parent_code), each.keeping
    if keeping.found_on == on:
        told = f"{name}: {keeping.look_words}"
        return f"{told} {STOPPED.capitalize()}." if each.stopped else told
    return _until_words(name, on, keeping.ends, keeping.usual_weeks, stopped=each.stopped)


def _until_words(
    name: str, until: date, ends: Ends | None, weeks: tuple[int, int] | None, *, stopped: bool
) -> str:
    """`ends`: the early and the late end of what was reckoned; none where only its age counts."""
    if ends is not None:
        kept = until_words(until, *ends)
    else:
        usual = f" (usually kept {weeks[0]} to {weeks[1]} weeks)" if weeks else ""
        kept = f"by its age until {day_words(until)}{usual}"
    return f"{name}: {kept}; {STOPPED}" if stopped else f"{name}: {kept}"


def _club_day(day: ClubDay, wood: list[UseFirstRead], changed_at: datetime) -> DayToMind:
    """To all members; to who looks after stores with what hardly keeps until then."""
    late = [each for each in wood if day.on in {missed.on for missed in each.misses} and not each.stopped]
    lines = [_named(each.variety, each.code or each.parent_code) + f", {each.store_name}" for each in late]
    hardly = f"hardly {'keeps' if len(late) == 1 else 'keep'} until then"
    told = f"{several(len(late), 'bundle')} in store {hardly}:\n{_listed(lines)}\n{LOOK_FIRST}"
    return DayToMind(
        f"club/{day.what.split()[0]}/{day.on}", day.on, "Grafting day" if day.what == GRAFTING else "Exchange of the club",
        told if late else "", "/use-first" if late else "/", max(changed_at, *(each.keeping.as_of for each in late), START),
    )  # fmt: skip


def _ring(ring: RingRead, zone: str, here: StoreLimits) -> DayToMind:
    what = f"{rang_words(ring.kind, ring.extreme_c, over=True)} in"
    until = f"until {_minute(ring.ended_at, zone)}" if ring.ended_at else "and no end was measured"
    lines = [
        f"{what} {ring.store_name} from {_minute(ring.began_at, zone)} {until}: {ring.extreme_c:.1f} °C at worst.",
        *(told.words for told in what_to_do(ring.kind, ring.extreme_c, here)),
    ]
    title = f"{what} {ring.store_name}" if ring.ended_at else f"{what} {ring.store_name}: look now"
    known = [ring.recorded_at, ring.last_at, ring.ended_at, ring.told_at]
    return DayToMind(
        f"ring/{ring.id}", local_day(ring.rang_at, zone), title, "\n".join(lines),
        f"/store/{ring.store_id}/temperature", max(moment for moment in known if moment is not None),
    )  # fmt: skip


def _minute(at: datetime, zone: str) -> str:
    local = at.astimezone(ZoneInfo(zone))
    return f"{day_words(local.date())}, {local:%H:%M}"


def _stop(stop: StopSummary, zone: str, changed_at: datetime | None) -> DayToMind:
    """What was noted beside it stays in the record: its address asks for no sign-in, and others' calendars keep what they read."""
    on = local_day(stop.opened_at, zone)
    text = f"{stop.state.value.capitalize()}, open since {day_words(on)}."
    return DayToMind(
        f"stop/{stop.id}", on, f"Stopped: {stop_title(stop)}", text, f"/stops/{stop.id}",
        max(changed_at or stop.opened_at, stop.opened_at),
    )  # fmt: skip


# -- one's own wood and grafts -------------------------------------------------------------------------------------


def _own_wood(wood: list[WoodInHand], party_id: UUID, changed_at: datetime) -> list[DayToMind]:
    dated = [(each, each.until) for each in wood if each.until is not None]
    return [_own_week(told, party_id, changed_at) for told in _grouped(dated, lambda told: _week_of(told[1]))]


def _own_week(told: list[tuple[WoodInHand, date]], party_id: UUID, changed_at: datetime) -> DayToMind:
    on = min(until for _, until in told)
    free = sum(not each.stopped for each, _ in told)
    lines = [
        _until_words(
            f"{_named(each.variety, each.code)}, {several(each.on_hand, 'stick')}", until, each.ends, each.usual_weeks, stopped=each.stopped
        )
        for each, until in told
    ]  # fmt: skip
    title = f"Graft by this day: {several(free, 'bundle')} of yours" if free else "Wood of yours is stopped"
    path = f"/bundles/{told[0][0].bundle_id}" if len(told) == 1 else "/"
    return DayToMind(
        f"own/{party_id}/{_week_of(on)}", on, title, f"{_listed(lines)}\n{LOOK_FIRST}", path,
        max(changed_at, *(each.changed_at for each, _ in told)),
    )  # fmt: skip


def _grafts(session: Session, reader: CalendarReader, since: date) -> list[DayToMind]:
    page = grafting_queries.list_takes_due(session, EVERY, date.max, only_for=reader.party_id, since=since)
    if not page.items:
        return []
    changed_at = grafting_queries.takes_changed_at(session, reader.party_id)
    days = _grouped(page.items, lambda graft: graft.verdict_on)
    return [_verdicts(each, reader, changed_at) for each in days]


def _verdicts(grafts: list[GraftSummary], reader: CalendarReader, changed_at: datetime | None) -> DayToMind:
    on, count = grafts[0].verdict_on, sum(graft.grafts for graft in grafts)
    assert on is not None
    lines = []
    for graft in grafts:
        scions = [wood.variety for wood in graft.woods if wood.part is Part.SCION] or ["a graft"]
        made_on = day_words(local_day(graft.done_at, reader.zone))
        lines.append(
            f"{' and '.join(scions)} on {graft.stock}: {several(graft.grafts, 'graft')}, grafted {made_on}"
        )
    path = f"/grafts/{grafts[0].id}" if len(grafts) == 1 else "/bench"
    known = [graft.recorded_at for graft in grafts]
    return DayToMind(
        f"takes/{reader.party_id}/{on}", on, f"Look whether {several(count, 'graft')} took", _listed(lines), path,
        max([*known, *([changed_at] if changed_at else [])]),
    )  # fmt: skip
