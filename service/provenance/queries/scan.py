"""What a scanned tag says: the stored card for everybody, and live facts for those who are signed in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
from sqlalchemy import Row, Uuid, and_, bindparam, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import left_of
from service.bundles.queries.bundles import facts_of
from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.lib.clock import local_day
from service.lib.codes import group_code
from service.members.queries import CLUB_ZONE
from service.members.rules import Member, sees_people
from service.members.tables import Party
from service.provenance.queries.cards import facts_for_cards
from service.provenance.queries.things import ZONE, box_answer, plant_answer, store_answer, tree_answer
from service.provenance.rules.card import blank_words, card_of
from service.provenance.rules.keeping import KeepsNow, keeps_now
from service.provenance.rules.offers import Level, Offer, level_of, offers_for_blank, offers_for_bundle
from service.provenance.rules.scans import not_seen_now
from service.provenance.rules.telling import HOLDER_FORGOTTEN
from service.provenance.schemas import OfferRead, ScanAnswer, ScanKeeping
from service.provenance.tables import AnswerCard
from service.storage.queries.lying import BoxStay
from service.storage.schemas.keeping import KeepingShare
from service.storage.tables import Box, BundleKeeping, Place, Stay, Store
from service.tags.queries import get_typed_tag
from service.tags.queries.tags import TagFacts
from service.tags.rules.words import TagKind, TagState

_Flag = aliased(Bundle, name="own_flag")
_FLAG_ON_HAND = left_of(_Flag)
KEEPS = "keeping"  # beside a card, what was reckoned of it; it is read off and told apart
Told = tuple[str, dict[str, Any], dict[str, Any], list[Offer]]  # first sentence, card, more, offers


def answer_for(session: Session, typed: str, asker: Member | None, now: datetime) -> ScanAnswer:
    """What a tag says to whoever asks. Two statements; one for a tag that is not bound.

    Raises `MistypedCode`, with the likely code where exactly one fits, or `UnknownTag`.
    """
    tag = get_typed_tag(session, typed)
    level = level_of(asker.may if asker else None)
    before = blank_words(group_code(tag.replaced_by) if tag.replaced_by else None, tag.state)
    if tag.kind is None or tag.thing_id is None:
        offers = offers_for_blank(asker.may) if asker and tag.state is TagState.BLANK else []
        return _answer(tag, level, (before, {}, {}, offers), now)
    said, card, more, offers = _TELL[tag.kind](session, tag.thing_id, asker, now)
    return _answer(
        tag,
        level,
        (f"{before} {said}".strip(), card, more if asker else {}, offers if level is Level.VOLUNTEER else []),
        now,
    )


def _answer(tag: TagFacts, level: Level, told: Told, now: datetime) -> ScanAnswer:
    said, card, more, offers = told
    zone = card.pop(ZONE, None) or "UTC"
    keeps = keeps_now(card.pop(KEEPS, None), card, now, zone, known=level is not Level.STRANGER)
    not_seen = not_seen_now(card, local_day(now, zone))
    return ScanAnswer(
        code=tag.code, kind=tag.kind, state=tag.state, replaced_by=tag.replaced_by, level=level, answer=said, card=card, not_seen=not_seen,
        keeping=_keeping(keeps),
        thing_id=tag.thing_id if level is not Level.STRANGER else None, more=more, offers=[OfferRead.model_validate(one) for one in offers],
    )  # fmt: skip


def _keeping(keeps: KeepsNow | None) -> ScanKeeping | None:
    if keeps is None:
        return None
    share = keeps.share and KeepingShare(expected=keeps.share[0], low=keeps.share[1], high=keeps.share[2])
    return ScanKeeping.model_validate({**vars(keeps), "share": share})


def _bundle(session: Session, bundle_id: UUID, asker: Member | None, now: datetime) -> Told:
    if asker is None:
        stored = session.execute(_STORED, {"id": bundle_id}).one()
        card = _card(session, bundle_id, stored.body) | {KEEPS: stored.told, ZONE: stored.zone}
        return card["answer"], card, {}, []
    row = session.execute(_LIVE.where(col(Bundle.id) == bundle_id), {"asker": asker.acting_for_id}).one()
    card = _card(session, bundle_id, row.body) | {KEEPS: row.told, ZONE: row.zone}
    bundle = facts_of(row)
    own = row.holder_id == asker.acting_for_id
    return (
        card["answer"],
        card,
        _more(row, asker, own),
        offers_for_bundle(asker.may, bundle, own=own, now=now),
    )


def _card(session: Session, bundle_id: UUID, body: str | None) -> dict[str, Any]:
    if body is None:  # written before there were cards
        return orjson.loads(orjson.dumps(card_of(facts_for_cards(session, [bundle_id])[bundle_id])))  # type: ignore[no-any-return]
    return orjson.loads(body)  # type: ignore[no-any-return]


def _more(row: Row[Any], asker: Member, own: bool) -> dict[str, Any]:
    holder = None
    if row.holder_id is not None and (own or sees_people(asker.may)):
        name = HOLDER_FORGOTTEN if row.holder_forgotten_at is not None else row.holder_name
        holder = {"party_id": row.holder_id, "name": name}
    facts = facts_of(row)
    return {
        "on_hand": facts.on_hand, "free": facts.free, "held_by": holder, "yours": own, "own_flag": _own_flag(row),
        "lies": _lies(row), "note": row.note,
        "unfinished": row.unfinished, "collection_id": row.collection_id, "collection_number": row.collection_number,
        "tree_id": row.tree_id, "parent_id": row.parent_id, "version": row.version, "timeline": f"/api/bundles/{row.id}/timeline",
    }  # fmt: skip


def _own_flag(row: Row[Any]) -> dict[str, Any] | None:
    """Sticks that the asker has of this bundle under a stick flag, which copies its code."""
    return {"bundle_id": row.flag_id, "sticks": row.flag_sticks} if row.flag_id else None


def _of_own_flag(wanted: Any) -> Any:
    """Of the flag of a bundle with the most sticks that the asker has."""
    return (
        select(wanted)
        .where(
            col(_Flag.parent_id) == col(Bundle.id), col(_Flag.is_flag), col(_Flag.holder_id) == bindparam("asker", type_=Uuid),
            _FLAG_ON_HAND > 0,
        )
        .order_by(_FLAG_ON_HAND.desc(), col(_Flag.id))
        .limit(1)
        .correlate(Bundle)
        .scalar_subquery()
    )  # fmt: skip


def _lies(row: Row[Any]) -> dict[str, Any] | None:
    if row.stay_id is None:
        return None
    return {
        "store_id": row.store_id, "store": row.store_name or "", "place": row.place_name or "", "box_id": row.box_id,
        "box": row.box_name or "", "since": row.stay_from_at,
    }  # fmt: skip


def _live() -> Any:
    place_id = col(Stay.place_id)
    return (
        select(
            *Bundle.__table__.c,  # type: ignore[attr-defined]
            col(AnswerCard.body), col(BundleKeeping.told), CLUB_ZONE, col(Party.name).label("holder_name"),
            col(Party.forgotten_at).label("holder_forgotten_at"),
            col(Collection.number).label("collection_number"), col(Collection.tree_id), col(Stay.id).label("stay_id"),
            col(Stay.from_at).label("stay_from_at"), col(Box.id).label("box_id"), col(Box.name).label("box_name"),
            _of_own_flag(col(_Flag.id)).label("flag_id"), _of_own_flag(_FLAG_ON_HAND).label("flag_sticks"),
            col(Place.name).label("place_name"), col(Store.id).label("store_id"), col(Store.name).label("store_name"),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(AnswerCard, col(AnswerCard.bundle_id) == col(Bundle.id))
        .outerjoin(BundleKeeping, col(BundleKeeping.bundle_id) == col(Bundle.id))
        .outerjoin(Party, col(Party.id) == col(Bundle.holder_id))
        .outerjoin(Stay, and_(col(Stay.bundle_id) == col(Bundle.id), col(Stay.until_at).is_(None)))
        .outerjoin(Box, col(Box.id) == col(Stay.into_box_id))
        .outerjoin(BoxStay, and_(col(BoxStay.box_id) == col(Stay.into_box_id), col(BoxStay.until_at).is_(None)))
        .outerjoin(Place, (col(Place.id) == place_id) | (col(Place.id) == col(BoxStay.place_id)))
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
    )  # fmt: skip


_STORED = (
    select(col(AnswerCard.body), col(BundleKeeping.told), CLUB_ZONE)
    .select_from(Bundle)
    .outerjoin(AnswerCard, col(AnswerCard.bundle_id) == col(Bundle.id))
    .outerjoin(BundleKeeping, col(BundleKeeping.bundle_id) == col(Bundle.id))
    .where(col(Bundle.id) == bindparam("id"))
)
_LIVE = _live()
_TELL: dict[TagKind, Callable[[Session, UUID, Member | None, datetime], Told]] = {
    TagKind.BUNDLE: _bundle,
    TagKind.TREE: tree_answer,
    TagKind.BOX: box_answer,
    TagKind.STORE: store_answer,
    TagKind.PLANT: plant_answer,
}
