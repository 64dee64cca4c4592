"""The weekly letter to a host: what the week was in each store, what is due, what to use first as far as the record knows.

It is written every week and stands on the host's page. It goes out by mail only where something in it asks for something:
what rang, hours beyond what suits the wood, looks that are due, fruit beside wood, wood to use first. A logger's gap is told,
and alone is no reason to write: many a logger is read out once a month. One that sends by itself and is silent is one.
What is to be used first follows from looks and from how long wood keeps: as it was last reckoned of each bundle, else as its
kind is usually kept (`storage_limit`, each with how it is known).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from service.lib.clock import day_words
from service.lib.readings import HOUR_SECONDS, Column
from service.storage.rules.excursions import AlarmKind, StoreLimits
from service.storage.rules.fruit import ETHYLENE
from service.storage.rules.keeping_words import range_words, until_words
from service.storage.rules.looks import Call
from service.storage.rules.reaching import ANOTHER_STORE, ClubDay, not_reached
from service.storage.rules.runs import seconds_of
from service.storage.rules.warning import rang_words

WEEK = timedelta(days=7)
# Two letters of one host lie at least so far apart, also where the club changed their day. Judgement.
LEAST_APART = timedelta(days=4)
LONGEST = timedelta(days=14)
NAMED = 5
LEAST_HOURS = 1.0
LATE = f"fewer than three quarters are likely left by then. Use it before, {ANOTHER_STORE}"
WHERE_FROM = "By which numbers, and from whom, stands on the club’s pages under /science."
LOOK_FIRST = (
    "How long wood keeps is reckoned, or usual for its kind, and was not seen: look before you graft."
)
SOON_WEEKS = 2
LATE_WEEKS = 8  # how long before a day of the club a letter tells what hardly keeps until then. Judgement.


def last_moment(now: datetime, weekday: int, hour: int, zone: str) -> datetime:
    """The latest moment for the letter by now. An hour that a day lacks counts as the next; of one it has twice, the first."""
    local = now.astimezone(ZoneInfo(zone))
    day = local.date() - timedelta(days=(local.weekday() - weekday) % 7)
    for each in (day, day - timedelta(days=7)):
        moment = datetime(each.year, each.month, each.day, hour, tzinfo=ZoneInfo(zone)).astimezone(now.tzinfo)
        if moment <= now:
            return moment
    raise AssertionError("a week ago lies behind us")


def next_moment(now: datetime, weekday: int, hour: int, zone: str) -> datetime:
    """The first moment for the letter from now on."""
    # A week that gains an hour is longer than seven days; of one that loses it there may be two moments by then.
    later = last_moment(now + WEEK + timedelta(hours=2), weekday, hour, zone)
    earlier = last_moment(later - timedelta(seconds=1), weekday, hour, zone)
    return earlier if earlier >= now else later


def is_letter_due(now: datetime, last: datetime | None, weekday: int, hour: int, zone: str) -> bool:
    """Whether a host's letter is to be written: one missed while the service was off is written late, and never two.

    Who never got one waits for the next moment; until then nothing is due, and at any time nothing was missed.
    """
    if last is None:
        return True
    moment = last_moment(now, weekday, hour, zone)
    return last < moment and moment - last >= LEAST_APART


def week_begins(now: datetime, last: datetime | None) -> datetime:
    """From when on the letter tells: from the one before, so that nothing is left out; at most two weeks."""
    return now - WEEK if last is None or now - last > LONGEST else last


# -- what was measured -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class WeekTemps:
    """A logger's week in °C, each reading counted for as long as it stood."""

    low_c: float
    mean_c: float
    high_c: float
    hours: float
    hours_above: float
    hours_below: float


def week_temps(at: Column, temp_c: Column, limits: StoreLimits) -> WeekTemps | None:
    """None where nothing was measured."""
    if not len(at):
        return None
    lasts = seconds_of(at) / HOUR_SECONDS
    hours = float(lasts.sum())
    return WeekTemps(
        float(temp_c.min()), float((temp_c * lasts).sum() / hours) if hours else float(temp_c.mean()), float(temp_c.max()), hours,
        float(lasts[temp_c > limits.high_c].sum()), float(lasts[temp_c < limits.low_c].sum()),
    )  # fmt: skip


# -- what to use first -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class KeptWood:
    """A bundle in a store: what its last look found, and how long its kind is usually kept."""

    name: str
    cut_on: date
    worst: Call = Call.FINE
    found: str = ""
    keep_weeks: tuple[int, int] | None = None
    keep_mark: str = ""
    keep_source: str = ""
    reckoned: bool = False
    keeps_until: date | None = None  # as reckoned; None: beyond what is reckoned
    keeps_from: date | None = None
    keeps_to: date | None = None


