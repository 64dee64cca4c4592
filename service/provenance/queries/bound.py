"""What a stop binds, thing by thing, and what it let go while it went on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any
from uuid import UUID

from sqlalchemy import and_, case, exists, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.tables import Bundle, BundleStop
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.grafting.tables import Plant, PlantStop
from service.lib.paging import Page, Paging, page_of
from service.members.rules import Everybody, may_name
from service.members.tables import Party
from service.provenance.rules.stops import Why
from service.provenance.rules.telling import HOLDER_FORGOTTEN
from service.trees.tables import SourceTree, StopRelease

_Parent = aliased(Bundle, name="parent_bundle")


@dataclass(frozen=True)
class BoundBundle:
    """A bundle that a stop binds, and the bundle it was split from where that is bound too."""

    bundle_id: UUID
    code: str | None
    page_name: str
    kind: str
    on_hand: int
    cut_on: date
    tree_number: int | None
    holder_name: str | None
    why: Why
    parent_code: str | None
    parent_is_bound: bool


@dataclass(frozen=True)
class BoundPlant:
    plant_id: UUID
    number: int
    code: str | None
    state: str


@dataclass(frozen=True)
class Released:
    """One thing that was let go by itself, while the stop went on."""

    kind: str
    thing_id: UUID
    words: str
    at: datetime
    reason: str
    by_name: str


def list_bound_bundles(
    session: Session, stop_id: UUID, paging: Paging, *, name_only: UUID | Everybody | None = None
) -> Page[BoundBundle]:
    """By cutting, each bundle before what was split from it; two statements. `name_only`: the one holder to be told, or everybody."""
    is_split = case((col(Bundle.parent_id).is_(None), 0), else_=1)
    parent_is_bound = exists().where(
        col(BundleStop.stop_id) == stop_id, col(BundleStop.bundle_id) == col(_Parent.id), col(BundleStop.lifted_at).is_(None)
    ).correlate(_Parent)  # fmt: skip
    statement = (
        select(
            col(Bundle.id), col(Bundle.code), ON_HAND.label("on_hand"), col(Bundle.made_at), col(Bundle.holder_id), col(Collection.number),
            col(Collection.cut_on), col(Collection.name_as_told), col(Taxon.kind), col(Cultivar.epithet), col(Cultivar.trade_designation),
            col(SourceTree.number).label("tree_number"), col(Party.name).label("holder_name"), col(Party.forgotten_at),
            col(BundleStop.why), col(_Parent.code).label("parent_code"), parent_is_bound.label("parent_is_bound"),
        )
        .select_from(BundleStop)
        .join(Bundle, col(Bundle.id) == col(BundleStop.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Party, col(Party.id) == col(Bundle.holder_id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None))
    )  # fmt: skip
    keys: list[tuple[Any, bool]] = [
        (col(Collection.number), False), (col(Bundle.made_at), False), (is_split, False), (col(Bundle.id), False),
    ]  # fmt: skip
    return page_of(session, statement, keys, paging, partial(_bound, name_only=name_only))


def _bound(row: Any, name_only: UUID | Everybody | None) -> BoundBundle:
    told = may_name(name_only, row.holder_id)
    holder = HOLDER_FORGOTTEN if row.forgotten_at is not None else row.holder_name
    return BoundBundle(
        row.id, row.code, page_name(row.epithet, row.trade_designation) if row.epithet else (row.name_as_told or "unnamed"),
        row.kind, row.on_hand, row.cut_on, row.tree_number, holder if told else None, Why(row.why), row.parent_code, row.parent_is_bound,
    )  # fmt: skip


def list_bound_plants(session: Session, stop_id: UUID, paging: Paging) -> Page[BoundPlant]:
    """By number; one statement where they need not be counted."""
    statement = (
        select(col(Plant.id), col(Plant.number), col(Plant.code), col(Plant.state))
        .join(PlantStop, col(PlantStop.plant_id) == col(Plant.id))
        .where(col(PlantStop.stop_id) == stop_id, col(PlantStop.lifted_at).is_(None))
    )
    return page_of(
        session, statement, [(col(Plant.number), False)], paging, lambda row: BoundPlant(row.id, row.number, row.code, row.state)
    )  # fmt: skip


def list_released(session: Session, stop_id: UUID, paging: Paging) -> Page[Released]:
    """What a stop let go by itself, the newest first; one statement where it need not be counted."""
    of = col(StopRelease.kind)
    statement = (
        select(
            col(StopRelease.seq), of.label("kind"), col(StopRelease.thing_id), col(StopRelease.released_at), col(StopRelease.reason),
            col(Bundle.code), col(Plant.number).label("plant"), col(SourceTree.number).label("tree"), col(Party.name),
            col(Party.forgotten_at),
        )
        .outerjoin(Bundle, and_(of == "bundle", col(Bundle.id) == col(StopRelease.thing_id)))
        .outerjoin(Plant, and_(of == "plant", col(Plant.id) == col(StopRelease.thing_id)))
        .outerjoin(SourceTree, and_(of == "tree", col(SourceTree.id) == col(StopRelease.thing_id)))
        .outerjoin(Party, col(Party.id) == col(StopRelease.by_party_id))
        .where(col(StopRelease.stop_id) == stop_id, col(StopRelease.alone))
    )  # fmt: skip
    return page_of(session, statement, [(col(StopRelease.seq), True)], paging, _released)


def _released(row: Any) -> Released:
    words = {
        "bundle": row.code or "a stick flag",
        "plant": f"plant {row.plant}",
        "tree": f"tree {row.tree}",
    }[row.kind]
    by = "somebody forgotten" if row.forgotten_at is not None else row.name
    return Released(row.kind, row.thing_id, words, row.released_at, row.reason, by)
