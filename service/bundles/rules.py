"""The stick ledger's words: what each movement does to a bundle's counters, and what is refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from service.lib.clock import CLOCK_SLACK, day_words, local_day
from service.lib.codes import group_code
from service.lib.errors import NotFound, Refused, Unusable
from service.members.rules import AreaNotKnown

MOST_STICKS = 10_000


class Counter(StrEnum):
    """The sums a bundle keeps of its ledger."""

    CAME_IN = "came_in"
    PASSED_ON = "passed_on"
    GRAFTED = "grafted"
    DISCARDED = "discarded"


class MoveKind(StrEnum):
    """What can happen to sticks."""

    COLLECTED = "collected"
    RECEIVED = "received"
    SPLIT_OUT = "split_out"
    SPLIT_IN = "split_in"
    HANDED_OUT = "handed_out"
    HANDED_IN = "handed_in"
    TABLE_OUT = "table_out"
    TABLE_BACK = "table_back"
    GIVEN_OUTSIDE = "given_outside"
    RETURNED = "returned"
    CUT_TO_LENGTH = "cut_to_length"
    GRAFTED = "grafted"
    GRAFT_UNDONE = "graft_undone"
    DISCARDED = "discarded"
    CORRECTED = "corrected"
    NOT_REPORTED = "not_reported"


# Each kind adds (+1) or takes back (-1) on one counter; a return moves none: the bundle changes hands whole.
EFFECT: Mapping[MoveKind, tuple[Counter, int] | None] = {
    MoveKind.COLLECTED: (Counter.CAME_IN, 1),
    MoveKind.RECEIVED: (Counter.CAME_IN, 1),
    MoveKind.SPLIT_OUT: (Counter.PASSED_ON, 1),
    MoveKind.SPLIT_IN: (Counter.CAME_IN, 1),
    MoveKind.HANDED_OUT: (Counter.PASSED_ON, 1),
    MoveKind.HANDED_IN: (Counter.CAME_IN, 1),
    MoveKind.TABLE_OUT: (Counter.PASSED_ON, 1),
    MoveKind.TABLE_BACK: (Counter.PASSED_ON, -1),
    MoveKind.GIVEN_OUTSIDE: (Counter.PASSED_ON, 1),
    MoveKind.RETURNED: None,
    MoveKind.CUT_TO_LENGTH: (Counter.CAME_IN, 1),
    MoveKind.GRAFTED: (Counter.GRAFTED, 1),
    MoveKind.GRAFT_UNDONE: (Counter.GRAFTED, -1),
    MoveKind.DISCARDED: (Counter.DISCARDED, 1),
    MoveKind.CORRECTED: (Counter.CAME_IN, 1),
    MoveKind.NOT_REPORTED: (Counter.PASSED_ON, 1),
}


class HandOverForm(StrEnum):
    """How sticks pass to a party."""

    BUNDLE = "bundle"  # a child bundle with a code of its own
    FLAG = "flag"  # a stick flag that copies the bundle's code
    TABLE = "table"  # taken at an open table, counted out and back


class NoSuchBundle(NotFound):
    title = "There is no such bundle"
    todo = "Scan its tag, or look it up by variety or tree."


class NotEnoughSticks(Refused):
    title = "There are not that many sticks"
    todo = "Count the bundle; correct the record if the count differs, or ask for fewer."

    def __init__(self, *, on_hand: int, free: int, asked: int, code: str | None = None) -> None:
        kept = f" ({on_hand} on hand, the rest is promised)" if free < on_hand else ""
        super().__init__(
            f"{asked} {'stick' if asked == 1 else 'sticks'} asked, but only {free} {'is' if free == 1 else 'are'} free{kept}.",
            field="sticks", on_hand=on_hand, free=free, asked=asked, code=code,
        )  # fmt: skip


class StoppedBundle(Refused):
    title = "This wood is stopped"
    todo = "Leave it where it is, apart from other wood, and ask the club's health steward; only a release lifts the stop."


class NotHandedOver(Refused):
    title = "This bundle is not with anybody"
    todo = "Only wood that was handed over can be returned."


class NothingAtTable(Refused):
    title = "Fewer sticks are out on the table"
    todo = "Count again: no more can come back than were counted out."


class BeforeItWasMade(Refused):
    title = "The bundle was not there yet"
    todo = "Look at the day and say when it was done. If the bundle’s own day is wrong, put right when its wood was cut or came first."


class BadCount(Unusable):
    title = "This count cannot be right"
    todo = "Send a whole number of sticks."


class ReasonMissing(Unusable):
    title = "A reason is needed"
    todo = "Say in a few words why."


@dataclass(frozen=True)
class StickCount:
    """A bundle's counters: what came in and where it went."""

    came_in: int = 0
    passed_on: int = 0
    grafted: int = 0
    discarded: int = 0
    promised: int = 0
    claimed: int = 0

    @property
    def on_hand(self) -> int:
        """Sticks that are physically there."""
        return self.came_in - self.passed_on - self.grafted - self.discarded

    @property
    def free(self) -> int:
        """Sticks on hand that nobody was promised and nobody claims."""
        return self.on_hand - self.promised - self.claimed


