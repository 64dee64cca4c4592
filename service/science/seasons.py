"""Which winter a day belongs to, by the sun of its place: no month is named, so both halves of the earth are right."""

from __future__ import annotations

from datetime import date, timedelta

from service.science.dormancy import days_from_midwinter
from service.science.parameters import value

_BEFORE_SHORTEST = timedelta(days=value("verdict", "counts_from"))
_SHORTEST_DAY = {True: (6, 21), False: (12, 21)}  # by whether south of the equator


def winter_begins(latitude_deg: float, day: date) -> date | None:
    """From when chill is counted for the winter that this day belongs to.

    Parameters
    ----------
    latitude_deg : north positive [degrees].
    day : any day.

    Returns
    -------
    The latest day, up to this one, that lies 122 days before a shortest day: late summer (judgement). None between the
    tropics, where there is no winter by the sun.
    """
    if days_from_midwinter(latitude_deg, 1) is None:
        return None
    month, of_month = _SHORTEST_DAY[latitude_deg < 0]
    begins = [date(year, month, of_month) - _BEFORE_SHORTEST for year in range(day.year - 1, day.year + 2)]
    return max(each for each in begins if each <= day)


def next_winter_begins(latitude_deg: float, begins: date) -> date:
    """When the winter after the one that begins on this day begins."""
    following = winter_begins(latitude_deg, begins + timedelta(days=380))
    assert following is not None
    return following


def days_after_midwinter(latitude_deg: float, day: date) -> int | None:
    """Since the shortest day of the winter that a day belongs to; less than 0 before it, None between the tropics [days]."""
    begins = winter_begins(latitude_deg, day)
    return None if begins is None else (day - midwinter_of(begins)).days


def midwinter_of(begins: date) -> date:
    """The shortest day of the winter that begins on this day."""
    return begins + _BEFORE_SHORTEST
