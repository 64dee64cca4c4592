"""Recalls: telling everybody who has or had stopped wood.

Their answers are kept for a repeat of the request, so they never hold a contact: that is read by itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlalchemy import func, update
from sqlmodel import Session, col

from service.lib.errors import AlreadyKnown
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.provenance import queries
from service.provenance.rules.telling import NotInRecall, RecallStands, StopIsOver, ToTell
from service.provenance.schemas import RecallCreate, RecallRead, ToldCreate
from service.provenance.tables import Recall, RecallParty
from service.trees.queries import get_stop
from service.trees.rules import StopState


def start_recall(session: Session, member: Member, body: RecallCreate) -> RecallRead:
    """Write down everybody to be told of a stop, and why."""
    stop = get_stop(session, body.stop_id)
    if stop.state is StopState.CLEARED:
        raise StopIsOver("This stop was cleared.", stop_id=str(stop.id))
    stands = queries.find_recall_of(session, body.stop_id)
    if stands == body.id:
        raise AlreadyKnown("A recall with this id stands already.", recall_id=str(stands))
    if stands is not None:
        raise RecallStands("One recall is enough for a stop.", recall_id=str(stands))
    row = {
        "id": body.id,
        "stop_id": body.stop_id,
        "made_at": recorded_at(session),
        "by_party_id": member.party_id,
        "note": body.note,
    }
    insert_rows(session, Recall, [row])
    _take_in(session, body.id, queries.parties_to_tell(session, body.stop_id))
    return queries.get_recall(session, body.id)


def renew_recall(session: Session, member: Member, recall_id: UUID) -> RecallRead:
    """Take in whoever was found since the recall began; nobody drops out."""
    stop_id = queries.stop_of_recall(session, recall_id)
    known = queries.parties_of_recall(session, recall_id)
    _take_in(
        session,
        recall_id,
        [one for one in queries.parties_to_tell(session, stop_id) if one.party.id not in known],
    )
    return queries.get_recall(session, recall_id)


def mark_told(session: Session, member: Member, recall_id: UUID, body: ToldCreate) -> RecallRead:
    """Note that a party was told, and how. Saying it again corrects how; the first time stands."""
    queries.stop_of_recall(session, recall_id)
    told = session.execute(
        update(RecallParty)
        .where(col(RecallParty.recall_id) == recall_id, col(RecallParty.party_id) == body.party_id)
        .values(
            how=body.how, told_by_party_id=member.party_id, told_at=func.coalesce(col(RecallParty.told_at), recorded_at(session)),
        )
        .returning(col(RecallParty.party_id))
        .execution_options(synchronize_session=False)
    ).first()  # fmt: skip
    if told is None:
        raise NotInRecall("This party is not in the recall.", party_id=str(body.party_id))
    return queries.get_recall(session, recall_id)


def _take_in(session: Session, recall_id: UUID, people: Iterable[ToTell]) -> None:
    rows = [
        {
            "recall_id": recall_id,
            "party_id": one.party.id,
            "why": one.why,
            "told_at": None,
            "how": "",
            "told_by_party_id": None,
        }
        for one in people
    ]
    insert_rows(session, RecallParty, rows)
