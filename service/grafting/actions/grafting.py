"""Writing down grafts: the sticks they used, what they stand on, the plants they made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.bundles import actions as bundle_actions
from service.catalogue.rules import Verdict
from service.grafting import queries, rules
from service.grafting.actions.reading import (
    Bench,
    ReadGraft,
    joins_of,
    look_over_bench,
    read_grafts,
    stock_at_bench,
)
from service.grafting.queries import Method
from service.grafting.rules import CAUTIONS, Part, PlantState
from service.grafting.schemas import (
    GraftCreate,
    GraftRead,
    GraftUpdate,
    GraftWoodRead,
    JoinTold,
    PlantSummary,
)
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant
from service.lib.errors import check_version
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.actions import take_numbers
from service.members.queries import facts_for_areas, permit_for
from service.members.rules import Member, check_may_cross
from service.tags.actions import bind_new_tags
from service.tags.rules.words import TagKind


def record_grafts(session: Session, member: Member, body: list[GraftCreate]) -> list[GraftRead]:
    """Grafts made of scanned wood. What is known of each join is told, and warns; only a stop refuses.

    Sticks are taken from the bundles' own ledger, so nobody grafts what is not there. Where the stock stands in
    another plant-health area than the wood grew in, the authority’s answer must be recorded first.
    """
    at = recorded_at(session)
    grafts = read_grafts(session, member, body, at)
    bench = look_over_bench(session, grafts)
    for graft in grafts:
        _check_graft(graft, bench, member, grafts)
    _check_areas(session, grafts, bench)
    _use_sticks(session, member, grafts)
    numbers = take_numbers(session, "graft", len(grafts))
    plant_numbers = iter(take_numbers(session, "plant", sum(len(graft.plants) for graft in grafts)))
    codes = _tag_plants(session, member, grafts)
    rows = [
        _graft_row(graft, number, bench, member, at) for graft, number in zip(grafts, numbers, strict=True)
    ]
    insert_rows(session, Graft, rows)
    insert_rows(session, GraftWood, [row for graft in grafts for row in _wood_rows(graft)])
    plants = {graft.body.id: _plant_rows(graft, plant_numbers, codes, member) for graft in grafts}
    insert_rows(session, Plant, [row for made in plants.values() for row in made])
    insert_rows(
        session, GraftOnPlant, [{"graft_id": g.body.id, "plant_id": g.plant_id} for g in grafts if g.plant_id]
    )
    _wake_plants(session, grafts, bench)
    touch_bundles(session, {wood.bundle_id for graft in grafts for wood in graft.woods})
    return [_read(graft, row, plants[graft.body.id], bench) for graft, row in zip(grafts, rows, strict=True)]


def change_graft(
    session: Session, member: Member, graft_id: UUID, version: int, body: GraftUpdate
) -> GraftRead:
    """Correct the note of a graft, or when its take shall be judged."""
    graft = queries.graft_to_change(session, graft_id)
    rules.check_may_see(rules.sees_only(member), graft.for_party_id)
    check_version(graft.version, version)
    for name in body.model_fields_set:
        setattr(graft, name, getattr(body, name))
    graft.version += 1
    session.flush()
    return queries.get_graft(session, graft_id)


# -- deciding ------------------------------------------------------------------------------------------------------------


def _check_graft(graft: ReadGraft, bench: Bench, member: Member, all_grafts: Sequence[ReadGraft]) -> None:
    rules.check_parts([(wood.bundle_id, wood.body.part) for wood in graft.woods])
    rules.check_plants(len(graft.plants), graft.body.grafts)
    for wood in graft.woods:
        known = bench.woods[wood.bundle_id]
        rules.check_can_graft_wood(known, party_id=member.acting_for_id, any_wood=rules.any_wood(member))
        along = sum(w.body.sticks for g in all_grafts for w in g.woods if w.bundle_id == wood.bundle_id)
        rules.check_counted(known, wood.body.sticks, along)
    rules.check_can_be_stock(stock_at_bench(graft, bench))
    if graft.plants and (graft.tree_id or graft.plant_id):
        raise rules.NoNewPlant("It is made on what stands already.", field="plants")


def _check_areas(session: Session, grafts: Iterable[ReadGraft], bench: Bench) -> None:
    """Wood may be grafted in another plant-health area only with the authority's answer; nothing is asked within one."""
    crossings = set()
    for graft in grafts:
        to_area = bench.site_areas[graft.site_id] if graft.site_id else stock_at_bench(graft, bench).area_id
        for wood in (bench.woods[wood.bundle_id] for wood in graft.woods):
            if to_area is not None and wood.area_id is not None and wood.area_id != to_area:
                crossings.add((wood.area_id, to_area, wood.genus, graft.made_on))
    if crossings:
        areas = facts_for_areas(session, {area for crossing in crossings for area in crossing[:2]})
        for from_area, to_area, genus, day in sorted(crossings, key=str):
            check_may_cross(
                areas[from_area],
                areas[to_area],
                permit_for(session, from_area, to_area, genus, day),
                genus=genus,
            )


# -- writing -------------------------------------------------------------------------------------------------------------


def _use_sticks(session: Session, member: Member, grafts: Iterable[ReadGraft]) -> None:
    used: dict[datetime, dict[UUID, int]] = {}
    for graft in grafts:
        for wood in graft.woods:
            if wood.body.sticks:
                of_time = used.setdefault(graft.done_at, {})
                of_time[wood.bundle_id] = of_time.get(wood.bundle_id, 0) + wood.body.sticks
    for done_at, sticks in used.items():
        bundle_actions.use_in_graft(session, member, sorted(sticks.items()), done_at)


