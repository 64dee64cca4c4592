"""A store's own limits: what may be set, which of them hold, from when on, and how that is told.

What is empty holds as it stands (`excursions`: judgement, in the four-part form of the WHO's monitors, Step-by-step
interpretation of 10-day electronic temperature monitoring devices, 2007-2009). An excursion is judged by the limits that
held while it was measured: new ones begin where the ones before end, and what rang by those stays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from service.lib.errors import NotAllowed, Refused, Unusable
from service.members.rules import Member, speaks_for
from service.storage.rules.beyond import colder_words, least_of, limits_words, marks_words, most_of
from service.storage.rules.excursions import (
    ALARM_MARK,
    COLD_HOURS,
    HOT_DAYS,
    NOTHING_OWN,
    SAME_EXCURSION_SECONDS,
    Alarm,
    HeatLimits,
    RingsBy,
    StoreLimits,
    StoreOwn,
)
from service.storage.rules.loggers import fault_of_store

WEEK_HOURS = HOT_DAYS * 24
# What kills buds does so within half an hour: a frost is not waited for longer than a day. Judgement.
MOST_FREEZING_MINUTES = 24 * 60
NAMES = {
    "heat_c": "the heat limit", "high_c": "the high limit", "freezing_c": "the freezing limit", "cold_c": "the low warning",
    "warm_c": "the warm warning",
}  # fmt: skip
OWN_MARK = "this store’s own"


class OnlyItsHost(NotAllowed):
    title = "Only its host, or a steward, sets what rings in a store"
    todo = "Ask the host; once they have said so, do it on their behalf, or let a steward set it."


class NoSuchLimit(Unusable):
    title = "No thermometer can ring at this"
    todo = "Look at the sign and the unit (°C), or leave it empty: then the standing value holds."


class LimitsContradict(Unusable):
    title = "These limits cannot stand together"
    todo = "From cold to warm: freezing, low warning, warm warning, heat, high. Change one of them, or leave it empty."


class NoSuchDelay(Unusable):
    title = "No limit can wait so long"
    todo = "Type a time within what is said, or leave it empty: then the standing one holds."


class RingsTooLate(Refused):
    title = "This would ring too late for wood that lies here"
    todo = "Set it warmer, or leave it empty; or first put the tender wood into another store."


def can_set_limits(member: Member, host_id: UUID) -> bool:
    """The host, whoever acts on the host's behalf, and who looks after people."""
    return speaks_for(member, host_id)


def check_sets_limits(member: Member, host_id: UUID, store: str) -> None:
    """Raises `OnlyItsHost`."""
    if not can_set_limits(member, host_id):
        raise OnlyItsHost(f"{store} stands with somebody else.")


def check_own(own: StoreOwn, wood: StoreLimits) -> None:
    """Raises `NoSuchLimit`, `NoSuchDelay`, `LimitsContradict`, `RingsTooLate`. `wood`: what stands for the wood that lies there."""
    for name, words in NAMES.items():
        value = getattr(own, name)
        if value is not None and (fault := fault_of_store(value, value)):
            raise NoSuchLimit(f"{_first(words)}: {fault}.", field=name)
    _check_delays(own)
    _check_order(own, wood)
    kills = wood.kill10_c
    if own.freezing_c is not None and kills is not None and own.freezing_c < kills:
        raise RingsTooLate(
            f"At {kills:g} °C a tenth of the buds of {wood.tenderest} is killed; {own.freezing_c:g} °C is colder than that.",
            field="freezing_c",
        )


def _check_delays(own: StoreOwn) -> None:
    for name in ("heat_hours", "high_hours", "warm_hours"):
        hours = getattr(own, name)
        if hours is not None and not 0 < hours <= WEEK_HOURS:
            raise NoSuchDelay(
                f"{hours:g} hours: more than none, and {WEEK_HOURS} at most (a week).", field=name
            )
    minutes = own.freezing_minutes
    if minutes is not None and not 0 < minutes <= MOST_FREEZING_MINUTES:
        raise NoSuchDelay(
            f"{minutes} minutes: more than none, and {MOST_FREEZING_MINUTES} at most (a day): frost kills buds within half an hour.",
            field="freezing_minutes",
        )  # fmt: skip


