"""The life of one bundle as sentences that a volunteer can read, in the order in which things were done."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from service.bundles.rules import MoveKind
from service.lib.codes import group_code
from service.provenance.rules.card import LookFacts, look_words
from service.provenance.rules.words import count, is_late, sentence
from service.storage.rules import as_box
from service.storage.rules.packing import Packed


class EventKind(StrEnum):
    MOVE = "move"  # of sticks
    PLACE = "place"  # put somewhere, or taken out
    LOOK = "look"
    STOP = "stop"
    GRAFT = "graft"
    TAKE = "take"
    TAG = "tag"
    CORRECTION = "correction"  # of the name, the tree or the time of its cut


@dataclass(frozen=True)
class Event:
    """One thing that happened to a bundle."""

    kind: EventKind
    words: str
    done_at: datetime
    recorded_at: datetime
    place: int = 0  # order among things done at the same moment
    by_id: UUID | None = None
    for_id: UUID | None = None
    by_name: str = ""
    for_name: str = ""
    thing_id: UUID | None = None
    act: str = ""  # finer than the kind: the ledger's word, `in` or `out`, the stop's state
    sticks: int = 0  # by how many the sticks on hand changed

    @property
    def late(self) -> bool:
        return is_late(self.done_at, self.recorded_at)


def in_order(events: Iterable[Event]) -> list[Event]:
    """By the person's time; what was done at the same moment as it was recorded."""
    return sorted(events, key=lambda event: (event.done_at, event.recorded_at, event.place))


@dataclass(frozen=True)
class MoveFacts:
    """A line of the ledger as far as its sentence goes."""

    kind: MoveKind
    sticks: int
    form: str = ""
    other_code: str | None = None
    party: str = ""
    reason: str = ""


def move_words(move: MoveFacts) -> str:
    """`5 sticks were handed over to Ada Holt as a bundle of their own, 7K3P 9M2A.`"""
    n = count(abs(move.sticks), "stick")
    were = "was" if abs(move.sticks) == 1 else "were"
    other = f" {group_code(move.other_code)}" if move.other_code else ""
    to = f" to {move.party}" if move.party else ""
    by = f" by {move.party}" if move.party else ""
    form = {"bundle": f" as a bundle of its own{other}", "flag": " under a stick flag"}.get(move.form, "")
    said = {
        MoveKind.COLLECTED: f"tied as a bundle of {n}, freshly cut",
        MoveKind.RECEIVED: f"tied as a bundle of {n}, received from outside",
        MoveKind.SPLIT_OUT: f"{n} {were} split off into the bundle{other}",
        MoveKind.SPLIT_IN: f"began as {n} split off from the bundle{other}",
        MoveKind.HANDED_OUT: f"{n} {were} handed over{to}{form}",
        MoveKind.HANDED_IN: f"began as {n} handed over{to}, from the bundle{other}",
        MoveKind.TABLE_OUT: f"{n} {were} counted out to an open table",
        MoveKind.TABLE_BACK: f"{n} came back from the open table",
        MoveKind.GIVEN_OUTSIDE: f"{n} {were} given outside the club",
        MoveKind.RETURNED: f"returned to the club{by} with {n}",
        MoveKind.CUT_TO_LENGTH: f"cut to length: {n} more than before",
        MoveKind.GRAFTED: f"{n} {were} used in a graft",
        MoveKind.GRAFT_UNDONE: f"{n} came back from a graft that was entered by mistake",
        MoveKind.DISCARDED: f"{n} {were} thrown away",
        MoveKind.CORRECTED: _corrected(move.sticks),
        MoveKind.NOT_REPORTED: f"nothing was heard of {n}",
    }[move.kind]
    return sentence(f"{said}: {move.reason}" if move.reason else said)


def _corrected(difference: int) -> str:
    if not difference:
        return "counted; the record was right"
    return f"counted: {count(abs(difference), 'stick')} {'more' if difference > 0 else 'fewer'} than recorded"


def put_words(*, into_box: str, store: str, place: str, box: str = "") -> str:
    """`Put into box Blue crate 3.` `Put into Garage fridge (top shelf).` `Its box Blue crate 3 was taken out.`"""
    begun = f"its {as_box(box)} was " if box else ""
    if into_box:
        return sentence(f"{begun}put into {as_box(into_box)}")
    if store:
        return sentence(f"{begun}put into {store}" + (f" ({place})" if place else ""))
    return sentence(f"{begun}taken out")


def look_sentence(look: LookFacts, note: str) -> str:
    seen = look_words(look) or "Looked at."
    return f"{seen} {sentence(note)}".strip()


_MOMENTS = {"before": ", before sticks were taken out", "after": ", after sticks were taken out"}


def weight_sentence(grams: float, moment: str, note: str, *, taken_back: bool) -> str:
    """`The bag weighed 412.5 g, before sticks were taken out.`"""
    crossed_out = " It was mistyped and taken back." if taken_back else ""
    return f"The bag weighed {grams:g} g{_MOMENTS.get(moment, '')}.{crossed_out} {sentence(note)}".strip()


def packing_sentence(packed: Packed, note: str) -> str:
    """`Packed: bare, ends waxed.`"""
    return f"Packed: {packed.words}. {sentence(note)}".strip()


_STOP_WORDS = {
    "health": "for health",
    "name": "because its name is in doubt",
    "rights": "for rights",
}


def stop_sentence(state: str, reason: str, agent: str, note: str) -> str:
    what = {"suspected": "stopped", "confirmed": "the stop was confirmed", "cleared": "the stop was cleared"}[
        state
    ]
    why = _STOP_WORDS[reason] + (f" ({agent})" if agent else "")
    return f"{sentence(f'{what} {why}')} {sentence(note)}".strip()


def release_sentence(reason: str, why: str) -> str:
    """`The stop for health let go of this bundle alone: it was cut of another tree.`"""
    return sentence(f"the stop {_STOP_WORDS[reason]} let go of this bundle: {why}")


def name_sentence(labelled_as: str, words: str, reason: str) -> str:
    """`Labelled as Gala until then, corrected to Bramley: the fruit was compared.`"""
    return sentence(f"labelled as {labelled_as} until then, corrected to {words}: {reason}")


def time_sentence(before: str, after: str, reason: str) -> str:
    return sentence(f"the time of its cut was corrected from {before} to {after}: {reason}")


def tree_sentence(before: int, after: int, reason: str) -> str:
    """`Written down as cut from tree 12 until then, corrected to tree 14: the rows were counted again.`"""
    return sentence(f"written down as cut from tree {before} until then, corrected to tree {after}: {reason}")


def graft_sentence(number: int, part: str, grafts: int, sticks: int, method: str, stock: str) -> str:
    """`Graft 12: 3 grafts with 2 sticks, whip and tongue, on M.9.`"""
    told = [
        f"{count(grafts, 'graft')} with {count(sticks, 'stick')}"
        + (" as interstem" if part == "interstem" else "")
    ]
    told += [method.replace("-", " ")] if method else []
    told += [f"on {stock}"] if stock else []
    return sentence(f"graft {number}: {', '.join(told)}")


def take_sentence(
    number: int,
    alive: int,
    looked_at: int,
    doubtful: int,
    *,
    is_verdict: bool,
    lost: int = 0,
    cause: str = "",
) -> str:
    verdict = " This is the verdict." if is_verdict else ""
    doubt = f", {doubtful} doubtful" if doubtful else ""
    otherwise = f", {lost} lost otherwise ({cause.replace('_', ' ')})" if lost else ""
    return f"{sentence(f'graft {number}: {alive} of {looked_at} alive{doubt}{otherwise}')}{verdict}"
