"""What actions must know before they write: codes resolved, things locked, what lies in a box."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import func, or_, select
from sqlmodel import Session, col

from service.bundles.tables import Bundle, BundleStop
from service.catalogue.tables import Taxon
from service.collection.rules import Wood
from service.collection.tables import Collection
from service.lib.codes import group_code, parse_code
from service.members.tables import Party
from service.storage.rules import ANYWHERE, Act, Span, Spot, WoodToMove
from service.storage.tables import Box, Logger, Place, PutAway, Stay, Store
from service.tags.queries import facts_for_codes, match_known, unknown_tag
from service.tags.rules.addresses import split_scanned
from service.tags.rules.words import TagKind, UnknownTag, explain_typed


@dataclass(frozen=True)
class BoxFacts:
    id: UUID
    name: str


@dataclass(frozen=True)
class Destination:
    """A place of a store, and whether that store takes wood."""

    place_id: UUID
    place_name: str
    store_id: UUID
    store_name: str
    closed: bool
    area_id: UUID | None = None  # of the person it stands with


@dataclass(frozen=True)
class BundleToKeep:
    """A bundle as far as keeping it goes."""

    wood: WoodToMove
    made_at: datetime
    dormant: bool


@dataclass(frozen=True)
class LyingInBox:
    """A bundle in a box, from when until when."""

    box_id: UUID
    wood: WoodToMove
    span: Span


def resolve_codes(session: Session, typed: Mapping[str, str]) -> dict[str, tuple[TagKind, UUID]]:
    """What typed or scanned codes stand for, each with the field it stands in; one statement.

    Raises `MistypedCode`, with a correction where exactly one known code is one slip away, or `UnknownTag`. A lost tag
    that turned up still tells what it was bound to.
    """
    signs: dict[str, str] = {}
    for text, name in typed.items():
        code = parse_code(split_scanned(text)[1])
        if code.code is None:
            which = text if len(typed) > 1 else ""
            raise explain_typed(code, match_known(session, code.suggestions()), field=name, which=which)
        signs[text] = code.code
    facts = facts_for_codes(session, sorted(set(signs.values())))
    found: dict[str, tuple[TagKind, UUID]] = {}
    for text, code_signs in signs.items():
        tag = facts.get(code_signs)
        if tag is None:
            raise unknown_tag(session, text, code_signs, field=typed[text])
        if tag.kind is None or tag.thing_id is None:
            raise UnknownTag(
                f"Nothing is bound to the code {group_code(code_signs)}.", field=typed[text], code=code_signs
            )
        found[text] = (tag.kind, tag.thing_id)
    return found


def _stopped_since() -> Any:
    return (
        select(func.min(BundleStop.placed_at))
        .where(col(BundleStop.bundle_id) == col(Bundle.id), col(BundleStop.lifted_at).is_(None))
        .correlate(Bundle)
        .scalar_subquery()
    )


def lock_bundles(session: Session, bundle_ids: Iterable[UUID]) -> None:
    """Keep bundles from other writers until this action is saved; always in the same order. One statement.

    What binds them is read by a statement of its own afterwards: this one may have waited, and would not see it.
    """
    statement = select(col(Bundle.id)).where(col(Bundle.id).in_(list(bundle_ids))).order_by(col(Bundle.id))
    session.execute(statement.with_for_update(key_share=True))


def bundles_to_keep(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, BundleToKeep]:
    """Bundles by id, with since when a stop binds them; one statement."""
    statement = (
        select(
            col(Bundle.id),
            col(Bundle.code),
            col(Bundle.made_at),
            col(Collection.wood),
            _stopped_since().label("stopped_since"),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .where(col(Bundle.id).in_(list(bundle_ids)))
    )
    return {
        row.id: BundleToKeep(
            WoodToMove(row.id, _name(row.code), row.stopped_since), row.made_at, row.wood == Wood.DORMANT
        )
        for row in session.execute(statement)
    }


def lock_boxes(session: Session, box_ids: Iterable[UUID]) -> dict[UUID, BoxFacts]:
    """Boxes by id, kept from other writers until this action is saved; after the bundles. One statement."""
    statement = (
        select(col(Box.id), col(Box.name))
        .where(col(Box.id).in_(list(box_ids)))
        .order_by(col(Box.id))
        .with_for_update(key_share=True)
    )
    return {row.id: BoxFacts(row.id, row.name) for row in session.execute(statement)}


def targets_of(
    session: Session, place_ids: Iterable[UUID], store_ids: Iterable[UUID]
) -> tuple[dict[UUID, Destination], dict[UUID, Destination]]:
    """Places by id, and the anywhere of stores by the store's id; one statement."""
    statement = (
        select(
            col(Place.id),
            col(Place.name),
            col(Place.store_id),
            col(Store.name).label("store"),
            col(Store.closed_at),
            col(Party.area_id),
        )
        .join(Store, col(Store.id) == col(Place.store_id))
        .join(Party, col(Party.id) == col(Store.host_id))
        .where(or_(col(Place.id).in_(list(place_ids)), col(Place.store_id).in_(list(store_ids))))
    )
    places: dict[UUID, Destination] = {}
    anywhere: dict[UUID, Destination] = {}
    for row in session.execute(statement):
        places[row.id] = Destination(
            row.id, row.name, row.store_id, row.store, row.closed_at is not None, row.area_id
        )
        if row.name == ANYWHERE:
            anywhere[row.store_id] = places[row.id]
    return places, anywhere