@dataclass(frozen=True)
class UseFirst:
    name: str
    why: str


@dataclass(frozen=True)
class Late:
    """A day of the club, and the wood that hardly keeps until then."""

    day: ClubDay
    names: Sequence[str]


def plan_use_first(wood: Iterable[KeptWood], today: date) -> list[UseFirst]:
    """What a look found first, the worst before the rest; then what keeps shortest, as reckoned or as its kind usually does."""
    calls = list(Call)
    ranked: list[tuple[int, date, KeptWood, str]] = []
    for each in wood:
        until, kept = _keeps(each, today)
        if each.worst is not Call.FINE:
            ranked.append((-calls.index(each.worst), each.cut_on, each, each.found))
        elif until is not None and until <= today + timedelta(weeks=SOON_WEEKS):
            ranked.append((1, until, each, kept))
    ranked.sort(key=lambda row: (row[0], row[1], row[2].name))
    return [UseFirst(each.name, why) for _, _, each, why in ranked]


def plan_late(wood: Iterable[KeptWood], days: Iterable[ClubDay], today: date) -> list[Late]:
    """Of each day of the club in the next weeks, what hardly keeps until then, by name; letters leave farther ones to the page."""
    ends = [(each.name, _keeps(each, today)[0]) for each in wood]
    near = [day for day in days if day.on <= today + timedelta(weeks=LATE_WEEKS)]
    found = [
        Late(day, sorted(name for name, until in ends if not_reached(until, [day], today))) for day in near
    ]
    return [one for one in found if one.names]


def _keeps(each: KeptWood, today: date) -> tuple[date | None, str]:
    """Until when, and how that is told."""
    if each.reckoned:
        until = each.keeps_until
        if until is None:
            return None, ""
        if until <= today:
            between = range_words(each.keeps_from, each.keeps_to)
            why = f"fewer than three quarters may be left (reckoned {between})"
            return until, f"use it now, and look at it first: {why}"
        return until, until_words(until, each.keeps_from, each.keeps_to)
    if each.keep_weeks is None:
        return None, ""
    first, until = (each.cut_on + timedelta(weeks=weeks) for weeks in each.keep_weeks)
    known = f"{each.keep_mark}: {each.keep_source}" if each.keep_source else each.keep_mark
    return until, (
        f"such wood is usually kept for {each.keep_weeks[0]} to {each.keep_weeks[1]} weeks, "
        f"until {range_words(first, until)} ({known})"
    )


# -- the letter --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rang:
    kind: AlarmKind
    began: datetime
    ended: datetime | None
    extreme_c: float
    told: bool


@dataclass(frozen=True)
class Gap:
    logger: str
    begin: datetime
    end: datetime


@dataclass(frozen=True)
class ToldSpell:
    """Colder or warmer than kinds here like: for how long beyond which of their limits, and what it cost."""

    began: datetime
    ended: datetime | None
    extreme_c: float
    words: str
    cost: str = ""


@dataclass(frozen=True)
class Silent:
    """A logger that used to send by itself and does not any more."""

    logger: str
    since: datetime


@dataclass(frozen=True)
class FruitHere:
    what: str
    from_on: date
    until_on: date | None


@dataclass(frozen=True)
class StoreWeek:
    """All that a letter tells of one store; instants in the club's zone."""

    name: str
    limits: StoreLimits
    bundles: int = 0
    logged: WeekTemps | None = None
    dialled: tuple[float, float] | None = None  # lowest and highest read by hand
    rang: Sequence[Rang] = ()
    gaps: Sequence[Gap] = ()
    due: Sequence[str] = ()
    fruit: Sequence[FruitHere] = ()
    first: Sequence[UseFirst] = field(default=())
    late: Sequence[Late] = ()
    cold: Sequence[ToldSpell] = ()
    silent: Sequence[Silent] = ()
    warm: Sequence[ToldSpell] = ()

    @property
    def asks(self) -> bool:
        """Whether something of it asks for something."""
        beyond = (
            self.logged is not None and max(self.logged.hours_above, self.logged.hours_below) >= LEAST_HOURS
        )
        lies = any(each.until_on is None for each in self.fruit)
        told = (self.rang, self.due, self.first, self.late, self.cold, self.warm, self.silent)
        return bool(self.bundles) and bool(beyond or lies or any(told))


def weekly_title(stores: Sequence[StoreWeek]) -> str:
    asking = [store for store in stores if store.asks]
    if not asking:
        return "A quiet week in the cold"
    parts = []
    if any(store.rang for store in asking):
        parts.append("what rang")
    if due := sum(len(store.due) for store in asking):
        parts.append(f"{due} {'look' if due == 1 else 'looks'} due")
    if first := sum(len(store.first) for store in asking):
        parts.append(f"{first} {'bundle' if first == 1 else 'bundles'} to use first")
    return f"Your week in the cold: {', '.join(parts)}" if parts else "Your week in the cold"