def _check_order(own: StoreOwn, wood: StoreLimits) -> None:
    limits = in_force(wood, own)
    heat = own.heat
    if heat.high_c < heat.limit_c:
        field = "high_c" if own.high_c is not None else "heat_c"
        raise LimitsContradict(
            f"The high limit of {heat.high_c:g} °C lies below the heat limit of {heat.limit_c:g} °C.",
            field=field,
        )
    colder = own.freezing_c if own.freezing_c is not None else limits.freezing_c
    if colder is not None and colder >= heat.limit_c:
        field = "freezing_c" if own.freezing_c is not None else "heat_c"
        raise LimitsContradict(
            f"The freezing limit of {colder:g} °C is not colder than the heat limit of {heat.limit_c:g} °C.",
            field=field,
        )
    if limits.cold_c >= heat.limit_c:
        field = "cold_c" if own.cold_c is not None else "heat_c"
        raise LimitsContradict(
            f"The low warning at {limits.cold_c:g} °C is not colder than the heat limit of {heat.limit_c:g} °C.",
            field=field,
        )
    if own.warm_c is not None and own.warm_c >= heat.limit_c:
        raise LimitsContradict(
            f"A warm warning at {own.warm_c:g} °C would never come before the ring at {heat.limit_c:g} °C.",
            field="warm_c",
        )
    if own.warm_c is not None and own.warm_c < limits.cold_c:
        raise LimitsContradict(
            f"The warm warning at {own.warm_c:g} °C is colder than the low warning at {limits.cold_c:g} °C.",
            field="warm_c",
        )
    if own.cold_c is not None and colder is not None and own.cold_c <= colder:
        raise LimitsContradict(
            f"A low warning at {own.cold_c:g} °C would never come before the ring at {colder:g} °C.",
            field="cold_c",
        )


# -- which hold, and from when on --------------------------------------------------------------------------------------


def in_force(wood: StoreLimits, own: StoreOwn) -> StoreLimits:
    """What holds for the wood of a store. An own freezing limit that is too cold for wood that came in later does not count."""
    limits = replace(wood, own=own)
    if own.freezing_c is None:
        return limits
    if wood.kill10_c is not None and own.freezing_c < wood.kill10_c:
        mark = f"{wood.freezing_mark}; the store’s own limit of {own.freezing_c:g} °C would be too late for it and does not count"
        return replace(limits, own=replace(own, freezing_c=None), freezing_mark=mark)
    return replace(limits, freezing_c=own.freezing_c, freezing_mark=OWN_MARK)


@dataclass(frozen=True)
class SetAt:
    """Limits that somebody set, and the second from which on they hold."""

    own: StoreOwn
    from_at: int


@dataclass(frozen=True)
class Held:
    """What rings, from one second until another; None: always, or still."""

    by: RingsBy
    from_at: int | None = None
    until: int | None = None


def held_through(wood: StoreLimits, told: Sequence[SetAt]) -> tuple[Held, ...]:
    """What held one after another, the standing ones first. `wood`: what stands for the wood that lies there."""
    marks: list[tuple[StoreOwn, int | None]] = [
        (NOTHING_OWN, None),
        *((one.own, one.from_at) for one in told),
    ]
    ends = [*(one.from_at for one in told), None]
    return tuple(
        Held(in_force(wood, own).rings_by, begin, end) for (own, begin), end in zip(marks, ends, strict=True)
    )


def alarms_through(
    held: Iterable[Held], find: Callable[[RingsBy, int | None], Iterable[Alarm]]
) -> list[Alarm]:
    """Excursions by the limits that held while they were measured.

    `find` gives those of the record up to a second, or of all of it. What goes on beyond limits that are replaced is over
    with them, or goes on by the new ones; what new limits would have called an excursion before them is none.
    """
    found = []
    for one in held:
        for alarm in find(one.by, one.until):
            if one.from_at is None or alarm.last >= one.from_at:
                found.append(_within(alarm, one))
    return found


def _within(alarm: Alarm, held: Held) -> Alarm:
    if held.from_at is not None:
        alarm = replace(alarm, rang=max(alarm.rang, held.from_at))
    if held.until is None or alarm.ended is not None:
        return alarm
    return replace(alarm, ended=held.until, last=min(alarm.last, held.until))


