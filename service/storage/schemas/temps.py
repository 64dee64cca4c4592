"""Answers of a store's temperatures."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer
from service.storage.rules import AlarmKind, Sensor


class DayTempsRead(Answer):
    """The lowest and highest of one day in the club's zone; null where nothing was measured."""

    day: date
    low_c: float | None
    high_c: float | None
    by_hand: bool = Field(description="read from a dial alone")
    outside: bool = Field(description="beyond the band of good storage")
    humidity_low_pct: float | None = Field(description="null where no humidity was measured")
    humidity_high_pct: float | None
    dry: bool = Field(description="below the least humidity that this wood wants in its pack")


class HourTempsRead(Answer):
    """The same of one hour, by loggers alone, with its mean; null where nothing was measured."""

    at: datetime
    mean_c: float | None
    low_c: float | None
    high_c: float | None
    outside: bool
    humidity_low_pct: float | None
    humidity_high_pct: float | None
    dry: bool


class ExcursionRead(Answer):
    """A stretch of an hour or more beyond the band of good storage, by loggers, within the days asked for."""

    began_at: datetime
    ended_at: datetime | None = Field(description="null where it lasted to the last reading of these days")
    hours: float
    extreme_c: float
    above: bool = Field(description="too warm, or else too cold")


class CostRead(Answer):
    """Days of keeping that a spell cost wood of a group that lay there all the while, as reckoned."""

    group: str
    days: float
    more: bool = Field(description="at least so many")
    low: float | None = Field(
        default=None,
        description="the least, between published extremes of how warmth drives it; no chance is told; none: not known",
    )
    high: float | None = Field(default=None, description="the other end of that; none: beyond two years")


class KindsBeyond(Answer):
    """A limit, the groups that it is of (none: of all wood here), and the hours of a spell beyond it."""

    limit_c: float
    groups: list[str]
    hours: float


class SpellRead(Answer):
    """A stretch beyond a limit, with what it cost; one however it goes up and down meanwhile."""

    began_at: datetime
    ended_at: datetime | None
    extreme_c: float
    hours: float
    by_hand: bool = Field(default=False, description="read from a dial alone")
    remembered: bool = Field(
        default=False, description="told by the memory of a dial alone; for how long is not known: not priced"
    )
    kinds: list[KindsBeyond] = Field(
        default=[], description="beyond what some kinds here are kept at: of each limit its kinds and hours"
    )
    words: str = Field(default="", description="the same in words")
    costs: list[CostRead] = []
    cost_words: str = ""


class AlarmRead(SpellRead):
    """An excursion that rings: freezing or heat, by the limits that held then."""

    kind: AlarmKind
    rang_at: datetime
    rings: bool = Field(description="whether somebody should hear of it at once")


class LimitRead(Answer):
    """One limit that holds now: what it does, in words, and whose it is, with how it is known."""

    name: str
    words: str
    whose: str


class StoreTempsRead(Answer):
    """A store's temperatures and humidities over some days, with what its wood bears and how that is known."""

    store_id: UUID
    from_at: datetime
    until_at: datetime = Field(description="the end of the last day, also where it has not come yet")
    days: list[DayTempsRead]
    hours: list[HourTempsRead] = Field(description="of up to seven days, where a logger measured in them")
    low_c: float
    high_c: float
    freezing_c: float | None
    agree: bool = Field(description="whether one temperature is good for all wood that lies here")
    mark: str
    source: str
    humidity_of: Sensor | None = Field(
        description="whether humidity was measured inside a pack, or else in the store's air"
    )
    humidity_min_pct: float | None = Field(
        description="the least that is good inside the pack for all wood here"
    )
    humidity_mark: str
    excursions: list[ExcursionRead] = Field(description="the longest, in the order of time")
    excursions_in_all: int
    alarms: list[AlarmRead]
    cold_c: float = Field(description="colder than this for an hour is told, and rings nobody")
    too_cold: list[SpellRead] = Field(
        default=[], description="where it was; what rang as frost is not here too"
    )
    warm_c: float = Field(description="warmer than this for some hours of a week is told, and rings nobody")
    too_warm: list[SpellRead] = Field(
        default=[], description="where it was; what rang as heat is not here too"
    )
    in_general: bool = Field(
        default=False,
        description="whether the band is that of scions in general, where the kinds here want different cold",
    )
    limits: list[LimitRead] = Field(default=[], description="what holds now, in words")
    bundles: int = Field(default=0, description="that lie here")
    not_known: int = Field(
        default=0, description="of them, whose kind has no limits in the record: these leave it out"
    )
    words: str
    excursion_words: str
    humidity_words: str


class CameAndWent(Answer):
    """How much came into a store and went out of it; a box counts as one."""

    bundles_came: int
    bundles_went: int
    boxes_came: int
    boxes_went: int
