"""Putting a bag on a scale."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.bundles.queries import check_deeds, facts_for_bundles
from service.lib.clock import check_done_at
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.dosing import ask_for_bundles
from service.storage.queries.weights import weighed, weighing_read
from service.storage.rules import (
    Moment,
    NoSuchBundle,
    NoSuchWeighing,
    NotForStoring,
    Weighed,
    WeighingTakenBack,
    check_weight,
)
from service.storage.schemas import TakenBack, WeighingCreate, WeighingMade, WeighingRead
from service.storage.tables import BagWeighing
from service.tags.rules.words import TagKind


def weigh_bag(session: Session, member: Member, body: WeighingCreate) -> WeighingMade:
    """Write down what a bag weighs; it moves nothing, so stopped wood may be weighed. An unlikely weight is asked about once."""
    at = recorded_at(session)
    bundle_id = body.bundle_id or _bundle_of(session, body.code or "")
    weighed_at = check_done_at(body.weighed_at, at)
    _check_stood(session, bundle_id, weighed_at)
    empty = None if body.empty_grams is None else int(body.empty_grams * 10)
    now = Weighed(weighed_at, int(body.grams * 10), body.moment, empty)
    before = [
        weighed(one)
        for one in queries.weighings_of(session, bundle_id).weighings
        if one.taken_back_at is None and one.weighed_at <= weighed_at
    ]
    check_weight(now, before[0] if before else None, sure=body.sure)
    row = BagWeighing(
        id=body.id, bundle_id=bundle_id, tenths=now.tenths, empty_tenths=empty, moment=Moment(body.moment), weighed_at=weighed_at,
        recorded_at=at, by_party_id=member.party_id, for_party_id=member.acting_for_id, note=body.note,
    )  # fmt: skip
    insert_rows(session, BagWeighing, [row.model_dump()])
    ask_for_bundles(session, [bundle_id])
    loss = queries.weighings_of(session, bundle_id).loss
    return WeighingMade(**weighing_read(row).model_dump(), loss=loss)


def _check_stood(session: Session, bundle_id: UUID, weighed_at: datetime) -> None:
    bundle = facts_for_bundles(session, [bundle_id]).get(bundle_id)
    if bundle is None:
        raise NoSuchBundle("There is no bundle under this id.")
    check_deeds(session, [(bundle_id, bundle.made_at, weighed_at)], field="weighed_at")


def _bundle_of(session: Session, code: str) -> UUID:
    kind, thing_id = queries.resolve_codes(session, {code: "code"})[code]
    if kind is not TagKind.BUNDLE:
        raise NotForStoring(f"This is the tag of a {kind}; what is weighed is a bundle in its bag.", field="code")  # fmt: skip
    return thing_id


def take_weighing_back(session: Session, member: Member, weighing_id: UUID, body: TakenBack) -> WeighingRead:
    """Take back a weight that was mistyped; it stays in the record, crossed out."""
    row = session.get(BagWeighing, weighing_id, with_for_update=True, populate_existing=True)
    if row is None:
        raise NoSuchWeighing("There is no weighing under this id.")
    if row.taken_back_at is not None:
        raise WeighingTakenBack("It does not count any more.")
    row.taken_back_at, row.taken_back_by_party_id = recorded_at(session), member.party_id
    row.taken_back_why = body.why
    session.flush()
    ask_for_bundles(session, [row.bundle_id])
    return weighing_read(row)
