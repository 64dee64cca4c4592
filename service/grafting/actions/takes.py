"""Writing down whether grafts took."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.grafting import queries, rules
from service.grafting.actions.learning import ask_to_learn
from service.grafting.queries import GraftToJudge
from service.grafting.rules import PlantState
from service.grafting.schemas import PlantSummary, TakeCheckCreate, TakeChecked, TakeCheckRead, TakeRead
from service.grafting.tables import Plant, TakeCheck
from service.lib.clock import check_day, local_day
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.queries import club
from service.members.rules import Member
from service.storage.queries import resolve_codes
from service.tags.rules.words import TagKind
from service.trees.actions.carrying import carry_varieties


def record_take_checks(session: Session, member: Member, body: list[TakeCheckCreate]) -> list[TakeChecked]:
    """Looks at grafts or at single plants. Later looks win, by the day they were seen; plants change their state by them."""
    now = recorded_at(session)
    zone = club(session).zone
    plant_ids = _plants_meant(session, body)
    named = {plant_id for plant_id in plant_ids if plant_id is not None}
    latest = queries.latest_graft_of_plants(session, named) if named else {}
    graft_ids = [
        _graft_meant(entry, plant_id, latest) for entry, plant_id in zip(body, plant_ids, strict=True)
    ]
    grafts = queries.grafts_to_judge(session, set(graft_ids))
    checks: list[TakeCheck] = []
    for entry, graft_id, plant_id in zip(body, graft_ids, plant_ids, strict=True):
        seen_on = check_day(entry.seen_on or local_day(now, zone), now, zone, field="seen_on")
        _check_look(entry, grafts, graft_id, plant_id, seen_on, zone, member)
        checks.append(
            TakeCheck(
                **entry.model_dump(exclude={"code", "graft_id", "plant_id", "seen_on"}), graft_id=graft_id, plant_id=plant_id,
                seen_on=seen_on, recorded_at=now, by_party_id=member.party_id, for_party_id=member.acting_for_id,
            )
        )  # fmt: skip
    insert_rows(session, TakeCheck, [check.model_dump() for check in checks])
    states = renew_plants(session, {plant for graft in grafts.values() for plant in graft.plants})
    carry_varieties(
        session,
        queries.varieties_that_took(session, {c.graft_id for c in checks if c.is_verdict and c.alive}),
    )
    touch_bundles(session, {bundle for graft in grafts.values() for bundle in graft.bundles})
    if any(check.is_verdict for check in checks):
        ask_to_learn(session)
    return _answer(session, checks, grafts, states)


def _plants_meant(session: Session, body: Sequence[TakeCheckCreate]) -> list[UUID | None]:
    typed = {entry.code: "code" for entry in body if entry.code is not None}
    codes = resolve_codes(session, typed) if typed else {}
    found: list[UUID | None] = []
    for entry in body:
        plant_id = entry.plant_id
        if entry.code is not None:
            kind, plant_id = codes[entry.code]
            if kind is not TagKind.PLANT:
                raise rules.NotForGrafting(
                    f"This is the tag of a {kind}; a look at a take is at a plant.", field="code"
                )
        found.append(plant_id)
    return found


def _graft_meant(entry: TakeCheckCreate, plant_id: UUID | None, latest: Mapping[UUID, UUID]) -> UUID:
    if plant_id is not None and plant_id not in latest:
        raise rules.NoSuchPlant("There is no plant under this id.", field="plant_id", id=str(plant_id))
    graft_id = entry.graft_id or (latest[plant_id] if plant_id else None)
    assert graft_id is not None  # the body has one of the two
    return graft_id


def _check_look(
    entry: TakeCheckCreate, grafts: Mapping[UUID, GraftToJudge], graft_id: UUID, plant_id: UUID | None, seen_on: date, zone: str,
    member: Member,
) -> None:  # fmt: skip
    graft = grafts.get(graft_id)
    if graft is None:
        raise rules.NoSuchGraft("There is no graft under this id.", field="graft_id", id=str(graft_id))
    rules.check_may_see(rules.sees_only(member), graft.for_party_id, *graft.holders)
    if graft.is_taken_back:
        raise rules.GraftIsTakenBack(f"Graft {graft.number} never was.", graft=graft.number)
    if plant_id is not None and plant_id not in graft.plants:
        raise rules.PlantOfAnotherGraft(f"It is no plant of graft {graft.number}.", field="plant_id")
    rules.check_take(
        alive=entry.alive,
        looked_at=entry.looked_at,
        doubtful=entry.doubtful,
        grafts=graft.grafts,
        other_cause=entry.other_cause,
        is_told=entry.cause is not None,
    )
    made_on = local_day(graft.done_at, zone)
    rules.check_not_before(seen_on, made_on)
    if entry.is_verdict and (entry.alive or entry.doubtful):
        rules.check_can_judge(
            seen_on, rules.plan_judging(made_on, None, *graft.verdict_weeks, "").verdict_from_on
        )


def renew_plants(session: Session, plant_ids: set[UUID]) -> dict[UUID, PlantState]:
    """The state of plants anew from every look at every graft they carry; at most six statements."""
    if not plant_ids:
        return {}
    carried, before = queries.plants_touched(session, plant_ids)
    looks = queries.looks_at(session, {plant.graft_id for plants in carried.values() for plant in plants})
    after = {
        plant_id: rules.plan_plant_state((plant, looks.get(plant.graft_id, [])) for plant in plants)
        for plant_id, plants in carried.items()
        if before[plant_id] not in rules.NOT_THERE
    }
    for state in (PlantState.WAITING, PlantState.TOOK, PlantState.FAILED):
        changed = [
            plant_id for plant_id, now in after.items() if now is state and before[plant_id] is not state
        ]
        if changed:
            session.execute(
                update(Plant)
                .where(col(Plant.id).in_(changed))
                .values(state=state.value, version=Plant.version + 1)
                .execution_options(synchronize_session=False)
            )
    return {**before, **after}


def _answer(
    session: Session,
    checks: Sequence[TakeCheck],
    grafts: Mapping[UUID, GraftToJudge],
    states: Mapping[UUID, PlantState],
) -> list[TakeChecked]:
    takes = queries.takes_of(session, grafts)
    plants = queries.plants_of_grafts(session, grafts)
    answers: list[TakeChecked] = []
    for check in checks:
        read: dict[str, Any] = TakeCheckRead.model_validate(check).model_dump()
        made = [
            PlantSummary(**{**plant.model_dump(), "state": states[plant.id]})
            for plant in plants.get(check.graft_id, [])
        ]
        answers.append(TakeChecked(**read, take=TakeRead.model_validate(takes[check.graft_id]), plants=made))
    return answers
