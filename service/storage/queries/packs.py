"""Loggers inside packs: of which bundle, and what they measured there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.readings import Column
from service.storage.queries.beside import spells_in_boxes, spells_in_store
from service.storage.queries.loggers import spells_of_loggers
from service.storage.queries.readings import records_in_stores
from service.storage.rules import Sensor, Span, instant_of
from service.storage.rules.packs import InPack, Packs, own_packs
from service.storage.rules.stays import Spell
from service.storage.tables import LoggerMove

if TYPE_CHECKING:
    from service.storage.rules.doses import StoreRun

# Where more stays than these lay in a store, no logger without a box lay with one of them alone for long: it is not looked for.
MOST_BESIDE = 500


def packs_of(session: Session, stays: Mapping[UUID, list[Spell]]) -> Packs:
    """The loggers inside packs, and in which of these bundles' own; one statement where there is none, else at most eight."""
    inside = col(LoggerMove.sensor) == Sensor.PACK
    ids = list(session.execute(select(col(LoggerMove.logger_id)).where(inside).distinct()).scalars())
    loggers = [
        InPack(one.logger_id, one.box_id, one.store_id, one.span)
        for one in (spells_of_loggers(session, ids) if ids else ())
        if one.sensor is Sensor.PACK
    ]
    asked = [spell for each in stays.values() for spell in each]
    near = {
        one for one in loggers if any(one.is_with(spell) and one.span.overlap(spell.span) for spell in asked)
    }
    boxes = {one.box_id for one in near if one.box_id}
    with_them = set(spells_in_boxes(session, boxes)) if boxes else set()
    for store_id in {one.store_id for one in near if one.box_id is None and one.store_id}:
        begin = min(
            spell.span.from_at for spell in asked if spell.store_id == store_id and spell.span.from_at
        )
        found = spells_in_store(session, store_id, Span(begin), MOST_BESIDE)
        if found is None:
            near = {one for one in near if one.box_id is not None or one.store_id != store_id}
        else:
            with_them |= set(found)
    own = own_packs(sorted(near, key=_order), with_them)
    return Packs(tuple(loggers), {one: each for one, each in own.items() if one in stays})


def _order(one: InPack) -> tuple[int, datetime]:
    assert one.span.from_at is not None  # a stay always has a beginning
    return one.logger_id.int, one.span.from_at


def humidity_inside(
    session: Session, wanted: Iterable[tuple[UUID, UUID]], runs: Mapping[UUID, StoreRun], until_hour: int
) -> dict[UUID, dict[UUID, Column]]:
    """Of stores and loggers the humidity inside the packs, on the hours of the stores' runs; at most five statements, none for none.

    Gaps are filled as those of temperatures are: three hours held, two days from the days beside.
    """
    import numpy as np

    from service.science.hours import HOUR_SECONDS, Known, fill_gaps

    pairs = set(wanted)
    if not pairs:
        return {}
    first = min(runs[store_id].first_hour for store_id, _ in pairs)
    records = records_in_stores(
        session,
        {store_id for store_id, _ in pairs},
        Span(instant_of(first * HOUR_SECONDS), instant_of(until_hour * HOUR_SECONDS)),
        {logger_id for _, logger_id in pairs},
    )
    found: dict[UUID, dict[UUID, Column]] = {}
    for store_id, logger_id in sorted(pairs):
        run = runs[store_id]
        told = np.full(len(run.temp_c), np.nan)
        for record in records.get(store_id, ()):
            if (record.logger_id, record.sensor) == (logger_id, Sensor.PACK):
                hours = record.hours()
                place = hours.hour - run.first_hour
                inside = (place >= 0) & (place < len(told))
                told[place[inside]] = hours.humidity[inside]
        filled = fill_gaps(told)
        values = np.where(filled.known <= Known.NEIGHBOURS, filled.values, np.nan)
        if not np.isnan(values).all():
            found.setdefault(store_id, {})[logger_id] = values
    return found
