"""What a scan of a tree, a box, a store or a plant says; one statement each."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Row, Select, and_, exists, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.tables import Cultivar, Rootstock, Taxon
from service.collection.tables import Collection, NameCorrection
from service.grafting.rules import PlantState
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant, PlantStop
from service.lib.clock import local_day
from service.members.queries import CLUB_ZONE
from service.members.rules import Member, sees_people
from service.members.tables import Area, Party
from service.provenance.queries.cards import name_columns, name_facts
from service.provenance.rules.card import NameCorrected
from service.provenance.rules.offers import Offer, offers_for
from service.provenance.rules.scans import (
    Lying,
    PlantScan,
    TreeScan,
    box_card,
    plant_card,
    store_card,
    tree_card,
)
from service.provenance.rules.stops import StopOnWood
from service.storage.tables import Box, Place, Stay, Store
from service.tags.rules.words import TagKind
from service.trees.rules import CheckKind, CheckResult, StopReason, StopState
from service.trees.tables import Site, SourceTree, Stop, TreeCheck, TreeStop

ZONE = "zone"  # beside a card, the zone of the club where something is read off by its day
Told = tuple[str, dict[str, Any], dict[str, Any], list[Offer]]
_BoxStay = aliased(Stay, name="box_stay")
_BecameTree = aliased(SourceTree, name="became_tree")
_OnTree = aliased(SourceTree, name="on_tree")


def _offers(kind: TagKind, asker: Member | None, **facts: bool) -> list[Offer]:
    return list(offers_for(kind, asker.may, **facts)) if asker else []


def stops_of_rows(rows: list[Row[Any]]) -> tuple[StopOnWood, ...]:
    """Open stops from rows that repeat their thing once for each of them."""
    zone = rows[0].zone or "UTC"
    return tuple(
        {
            row.stop_id: StopOnWood(
                StopReason(row.reason), StopState(row.state), local_day(row.placed_at, zone)
            )
            for row in rows
            if row.stop_id
        }.values()
    )


# -- trees -----------------------------------------------------------------------------------------------------------


def tree_scan(rows: list[Row[Any]]) -> TreeScan:
    """A tree from its rows, of which there is one for each of its open stops."""
    row = rows[0]
    checks = tuple(
        (kind, CheckResult(result), on)
        for kind, result, on in (
            (CheckKind.LEAF, row.leaf, row.leaf_on),
            (CheckKind.FRUIT, row.fruit, row.fruit_on),
        )
        if result
    )
    return TreeScan(
        name_facts(row), row.number, row.region, row.area, row.planted_year, row.felled_on, row.tree_provisional,
        stops_of_rows(rows), checks,
    )  # fmt: skip


def tree_answer(session: Session, tree_id: UUID, asker: Member | None, _now: datetime) -> Told:
    rows = list(session.execute(_TREE.where(col(SourceTree.id) == tree_id)))
    row, tree = rows[0], tree_scan(rows)
    said, card = tree_card(tree)
    more = {
        "site": row.site,
        "where_on_site": row.where_on_site,
        "may_cut": row.may_cut,
        "most_sticks": row.most_sticks,
        "note": row.note,
    }
    if asker and (sees_people(asker.may) or row.owner_id == asker.acting_for_id):
        more["owner"] = {"party_id": row.owner_id, "name": row.owner}
    return (
        said,
        card | {ZONE: row.zone},
        more,
        _offers(TagKind.TREE, asker, stopped=bool(tree.stops) or row.felled_on is not None),
    )


def _last(kind: CheckKind, column: Any) -> Any:
    return (
        select(column)
        .where(
            col(TreeCheck.tree_id) == col(SourceTree.id),
            col(TreeCheck.kind) == kind,
            col(TreeCheck.result) != CheckResult.NOT_SEEN,
            col(TreeCheck.taken_back_at).is_(None),
        )
        .order_by(col(TreeCheck.seen_on).desc(), col(TreeCheck.recorded_at).desc(), col(TreeCheck.id).desc())
        .limit(1)
        .correlate(SourceTree)
        .scalar_subquery()
    )


def trees_with_stops(*more: Any) -> Select[*tuple[Any, ...]]:
    """Trees with all that a scan tells of them, and a row for each of their open stops."""
    result, seen_on = col(TreeCheck.result), col(TreeCheck.seen_on)
    return (
        select(
            *name_columns(), col(SourceTree.name_as_told), col(SourceTree.identity), col(SourceTree.number), col(Site.region),
            col(Area.name).label("area"), col(SourceTree.planted_year), col(SourceTree.felled_on),
            col(SourceTree.provisional).label("tree_provisional"), col(Site.name).label("site"), col(SourceTree.where_on_site),
            col(SourceTree.may_cut), col(SourceTree.most_sticks), col(SourceTree.note), col(SourceTree.owner_id),
            col(Party.name).label("owner"), _last(CheckKind.LEAF, result).label("leaf"), _last(CheckKind.LEAF, seen_on).label("leaf_on"),
            _last(CheckKind.FRUIT, result).label("fruit"), _last(CheckKind.FRUIT, seen_on).label("fruit_on"),
            col(Stop.id).label("stop_id"), col(Stop.reason), col(Stop.state), col(TreeStop.placed_at), CLUB_ZONE, *more,
        )
        .select_from(SourceTree)
        .join(Site, col(Site.id) == col(SourceTree.site_id))
        .join(Area, col(Area.id) == col(Site.area_id))
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .join(Party, col(Party.id) == col(SourceTree.owner_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .outerjoin(TreeStop, and_(col(TreeStop.tree_id) == col(SourceTree.id), col(TreeStop.lifted_at).is_(None)))
        .outerjoin(Stop, col(Stop.id) == col(TreeStop.stop_id))
        .order_by(col(TreeStop.placed_at))
    )  # fmt: skip


# -- boxes and stores ------------------------------------------------------------------------------------------------


def box_answer(session: Session, box_id: UUID, asker: Member | None, _now: datetime) -> Told:
    rows = list(session.execute(_BOX.where(col(Box.id) == box_id)))
    contents = [
        Lying(row.code, name_facts(row).short, row.on_hand, row.open_stops > 0)
        for row in rows
        if row.bundle_id is not None and (row.on_hand > 0 or row.open_stops > 0)
    ]
    said, card = box_card(rows[0].name, contents)
    more = {
        "store": rows[0].store or "", "place": rows[0].place or "", "note": rows[0].note,
        "contents": [{"bundle_id": row.bundle_id, "code": row.code, "on_hand": row.on_hand} for row in rows if row.bundle_id],
    }  # fmt: skip
    return said, card, more, _offers(TagKind.BOX, asker, stopped=any(one.stopped for one in contents))


def _box() -> Select[*tuple[Any, ...]]:
    return (
        select(
            col(Box.name), col(Box.note), col(Store.name).label("store"), col(Place.name).label("place"), col(Bundle.id).label("bundle_id"),
            col(Bundle.code), ON_HAND.label("on_hand"), col(Bundle.open_stops), *name_columns(), col(Collection.name_as_told),
            col(SourceTree.identity),
        )
        .select_from(Box)
        .outerjoin(_BoxStay, and_(col(_BoxStay.box_id) == col(Box.id), col(_BoxStay.until_at).is_(None)))
        .outerjoin(Place, col(Place.id) == col(_BoxStay.place_id))
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
        .outerjoin(
            Stay, and_(col(Stay.into_box_id) == col(Box.id), col(Stay.until_at).is_(None), col(Stay.bundle_id).is_not(None))
        )
        .outerjoin(Bundle, col(Bundle.id) == col(Stay.bundle_id))
        .outerjoin(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .order_by(col(Cultivar.epithet), col(Bundle.code), col(Bundle.id))
    )  # fmt: skip


def store_answer(session: Session, store_id: UUID, asker: Member | None, _now: datetime) -> Told:
    row = session.execute(_STORE.where(col(Store.id) == store_id)).one()
    said, card = store_card(row.kind, closed=row.closed_at is not None, boxes=row.boxes, bundles=row.bundles)
    more: dict[str, Any] = {"name": row.name, "fruit_inside": row.fruit_inside, "note": row.note}
    if asker and (sees_people(asker.may) or row.host_id == asker.acting_for_id):
        more.update(host={"party_id": row.host_id, "name": row.host}, whereabouts=row.whereabouts)
    return said, card, more, _offers(TagKind.STORE, asker, stopped=False)


def _store() -> Select[*tuple[Any, ...]]:
    here = select(col(Place.id)).where(col(Place.store_id) == col(Store.id)).correlate(Store)
    now = col(Stay.until_at).is_(None)
    boxes_here = select(col(_BoxStay.box_id)).where(
        col(_BoxStay.until_at).is_(None), col(_BoxStay.place_id).in_(here)
    )
    boxes = (
        select(func.count())
        .select_from(Stay)
        .where(now, col(Stay.box_id).is_not(None), col(Stay.place_id).in_(here))
    )
    bundles = (
        select(func.count())
        .select_from(Stay)
        .where(
            now,
            col(Stay.bundle_id).is_not(None),
            or_(col(Stay.place_id).in_(here), col(Stay.into_box_id).in_(boxes_here.correlate(Store))),
        )
    )
    return (
        select(
            col(Store.name), col(Store.kind), col(Store.closed_at), col(Store.fruit_inside), col(Store.note), col(Store.whereabouts),
            col(Store.host_id), col(Party.name).label("host"), boxes.correlate(Store).scalar_subquery().label("boxes"),
            bundles.correlate(Store).scalar_subquery().label("bundles"),
        )
        .select_from(Store)
        .join(Party, col(Party.id) == col(Store.host_id))
    )  # fmt: skip


# -- plants ------------------------------------------------------------------------------------------------------------


def plant_answer(session: Session, plant_id: UUID, asker: Member | None, _now: datetime) -> Told:
    rows = list(session.execute(_PLANT.where(col(Plant.id) == plant_id)))
    row = rows[0]
    names = {(one.graft_id, one.bundle_id): name_facts(one) for one in rows if one.botanical_name}
    stops = stops_of_rows(rows)
    stock = row.rootstock or (f"tree {row.on_tree}" if row.on_tree else row.stock_as_told)
    said, card = plant_card(
        PlantScan(
            row.plant_number, tuple(dict.fromkeys(names.values())), stock, row.method, local_day(row.done_at, row.zone or "UTC"), row.plant_state, row.became_tree,  # noqa: E501
            stops, _labelled_as(rows), local_day(row.taken_back_at, row.zone or "UTC") if row.taken_back_at else None,
        )
    )  # fmt: skip
    more: dict[str, Any] = {
        "graft_id": row.first_graft_id,
        "graft_number": row.graft_number,
        "note": row.plant_note,
    }
    if asker and row.holder_id and (sees_people(asker.may) or row.holder_id == asker.acting_for_id):
        more["held_by"] = {"party_id": row.holder_id, "name": row.holder}
    if row.plant_state == PlantState.VOID:
        return said, card, more, []
    took, planted = row.plant_state == PlantState.TOOK, row.became_tree is not None
    gone = row.plant_state == PlantState.GONE
    return (
        said,
        card,
        more,
        _offers(TagKind.PLANT, asker, stopped=bool(stops), took=took, planted=planted, gone=gone),
    )


def _labelled_as(rows: list[Row[Any]]) -> tuple[NameCorrected, ...]:
    """What the plant's tag says, where the name of its wood was put right since it was grafted."""
    told = {
        (one.graft_id, one.bundle_id): NameCorrected(one.labelled_as, name_facts(one).short, local_day(one.corrected_at, one.zone or "UTC"))
        for one in rows
        if one.labelled_as is not None and one.botanical_name and one.corrected_at >= one.made_at
    }  # fmt: skip
    return tuple(told.values())


