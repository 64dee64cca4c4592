"""One plant, with every graft it carries."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session, col

from service.grafting.queries.grafts import grafts_of_plant
from service.grafting.queries.plants import plant_summary, plants_with_wood, stock_of, varieties_of
from service.grafting.rules import NoSuchPlant, Part, check_may_see
from service.grafting.schemas import PlantRead
from service.grafting.tables import GraftWood, Plant


def get_plant(session: Session, plant_id: UUID, *, only_for: UUID | None = None) -> PlantRead:
    """One plant with every graft it carries; four statements. Raises `NoSuchPlant` or `NotYourGraft`."""
    rows = session.execute(
        plants_with_wood().where(col(Plant.id) == plant_id, col(GraftWood.part) == Part.SCION)
    ).all()
    if not rows:
        raise NoSuchPlant("There is no plant under this id.")
    check_may_see(only_for, rows[0].Plant.holder_id, rows[0].for_party_id)
    plant = rows[0].Plant
    return PlantRead(
        **plant_summary(rows[0]).model_dump(), kind=rows[0].kind, variety=varieties_of(rows), stock=stock_of(rows[0]),
        made_at=plant.made_at, note=plant.note, grafts=grafts_of_plant(session, plant_id, plant.graft_id),
    )  # fmt: skip