def where_grown(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, tuple[UUID | None, str]]:
    """The area and the genus of each of these bundles; one statement, none for no bundle."""
    ids = list(bundle_ids)
    if not ids:
        return {}
    statement = (
        select(col(Bundle.id), col(Collection.area_id), col(Taxon.genus))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .where(col(Bundle.id).in_(ids))
    )
    return {row.id: (row.area_id, row.genus) for row in session.execute(statement)}


def lying_in_boxes(session: Session, since: Mapping[UUID, datetime]) -> list[LyingInBox]:
    """What lay in boxes at any time from a moment on; one statement."""
    statement = (
        select(
            col(Stay.into_box_id), col(Stay.from_at), col(Stay.until_at), col(Bundle.id), col(Bundle.code),
            _stopped_since().label("stopped_since"),
        )
        .join(Bundle, col(Bundle.id) == col(Stay.bundle_id))
        .where(
            col(Stay.into_box_id).in_(list(since)), or_(col(Stay.until_at).is_(None), col(Stay.until_at) > min(since.values())),
        )
    )  # fmt: skip
    return [
        LyingInBox(
            row.into_box_id,
            WoodToMove(row.id, _name(row.code), row.stopped_since),
            Span(row.from_at, row.until_at),
        )
        for row in session.execute(statement)
    ]


def acts_of(
    session: Session, bundle_ids: Iterable[UUID], box_ids: Iterable[UUID]
) -> tuple[list[Act], list[Act]]:
    """Everything ever put away of these bundles, and of these boxes; one statement."""
    statement = select(
        col(PutAway.bundle_id),
        col(PutAway.box_id),
        col(PutAway.into_box_id),
        col(PutAway.place_id),
        col(PutAway.done_at),
        col(PutAway.seq),
    ).where(or_(col(PutAway.bundle_id).in_(list(bundle_ids)), col(PutAway.box_id).in_(list(box_ids))))
    of_bundles: list[Act] = []
    of_boxes: list[Act] = []
    for row in session.execute(statement):
        act = Act(row.bundle_id or row.box_id, Spot(row.into_box_id, row.place_id), row.done_at, row.seq)
        (of_bundles if row.bundle_id else of_boxes).append(act)
    return of_bundles, of_boxes


def parties_that_stand(session: Session, party_ids: Iterable[UUID]) -> set[UUID]:
    """Those of the parties that exist and were not forgotten."""
    statement = select(col(Party.id)).where(
        col(Party.id).in_(list(party_ids)), col(Party.forgotten_at).is_(None)
    )
    return set(session.execute(statement).scalars())


def find_names_in_use(session: Session, table: type[Store | Box | Logger], names: Iterable[str]) -> set[str]:
    return set(session.execute(select(col(table.name)).where(col(table.name).in_(list(names)))).scalars())


def _name(code: str | None) -> str:
    return group_code(code) if code else "a stick flag"
