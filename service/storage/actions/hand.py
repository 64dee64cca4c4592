"""Reading a thermometer by hand, and fruit put into a store or taken out."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import check_day, check_done_at, local_day
from service.lib.write import insert_rows, recorded_at
from service.members.queries import club
from service.members.rules import Member
from service.members.rules.access import check_store_of
from service.storage import queries
from service.storage.actions import dosing
from service.storage.actions.ringing import ask_for_store
from service.storage.queries.hand import dial_read
from service.storage.rules import (
    Dial,
    DialTakenBack,
    FruitGone,
    NoSuchDialReading,
    NoSuchFruit,
    NoSuchPlace,
    NoSuchStore,
    NotForStoring,
    check_dial,
    check_fruit_days,
    hundredths,
)
from service.storage.schemas import (
    DialReadingCreate,
    DialReadingRead,
    FruitCreate,
    FruitEnd,
    FruitRead,
    TakenBack,
)
from service.storage.tables import DialReading, FruitSpell, Store
from service.tags.rules.words import TagKind


def read_dial(session: Session, member: Member, body: DialReadingCreate) -> DialReadingRead:
    """Write down what a store's thermometer shows. An unlikely number is asked about once."""
    at = recorded_at(session)
    store_id = body.store_id or _store_of(session, body.code or "")
    check_store_of(member, [store_id])
    places, anywhere = queries.targets_of(session, [body.place_id] if body.place_id else [], [store_id])
    if store_id not in anywhere:
        raise NoSuchStore("There is no store under this id.", field="store_id")
    if body.place_id is not None and (
        body.place_id not in places or places[body.place_id].store_id != store_id
    ):
        raise NoSuchPlace("This store has no such place.", field="place_id")
    dial = Dial(hundredths(body.now), hundredths(body.lowest), hundredths(body.highest), body.unit)
    check_dial(dial, sure=body.sure)
    row = DialReading(
        id=body.id, store_id=store_id, place_id=body.place_id, unit=body.unit, now=dial.now, lowest=dial.lowest, highest=dial.highest,
        reset_done=body.reset_done, read_at=check_done_at(body.read_at, at), recorded_at=at, by_party_id=member.party_id,
        for_party_id=member.acting_for_id, note=body.note,
    )  # fmt: skip
    insert_rows(session, DialReading, [row.model_dump()])
    _follow_dial(session, row)
    return dial_read(row)


def _follow_dial(session: Session, row: DialReading) -> None:
    ask_for_store(session, row.store_id)
    lowest = dial_read(row).lowest_c
    if (
        lowest is not None and lowest < 0
    ):  # no hour of the store changes with it, and its wood may have frozen
        dosing.ask_for_store(session, row.store_id)


def _store_of(session: Session, code: str) -> UUID:
    kind, thing_id = queries.resolve_codes(session, {code: "code"})[code]
    if kind is not TagKind.STORE:
        raise NotForStoring(f"This is the tag of a {kind}; a thermometer is read in a store.", field="code")
    return thing_id


def take_dial_back(session: Session, member: Member, reading_id: UUID, body: TakenBack) -> DialReadingRead:
    """Take back a reading that was mistyped; it stays in the record, crossed out."""
    row = session.get(DialReading, reading_id, with_for_update=True, populate_existing=True)
    if row is None:
        raise NoSuchDialReading("There is no reading under this id.")
    if row.taken_back_at is not None:
        raise DialTakenBack("It does not count any more.")
    row.taken_back_at, row.taken_back_by_party_id = recorded_at(session), member.party_id
    row.taken_back_why = body.why
    session.flush()
    _follow_dial(session, row)
    return dial_read(row)


# -- fruit -------------------------------------------------------------------------------------------------------------


def put_fruit_in(session: Session, member: Member, body: FruitCreate) -> FruitRead:
    """Write down that ripening fruit lies in a store, or lay there."""
    at = recorded_at(session)
    store = session.get(Store, body.store_id, with_for_update=True, populate_existing=True)
    if store is None:
        raise NoSuchStore("There is no store under this id.", field="store_id")
    zone = club(session).zone
    check_fruit_days(body.from_on, body.until_on)
    for name, day in (("from_on", body.from_on), ("until_on", body.until_on)):
        if day is not None:
            check_day(day, at, zone, field=name)
    row = {
        **body.model_dump(), "recorded_at": at, "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
        "ended_at": None if body.until_on is None else at, "ended_by_party_id": None if body.until_on is None else member.party_id,
    }  # fmt: skip
    insert_rows(session, FruitSpell, [row])
    _follow(session, store, local_day(at, zone))
    return FruitRead.model_validate(row)


def take_fruit_out(session: Session, member: Member, fruit_id: UUID, body: FruitEnd) -> FruitRead:
    """Write down the day fruit was taken out; told again, it puts the day right."""
    at, zone = recorded_at(session), club(session).zone
    fruit = session.get(FruitSpell, fruit_id, with_for_update=True, populate_existing=True)
    if fruit is None:
        raise NoSuchFruit("There is no fruit under this id.")
    check_fruit_days(fruit.from_on, body.until_on)
    check_day(body.until_on, at, zone, field="until_on")
    if fruit.until_on == body.until_on:
        raise FruitGone("It was taken out on that day already.")
    fruit.until_on, fruit.ended_at, fruit.ended_by_party_id = body.until_on, at, member.party_id
    session.flush()
    store = session.get(Store, fruit.store_id, with_for_update=True, populate_existing=True)
    if store is not None:
        _follow(session, store, local_day(at, zone))
    return FruitRead.model_validate(fruit)


def note_fruit(session: Session, member: Member, store: Store, inside: bool | None) -> None:
    """What a store's own form says of fruit, as spells: in from today on, or out today. How its wood keeps follows."""
    today = local_day(recorded_at(session), club(session).zone)
    stands = queries.fruit_in(session, [store.id]).get(store.id, [])
    if inside and not any(each.until_on is None for each in stands):
        row: dict[str, Any] = FruitSpell(
            store_id=store.id, amount="ripe", from_on=today, recorded_at=recorded_at(session), by_party_id=member.party_id,
            for_party_id=member.acting_for_id,
        ).model_dump()  # fmt: skip
        insert_rows(session, FruitSpell, [row])
        dosing.ask_for_store(session, store.id)
    elif inside is False and any(each.until_on is None for each in stands):
        dosing.ask_for_store(session, store.id)
        session.execute(
            update(FruitSpell)
            .where(col(FruitSpell.store_id) == store.id, col(FruitSpell.until_on).is_(None))
            .values(until_on=today, ended_at=recorded_at(session), ended_by_party_id=member.party_id)
            .execution_options(synchronize_session=False)
        )


def _follow(session: Session, store: Store, today: date) -> None:
    """A store's own word on fruit follows its spells, and so does how its wood keeps."""
    session.flush()
    dosing.ask_for_store(session, store.id)
    inside = store.id in queries.fruit_now(session, [store.id], today)
    if store.fruit_inside is not inside:
        store.fruit_inside = inside
        store.version += 1
        session.flush()