def _tag_plants(session: Session, member: Member, grafts: Iterable[ReadGraft]) -> dict[UUID, str]:
    ids = [plant.id for graft in grafts if graft.body.with_tags for plant in graft.plants]
    return bind_new_tags(session, member, TagKind.PLANT, ids) if ids else {}


def _graft_row(graft: ReadGraft, number: int, bench: Bench, member: Member, at: datetime) -> dict[str, Any]:
    plant = bench.plants[graft.plant_id] if graft.plant_id else None
    tree_id = graft.tree_id or (plant.source_tree_id if plant else None)
    return {
        "id": graft.body.id, "number": number, "method": graft.body.method, "grafts": graft.body.grafts,
        "rootstock_id": graft.body.rootstock_id, "stock_tree_id": tree_id, "stock_as_told": graft.body.stock_as_told,
        "site_id": graft.site_id or (bench.trees[tree_id].site_id if tree_id else None),
        "verdict": rules.combine_verdicts([bench.advice[join].verdict for join, _, _ in joins_of(graft, bench)]).value,
        "verdict_on": judging_of(graft, bench.methods.get(graft.body.method)).verdict_on, "done_at": graft.done_at, "recorded_at": at,
        "by_party_id": member.party_id, "for_party_id": member.acting_for_id, "note": graft.body.note, "version": 1,
    }  # fmt: skip


def judging_of(graft: ReadGraft, method: Method | None) -> rules.Judged:
    if method is None:
        return rules.plan_judging(graft.made_on, None, None, None, "")
    return rules.plan_judging(
        graft.made_on,
        method.first_look_weeks,
        method.verdict_weeks_from,
        method.verdict_weeks_to,
        method.verdict_mark,
    )


def _wood_rows(graft: ReadGraft) -> list[dict[str, Any]]:
    return [
        {
            "graft_id": graft.body.id, "bundle_id": wood.bundle_id, "part": wood.body.part.value, "sticks": wood.body.sticks,
            "scions": wood.body.scions,
        }
        for wood in graft.woods
    ]  # fmt: skip


def _plant_rows(
    graft: ReadGraft, numbers: Any, codes: Mapping[UUID, str], member: Member
) -> list[dict[str, Any]]:
    holder = None if graft.body.for_club else graft.body.holder_id or member.acting_for_id
    return [
        {
            "id": plant.id, "number": next(numbers), "code": codes.get(plant.id), "graft_id": graft.body.id, "holder_id": holder,
            "source_tree_id": None, "state": PlantState.WAITING.value, "note": plant.note, "made_at": graft.done_at, "version": 1,
        }
        for plant in graft.plants
    ]  # fmt: skip


def _wake_plants(session: Session, grafts: Iterable[ReadGraft], bench: Bench) -> None:
    """A plant whose graft had failed waits again; one statement."""
    failed = {
        g.plant_id for g in grafts if g.plant_id and bench.plants[g.plant_id].state is PlantState.FAILED
    }
    if failed:
        session.execute(
            update(Plant)
            .where(col(Plant.id).in_(failed))
            .values(state=rules.state_after_graft(PlantState.FAILED), version=Plant.version + 1)
            .execution_options(synchronize_session=False)
        )


# -- answering -----------------------------------------------------------------------------------------------------------


def _read(graft: ReadGraft, row: dict[str, Any], plants: list[dict[str, Any]], bench: Bench) -> GraftRead:
    method = bench.methods.get(graft.body.method)
    judging = judging_of(graft, method)
    joins = joins_of(graft, bench)
    warnings = [rules.warn_of_join(wood, stock, bench.advice[join]) for join, wood, stock in joins]
    return GraftRead(
        **{name: value for name, value in row.items() if name not in ("stock_as_told", "verdict")}, verdict=Verdict(row["verdict"]),
        method_name=method.name if method else "", woods=[_wood_read(wood, bench) for wood in graft.woods],
        stock=stock_at_bench(graft, bench).name, on_plant_id=graft.plant_id, plants=[PlantSummary(**_told(plant)) for plant in plants],
        first_look_on=judging.first_look_on, verdict_from_on=judging.verdict_from_on, verdict_mark=judging.mark,
        tie=method.tie if method else "", joins=[_join_told(join, wood, stock, bench) for join, wood, stock in joins],
        warnings=[*dict.fromkeys(w for w in warnings if w), *_warn_of_area(graft, bench)], cautions=list(CAUTIONS),
    )  # fmt: skip


def _told(plant: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in plant.items() if name not in ("note", "made_at")}


def _wood_read(wood: Any, bench: Bench) -> GraftWoodRead:
    known = bench.woods[wood.bundle_id]
    return GraftWoodRead(
        bundle_id=wood.bundle_id, code=known.code, kind=known.kind, variety=known.variety, part=Part(wood.body.part),
        sticks=wood.body.sticks, scions=wood.body.scions,
    )  # fmt: skip


def _join_told(join: Any, wood: str, stock: str, bench: Bench) -> JoinTold:
    advice = bench.advice[join]
    return JoinTold(
        wood=wood, stock=stock, verdict=advice.verdict, note=advice.note, bridge=advice.bridge, source=advice.source, mark=advice.mark,
        rests_on=advice.rests_on,
    )  # fmt: skip


def _warn_of_area(graft: ReadGraft, bench: Bench) -> list[str]:
    to_area = bench.site_areas[graft.site_id] if graft.site_id else stock_at_bench(graft, bench).area_id
    unknown = [bench.woods[w.bundle_id].name for w in graft.woods if bench.woods[w.bundle_id].area_id is None]
    if to_area is None or not unknown:
        return []
    return [
        f"It is not known in which plant-health area {', '.join(unknown)} grew: ask before the plants leave."
    ]
