"""Writing down what a store is said to have."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.lib.clock import check_done_at
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage.actions.dosing import ask_for_store
from service.storage.queries.nominal import nominal_of
from service.storage.rules import NoSuchStore
from service.storage.rules.nominal import check_nominal
from service.storage.rules.own_limits import check_sets_limits
from service.storage.schemas.nominal import NominalCreate, NominalRead
from service.storage.tables import NominalTemp, Store


def set_nominal(session: Session, member: Member, store_id: UUID, body: NominalCreate) -> list[NominalRead]:
    """From a moment on; how wood in it keeps is reckoned anew. What was said before stays for its own time."""
    store = session.get(Store, store_id, with_for_update=True, populate_existing=True)
    if store is None:
        raise NoSuchStore("There is no store under this id.")
    check_sets_limits(member, store.host_id, store.name)
    check_nominal(body.temp_c)
    at = recorded_at(session)
    row = {
        "store_id": store_id, "temp_c": body.temp_c, "from_at": check_done_at(body.done_at, at), "recorded_at": at,
        "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, NominalTemp, [row])
    ask_for_store(session, store_id)
    return nominal_of(session, store_id)