@dataclass(frozen=True)
class BundleFacts:
    """A bundle as far as rules go."""

    id: UUID
    code: str | None
    collection_id: UUID
    parent_id: UUID | None
    holder_id: UUID | None
    is_flag: bool
    count: StickCount
    open_stops: int
    sticks_at_start: int
    length_mm: int | None
    diameter_mm: float | None
    unfinished: bool
    made_at: datetime
    note: str
    version: int

    @property
    def on_hand(self) -> int:
        return self.count.on_hand

    @property
    def free(self) -> int:
        return self.count.free


def can_take(bundle: BundleFacts, sticks: int) -> bool:
    """Whether so many sticks may leave this bundle: it is not stopped and they are free."""
    return bundle.open_stops == 0 and 0 < sticks <= bundle.free


def check_can_take(bundle: BundleFacts, sticks: int, stopped_by: Iterable[str] = ()) -> None:
    """Refuse taking sticks from stopped wood, and sticks that are not there or not free."""
    check_not_stopped(bundle, stopped_by)
    if sticks <= 0:
        raise BadCount("At least one stick.", field="sticks")
    if sticks > bundle.free:
        raise NotEnoughSticks(on_hand=bundle.on_hand, free=bundle.free, asked=sticks, code=bundle.code)


def check_not_stopped(bundle: BundleFacts, stopped_by: Iterable[str] = ()) -> None:
    """Refuse any use of wood that a stop binds."""
    if bundle.open_stops:
        why = "; ".join(stopped_by) or "a stop binds it or its tree"
        raise StoppedBundle(f"This wood is stopped: {why}.", code=bundle.code, bundle_id=str(bundle.id))


def check_can_return(bundle: BundleFacts, stopped_by: Iterable[str] = ()) -> None:
    """Refuse the return of what nobody was given, or of stopped wood."""
    if bundle.holder_id is None:
        raise NotHandedOver("It never left the club, or is back already.", code=bundle.code)
    check_not_stopped(bundle, stopped_by)


def may_lie_before(made_at: datetime, done_at: datetime) -> bool:
    """Whether the days must be looked at: a deed later than the bundle, or by the slack of a clock earlier, is in order."""
    return done_at < made_at - CLOCK_SLACK


def can_be_done_at(made_at: datetime, done_at: datetime, zone: str) -> bool:
    """A late entry is in order, one from before the bundle is not. Days are compared: paper knows no more than the day."""
    return not may_lie_before(made_at, done_at) or local_day(done_at, zone) >= local_day(made_at, zone)


def check_done_after_made(
    made_at: datetime, done_at: datetime, zone: str, code: str | None, *, field: str = "done_at"
) -> None:
    """Raises `BeforeItWasMade`, and names the bundle and its day in the club's zone."""
    if can_be_done_at(made_at, done_at, zone):
        return
    bundle = f"Bundle {group_code(code)}" if code else "This bundle"
    made_on, done_on = local_day(made_at, zone), local_day(done_at, zone)
    raise BeforeItWasMade(
        f"{bundle} was made on {day_words(made_on)}, and this is said to be done on {day_words(done_on)}.",
        field=field, code=code, made_on=made_on.isoformat(), done_on=done_on.isoformat(),
    )  # fmt: skip


class NotKnownWhereTo(AreaNotKnown):
    title = "It is not known which plant-health area this goes to"
    todo = "Ask in which area it will be grafted, and say it."


class StoppedSticksMissing(Refused):
    title = "Sticks of stopped wood are missing"
    todo = "Look for them, and tell the health steward, who writes down what is missing; the stop's page keeps it."


def can_tell_missing(bundle: BundleFacts, difference: int, *, may_release: bool) -> bool:
    """Whether somebody may write down a count: one below the record, of stopped wood, only who may release stops."""
    return difference >= 0 or not bundle.open_stops or may_release


def check_missing_may_be_told(bundle: BundleFacts, difference: int, *, may_release: bool) -> None:
    """Raises `StoppedSticksMissing`."""
    if not can_tell_missing(bundle, difference, may_release=may_release):
        raise StoppedSticksMissing(
            f"A stop binds this wood, and the record says {bundle.on_hand}: {-difference} fewer were counted.",
            field="counted", on_hand=bundle.on_hand, missing=-difference,
        )  # fmt: skip


def plan_correction(bundle: BundleFacts, counted: int) -> int:
    """How many sticks a recount adds (or, below nought, takes away). Refuses a count below what is promised."""
    if counted < 0:
        raise BadCount("A count is nought or more.", field="counted")
    if counted < bundle.count.promised + bundle.count.claimed:
        raise NotEnoughSticks(
            on_hand=counted, free=0, asked=bundle.count.promised + bundle.count.claimed, code=bundle.code
        )
    return counted - bundle.on_hand


@dataclass(frozen=True)
class Balance:
    """The sticks of a collection and all its descendants: what came equals where it is."""

    collected: int
    gained: int
    corrections: int
    on_hand: int
    grafted: int
    discarded: int
    given_outside: int
    not_reported: int

    @property
    def came(self) -> int:
        return self.collected + self.gained + self.corrections

    @property
    def went(self) -> int:
        return self.on_hand + self.grafted + self.discarded + self.given_outside + self.not_reported

    @property
    def holds(self) -> bool:
        return self.came == self.went