def _first_correction(column: Any) -> Any:
    """Of the corrections since the plant was made, the first says what its tag says."""
    return (
        select(column)
        .where(
            col(NameCorrection.collection_id) == col(Collection.id),
            col(NameCorrection.recorded_at) >= col(Plant.made_at),
        )
        .order_by(col(NameCorrection.seq))
        .limit(1)
        .correlate(Collection, Plant)
        .scalar_subquery()
    )


def _plant() -> Select[*tuple[Any, ...]]:
    carried = exists().where(
        col(GraftOnPlant.graft_id) == col(GraftWood.graft_id),
        col(GraftOnPlant.plant_id) == col(Plant.id),
        col(GraftWood.taken_back).is_(False),
    )
    return (
        select(
            col(Plant.number).label("plant_number"), col(Plant.state).label("plant_state"), col(Plant.note).label("plant_note"),
            col(Plant.holder_id), col(Party.name).label("holder"), col(Plant.graft_id).label("first_graft_id"),
            col(Graft.number).label("graft_number"), col(Graft.taken_back_at), col(Graft.method),
            col(Graft.done_at), col(Graft.stock_as_told),
            col(Rootstock.name).label("rootstock"), col(_OnTree.number).label("on_tree"), col(_BecameTree.number).label("became_tree"),
            *name_columns(), col(Collection.name_as_told), col(SourceTree.identity), col(GraftWood.graft_id), col(GraftWood.bundle_id),
            col(Stop.id).label("stop_id"), col(Stop.reason), col(Stop.state), col(PlantStop.placed_at), CLUB_ZONE, col(Plant.made_at),
            _first_correction(col(NameCorrection.from_words)).label("labelled_as"),
            _first_correction(col(NameCorrection.recorded_at)).label("corrected_at"),
        )
        .select_from(Plant)
        .join(Graft, col(Graft.id) == col(Plant.graft_id))
        .outerjoin(
            GraftWood, and_(col(GraftWood.part) == "scion", or_(col(GraftWood.graft_id) == col(Plant.graft_id), carried))
        )
        .outerjoin(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .outerjoin(Collection, col(Collection.id) == col(Bundle.collection_id))
        .outerjoin(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(_BecameTree, col(_BecameTree.id) == col(Plant.source_tree_id))
        .outerjoin(_OnTree, col(_OnTree.id) == col(Graft.stock_tree_id))
        .outerjoin(Rootstock, col(Rootstock.id) == col(Graft.rootstock_id))
        .outerjoin(Party, col(Party.id) == col(Plant.holder_id))
        .outerjoin(PlantStop, and_(col(PlantStop.plant_id) == col(Plant.id), col(PlantStop.lifted_at).is_(None)))
        .outerjoin(Stop, col(Stop.id) == col(PlantStop.stop_id))
        .order_by(col(GraftWood.graft_id) != col(Plant.graft_id), col(Stop.opened_at))
    )  # fmt: skip


_TREE = trees_with_stops()
_BOX = _box()
_STORE = _store()
_PLANT = _plant()
