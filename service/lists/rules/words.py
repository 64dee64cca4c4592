"""Sorts and states of lists, who may take them, and what can be wrong with them."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from service.lib.errors import NotAllowed, NotFound, Problem, Refused, Unusable
from service.members.rules import May

MOST_RESTS_TOLD = 8  # in words
WAITS_DAYS = 30  # one that nobody settled for so long goes when the next list is sent


class ListSort(StrEnum):
    TREES = "trees"
    PEOPLE = "people"
    WOOD = "wood"
    GRAFTS = "grafts"


class ListState(StrEnum):
    WAITING = "waiting"
    TAKEN = "taken"
    TAKEN_BACK = "taken_back"
    DROPPED = "dropped"


class RowState(StrEnum):
    """What becomes of one row."""

    TAKEN = "taken"
    ASKED = "asked"
    REFUSED = "refused"
    KNOWN = "known"  # it stands in the record, or higher up in the file, already


class ThingKind(StrEnum):
    AREA = "area"
    PARTY = "party"
    SITE = "site"
    TREE = "tree"
    PLACE = "place"
    BOX = "box"
    COLLECTION = "collection"
    BUNDLE = "bundle"
    GRAFT = "graft"
    PLANT = "plant"


# What may follow what.
LIST_STEPS: Mapping[ListState, frozenset[ListState]] = {
    ListState.WAITING: frozenset({ListState.TAKEN, ListState.DROPPED}),
    ListState.TAKEN: frozenset({ListState.TAKEN_BACK}),
    ListState.TAKEN_BACK: frozenset(),
    ListState.DROPPED: frozenset(),
}
_RIGHTS: Mapping[ListSort, frozenset[May]] = {
    ListSort.TREES: frozenset({May.PEOPLE, May.TREES}),
    ListSort.PEOPLE: frozenset({May.PEOPLE}),
    ListSort.GRAFTS: frozenset({May.PEOPLE, May.COLLECT, May.STICKS, May.GRAFT, May.TREES, May.ACT_FOR}),
    ListSort.WOOD: frozenset({May.PEOPLE, May.COLLECT, May.STICKS, May.STORE, May.HAND_OVER}),
}


class NoSuchList(NotFound):
    title = "There is no such list"


class ListSettled(Refused):
    title = "This list was settled before"
    todo = "Look at the list's page: what it brought stands there."


class ListChanged(Refused):
    title = "Somebody read this list otherwise meanwhile"
    todo = "Load its page again, look at what it would bring now, and take it then."


class ListNeedsAnswers(Unusable):
    title = "The list asks something first"
    todo = "Answer what it asks on its page, then take it."


class ListHasRefusedRows(Unusable):
    title = "Some rows of the list cannot be used"
    todo = "Mend them in the file and send it again; or say that these rows are left out."


class ListRowsRefused(Refused):
    """What the record itself refuses of a list when it is taken: a stop, an owner's word, an area, a right."""

    title = "The record refuses rows of this list"
    todo = "Settle what each says, or mend the file; or leave out the rows that cannot be used, and take the rest."

    def __init__(self, rows: Mapping[int, Problem], of: int) -> None:
        self.rows, self.leaves = dict(sorted(rows.items())), of - len(rows)
        told = [f"line {line}: {words_of_row(row).rstrip('.')}" for line, row in self.rows.items()]
        more = f"; and {len(told) - MOST_RESTS_TOLD} more" if len(told) > MOST_RESTS_TOLD else ""
        words = "; ".join(told[:MOST_RESTS_TOLD])
        super().__init__(
            f"{words[:1].upper()}{words[1:]}{more}.",
            todo="" if self.leaves else "It refuses every row: settle what each says, or mend the file.",
            lines=list(self.rows), lifts={line: row.lift for line, row in self.rows.items() if row.lift},
        )  # fmt: skip


def words_of_row(problem: Problem) -> str:
    """What is wrong with a row, and what to do."""
    return f"{problem.detail} {problem.todo}"


class NothingInTheList(Unusable):
    title = "The list brings nothing"
    todo = "Look whether the right columns were chosen, and whether it was taken before."


class ListIsRestedOn(Refused):
    title = "The record rests on what this list brought"
    lift_words = "Look at the list to take back first"
    lift_right = "people"
    todo = "Put the single things right on their own pages; a list goes back only while nothing rests on it."


