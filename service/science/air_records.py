"""How much of a site's air must have been measured before anything is said by it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from service.science.parameters import value

_LEAST_MEASURED, _WHOLE = value("verdict", "least_measured"), value("verdict", "whole_winter")
_STALE = value("verdict", "stale")
LEAST_WINTERS = int(value("verdict", "least_winters"))


def is_enough(measured: int, asked: int) -> bool:
    """Whether enough days were measured to count chill by.

    Parameters
    ----------
    measured : days since late summer of which the air was measured [days].
    asked : days since late summer [days].

    Returns
    -------
    True from half of the days on, and never without any (judgement).
    """
    return measured >= max(1, asked * _LEAST_MEASURED)


def is_whole(measured: int, asked: int) -> bool:
    """Whether so many days of an earlier winter were measured that its dates count.

    Parameters
    ----------
    measured, asked : as `is_enough` has them, of the whole winter [days].

    Returns
    -------
    True from nine tenths of the days on, and never without any (judgement).
    """
    return measured >= max(1, asked * _WHOLE)


def is_stale(last: date, asked_on: date) -> bool:
    """Whether a record that ended on `last` is too old to say anything of the day asked: more than 7 days (judgement)."""
    return (asked_on - last).days > _STALE


def range_of(days_after: Sequence[int]) -> tuple[int, int] | None:
    """Between which days of a winter something falls here.

    Parameters
    ----------
    days_after : of each earlier winter in which it fell: how long after the winter's beginning [days].

    Returns
    -------
    The earliest and the latest [days]; None of fewer than 2 winters (judgement).
    """
    return (min(days_after), max(days_after)) if len(days_after) >= LEAST_WINTERS else None
