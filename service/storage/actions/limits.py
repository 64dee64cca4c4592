"""Setting what rings in a store."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.lib.errors import check_version
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.ringing import ask_for_store
from service.storage.queries.limits import standing_limits
from service.storage.queries.own_limits import own_rows
from service.storage.rules import NoSuchStore
from service.storage.rules.excursions import StoreOwn
from service.storage.rules.own_limits import check_own, check_sets_limits
from service.storage.schemas.limits import OwnLimitsSet, StoreLimitsRead
from service.storage.tables import OwnLimits, Store


def set_limits(
    session: Session, member: Member, store_id: UUID, version: int, body: OwnLimitsSet
) -> StoreLimitsRead:
    """A store's limits, all at once, from now on; what is empty holds as it stands. What goes on is looked at again."""
    store = session.get(Store, store_id, with_for_update=True, populate_existing=True)
    if store is None:
        raise NoSuchStore("There is no store under this id.")
    check_version(len(own_rows(session, store_id)), version)
    check_sets_limits(member, store.host_id, store.name)
    own = StoreOwn(**body.model_dump())
    check_own(own, standing_limits(session, store_id, store.kind))
    row = {
        "store_id": store_id, **body.model_dump(), "recorded_at": recorded_at(session), "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, OwnLimits, [row])
    ask_for_store(session, store_id)
    return queries.store_limits(session, store_id)
