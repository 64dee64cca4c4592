"""What is told once of a whole list before it is taken."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.lists.queries.planning import Plan
from service.lists.schemas import ListNotice
from service.members import queries as members
from service.members.rules import AreaNotKnown, PartyFacts, Receiver

MOST_PEOPLE = 200  # who has wood by the list, looked up at once
MOST_NAMED = 8


def area_notices(
    session: Session, plan: Plan, looker_id: UUID | None, asker_id: UUID | None
) -> list[ListNotice]:
    """Who is to take in wood or has it, but no plant-health area: the record will refuse it. One statement, or none."""
    receipts = [row.receipt.receipt for row in (*plan.wood, *plan.grafts) if row.receipt is not None]
    takes = looker_id if any(one.area_id or one.from_party_id for one in receipts) else None
    holders = dict.fromkeys(row.holder_id for row in plan.wood if row.holder_id is not None)
    wanted = [one for one in (takes, *holders) if one is not None][:MOST_PEOPLE]
    known = members.facts_for_parties(session, wanted) if wanted else {}
    told = [
        _area_notice(known[one], asker_id, takes) for one in dict.fromkeys(wanted) if _lacks(known.get(one))
    ]
    new = [person for person in plan.people if person.id in holders and person.area_id is None]
    for person in new[: MOST_NAMED - len(told)]:
        words = f"{person.name} would be made new, without a plant-health area: the record refuses wood that is handed to them."
        told.append(ListNotice(words=f"{words} Move a list of people in first, which tells it."))
    return told[:MOST_NAMED]


def _lacks(facts: PartyFacts | None) -> bool:
    return facts is not None and facts.area_id is None


def _area_notice(facts: PartyFacts, asker_id: UUID | None, takes: UUID | None) -> ListNotice:
    receiver = Receiver(facts.id, facts.name, facts.id == asker_id)
    whom = "you" if receiver.is_asker else "them"
    what = "is taken in by" if facts.id == takes else "was handed to"
    return ListNotice(
        words=f"{receiver.words()}: the record refuses wood from an area that {what} {whom}.",
        lift=f"/people/{facts.id}/edit", lift_words=AreaNotKnown.lift_words, lift_right=AreaNotKnown.lift_right,
    )  # fmt: skip
