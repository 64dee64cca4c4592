"""Parties, their roles, and how to reach them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Select, func, select
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.rules import (
    Choosable,
    Offered,
    PartyFacts,
    PartyKind,
    Role,
    fold_person,
    in_order,
    may_of,
    namesakes,
    whom_words_mean,
    words_to_choose,
)
from service.members.schemas import PartyName, PartyRead, RolesRead
from service.members.tables import Account, Area, Party, PartyRole, RecallContact


def _roles_column() -> Any:
    joined = select(func.aggregate_strings(col(PartyRole.role), ",")).where(
        col(PartyRole.party_id) == col(Party.id)
    )
    return joined.correlate(Party).scalar_subquery().label("roles")


def read_roles(joined: str | None) -> tuple[Role, ...]:
    """Roles from their column, in the club's order."""
    return in_order(Role(word) for word in joined.split(",") if word) if joined else ()


def _parties() -> Select[Any]:
    return (  # type: ignore[no-any-return]
        select(
            Party.id, Party.kind, Party.name, Party.contact, Party.email, Party.mail_wanted,
            Party.area_id, Party.keep_contact_for_recall, Party.note,
            Party.forgotten_at, Party.created_at, Party.version, Area.name.label("area_name"), Account.sign_in_name,  # type: ignore[attr-defined]
            Account.disabled_at, _roles_column(),
        )  # type: ignore[call-overload]
        .outerjoin(Area, col(Area.id) == col(Party.area_id))
        .outerjoin(Account, col(Account.party_id) == col(Party.id))
    )  # fmt: skip


def _party(row: Any) -> PartyRead:
    known = row._asdict()
    known["roles"] = list(read_roles(row.roles))
    known["area_name"] = row.area_name or ""
    known["sign_in_name"] = "" if row.disabled_at is not None else row.sign_in_name or ""
    known["forgotten"] = row.forgotten_at is not None
    return PartyRead.model_validate(known)


def get_party(session: Session, party_id: UUID) -> PartyRead:
    row = session.execute(_parties().where(col(Party.id) == party_id)).first()
    if row is None:
        raise NotFound("There is no such person or club.", id=str(party_id))
    return _party(row)


def _named_like(search: str) -> list[ColumnElement[bool]]:
    # Every word typed must be somewhere in the name, so first and last name can come in any order.
    return [col(Party.name_folded).contains(word, autoescape=True) for word in fold_person(search).split()]


def list_parties(
    session: Session, paging: Paging, *, search: str = "", kind: PartyKind | None = None
) -> Page[PartyRead]:
    """People and clubs by name, the forgotten left out."""
    statement = _parties().where(col(Party.forgotten_at).is_(None), *_named_like(search))
    if kind is not None:
        statement = statement.where(col(Party.kind) == kind.value)
    return page_of(
        session, statement, [(col(Party.name_folded), False), (col(Party.id), False)], paging, _party
    )


def list_party_names(session: Session, paging: Paging, *, search: str = "") -> Page[PartyName]:
    """Names to choose a receiver from: nothing of how to reach them."""
    statement: Select[Any] = select(Party.id, Party.kind, Party.name, Party.area_id).where(  # type: ignore[call-overload]
        col(Party.forgotten_at).is_(None), *_named_like(search)
    )
    keys = [(col(Party.name_folded), False), (col(Party.id), False)]
    return page_of(session, statement, keys, paging, PartyName.model_validate)


