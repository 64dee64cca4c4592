"""Kinds of wood beyond what each of them is kept at: told, and nobody is rung.

Too warm: above the most that a kind is kept at, for 10 hours added up within 7 days. Too cold: below the least, for an hour on
end. Both in the four-part form of the WHO's monitors (Step-by-step interpretation of 10-day electronic temperature monitoring
devices, 2007-2009); limits by kind are those of its storage, hours are judgement. A store's own limit counts for all its wood.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from service.lib.counted import several
from service.lib.readings import Column
from service.lib.whole_times import second_of
from service.storage.rules.excursions import (
    SAME_EXCURSION_SECONDS,
    Alarm,
    AlarmKind,
    Band,
    StoreLimits,
    group_words,
)
from service.storage.rules.ringing import DialAt


@dataclass(frozen=True)
class KindsLimit:
    """A limit, and the groups that it is of; none: of all wood here."""

    limit_c: float
    groups: tuple[str, ...] = ()


@dataclass(frozen=True)
class Beyond:
    """A spell beyond the narrowest limit, and beyond which others of them for how many hours; read by hand: none."""

    alarm: Alarm
    limits: tuple[tuple[KindsLimit, float], ...]


def least_of(limits: StoreLimits) -> list[KindsLimit]:
    """Below what it is too cold, the warmest first."""
    if limits.own.cold_c is not None or not limits.bands:
        return [KindsLimit(limits.cold_c)]
    return _by_limit(limits.bands, lambda band: band.low_c)[::-1]


def most_of(limits: StoreLimits) -> list[KindsLimit]:
    """Above what it is too warm, the coldest first."""
    if limits.own.warm_c is not None or not limits.bands:
        return [KindsLimit(limits.warm_c)]
    return _by_limit(limits.bands, lambda band: max(band.high_c, limits.keeps_c))


def colder_words(limits: StoreLimits) -> str:
    """Of kinds that want it colder than such a store keeps: once, and as no excursion; empty: of none."""
    if limits.own.warm_c is not None:
        return ""
    told = [
        f"{names_words(each.groups)}: at most {each.limit_c:g} °C"
        f" ({marks_words(band for band in limits.bands if band.group in each.groups)})"
        for each in _by_limit(limits.bands, lambda band: band.high_c)
        if each.limit_c < limits.keeps_c
    ]
    return f"{'; '.join(told)}. It ages faster here, and the forecasts reckon with that" if told else ""


def _by_limit(bands: Iterable[Band], limit_of: Callable[[Band], float]) -> list[KindsLimit]:
    found: dict[float, list[str]] = {}
    for band in bands:
        found.setdefault(limit_of(band), []).append(band.group)
    return [KindsLimit(limit_c, tuple(groups)) for limit_c, groups in sorted(found.items())]


def find_beyond(limits: Sequence[KindsLimit], find: Callable[[float], Iterable[Alarm]]) -> list[Beyond]:
    """The spells beyond each of these limits, the narrowest first; those that begin and end within a day are one."""
    found: list[Beyond] = []
    for limit in limits:
        for spell in find(limit.limit_c):
            same = next((n for n, one in enumerate(found) if _are_one(one.alarm, spell)), None)
            if same is None:
                found.append(Beyond(spell, ((limit, spell.hours),)))
            else:
                found[same] = replace(found[same], limits=(*found[same].limits, (limit, spell.hours)))
    return sorted(found, key=lambda one: one.alarm.began)


def _are_one(one: Alarm, other: Alarm) -> bool:
    return max(abs(one.began - other.began), abs(one.last - other.last)) < SAME_EXCURSION_SECONDS


def without_hours(at: Column, temp_c: Column, heat: Sequence[tuple[int, int]], limit_c: float) -> Column:
    """A record in which heat that rang, and is told and priced as that, is no warmer than a limit."""
    for begin, end in heat:
        temp_c = temp_c.copy()
        there = slice(int(at.searchsorted(begin)), int(at.searchsorted(end, "right")))
        temp_c[there] = temp_c[there].clip(max=limit_c)
    return temp_c


def without_dials(dials: Iterable[DialAt], heat: Sequence[tuple[int, int]], limit_c: float) -> list[DialAt]:
    """The same of what was read by hand."""
    return [
        replace(one, now_c=min(one.now_c, limit_c))
        if one.now_c is not None and any(begin <= second_of(one.at) <= end for begin, end in heat)
        else one
        for one in dials
    ]


def beyond_words(one: Beyond, of: Sequence[KindsLimit]) -> str:
    """`10 hours below 1 °C (fig and grape), 3 hours below 0 °C (apple)`; kinds are named where they differ."""
    side = "above" if one.alarm.kind is AlarmKind.HEAT else "below"
    told = []
    for limit, hours in one.limits:
        lasted = "read by hand" if one.alarm.by_hand or not hours else several(max(1, round(hours)), "hour")
        told.append(f"{lasted} {side} {limit.limit_c:g} °C{_names(limit, of)}")
    return ", ".join(told)


def limits_words(of: Sequence[KindsLimit], side: str) -> str:
    """`below 1 °C (fig and grape) or 0 °C (apple)`."""
    return f"{side} {' or '.join(f'{each.limit_c:g}'.replace('-', '−') + f' °C{_names(each, of)}' for each in of)}"


def _names(limit: KindsLimit, of: Sequence[KindsLimit]) -> str:
    return f" ({names_words(limit.groups)})" if len(of) > 1 and limit.groups else ""


def names_words(groups: Sequence[str]) -> str:
    *some, last = [group_words(group) for group in groups]
    return f"{', '.join(some)} and {last}" if some else last


def marks_words(bands: Iterable[Band]) -> str:
    """How the limits of kinds are known, each with its kinds."""
    found: dict[str, list[str]] = {}
    for band in bands:
        found.setdefault(band.mark.partition(" (")[0], []).append(band.group)
    if len(found) == 1:
        return next(iter(found))
    return "; ".join(f"{mark} ({names_words(groups)})" for mark, groups in found.items())
