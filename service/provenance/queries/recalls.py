"""Recalls: who is to be told, who was, and whom nobody wrote down."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Select, func, select
from sqlmodel import Session, col

from service.lib.paging import Page, Paging, page_of
from service.members.queries import contacts_for_recall
from service.members.rules import PartyKind
from service.members.tables import Party
from service.provenance.queries.telling import parties_to_tell, unknown_takers
from service.provenance.rules.telling import HOLDER_FORGOTTEN, NoSuchRecall, ToTell, Unknown
from service.provenance.schemas import (
    RecallPartyRead,
    RecallRead,
    RecallSummary,
    TieRead,
    ToTellRead,
    UnknownTaker,
)
from service.provenance.tables import Recall, RecallParty


def to_tell_read(one: ToTell) -> ToTellRead:
    return ToTellRead(
        party_id=one.party.id, kind=one.party.kind, name=one.name, forgotten=one.party.forgotten, why=one.why, silent=one.is_silent,
        ties=[TieRead(tie=tie.tie, things=tie.things, sticks=tie.sticks) for tie in one.ties],
    )  # fmt: skip


def taker_read(one: Unknown) -> UnknownTaker:
    return UnknownTaker(
        bundle_id=one.bundle_id,
        code=one.code,
        sticks=one.sticks,
        how=one.how,
        told=one.told,
        done_at=one.done_at,
        plant_id=one.plant_id,
    )


def _recalls() -> Select[*tuple[Any, ...]]:
    party = RecallParty
    parties = select(func.count()).where(col(party.recall_id) == col(Recall.id)).correlate(Recall)
    return select(
        col(Recall.id), col(Recall.stop_id), col(Recall.made_at), col(Recall.by_party_id), col(Recall.note),
        parties.scalar_subquery().label("parties"), parties.where(col(party.told_at).is_(None)).scalar_subquery().label("not_told"),
    )  # fmt: skip


def list_recalls(session: Session, paging: Paging, *, stop_id: UUID | None = None) -> Page[RecallSummary]:
    """Recalls, the newest first; two statements."""
    statement = _recalls()
    if stop_id is not None:
        statement = statement.where(col(Recall.stop_id) == stop_id)
    keys: list[tuple[Any, bool]] = [(col(Recall.made_at), True), (col(Recall.id), False)]
    return page_of(session, statement, keys, paging, RecallSummary.model_validate)


def find_recall_of(session: Session, stop_id: UUID) -> UUID | None:
    """The recall of a stop; one statement."""
    return session.execute(
        select(col(Recall.id)).where(col(Recall.stop_id) == stop_id).limit(1)
    ).scalar_one_or_none()


def stop_of_recall(session: Session, recall_id: UUID) -> UUID:
    """Raises `NoSuchRecall`."""
    found = session.execute(
        select(col(Recall.stop_id)).where(col(Recall.id) == recall_id)
    ).scalar_one_or_none()
    if found is None:
        raise NoSuchRecall("There is no recall with this id.", id=str(recall_id))
    return found


def parties_of_recall(session: Session, recall_id: UUID) -> set[UUID]:
    return set(
        session.execute(
            select(col(RecallParty.party_id)).where(col(RecallParty.recall_id) == recall_id)
        ).scalars()
    )


def get_recall(session: Session, recall_id: UUID, day: date | None = None) -> RecallRead:
    """One recall with everybody in it and who was found since; at most six statements.

    Contacts, sealed ones too, are opened on the day given; without one they stay shut.
    """
    row = session.execute(_recalls().where(col(Recall.id) == recall_id)).first()
    if row is None:
        raise NoSuchRecall("There is no recall with this id.", id=str(recall_id))
    now = {one.party.id: one for one in parties_to_tell(session, row.stop_id)}
    people = _people(session, recall_id, now, day)
    known = {one.party_id for one in people}
    return RecallRead(
        **RecallSummary.model_validate(row).model_dump(), people=people,
        unknown_takers=[taker_read(one) for one in unknown_takers(session, row.stop_id)],
        found_since=[to_tell_read(one) for party_id, one in now.items() if party_id not in known],
    )  # fmt: skip


def _people(
    session: Session, recall_id: UUID, now: dict[UUID, ToTell], day: date | None
) -> list[RecallPartyRead]:
    rows = session.execute(
        select(RecallParty, col(Party.name), col(Party.kind), col(Party.forgotten_at))
        .join(Party, col(Party.id) == col(RecallParty.party_id))
        .where(col(RecallParty.recall_id) == recall_id)
        .order_by(col(RecallParty.told_at).is_not(None), col(Party.name), col(Party.id))
    ).all()
    contacts = contacts_for_recall(session, [row.RecallParty.party_id for row in rows], day) if day else {}
    return [_person(row, now, contacts) for row in rows]


def _person(row: Any, now: dict[UUID, ToTell], contacts: dict[UUID, str]) -> RecallPartyRead:
    told: RecallParty = row.RecallParty
    forgotten: datetime | None = row.forgotten_at
    silent = told.party_id in now and now[told.party_id].is_silent
    return RecallPartyRead(
        party_id=told.party_id, kind=PartyKind(row.kind), name=HOLDER_FORGOTTEN if forgotten else row.name, forgotten=bool(forgotten),
        why=told.why, silent=silent, contact=contacts.get(told.party_id, ""), told_at=told.told_at, how=told.how,
        told_by_party_id=told.told_by_party_id,
    )  # fmt: skip