class NoSuchColumn(Unusable):
    title = "The list has no such column, or it cannot be used so"
    todo = "Choose among the headings of the list, each column for one thing."


def can_step(state: ListState, to: ListState) -> bool:
    return to in LIST_STEPS[state]


def check_can_step(state: ListState, to: ListState) -> None:
    """Raises `ListSettled`."""
    if not can_step(state, to):
        words = {
            ListState.WAITING: "It waits to be taken.", ListState.TAKEN: "It was taken.",
            ListState.DROPPED: "It was dropped.", ListState.TAKEN_BACK: "It was taken back.",
        }  # fmt: skip
        raise ListSettled(words[state], state=state.value)


def can_take(rights: frozenset[May], sort: ListSort) -> bool:
    return _RIGHTS[sort] <= rights


def check_can_take(rights: frozenset[May], sort: ListSort) -> None:
    """Raises `NotAllowed`."""
    if not can_take(rights, sort):
        missing = ", ".join(sorted(_RIGHTS[sort] - rights))
        raise NotAllowed(f"A list of {sort.value} needs the right '{missing}' too.", right=missing)


def check_ready(asked: int, refused: int, brings: int, *, leave_refused: bool) -> None:
    """Whether a list can be taken whole. Raises `ListNeedsAnswers`, `ListHasRefusedRows`, `NothingInTheList`."""
    if asked:
        raise ListNeedsAnswers(
            f"{asked} {'question is' if asked == 1 else 'questions are'} open.", open=asked
        )
    if refused and not leave_refused:
        raise ListHasRefusedRows(
            f"{refused} {'row' if refused == 1 else 'rows'} cannot be used.",
            field="leave_refused",
            refused=refused,
        )
    if not brings:
        raise NothingInTheList("No row of it is new and can be used.")


@dataclass(frozen=True)
class Rest:
    """Something of the record that keeps what a list brought: of which line, what it is called, and what rests on it."""

    line: int
    name: str
    words: str


def check_nothing_rests(rests: Sequence[Rest], lists: Mapping[UUID, str]) -> None:
    """Raises `ListIsRestedOn` with the lines of the file, the first of them in words; other lists that rest on it first."""
    if rests:
        first = "; ".join(f"line {one.line}, {one.name}: {one.words}" for one in rests[:MOST_RESTS_TOLD])
        more = len(rests) - MOST_RESTS_TOLD
        words = f"{first[:1].upper()}{first[1:]}" + (f"; and {more} more" if more > 0 else "")
        names = " and ".join(f"“{name or 'without a name'}”" for name in lists.values())
        before = f"Take the {'list' if len(lists) == 1 else 'lists'} {names} back first. " if lists else ""
        raise ListIsRestedOn(
            f"{before}{words}.", lift=f"/lists/{next(iter(lists))}" if lists else "",
            lines=sorted({one.line for one in rests}), lists=[str(one) for one in lists],
        )  # fmt: skip


# What a list of these sorts brought stays in the ledger, put right by movements; of the others nothing was moved yet.
STAYS_IN_THE_LEDGER = frozenset({ListSort.WOOD, ListSort.GRAFTS})
_STAYING = {
    ThingKind.GRAFT: ("graft is taken back", "grafts are taken back"),
    ThingKind.PLANT: ("plant is void", "plants are void"),
    ThingKind.BUNDLE: ("bundle is counted to nothing", "bundles are counted to nothing"),
    ThingKind.PARTY: ("person stays", "people stay"),
    ThingKind.SITE: ("site stays", "sites stay"),
    ThingKind.AREA: ("plant-health area stays", "plant-health areas stay"),
    ThingKind.PLACE: ("place stays", "places stay"),
    ThingKind.BOX: ("box stays", "boxes stay"),
}


def words_of_what_stays(counts: Mapping[str, int]) -> list[str]:
    """What becomes of a list of wood that was taken back, for the ledger forgets nothing."""
    told = [
        f"{counts[kind]} {one if counts[kind] == 1 else many}"
        for kind, (one, many) in _STAYING.items()
        if counts.get(kind)
    ]
    return [f"{', '.join(told)}; the ledger keeps every line."] if told else []


def pack_list(raw: bytes) -> bytes:
    return zlib.compress(raw, 1)


def unpack_list(content: bytes) -> bytes:
    return zlib.decompress(content)


def digest_of_list(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()
