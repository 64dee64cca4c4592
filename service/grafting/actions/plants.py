"""Plants: their codes and notes, the stop that binds them, and becoming a source tree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import case, update
from sqlmodel import Session, col

from service.grafting import queries, rules
from service.grafting.rules import PlantState
from service.grafting.schemas import PlantAsTree, PlantedTree, PlantRead, PlantUpdate
from service.grafting.tables import Plant, PlantStop
from service.lib.errors import check_version
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.trees import actions as tree_actions
from service.trees.schemas import TreeCreate, TreeVarietyCreate


def change_plant(
    session: Session, member: Member, plant_id: UUID, version: int, body: PlantUpdate
) -> PlantRead:
    """Correct a plant's note, or say that it is no longer there. A stopped plant stays where it is."""
    plant = queries.lock_plant(session, plant_id)
    rules.check_may_see(rules.sees_only(member), plant.holder_id)
    check_version(plant.version, version)
    if body.note is not None:
        plant.note = body.note
    if body.gone is not None and plant.state == PlantState.VOID:
        raise rules.PlantIsVoid(f"Plant {plant.number} is taken back.", plant=plant.number)
    if body.gone:
        facts = queries.facts_for_plants(session, [plant_id])[plant_id]
        if facts.open_stops:
            raise rules.PlantIsStopped(f"A stop binds plant {plant.number}.", plant=plant.number)
        plant.state = PlantState.GONE
    elif body.gone is False and plant.state == PlantState.GONE:
        carried, _ = queries.plants_touched(session, [plant_id])
        looks = queries.looks_at(session, {one.graft_id for one in carried[plant_id]})
        plant.state = rules.plan_plant_state((one, looks.get(one.graft_id, [])) for one in carried[plant_id])
    plant.version += 1
    session.flush()
    return queries.get_plant(session, plant_id)


def plant_as_tree(session: Session, member: Member, plant_id: UUID, body: PlantAsTree) -> PlantedTree:
    """A grafted plant that took becomes a source tree, once; what it is made of carries over."""
    queries.lock_plant(session, plant_id)
    plant = queries.plant_to_plant(session, plant_id)
    rules.check_can_become_tree(plant)
    carried = rules.plan_tree(plant)
    (tree,) = tree_actions.add_trees(
        session, member,
        [
            TreeCreate(
                id=body.id, site_id=body.site_id, where_on_site=body.where_on_site, taxon_id=carried.taxon_id,
                cultivar_id=carried.cultivar_id, name_as_told=carried.name_as_told, identity=carried.identity,
                owner_id=body.owner_id or plant.holder_id or member.acting_for_id, may_cut=body.may_cut, most_sticks=body.most_sticks,
                planted_year=body.planted_year, rootstock_id=carried.rootstock_id, stands_on=carried.stands_on,
                no_propagation_contract=carried.no_propagation_contract, note=body.note,
                varieties=[TreeVarietyCreate(cultivar_id=more) for more in carried.more_varieties],
            )
        ],
    )  # fmt: skip
    won = session.execute(
        update(Plant)
        .where(col(Plant.id) == plant_id, col(Plant.source_tree_id).is_(None))
        .values(source_tree_id=body.id, version=Plant.version + 1)
        .returning(col(Plant.id))
        .execution_options(synchronize_session=False)
    ).first()
    if won is None:
        raise rules.AlreadyATree(f"Plant {plant.number} became a source tree before.", plant=plant.number)
    return PlantedTree(
        plant_id=plant_id, tree_id=body.id, tree_number=tree.number, tree_code=tree.code, identity=carried.identity,
        stands_on=carried.stands_on,
    )  # fmt: skip


def set_codes(session: Session, codes: dict[UUID, str]) -> None:
    """The codes that plants go by from now on; the tags stage has bound them. One statement."""
    session.execute(
        update(Plant)
        .where(col(Plant.id).in_(list(codes)))
        .values(code=case(codes, value=col(Plant.id)), version=Plant.version + 1)
        .execution_options(synchronize_session=False)
    )


def bind_plant_stop(session: Session, member: Member, stop_id: UUID, plant_ids: Sequence[UUID]) -> None:
    """Bind plants by a stop, those that it binds already left as they are; at most four statements.

    One that it let go before is bound anew: when it was free in between stays written down.
    """
    queries.lock_plants(session, plant_ids)
    bound = queries.plants_bound_by(session, stop_id)
    at = recorded_at(session)
    wanted = list(dict.fromkeys(plant_ids))
    again = [one for one in wanted if bound.get(one, True) is False]
    if again:
        session.execute(
            update(PlantStop)
            .where(col(PlantStop.stop_id) == stop_id, col(PlantStop.plant_id).in_(again))
            .values(placed_at=at, lifted_at=None)
            .execution_options(synchronize_session=False)
        )
    fresh = [one for one in wanted if one not in bound]
    insert_rows(session, PlantStop, [{"stop_id": stop_id, "plant_id": one, "placed_at": at} for one in fresh])


def lift_plant_stop(session: Session, member: Member, stop_id: UUID) -> None:
    """Release every plant that a stop binds; two statements."""
    _lift(session, member, [col(PlantStop.stop_id) == stop_id], "", alone=False)


def release_plants(
    session: Session, member: Member, plant_ids: Sequence[UUID], reason: str, stop_id: UUID | None = None
) -> list[UUID]:
    """Let some plants go from a stop, or from every stop; gives those that were bound. At most two statements."""
    if not plant_ids:
        return []
    which: list[Any] = [col(PlantStop.plant_id).in_(list(plant_ids))]
    which += [col(PlantStop.stop_id) == stop_id] if stop_id else []
    return _lift(session, member, which, reason, alone=True)


def _lift(session: Session, member: Member, which: list[Any], reason: str, *, alone: bool) -> list[UUID]:
    lifted = session.execute(
        update(PlantStop)
        .where(*which, col(PlantStop.lifted_at).is_(None))
        .values(lifted_at=recorded_at(session))
        .returning(col(PlantStop.stop_id), col(PlantStop.plant_id), col(PlantStop.placed_at))
        .execution_options(synchronize_session=False)
    ).all()
    spans = [tree_actions.Span(row.stop_id, row.plant_id, row.placed_at) for row in lifted]
    tree_actions.note_released(session, member, "plant", spans, reason, alone=alone)
    return [row.plant_id for row in lifted]
