"""A list taken back as one act: all that it brought goes again, or nothing does."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from uuid import UUID

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from service.lib.write import recorded_at
from service.lists import queries
from service.lists.rules import (
    ListIsRestedOn,
    ListSort,
    ListState,
    ThingKind,
    check_can_step,
    check_can_take,
    check_nothing_rests,
)
from service.lists.schemas import ListFileSummary, ListTakeBack
from service.members.actions import remove_areas, remove_parties
from service.members.rules import Member
from service.trees.actions import remove_sites, remove_trees

# What rests on what goes first.
_REMOVE = (
    (ThingKind.TREE, remove_trees),
    (ThingKind.SITE, remove_sites),
    (ThingKind.PARTY, remove_parties),
    (ThingKind.AREA, remove_areas),
)


def take_list_back(session: Session, member: Member, list_id: UUID, body: ListTakeBack) -> ListFileSummary:
    """Raises `ListIsRestedOn` with the lines of the file that something of the record rests on."""
    row = queries.find_list(session, list_id, lock=True)
    check_can_step(ListState(row.state), ListState.TAKEN_BACK)
    check_can_take(member.may, ListSort(row.sort))
    things = queries.things_of_list(session, list_id)
    check_nothing_rests(queries.rests_on_list(session, list_id))
    _remove(session, things)
    row.state, row.version = ListState.TAKEN_BACK, row.version + 1
    row.taken_back_at, row.taken_back_by_party_id = recorded_at(session), member.party_id
    row.taken_back_reason = body.reason
    session.flush()
    return queries.list_summary(row)


def _remove(session: Session, things: Mapping[str, Collection[UUID]]) -> None:
    try:
        for kind, remove in _REMOVE:
            remove(session, things.get(kind, ()))
    except IntegrityError as error:  # somebody was quicker, where several write at once
        raise ListIsRestedOn("Something came to rest on it just now.") from error
