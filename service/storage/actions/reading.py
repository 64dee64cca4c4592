"""Readings into their day rows: whole or not at all, once however often they come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import delete
from sqlmodel import Session, col

from service.lib.clock import minute_words
from service.lib.database import insert_of
from service.lib.errors import NotSaved
from service.lib.readings import DRY, FAHRENHEIT, Readings, make_readings, merge, no_readings, pack_day
from service.lib.write import recorded_at
from service.members.rules import Member
from service.members.rules.access import TokenBoundElsewhere, bound_store
from service.storage import queries
from service.storage.actions.ringing import ask_for_logger
from service.storage.queries.odd_readings import doubts_of_batch
from service.storage.queries.readings import KeptDay, read_readings
from service.storage.rules import (
    MOST_NAMED,
    ImpossibleReading,
    LoggerRetired,
    ReadingsDiffer,
    TempUnit,
    WhereDiffering,
    day_of,
    faults_of,
    instant_of,
    second_of,
)
from service.storage.rules.loggers import BY_PROGRAM
from service.storage.schemas import ReadingBatch, ReadingCreate, ReadingRead, ReadingsTaken
from service.storage.tables import Logger, ReadingDay


def send_readings(session: Session, member: Member, logger_id: UUID, body: ReadingBatch) -> ReadingsTaken:
    """A batch of readings from a program. Those that stand already are left, so it may be sent again.

    A program can answer no question, so what is odd is taken and told.
    """
    logger = queries.lock_logger(session, logger_id)
    readings = columns_of(body.readings, body.unit)
    _check_hung_there(session, member, logger, readings)
    check_possible(readings, recorded_at(session))
    taken = take_readings(session, logger, readings, body.where_differing)
    return taken.model_copy(update={"doubts": doubts_of_batch(session, logger_id, readings)})


def _check_hung_there(session: Session, member: Member, logger: Logger, readings: Readings) -> None:
    """Whoever writes for one store alone sends what was measured there: where a logger hung at a reading's time counts.

    Raises `TokenBoundElsewhere`, with the first reading of another place.
    """
    store_id = bound_store(member)
    if store_id is None:
        return
    spans = [
        each.span for each in queries.spells_of_loggers(session, [logger.id]) if each.store_id == store_id
    ]
    moments = [instant_of(at) for at in readings.at]
    elsewhere = [at for at in moments if not any(span.covers(at) for span in spans)]
    if elsewhere:
        raise TokenBoundElsewhere(
            f"It writes for one store alone, and {logger.name} did not hang there at {minute_words(elsewhere[0])}.",
            bound_to="store", at=elsewhere[0].isoformat(), count=len(elsewhere),
        )  # fmt: skip


def columns_of(told: Sequence[ReadingCreate], unit: TempUnit) -> Readings:
    """Readings as whole numbers with as many decimals as the finest of them has."""
    temps = [one.temp for one in told]
    humid = [one.humidity for one in told]
    temp_decimals, humidity_decimals = (_decimals(values) for values in (temps, humid))
    given = FAHRENHEIT if unit is TempUnit.F else 0
    return make_readings(
        [second_of(one.at) for one in told], [_whole(value, temp_decimals) for value in temps],
        [_whole(value, humidity_decimals) for value in humid], [given | (DRY if value is None else 0) for value in humid], BY_PROGRAM,
        temp_decimals, humidity_decimals,
    )  # fmt: skip


def _decimals(values: Sequence[Decimal | None]) -> int:
    return max((-int(value.as_tuple().exponent) for value in values if value is not None), default=0)


def _whole(value: Decimal | None, decimals: int) -> int:
    return 0 if value is None else int(value.scaleb(max(decimals, 0)))


def check_possible(readings: Readings, now: datetime) -> None:
    """Refuse readings that cannot be true, each named by its time. Raises `ImpossibleReading`."""
    faults = faults_of(readings, now)
    if faults:
        named = [
            f"{minute_words(instant_of(readings.at[place]))}: {words}" for place, words in faults[:MOST_NAMED]
        ]
        more = f" And {len(faults) - len(named)} more." if len(faults) > len(named) else ""
        raise ImpossibleReading(f"{'; '.join(named)}.{more}", field="readings", count=len(faults), rows=named)


# -- into the day rows -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Planned:
    """What a day's row becomes."""

    day: int
    readings: Readings
    version: int


