"""What is told once of a whole list before it is taken."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlmodel import Session

from service.lists.queries.planning import Plan
from service.lists.schemas import ListNotice
from service.members import queries as members
from service.members.rules import AreaNotKnown, Member, PartyFacts, Receiver

MOST_PEOPLE = 200  # who has wood by the list, looked up at once
MOST_NAMED = 8


_OF_TABLES = {
    "merged": "Cells are merged in it: only the first of each holds a value. Unmerge them in the file, or look whether the rows "
    "below are read as they are meant.",
    "twice": "Two of its columns have the same heading: the later one is told apart by a number.",
}  # fmt: skip


def table_notices(notes: Iterable[str]) -> list[ListNotice]:
    """What was met in the file itself."""
    return [ListNotice(words=_OF_TABLES[one]) for one in notes if one in _OF_TABLES]


def area_notices(session: Session, plan: Plan, looker: Member | None) -> list[ListNotice]:
    """Who is to take in wood or has it, but no plant-health area: the record will refuse it. One statement, or none."""
    receipts = [row.receipt.receipt for row in (*plan.wood, *plan.grafts) if row.receipt is not None]
    takes = (
        looker.acting_for_id if looker and any(one.area_id or one.from_party_id for one in receipts) else None
    )
    holders = dict.fromkeys(row.holder_id for row in plan.wood if row.holder_id is not None)
    wanted = [one for one in (takes, *holders) if one is not None][:MOST_PEOPLE]
    known = members.facts_for_parties(session, wanted) if wanted else {}
    told = [
        _area_notice(known[one], looker, takes) for one in dict.fromkeys(wanted) if _lacks(known.get(one))
    ]
    new = [person for person in plan.people if person.id in holders and person.area_id is None]
    for person in new[: MOST_NAMED - len(told)]:
        words = f"{person.name} would be made new, without a plant-health area: the record refuses wood that is handed to them."
        told.append(ListNotice(words=f"{words} Move a list of people in first, which tells it."))
    return told[:MOST_NAMED]


def _lacks(facts: PartyFacts | None) -> bool:
    return facts is not None and facts.area_id is None


def _area_notice(facts: PartyFacts, looker: Member | None, takes: UUID | None) -> ListNotice:
    receiver = Receiver(facts.id, facts.name, looker is not None and facts.id == looker.party_id)
    whom = "you" if receiver.is_asker else "them"
    what = "is taken in by" if facts.id == takes else "was handed to"
    return ListNotice(
        words=f"{receiver.words()}: the record refuses wood from an area that {what} {whom}.",
        lift=f"/people/{facts.id}/edit", lift_words=AreaNotKnown.lift_words, lift_right=AreaNotKnown.lift_right,
    )  # fmt: skip
