"""A list taken back as one act: all that it brought goes again, or nothing does."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from uuid import UUID

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from service.bundles import actions as bundle_actions
from service.bundles import queries as bundle_queries
from service.bundles.schemas import RecountCreate
from service.lib.write import recorded_at
from service.lists import queries
from service.lists.actions.grafts import take_grafts_back
from service.lists.rules import (
    STAYS_IN_THE_LEDGER,
    ListIsRestedOn,
    ListSort,
    ListState,
    ThingKind,
    check_can_step,
    check_can_take,
    check_nothing_rests,
    words_of_what_stays,
)
from service.lists.schemas import ListFileSummary, ListTakeBack
from service.members.actions import remove_areas, remove_parties
from service.members.rules import Member
from service.storage import actions as storage_actions
from service.trees.actions import remove_sites, remove_trees

# What rests on what goes first.
_REMOVE = (
    (ThingKind.TREE, remove_trees),
    (ThingKind.SITE, remove_sites),
    (ThingKind.PARTY, remove_parties),
    (ThingKind.AREA, remove_areas),
)
AT_ONCE = 200
Things = Mapping[str, Collection[UUID]]


def take_list_back(session: Session, member: Member, list_id: UUID, body: ListTakeBack) -> ListFileSummary:
    """Raises `ListIsRestedOn` with the lines of the file that something of the record rests on."""
    row = queries.find_list(session, list_id, lock=True)
    check_can_step(ListState(row.state), ListState.TAKEN_BACK)
    sort = ListSort(row.sort)
    check_can_take(member.may, sort)
    things, stays = queries.things_of_list(session, list_id), sort in STAYS_IN_THE_LEDGER
    assert row.settled_at is not None
    rests = queries.rests_on_list(session, list_id, row.settled_at, stays=stays)
    check_nothing_rests(rests, queries.lists_on_list(session, list_id) if rests else {})
    if stays:
        grafts = sorted(things.get(ThingKind.GRAFT, ()))
        take_grafts_back(session, member, grafts, body.reason, row.settled_at)
        _count_to_nothing(session, member, things, body.reason)
        row.told = [*(row.told or []), *words_of_what_stays({kind: len(ids) for kind, ids in things.items()})]
    else:
        _remove(session, things)
    row.state, row.version = ListState.TAKEN_BACK, row.version + 1
    row.taken_back_at, row.taken_back_by_party_id = recorded_at(session), member.party_id
    row.taken_back_reason = body.reason
    session.flush()
    return queries.list_summary(row)


def _remove(session: Session, things: Things) -> None:
    try:
        for kind, remove in _REMOVE:
            remove(session, things.get(kind, ()))
    except IntegrityError as error:  # somebody was quicker, where several write at once
        raise ListIsRestedOn("Something came to rest on it just now.") from error


def _count_to_nothing(session: Session, member: Member, things: Things, reason: str) -> None:
    """Wood that never was: taken out of its store, its sticks corrected to none; the ledger keeps every line."""
    bundles = sorted(things.get(ThingKind.BUNDLE, ()))
    for begin in range(0, len(bundles), AT_ONCE):
        some = bundles[begin : begin + AT_ONCE]
        storage_actions.take_out(session, member, some)
        for bundle in bundle_queries.facts_for_bundles(session, some).values():
            if bundle.on_hand:
                told = RecountCreate(
                    bundle_id=bundle.id, counted=0, reason=f"A list was taken back: {reason}"[:300]
                )
                bundle_actions.recount_bundle(session, member, told)
