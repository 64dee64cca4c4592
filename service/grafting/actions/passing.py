"""Plants change hands: to a member, guest or club, outside the record, back to the club; or they die."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.grafting import queries, rules
from service.grafting.actions.takes import renew_plants
from service.grafting.queries import PlantToPass
from service.grafting.rules import PlantMoveKind, PlantState
from service.grafting.schemas import PlantMoveCreate, PlantMoveRead
from service.grafting.tables import Plant, PlantMove
from service.lib.clock import check_done_at, local_day, minute_words
from service.lib.errors import AlreadyKnown
from service.lib.write import insert_rows, recorded_at
from service.members import actions as member_actions
from service.members import queries as members
from service.members.rules import Member, PartyFacts, Receiver, check_may_cross
from service.members.schemas import PartyCreate
from service.storage.queries import resolve_codes
from service.tags.rules.words import TagKind


def pass_on_plants(session: Session, member: Member, body: list[PlantMoveCreate]) -> list[PlantMoveRead]:
    """Write down that plants changed hands or died: all of it or nothing, each refused as wood in a bundle would be."""
    at = recorded_at(session)
    plant_ids = _plants_meant(session, body)
    if len(set(plant_ids)) < len(plant_ids) or len({move.id for move in body}) < len(body):
        raise AlreadyKnown("The same plant is told twice.", field="plant_id")
    plants = queries.plants_to_pass(session, plant_ids)
    receivers = members.facts_for_parties(session, {move.party_id for move in body if move.party_id})
    rows: list[dict[str, Any]] = []
    for move, plant_id in zip(body, plant_ids, strict=True):
        told = plants.get(plant_id)
        if told is None:
            raise rules.NoSuchPlant("There is no plant under this id.", field="plant_id", id=str(plant_id))
        rules.check_may_pass_on(told.plant, party_id=member.acting_for_id, any_plant=rules.any_wood(member))
        _check_receiver(move, receivers)
        rules.check_can_pass_on(told.plant, move.kind, move.party_id)
        rows.append(_row(move, told, member, at))
    _check_areas(session, member, body, plant_ids, plants, receivers)
    _change_plants(session, body, plant_ids, plants)
    insert_rows(session, PlantMove, rows)
    return [_read(row, receivers) for row in rows]


def pass_on_to_guest(
    session: Session, member: Member, guest: PartyCreate, body: list[PlantMoveCreate]
) -> list[PlantMoveRead]:
    """Record a guest who is not in the record yet, and hand plants over to them: both or neither."""
    member_actions.add_parties(session, member, [guest])
    return pass_on_plants(session, member, body)


def _plants_meant(session: Session, body: Sequence[PlantMoveCreate]) -> list[UUID]:
    typed = {move.code: "code" for move in body if move.code is not None}
    codes = resolve_codes(session, typed) if typed else {}
    found = []
    for move in body:
        kind, thing_id = codes[move.code] if move.code is not None else (TagKind.PLANT, move.plant_id)
        if kind is not TagKind.PLANT:
            raise rules.NotForGrafting(
                f"This is the tag of a {kind}; only a plant is passed on so.", field="code"
            )
        assert thing_id is not None  # the body has one of the two
        found.append(thing_id)
    return found


def _check_receiver(move: PlantMoveCreate, receivers: dict[UUID, PartyFacts]) -> None:
    if move.party_id is None:
        return
    receiver = receivers.get(move.party_id)
    if receiver is None or receiver.forgotten:
        raise rules.NoSuchReceiverOfPlant(
            "Nobody goes by this id, or they were forgotten.", field="party_id", id=str(move.party_id)
        )


def _check_areas(
    session: Session, member: Member, body: Sequence[PlantMoveCreate], plant_ids: Sequence[UUID], plants: dict[UUID, PlantToPass],
    receivers: dict[UUID, PartyFacts],
) -> None:  # fmt: skip
    """Neither from where its woods grew nor from where it stands may a plant cross without the authority's answer."""
    crossings = set()
    for move, plant_id in zip(body, plant_ids, strict=True):
        if move.party_id is not None:
            to_area = receivers[move.party_id].area_id
            crossings |= {
                (area, to_area, genus, move.party_id)
                for area, genus in plants[plant_id].areas
                if area != to_area
            }
    if not crossings:
        return
    today = local_day(recorded_at(session), members.club(session).zone)
    areas = members.facts_for_areas(session, {area for a, b, *_ in crossings for area in (a, b) if area})
    for from_id, to_id, genus, receiver_id in sorted(crossings, key=str):
        permit = members.permit_for(session, from_id, to_id, genus, today) if from_id and to_id else None
        check_may_cross(
            areas.get(from_id) if from_id else None, areas.get(to_id) if to_id else None, permit,
            genus=genus, receiver=Receiver(receiver_id, receivers[receiver_id].name, receiver_id == member.party_id),
        )  # fmt: skip


def _row(move: PlantMoveCreate, told: PlantToPass, member: Member, at: datetime) -> dict[str, Any]:
    done_at = check_done_at(move.done_at, at)
    if done_at < told.grafted_at:
        raise rules.BeforeTheGraft(
            f"Plant {told.plant.number} was grafted on {minute_words(told.grafted_at)}.", field="done_at"
        )
    return {
        "id": move.id, "plant_id": told.plant.id, "kind": move.kind.value, "from_party_id": told.plant.holder_id,
        "party_id": rules.holder_after(move.kind, told.plant.holder_id, move.party_id), "to_whom": move.to_whom, "done_at": done_at,
        "recorded_at": at, "by_party_id": member.party_id, "for_party_id": member.acting_for_id, "reason": move.reason,
    }  # fmt: skip


def _change_plants(
    session: Session,
    body: Sequence[PlantMoveCreate],
    plant_ids: Sequence[UUID],
    plants: dict[UUID, PlantToPass],
) -> None:
    """One statement for each kind of move and receiver. The plants are locked, so what was read still stands."""
    alike: dict[tuple[PlantMoveKind, UUID | None], list[UUID]] = {}
    for move, plant_id in zip(body, plant_ids, strict=True):
        alike.setdefault((move.kind, move.party_id), []).append(plant_id)
    for (kind, party_id), ids in alike.items():
        values: dict[str, Any] = {"version": Plant.version + 1}
        if kind is not PlantMoveKind.DIED:
            values["holder_id"] = party_id
        if kind in (PlantMoveKind.DIED, PlantMoveKind.GIVEN_OUTSIDE):
            values["state"] = PlantState.GONE.value
        elif kind is PlantMoveKind.RETURNED:
            values["state"] = PlantState.WAITING.value
        session.execute(
            update(Plant)
            .where(col(Plant.id).in_(ids))
            .values(**values)
            .execution_options(synchronize_session=False)
        )
        if kind is PlantMoveKind.RETURNED:
            renew_plants(session, set(ids))


def _read(row: dict[str, Any], receivers: dict[UUID, PartyFacts]) -> PlantMoveRead:
    kind = PlantMoveKind(row["kind"])
    taker = receivers[row["party_id"]].name if row["party_id"] in receivers else None
    return PlantMoveRead(**row, party=taker, words=queries.move_words(kind, taker, row["to_whom"]))