def take_readings(
    session: Session, logger: Logger, new: Readings, where_differing: WhereDiffering
) -> ReadingsTaken:
    """Merge readings into the days they belong to: two statements whatever their number. The logger must be locked.

    Raises `LoggerRetired`, and `ReadingsDiffer` where another value stands and nobody said what to do.
    """
    if logger.retired_at is not None:
        raise LoggerRetired(f"{logger.name} is no longer used.")
    once = merge(no_readings(), new)
    differing = _pairs(new, once.differing, once.readings)
    planned: list[Planned] = []
    total = ReadingsTaken(added=0, same=once.same, passed_over=len(differing))
    parts = dict(once.readings.days())
    stands = queries.kept_days(session, logger.id, parts)
    for day, part in parts.items():
        old = stands.get(day) or KeptDay(no_readings(), 0)
        merged = merge(old.readings, part)
        total.same += merged.same
        total.added += merged.added
        if merged.differing and where_differing is WhereDiffering.REPLACE:
            total.replaced += len(merged.differing)
            merged = replace(
                merge(_giving_way(old.readings, part, merged.differing), part), differing=merged.differing
            )
        else:
            total.passed_over += len(merged.differing)
            differing += _pairs(part, merged.differing, old.readings)
        if merged.added or merged.differing:
            planned.append(Planned(day, merged.readings, old.version + 1))
    if differing and where_differing is not WhereDiffering.KEEP:
        raise _differ(differing)
    write_days(session, logger.id, planned)
    if planned:
        ask_for_logger(session, logger.id)
    return total


def _giving_way(stands: Readings, new: Readings, differing: Sequence[int]) -> Readings:
    """What stands without what gives way to new readings."""
    import numpy as np

    return stands.pick(~np.isin(stands.at, new.at[list(differing)]))


def _pairs(new: Readings, places: Sequence[int], stands: Readings) -> list[tuple[ReadingRead, ReadingRead]]:
    """Readings that say another value, each with what stands."""
    import numpy as np

    some = np.array(places[:MOST_NAMED], int)
    told = read_readings(new.pick(some))
    kept = read_readings(stands.pick(np.searchsorted(stands.at, new.at[some])))
    pairs = list(zip(told, kept, strict=True))
    return pairs + pairs[-1:] * (len(places) - len(pairs))


def _differ(differing: Sequence[tuple[ReadingRead, ReadingRead]]) -> ReadingsDiffer:
    rows = [
        f"{minute_words(new.at)}: {new.temp} °{new.unit}{_humid(new)}, where {old.temp} °{old.unit}{_humid(old)} stands"
        for new, old in differing[:MOST_NAMED]
    ]
    more = f" And {len(differing) - len(rows)} more." if len(differing) > len(rows) else ""
    return ReadingsDiffer(f"{'; '.join(rows)}.{more}", field="readings", count=len(differing), rows=rows)


def _humid(reading: ReadingRead) -> str:
    return "" if reading.humidity is None else f" at {reading.humidity} %"


def write_days(session: Session, logger_id: UUID, planned: Sequence[Planned]) -> None:
    """Every day in one guarded statement; a day that is left without a reading goes."""
    gone = [day_of(each.day) for each in planned if not len(each.readings)]
    if gone:
        session.execute(
            delete(ReadingDay)
            .where(col(ReadingDay.logger_id) == logger_id, col(ReadingDay.day).in_(gone))
            .execution_options(synchronize_session=False)
        )
    rows = [
        {
            "logger_id": logger_id, "day": day_of(each.day), "readings": len(each.readings), "last_second": int(each.readings.at[-1]),
            "data": pack_day(each.readings), "version": each.version,
        }
        for each in planned if len(each.readings)
    ]  # fmt: skip
    if rows:
        written = session.execute(_upsert(session), rows).scalars().all()
        if len(written) != len(rows):  # cannot be while the logger is locked; if it were, nothing may be lost
            raise NotSaved("Somebody else wrote readings of the same day at the same moment.")


def _upsert(session: Session) -> Any:
    statement = insert_of(session, ReadingDay)
    new = statement.excluded
    kept = {name: new[name] for name in ("readings", "last_second", "data", "version")}
    return statement.on_conflict_do_update(
        index_elements=["logger_id", "day"],
        set_=kept,
        where=col(ReadingDay.version) == new.version - 1,
    ).returning(col(ReadingDay.day))
