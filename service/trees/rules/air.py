"""Days of a site's air: what a day can have been, and what becomes of days that stand already."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from service.lib.clock import day_words, local_day
from service.lib.errors import Refused, Unusable
from service.lib.logger_files import read_number
from service.lib.temperatures import WhereDiffering, celsius_of, fault_of_temperature

# No place where trees are grafted is beyond these; what says so is a fault or another unit. Judgement.
COLDEST_C, HOTTEST_C = -70.0, 60.0
TYPED_DAYS = 7
LONGEST_GAP = timedelta(
    days=60
)  # of a record that is gone on with by hand; a longer one is left open. Judgement.
_NAMED = 5
AirDays = Mapping[date, tuple[float, float]]


class AirDiffers(Refused):
    title = "Days stand already that say something else"
    todo = "Say which is right: the record, or what you send now. Nothing else changes."


class DayNotOver(Unusable):
    title = "This day is not over yet"
    todo = "Its lowest and its highest are known once it is over: tell it then."


@dataclass(frozen=True)
class AirPlan:
    """What days become that are sent: new, told before with the same words, put right, or left as they stand."""

    new: tuple[date, ...]
    same: int
    changed: tuple[date, ...]
    kept: int


def plan_air(told: AirDays, stood: AirDays, where_differing: WhereDiffering) -> AirPlan:
    """What to write of these days. Raises `AirDiffers` where nobody said which of two values is right."""
    new = tuple(day for day in told if day not in stood)
    differing = tuple(day for day in told if day in stood and stood[day] != told[day])
    if differing and where_differing is WhereDiffering.REFUSE:
        named = "; ".join(
            f"{day_words(day)} stands with {air_words(stood[day])}, not {air_words(told[day])}"
            for day in differing[:_NAMED]
        )
        more = f"; and {len(differing) - _NAMED} more" if len(differing) > _NAMED else ""
        raise AirDiffers(f"{named}{more}.", field="where_differing", days=len(differing))
    kept = len(differing) if where_differing is WhereDiffering.KEEP else 0
    return AirPlan(new, len(told) - len(new) - len(differing), () if kept else differing, kept)


def last_over(now: datetime, zone: str) -> date:
    """The last day that is over; of a later one the lowest and the highest may still come."""
    return local_day(now, zone) - timedelta(days=1)


def check_over(day: date, now: datetime, zone: str) -> None:
    """Raises `DayNotOver`."""
    if day > last_over(now, zone):
        raise DayNotOver(f"{day_words(day)} is not over yet.", field="days")


def air_words(told: tuple[float, float]) -> str:
    return f"{told[0]:g} to {told[1]:g} °C".replace("-", "−")


def read_air(lowest: str, highest: str, unit: str) -> tuple[float, float] | None:
    """The lowest and highest of a day in °C, as typed; None where neither was measured. Raises `ValueError`, with the reason."""
    found = [_celsius(text, unit) for text in (lowest, highest)]
    if found[0] is None and found[1] is None:
        return None
    if found[0] is None or found[1] is None:
        raise ValueError(f"the {'lowest' if found[0] is None else 'highest'} is missing")
    if found[0] > found[1]:
        raise ValueError(f"the lowest ({lowest.strip()}) is above the highest ({highest.strip()})")
    return found[0], found[1]


def _celsius(text: str, unit: str) -> float | None:
    number = read_number(text)
    if number is None:
        return None
    given = number[0] / 10 ** number[1]
    celsius = celsius_of(given, unit)
    fault = fault_of_temperature(celsius, given, (COLDEST_C, HOTTEST_C), "the air")
    if fault:
        raise ValueError(fault)
    return celsius


def days_to_type(told_to: date | None, over_to: date) -> list[date]:
    """The days a form for a week begins with, all of them over: those after the last one told, or the last week."""
    begin = told_to + timedelta(days=1) if told_to and over_to - told_to <= LONGEST_GAP else None
    if begin is None or begin > over_to:
        begin = over_to - timedelta(days=TYPED_DAYS - 1)
    days = (begin + timedelta(days=place) for place in range(TYPED_DAYS))
    return [day for day in days if day <= over_to]
