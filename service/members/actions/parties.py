"""Parties and their roles."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from uuid import UUID

from sqlalchemy import delete
from sqlmodel import Session, col

from service.lib.database import new_id
from service.lib.write import insert_rows, recorded_at
from service.members import queries
from service.members.actions.versions import change_row, remove_unused
from service.members.rules import (
    LastAdministrator,
    Member,
    PartyForgotten,
    PartyKind,
    Role,
    UnknownArea,
    check_may_add_parties,
    check_may_change_party,
    check_may_give,
    fold_person,
    in_order,
    kind_with_roles,
    may_of,
)
from service.members.schemas import PartyCreate, PartyRead, PartyUpdate, RolesRead, RolesUpdate
from service.members.tables import Party, PartyRole


def add_parties(session: Session, member: Member, body: list[PartyCreate]) -> list[PartyRead]:
    """Take people and clubs into the record. Raises `UnknownArea`, `NotAllowed`."""
    check_may_add_parties(member.may, (party.kind for party in body))
    areas = queries.facts_for_areas(session, {party.area_id for party in body if party.area_id is not None})
    only = queries.only_area(session) if any(party.area_id is None for party in body) else None
    now = recorded_at(session)
    rows, answers = [], []
    for party in body:
        area = only if party.area_id is None else areas.get(party.area_id)
        if area is None and party.area_id is not None:
            raise UnknownArea("This area is not in the record.", field="area_id", id=str(party.area_id))
        row: dict[str, Any] = {
            **party.model_dump(),
            "id": party.id or new_id(), "name_folded": fold_person(party.name), "kind": party.kind.value,
            "area_id": area.id if area else None, "mail_wanted": True, "created_at": now, "version": 1,
        }  # fmt: skip
        rows.append(row)
        shown = {"area_name": area.name if area else "", "roles": [], "sign_in_name": "", "forgotten": False}
        answers.append(PartyRead.model_validate({**row, **shown}))
    insert_rows(session, Party, rows)
    return answers


def remove_parties(session: Session, party_ids: Collection[UUID]) -> None:
    """People who were entered by mistake and are named nowhere; who was named is forgotten, never removed."""
    remove_unused(session, Party, party_ids)


def change_party(
    session: Session, member: Member, party_id: UUID, body: PartyUpdate, version: int
) -> PartyRead:
    """Change what is told; people may change their own name, contact and privacy choice."""
    told = body.told()
    check_may_change_party(member.may, own=party_id == member.party_id, fields=told)
    party = queries.get_party(session, party_id)
    if party.forgotten:
        raise PartyForgotten("Their record cannot be changed any more.")
    area_id = told.get("area_id")
    if isinstance(area_id, UUID) and not queries.facts_for_areas(session, [area_id]):
        raise UnknownArea("This area is not in the record.", field="area_id", id=str(area_id))
    values: dict[str, Any] = dict(told)
    if body.name is not None:
        values["name_folded"] = fold_person(body.name)
    if body.kind is not None:
        values["kind"] = body.kind.value
    change_row(session, Party, party_id, version, values)
    return queries.get_party(session, party_id)


def give_roles(session: Session, party_id: UUID, roles: tuple[Role, ...]) -> None:
    """Add roles a party does not have yet."""
    now = recorded_at(session)
    have = queries.roles_of(session, party_id)
    insert_rows(
        session,
        PartyRole,
        [{"party_id": party_id, "role": role.value, "given_at": now} for role in roles if role not in have],
    )


def set_roles(session: Session, member: Member, party_id: UUID, body: RolesUpdate, version: int) -> RolesRead:
    """Give exactly these roles. Raises `LastAdministrator`, `MayNotGive`, `PartyForgotten`."""
    wanted = in_order(body.roles)
    party = queries.get_party(session, party_id)
    if party.forgotten:
        raise PartyForgotten("A forgotten person has no roles.")
    check_may_give(member.may, {*wanted, *party.roles})
    loses = Role.ADMINISTRATOR in party.roles and Role.ADMINISTRATOR not in wanted
    if loses and queries.count_administrators(session, but=party_id) == 0:
        raise LastAdministrator("This is the last administrator who can sign in.")
    kind = kind_with_roles(PartyKind(party.kind), wanted)
    changed = change_row(session, Party, party_id, version, {"kind": kind.value})
    session.execute(
        delete(PartyRole)
        .where(
            col(PartyRole.party_id) == party_id, col(PartyRole.role).not_in([role.value for role in wanted])
        )
        .execution_options(synchronize_session=False)
    )
    give_roles(session, party_id, wanted)
    return RolesRead(party_id=party_id, roles=list(wanted), may=sorted(may_of(wanted)), version=changed)
