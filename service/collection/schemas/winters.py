"""Answers on the winter of a site: chill and warmth day by day, what each kind there needs, and when wood may be cut."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from pydantic import Field

from service.collection.schemas.dormancy import ChillNeed
from service.lib.schemas import Answer


class WinterDay(Answer):
    """One day: chill portions since late summer, and whether its air was measured; a gap earns nothing."""

    day: date
    portions: float
    measured: bool


class VarietyNeed(Answer):
    """A variety that stands there and whose own need is told."""

    name: str
    portions: float


class WinterTurns(Answer):
    """When the air turned one kind's wood: ripe by chill, out of rest, moving by warmth. None: not yet, or not known."""

    begins: date
    ripe_on: date | None = None
    rest_ended_on: date | None = None
    moving_on: date | None = None


class DayRange(Answer):
    """Between which days something fell in earlier winters of the same record, told as days of this winter."""

    earliest: date
    latest: date
    winters: int


class KindInWinter(Answer):
    """One group of kinds that stands on the site."""

    group: str
    name: str
    trees: int
    need: ChillNeed
    varieties: list[VarietyNeed] = []
    phase: str | None = None
    turns: WinterTurns
    warmth: list[float] = Field(
        default=[],
        description="A share for each day: 1 where the warmth since rest ended brings buds to move.",
    )
    earlier: list[WinterTurns] = []
    opens: DayRange | None = None
    rest_ends: DayRange | None = None
    moves: DayRange | None = None
    kept_back: str = Field(
        default="",
        description="Why nothing of it may be cut while a stop is open; empty: no stop concerns it.",
    )

    @property
    def warmth_now(self) -> float:
        return self.warmth[-1] if self.warmth else 0.0


class CutInWinter(Answer):
    """A cut of dormant wood on the site in this winter."""

    collection_id: UUID
    number: int
    cut_on: date
    group: str
    name: str
    sticks: int


class StopOnSite(Answer):
    """An open stop on trees of the site, and the kinds there that can carry what it is for: nothing of them may be cut."""

    stop_id: UUID
    reason: str
    state: str
    agent: str
    trees: list[int]
    words: str
    lifted_by: str
    kinds: list[str] = []


class SiteWinter(Answer):
    """The winter of a site. `reason` says why the air tells nothing, empty where it does."""

    site_id: UUID
    site_name: str
    stops: list[StopOnSite] = Field(default=[], description="Open stops, which stand before all else.")
    answer: str
    tone: str
    sentence: str
    when_to_cut: str
    reason: str = ""
    begins: date | None = None
    last: date | None = None
    as_of: date | None = Field(default=None, description="The last day that was measured.")
    days_measured: int = 0
    days_by_hour: int = Field(
        default=0,
        description="of them, measured by the hour; the hours of the others come from lowest and highest",
    )
    days_asked: int = 0
    is_counted: bool = Field(
        default=False,
        description="Whether enough days were measured to tell chill, turns and warmth of this winter.",
    )
    is_whole: bool = Field(
        default=False, description="Whether so many days were measured that what did not come, never came."
    )
    is_over: bool = Field(default=False, description="Whether a later winter has begun since.")
    days: list[WinterDay] = []
    kinds: list[KindInWinter] = []
    not_reckoned: list[str] = []
    cuts: list[CutInWinter] = []
    measured: list[str] = []
    earlier_winters: int = 0
    without_sunrise: int = Field(
        default=0,
        description="Measured days on which the sun does not rise or does not set: each hour is the mean of lowest and highest.",
    )
    beyond_polar_circle: bool = Field(
        default=False,
        description="Whether there are days there on which the sun does not rise or does not set.",
    )
    winters: list[int] = Field(default=[], description="The years in which winters of the record begin.")
