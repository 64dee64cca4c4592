"""The real daily air of Seattle that the demo keeps, and its hours.

Source: seattle-weather.csv of the Python package vega_datasets 0.9.0 (NOAA, public domain), as fixtures/demo/air.csv keeps it.
The hours of 2010: the first 2,160 rows of seattle-temps.csv of the same package, in °F as they stand there, 24 a line.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from service.science.daylight import Numbers, hourly_temperatures
from service.science.winters import Span

AIR = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "air.csv"
HOURS_OF_2010 = Path(__file__).with_name("seattle_hours_of_2010.txt")
LATITUDE = 47.6


@dataclass(frozen=True)
class Air:
    days: tuple[date, ...]
    lowest_c: Numbers
    highest_c: Numbers

    def cut_out(self, first: date, last: date) -> Air:
        """Of these days and no others, so that the first and the last night are ends of a record."""
        inside = [place for place, day in enumerate(self.days) if first <= day <= last]
        return Air(tuple(self.days[place] for place in inside), self.lowest_c[inside], self.highest_c[inside])

    def span(self, first: date, last: date, *, moved_days: int = 0) -> Span:
        """These days and no others, as many days later as told."""
        air, step = self.cut_out(first, last), timedelta(days=moved_days)
        told = zip(air.days, air.lowest_c.tolist(), air.highest_c.tolist(), strict=True)
        return Span(first + step, last + step, {day + step: (low, high) for day, low, high in told})

    def hours(self, *, south: bool = False) -> Numbers:
        """All hours in one row. South: the same temperatures under the sun half a year on, at 47.6° S."""
        of_year = np.array([day.timetuple().tm_yday for day in self.days])
        if south:
            of_year = (of_year + 181) % 365 + 1
        latitude = -LATITUDE if south else LATITUDE
        return hourly_temperatures(self.lowest_c, self.highest_c, latitude, of_year).ravel()


@cache
def seattle() -> Air:
    cells = [line.split(",") for line in AIR.read_text(encoding="utf-8").splitlines() if line[:2] == "20"]
    days = tuple(date.fromisoformat(row[0]) for row in cells)
    low, high = (np.array([float(row[column]) for row in cells]) for column in (1, 2))
    return Air(days, low, high)


def winter(year: int) -> Numbers:
    """The hours from 1 November of that year to 31 March."""
    return seattle().cut_out(date(year, 11, 1), date(year + 1, 3, 31)).hours()


def hours_of_2010() -> Numbers:
    """Three months of real hours, in °C."""
    told = [float(one) for one in HOURS_OF_2010.read_text(encoding="ascii").split()]
    return (np.array(told) - 32) / 1.8