def beside_rings(
    cold: Iterable[Alarm], rang: Sequence[Alarm], near_seconds: int = SAME_EXCURSION_SECONDS
) -> list[Alarm]:
    """Spells of cold or warmth without those that are told as a frost or heat that rang, begun and over about with it."""
    return [
        one
        for one in cold
        if not any(
            each.kind is one.kind and each.began <= one.last and one.began <= each.last
            and each.began - one.began < near_seconds and one.last - each.last < near_seconds
            for each in rang
        )
    ]  # fmt: skip


# -- as it is told -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LimitTold:
    """One limit that holds: what it does, in words, and whose it is, with how it is known."""

    name: str
    words: str
    whose: str


def limits_told(limits: StoreLimits) -> list[LimitTold]:
    """What rings or is told in a store, as it holds now."""
    own, heat = limits.own, limits.own.heat
    freezing = "not known for this wood" if limits.freezing_c is None else freezing_words(limits)
    mark = f"standing: {limits.freezing_mark}" if limits.freezing_mark != OWN_MARK else OWN_MARK
    named = "Rings with frost" if limits.freezing_c is None or limits.freezing_c <= 0 else "Rings with cold"
    return [
        LimitTold(named, freezing, _whose(mark, [own.freezing_c, own.freezing_minutes], limits.freezing_c is None)),
        LimitTold(
            "Rings with heat", heat_words(heat),
            _whose(f"standing: {ALARM_MARK}", [own.heat_c, own.heat_hours, own.high_c, own.high_hours]),
        ),
        LimitTold(
            "Told as too warm",
            f"{limits_words(most_of(limits), 'above')} for {hours_words(limits.warm_hours)} within {HOT_DAYS} days; {_NOBODY}",
            _whose(f"standing, {_kept_at(limits, 'most')}{_at_least(limits)}", [own.warm_c, own.warm_hours]),
        ),
        LimitTold(
            "Told as too cold", f"{limits_words(least_of(limits), 'below')} for {hours_words(COLD_HOURS)}; {_NOBODY}",
            OWN_MARK if own.cold_c is not None else f"standing, {_kept_at(limits, 'least')}",
        ),
        *([LimitTold("Likes it colder", colder, "")] if (colder := colder_words(limits)) else []),
        *([LimitTold("Not known", limits.not_known_words, "")] if limits.not_known_words else []),
    ]  # fmt: skip


_NOBODY = "in the weekly letter, and nobody is rung"


def _kept_at(limits: StoreLimits, end: str) -> str:
    if not limits.bands and limits.groups:
        return f"the {end} this wood is kept at: {limits.mark}"
    if not limits.bands:
        return f"the {end} that scions in general are kept at: {limits.mark}"
    kinds = "this wood" if len(limits.bands) == 1 else "each kind"
    return f"the {end} {kinds} is kept at: {marks_words(limits.bands)}"


def _at_least(limits: StoreLimits) -> str:
    if not any(band.high_c < limits.keeps_c for band in limits.bands):
        return ""
    return f"; not below {limits.keeps_c:g} °C, as warm as such a store usually is, judgement"


def _whose(standing: str, own: Sequence[float | None], unknown: bool = False) -> str:
    told = [one is not None for one in own]
    if all(told) or (any(told) and standing == OWN_MARK):
        return OWN_MARK
    if unknown and not any(told):
        return ""
    return f"{OWN_MARK} in part; the rest {standing}" if any(told) else standing


def freezing_words(limits: StoreLimits) -> str:
    assert limits.freezing_c is not None
    return f"at or below {f'{limits.freezing_c:g}'.replace('-', '−')} °C for {hours_words(limits.rings_by.freezing_hours)}"


def heat_words(heat: HeatLimits) -> str:
    return (
        f"at {heat.limit_c:g} °C for {hours_words(heat.hours)} within {HOT_DAYS} days, "
        f"or at {heat.high_c:g} °C for {hours_words(heat.high_hours)}"
    )


def hours_words(hours: float) -> str:
    if hours < 1:
        minutes = round(hours * 60)
        return f"{minutes} {'minute' if minutes == 1 else 'minutes'}"
    return f"{hours:g} {'hour' if hours == 1 else 'hours'}"


def _first(words: str) -> str:
    return words[0].upper() + words[1:]