def weekly_text(stores: Sequence[StoreWeek], begins: datetime, ends: datetime) -> str:
    """The whole letter, in plain lines; an empty one between two stores."""
    lines = [f"From {_minute(begins)} to {_minute(ends)}."]
    for store in stores:
        lines += ["", store.name, *_of_store(store)]
    if any(store.first or store.late for store in stores):
        lines += ["", f"{LOOK_FIRST} {WHERE_FROM}"]
    return "\n".join(lines)


def _of_store(store: StoreWeek) -> list[str]:
    lines = [_measured(store), *_beyond(store), *map(_rang, store.rang)]
    if store.bundles:
        lines += [_spell(one, "Colder", "warmer") for one in store.cold]
        lines += [_spell(one, "Warmer", "colder") for one in store.warm]
    lines += [_silent(one) for one in store.silent]
    lines += [
        f"The logger {gap.logger} wrote nothing from {_minute(gap.begin)} to {_minute(gap.end)} ({_hours(gap)} hours)."
        for gap in store.gaps[:NAMED]
    ]
    if len(store.gaps) > NAMED:
        lines.append(f"And {len(store.gaps) - NAMED} more gaps.")
    lines += _several("To look at", store.due)
    lines += [_fruit(each) for each in store.fruit]
    lines += _several("Use first", [f"{each.name}: {each.why}" for each in store.first])
    for late in store.late:
        lines += _several(f"Hardly keeps until {late.day.words}: {LATE}", late.names)
    if not store.bundles:
        lines.append("No wood lies in it.")
    elif not store.asks:
        lines.append("Nothing is to be done.")
    return lines


def _measured(store: StoreWeek) -> str:
    if store.logged is not None:
        told = store.logged
        return f"Logged: from {told.low_c:.1f} to {told.high_c:.1f} °C, on average {told.mean_c:.1f} °C, over {told.hours:.0f} hours."
    if store.dialled is not None:
        return f"Read by hand: from {store.dialled[0]:.1f} to {store.dialled[1]:.1f} °C."
    return "Nothing was measured."


def _beyond(store: StoreWeek) -> list[str]:
    if store.logged is None or not store.bundles:
        return []
    limits, told = store.limits, store.logged
    above, below = (f"{hours:.0f}" for hours in (told.hours_above, told.hours_below))
    what = "fruit and nut scions in general" if limits.in_general else "the wood here"
    suits = f"between {limits.low_c:g} and {limits.high_c:g} °C suits {what} ({limits.mark})"
    return [f"{above} hours too warm and {below} hours too cold: {suits}."]


def _rang(one: Rang) -> str:
    what = rang_words(one.kind, one.extreme_c, over=True)
    until = f"until {_minute(one.ended)}" if one.ended else "and no end was measured"
    known = "You were told at once." if one.told else "The readings came too late to tell you at once."
    return f"{what} from {_minute(one.began)} {until}: {one.extreme_c:.1f} °C at worst. {known}"


def _spell(one: ToldSpell, how: str, other: str) -> str:
    until = f"until {_minute(one.ended)}" if one.ended else "and no end was measured"
    cost = f" {one.cost}" if one.cost else ""
    return (
        f"{how} than this wood likes from {_minute(one.began)} {until}: {one.extreme_c:.1f} °C at worst, {one.words}. "
        f"Nobody was rung for it: set the store a little {other}.{cost}"
    )


def _silent(one: Silent) -> str:
    return (
        f"The logger {one.logger} used to send by itself and is silent since {_minute(one.since)}: look at its battery and "
        "its way to the network, and read a thermometer by hand until it writes again."
    )  # fmt: skip


def _fruit(one: FruitHere) -> str:
    until = f"until {day_words(one.until_on)}" if one.until_on else "and still lies there: take it out"
    return (
        f"Ripening fruit{f' ({one.what})' if one.what else ''} lay in it from {day_words(one.from_on)} {until}. "
        f"{ETHYLENE[0].words} ({ETHYLENE[0].mark}: {ETHYLENE[0].source})"
    )


def _several(title: str, rows: Sequence[str]) -> list[str]:
    if not rows:
        return []
    more = [f"- and {len(rows) - NAMED} more"] if len(rows) > NAMED else []
    return [f"{title}:", *(f"- {row}" for row in rows[:NAMED]), *more]


def _hours(gap: Gap) -> str:
    return f"{(gap.end - gap.begin) / timedelta(hours=1):.0f}"


def _minute(at: datetime) -> str:
    return f"{day_words(at.date())}, {at:%H:%M}"