def everybody_to_choose(session: Session) -> list[Offered]:
    """Everybody to choose from, by name, however many they are; one statement, and one for what namesakes do."""
    rows = session.execute(
        select(Party.id, Party.kind, Party.name, Area.name.label("area"))  # type: ignore[call-overload, attr-defined]
        .outerjoin(Area, col(Area.id) == col(Party.area_id))
        .where(col(Party.forgotten_at).is_(None))
        .order_by(col(Party.name_folded), col(Party.id))
    )
    people = [Choosable(row.id, row.name, PartyKind(row.kind), row.area or "") for row in rows]
    alike = [one.id for one in namesakes(people)]
    if alike:
        told: dict[UUID, list[Role]] = {}
        roles = select(col(PartyRole.party_id), col(PartyRole.role)).where(col(PartyRole.party_id).in_(alike))
        for party_id, role in session.execute(roles):
            told.setdefault(party_id, []).append(Role(role))
        people = [replace(one, roles=in_order(told.get(one.id, ()))) for one in people]
    return words_to_choose(people)


def party_named(session: Session, typed: str, field: str) -> UUID:
    """Whom typed words mean among everybody there is to choose from. Raises `UnknownParty`."""
    return whom_words_mean(typed, everybody_to_choose(session), field)


def facts_for_parties(session: Session, party_ids: Iterable[UUID]) -> dict[UUID, PartyFacts]:
    wanted = set(party_ids)
    if not wanted:
        return {}
    rows = session.execute(
        select(Party.id, Party.kind, Party.name, Party.area_id, Party.forgotten_at).where(
            col(Party.id).in_(wanted)
        )  # type: ignore[call-overload]
    )
    return {
        row.id: PartyFacts(row.id, PartyKind(row.kind), row.name, row.area_id, row.forgotten_at is not None)
        for row in rows
    }


def roles_of(session: Session, party_id: UUID) -> tuple[Role, ...]:
    return in_order(
        Role(word)
        for word in session.execute(
            select(PartyRole.role).where(col(PartyRole.party_id) == party_id)
        ).scalars()
    )


def get_roles(session: Session, party_id: UUID) -> RolesRead:
    """A party's roles and what they may do together."""
    row = session.execute(select(Party.version, _roles_column()).where(col(Party.id) == party_id)).first()
    if row is None:
        raise NotFound("There is no such person or club.", id=str(party_id))
    roles = read_roles(row.roles)
    return RolesRead(party_id=party_id, roles=list(roles), may=sorted(may_of(roles)), version=row.version)


def parties_with_role(session: Session, role: Role) -> list[UUID]:
    """Everybody who has a role, by name; one statement."""
    rows = session.execute(
        select(PartyRole.party_id)
        .join(Party, col(Party.id) == col(PartyRole.party_id))
        .where(col(PartyRole.role) == role.value)
        .order_by(col(Party.name_folded), col(Party.id))
    )
    return list(rows.scalars())


def count_administrators(session: Session, *, but: UUID) -> int:
    """Administrators who can sign in, one party left out; within a change their rows are locked until it is saved."""
    rows = session.execute(
        select(PartyRole.party_id)
        .join(Account, col(Account.party_id) == col(PartyRole.party_id))
        .where(col(PartyRole.role) == Role.ADMINISTRATOR.value, col(Account.disabled_at).is_(None))
        .order_by(col(PartyRole.party_id))
        .with_for_update(of=PartyRole)
    ).scalars()
    return sum(1 for party_id in rows if party_id != but)


def name_is_free(session: Session, sign_in_folded: str) -> bool:
    return (
        session.execute(select(Account.id).where(col(Account.sign_in_folded) == sign_in_folded)).first()
        is None
    )


def contacts_for_recall(session: Session, party_ids: Iterable[UUID], day: date) -> dict[UUID, str]:
    """How a recall may reach people: their contact, or the sealed one of a forgotten person until its day."""
    wanted = set(party_ids)
    if not wanted:
        return {}
    rows = session.execute(
        select(Party.id, Party.contact, RecallContact.contact.label("sealed"), RecallContact.until)  # type: ignore[call-overload,attr-defined]
        .outerjoin(RecallContact, col(RecallContact.party_id) == col(Party.id))
        .where(col(Party.id).in_(wanted))
    )
    return {
        row.id: row.contact or (row.sealed if row.until is not None and row.until >= day else "")
        for row in rows
    }
