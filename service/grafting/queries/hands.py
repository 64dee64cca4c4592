"""Plants that change hands, and grafts that are taken back: what must be known first, and what was written down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import exists, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import Taxon
from service.collection.tables import Collection
from service.grafting.queries.bench import lock_plants, open_plant_stops
from service.grafting.rules import GraftToTakeBack, PlantInHand, PlantMoveKind, PlantOfMistake, PlantState
from service.grafting.schemas import GraftSummary, PlantMoveRead
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant, PlantMove, TakeCheck
from service.lib.paging import Page, Paging, page_of
from service.members.tables import Party
from service.trees.tables import Site

_From = aliased(Party, name="from_party")
_To = aliased(Party, name="to_party")
FORGOTTEN = "holder forgotten"


@dataclass(frozen=True)
class PlantToPass:
    """A plant with where its wood grew and where it stands, as far as plant-health areas go."""

    plant: PlantInHand
    grafted_at: datetime
    areas: frozenset[tuple[UUID | None, str]]  # area, genus


def plants_to_pass(
    session: Session, plant_ids: Iterable[UUID], *, lock: bool = True
) -> dict[UUID, PlantToPass]:
    """Plants by id, kept from other writers until this is saved, or only read; three statements whatever their number."""
    ids = list(plant_ids)
    if lock:
        lock_plants(session, ids)
    last = (
        select(col(PlantMove.kind)).where(col(PlantMove.plant_id) == col(Plant.id)).order_by(col(PlantMove.seq).desc())
        .limit(1).correlate(Plant).scalar_subquery()
    )  # fmt: skip
    rows = session.execute(
        select(
            col(Plant.id), col(Plant.number), col(Plant.state), col(Plant.holder_id), col(Plant.source_tree_id),
            open_plant_stops().label("open_stops"), last.label("last"), col(Graft.done_at), col(Site.area_id).label("stands_in"),
            col(Party.area_id).label("holder_area"),
        )
        .join(Graft, col(Graft.id) == col(Plant.graft_id))
        .outerjoin(Site, col(Site.id) == col(Graft.site_id))
        .outerjoin(Party, col(Party.id) == col(Plant.holder_id))
        .where(col(Plant.id).in_(ids))
    ).all()  # fmt: skip
    woods = _woods(session, ids)
    return {row.id: _to_pass(row, woods.get(row.id, set())) for row in rows}


def _woods(session: Session, plant_ids: list[UUID]) -> dict[UUID, set[tuple[UUID | None, str]]]:
    """Where the woods of plants grew, of every graft they carry."""
    own = select(col(Plant.id).label("plant_id"), col(Plant.graft_id).label("graft_id")).where(
        col(Plant.id).in_(plant_ids)
    )
    on_it = select(col(GraftOnPlant.plant_id), col(GraftOnPlant.graft_id)).where(
        col(GraftOnPlant.plant_id).in_(plant_ids)
    )
    pairs = own.union_all(on_it).subquery()
    rows = session.execute(
        select(pairs.c.plant_id, col(Collection.area_id), col(Taxon.genus))
        .join(GraftWood, col(GraftWood.graft_id) == pairs.c.graft_id)
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .where(col(GraftWood.taken_back).is_(False))
        .distinct()
    )
    found: dict[UUID, set[tuple[UUID | None, str]]] = {}
    for row in rows:
        found.setdefault(row.plant_id, set()).add((row.area_id, row.genus))
    return found


def _to_pass(row: Any, woods: set[tuple[UUID | None, str]]) -> PlantToPass:
    plant = PlantInHand(
        row.id, row.number, PlantState(row.state), row.holder_id, row.source_tree_id, row.open_stops,
        row.last == PlantMoveKind.GIVEN_OUTSIDE,
    )  # fmt: skip
    stands_in = row.holder_area or row.stands_in
    genera = {genus for _, genus in woods}
    here = {(stands_in, genus) for genus in genera} if stands_in else set()
    return PlantToPass(plant, row.done_at, frozenset(woods | here))


def list_plant_moves(
    session: Session, plant_id: UUID, paging: Paging, *, with_names: bool
) -> Page[PlantMoveRead]:
    """How a plant changed hands, in recorded order; two statements."""
    statement = (
        select(
            PlantMove, col(_From.name).label("from_name"), col(_From.forgotten_at).label("from_gone"), col(_To.name).label("to_name"),
            col(_To.forgotten_at).label("to_gone"),
        )
        .outerjoin(_From, col(_From.id) == col(PlantMove.from_party_id))
        .outerjoin(_To, col(_To.id) == col(PlantMove.party_id))
        .where(col(PlantMove.plant_id) == plant_id)
    )  # fmt: skip
    return page_of(
        session, statement, [(col(PlantMove.seq), False)], paging, lambda row: _move_read(row, with_names)
    )


def _shown(name: str | None, gone: datetime | None, with_names: bool) -> str | None:
    if name is None or not with_names:
        return None
    return FORGOTTEN if gone is not None else name


def _move_read(row: Any, with_names: bool) -> PlantMoveRead:
    move: PlantMove = row.PlantMove
    giver, taker = (
        _shown(row.from_name, row.from_gone, with_names),
        _shown(row.to_name, row.to_gone, with_names),
    )
    return PlantMoveRead(
        **move.model_dump(exclude={"seq", "to_whom"}), from_party=giver, party=taker, to_whom=move.to_whom if with_names else "",
        words=move_words(PlantMoveKind(move.kind), taker, move.to_whom if with_names else ""),
    )  # fmt: skip


def move_words(kind: PlantMoveKind, party: str | None, to_whom: str) -> str:
    return {
        PlantMoveKind.HANDED_OVER: f"Handed over to {party or 'somebody'}.",
        PlantMoveKind.GIVEN_OUTSIDE: f"Given outside the club{f': {to_whom}' if to_whom else ''}.",
        PlantMoveKind.RETURNED: "Returned to the club.",
        PlantMoveKind.DIED: "It died.",
    }[kind]


# -- a graft that was recorded by mistake -------------------------------------------------------------------------------


def sticks_of_graft(session: Session, graft_id: UUID) -> dict[UUID, int]:
    """The sticks a graft took from each bundle; one statement."""
    rows = session.execute(
        select(col(GraftWood.bundle_id), func.sum(col(GraftWood.sticks)).label("sticks"))
        .where(col(GraftWood.graft_id) == graft_id)
        .group_by(col(GraftWood.bundle_id))
        .order_by(col(GraftWood.bundle_id))
    )
    return {row.bundle_id: int(row.sticks) for row in rows}


def graft_to_take_back(
    session: Session, graft: Graft | GraftSummary, *, lock: bool = True, but_looks_of: datetime | None = None
) -> GraftToTakeBack:
    """What became of a graft since, its plants kept from other writers until this is saved, or only read; four statements."""
    if lock:
        ids = session.execute(select(col(Plant.id)).where(col(Plant.graft_id) == graft.id)).scalars()
        lock_plants(session, list(ids))
    moved = exists().where(col(PlantMove.plant_id) == col(Plant.id))
    again = exists().where(
        col(GraftOnPlant.plant_id) == col(Plant.id), col(Graft.id) == col(GraftOnPlant.graft_id), col(Graft.taken_back_at).is_(None)
    )  # fmt: skip
    rows = session.execute(
        select(
            col(Plant.id), col(Plant.number), col(Plant.source_tree_id), moved.label("moved"), again.label("again"),
            open_plant_stops().label("open_stops"),
        )
        .where(col(Plant.graft_id) == graft.id)
        .order_by(col(Plant.number))
    ).all()  # fmt: skip
    looks, bound = session.execute(
        select(
            select(func.count()).select_from(TakeCheck).where(*_seen(graft.id, but_looks_of)).scalar_subquery(),
            exists()
            .where(col(GraftWood.graft_id) == graft.id, col(Bundle.id) == col(GraftWood.bundle_id), col(Bundle.open_stops) > 0)
            .label("bound"),
        )
    ).one()  # fmt: skip
    plants = [
        PlantOfMistake(row.id, row.number, row.source_tree_id is not None, row.moved, row.again)
        for row in rows
    ]
    stopped = bool(bound) or any(row.open_stops for row in rows)
    return GraftToTakeBack(graft.number, graft.taken_back_at is not None, looks, stopped, plants)


def _seen(graft_id: UUID, but_of: datetime | None) -> list[Any]:
    later = [col(TakeCheck.recorded_at) != but_of] if but_of is not None else []
    return [col(TakeCheck.graft_id) == graft_id, *later]


def plants_carrying(session: Session, graft_id: UUID) -> set[UUID]:
    """The plants grafted before that a graft was made on; one statement."""
    return set(
        session.execute(
            select(col(GraftOnPlant.plant_id)).where(col(GraftOnPlant.graft_id) == graft_id)
        ).scalars()
    )
