"""What was read by hand in stores, and the fruit that lay in them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlalchemy import func, or_, select
from sqlmodel import Session, col

from service.lib.paging import Page, Paging, page_of
from service.storage.queries.stores import get_store
from service.storage.rules import Dial, DialAt, NoSuchDialReading, Span, TempUnit
from service.storage.schemas import DialReadingRead, FruitRead
from service.storage.tables import DialReading, FruitSpell


def dial_read(row: DialReading) -> DialReadingRead:
    dial = Dial(row.now, row.lowest, row.highest, TempUnit(row.unit))
    names = ("now", "lowest", "highest")
    told = {name: None if (value := getattr(row, name)) is None else Decimal(value) / 100 for name in names}
    celsius = {f"{name}_c": None if (c := dial.celsius(name)) is None else round(c, 2) for name in names}
    return DialReadingRead.model_validate({**row.model_dump(), **told, **celsius})


def get_dial(session: Session, reading_id: UUID) -> DialReadingRead:
    """One statement. Raises `NoSuchDialReading`."""
    row = session.get(DialReading, reading_id)
    if row is None:
        raise NoSuchDialReading("There is no reading under this id.")
    return dial_read(row)


def list_dials(session: Session, store_id: UUID, paging: Paging) -> Page[DialReadingRead]:
    """Readings of a store's thermometer, the latest first, those taken back among them; four statements."""
    get_store(session, store_id)
    keys = [(col(DialReading.read_at), True), (col(DialReading.id), True)]
    statement = select(DialReading).where(col(DialReading.store_id) == store_id)
    return page_of(session, statement, keys, paging, lambda row: dial_read(row.DialReading))


def dials_between(
    session: Session, store_ids: Iterable[UUID], span: Span
) -> dict[UUID, list[DialReadingRead]]:
    """What was read in stores during a time, in order, what was taken back left out; one statement."""
    statement = select(DialReading).where(
        col(DialReading.store_id).in_(list(store_ids)), col(DialReading.taken_back_at).is_(None)
    )
    if span.from_at is not None:
        statement = statement.where(col(DialReading.read_at) >= span.from_at)
    if span.until_at is not None:
        statement = statement.where(col(DialReading.read_at) < span.until_at)
    found: dict[UUID, list[DialReadingRead]] = {}
    for row in session.execute(statement.order_by(col(DialReading.read_at), col(DialReading.id))).scalars():
        found.setdefault(row.store_id, []).append(dial_read(row))
    return found


def dials_at(dials: Iterable[DialReadingRead]) -> list[DialAt]:
    return [
        DialAt(one.read_at, one.now_c, one.lowest_c, one.highest_c, one.reset_done, one.place_id)
        for one in dials
    ]


def last_dials(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, DialReadingRead]:
    """The latest reading of each store; one statement."""
    place = func.row_number().over(
        partition_by=col(DialReading.store_id),
        order_by=(col(DialReading.read_at).desc(), col(DialReading.id).desc()),
    )
    ranked = (
        select(col(DialReading.id), place.label("place"))
        .where(col(DialReading.store_id).in_(list(store_ids)), col(DialReading.taken_back_at).is_(None))
        .subquery()
    )
    rows = session.execute(
        select(DialReading).join(ranked, ranked.c.id == col(DialReading.id)).where(ranked.c.place == 1)
    ).scalars()
    return {row.store_id: dial_read(row) for row in rows}


def fruit_in(session: Session, store_ids: Iterable[UUID]) -> dict[UUID, list[FruitRead]]:
    """The fruit that lay or lies in stores, the latest first; one statement."""
    found: dict[UUID, list[FruitRead]] = {}
    rows = session.execute(
        select(FruitSpell)
        .where(col(FruitSpell.store_id).in_(list(store_ids)))
        .order_by(col(FruitSpell.from_on).desc(), col(FruitSpell.id))
    )
    for row in rows.scalars():
        found.setdefault(row.store_id, []).append(FruitRead.model_validate(row))
    return found


def fruit_now(session: Session, store_ids: Iterable[UUID], today: date) -> dict[UUID, FruitRead]:
    """Fruit that lies in stores today, by store; one statement."""
    rows = session.execute(
        select(FruitSpell)
        .where(
            col(FruitSpell.store_id).in_(list(store_ids)), col(FruitSpell.from_on) <= today,
            or_(col(FruitSpell.until_on).is_(None), col(FruitSpell.until_on) > today),
        )
        .order_by(col(FruitSpell.from_on), col(FruitSpell.id))
    )  # fmt: skip
    return {row.store_id: FruitRead.model_validate(row) for row in rows.scalars()}
