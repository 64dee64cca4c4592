"""Answers on how wood keeps."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from pydantic import Field, SerializationInfo, computed_field, field_serializer

from service.lib.schemas import Answer
from service.storage.rules.keeping_words import FEW, ShareWord, outward, share_word

Ends = tuple[date | None, date | None]  # the early and the late end of what was reckoned
AS_KEPT = {
    "as": "kept"
}  # for what is stored: every digit, of which nothing but the word may be told where few are left
OVER_TWO_YEARS = timedelta(days=3_650)  # sorts after every day that a reckoning can come to


class KeepingInput(Answer):
    """One thing the reckoning rests on, and how it is known: measured, by hand, assumed, not known, or for what part of its hours."""

    what: str
    how: str
    words: str


_NO_NUMBER = "below five of a hundred none: `word` says so"


class KeepingShare(Answer):
    """The share of the bundle that would still take if grafted well: a word, and to the hundredth with the band four in five lie in.

    Below five of a hundred no number is told, so that none is read as a verdict: a reckoning is no look.
    """

    expected: float = Field(description=f"0 to 1; {_NO_NUMBER}")
    low: float = Field(description="the low end of the band; none: below five of a hundred")
    high: float = Field(description="the high end; none: below five of a hundred")

    @computed_field(  # type: ignore[prop-decorator]
        description="few: below 5 of a hundred; less_than_half; half: 50 to 74; three_quarters: 75 and more"
    )
    @property
    def word(self) -> ShareWord:
        return share_word(self.expected)

    @field_serializer("expected", "low", "high")
    def _outward(self, share: float, info: SerializationInfo) -> float | None:
        return share if info.context == AS_KEPT else outward(share)


class KeepingDoses(Answer):
    """How far each hazard has come: at 1 it alone would have cost half the bundle. And the coldest hour."""

    reserve: float
    drying: float
    mould: float
    budbreak: float
    ethylene: float
    coldest_c: float | None


class KeepingCurve(Answer):
    """How many of a hundred sticks are fit to graft, week by week: expected, and the band four in five lie in.

    The first stands for `begins_at`, each further one for a week later; the first `past` of them lie behind the reckoning, the
    others follow if the store stays as in the last week.
    """

    begins_at: datetime
    past: int
    expected: list[int] = Field(description="null: fewer than five")
    low: list[int] = Field(description="null: fewer than five")
    high: list[int] = Field(description="null: fewer than five")

    @computed_field(description="the word of each of `expected`")  # type: ignore[prop-decorator]
    @property
    def words(self) -> list[ShareWord]:
        return [share_word(each / 100) for each in self.expected]

    @field_serializer("expected", "low", "high")
    def _outward(self, hundredths: list[int], info: SerializationInfo) -> list[int | None]:
        return [each if info.context == AS_KEPT or each >= FEW else None for each in hundredths]


class KeepingRead(Answer):
    """Whether this wood will live, as reckoned. It warns and sorts; only a person’s look or a stop takes wood off a list."""

    bundle_id: UUID
    as_of: datetime
    store_id: UUID | None
    usual_words: str = Field(description="how long wood of this kind is usually kept, against its age")
    usual_until: date | None
    cut_on: date | None = None
    usual_weeks: tuple[int, int] | None = Field(
        default=None, description="how long wood of its kind is usually kept"
    )
    usual_mark: str = Field(default="", description="how that is known")
    look_words: str = Field(description="the last look at it")
    found_on: date | None = Field(
        default=None, description="the day of the last look, where what it found asks for its use or warns"
    )
    found: str = Field(
        default="", description="what that look asks for: `use_first` or `warning`; empty: nothing"
    )
    found_words: str = Field(default="", description="what that look found")
    found_rank: int = Field(
        default=9,
        description="how bad that is: 0 green buds, 1 no green under a scratch, 2 mould, 3 swelling buds, 4 wrinkled bark, 9 nothing",
    )
    share: KeepingShare | None = Field(description="none where too little is known")
    share_words: str
    limits_now: str = Field(description="what takes most of it by now")
    limits_then: str = Field(description="what takes most of it when three quarters are left")
    keeps_until: date | None = Field(
        description="when three quarters of the start are left, if the last week goes on"
    )
    keeps_from: date | None = Field(description="the early end of that")
    keeps_to: date | None = Field(description="the late end; none: over two years")
    keeps_words: str
    inputs: list[KeepingInput]
    curve: KeepingCurve | None = Field(default=None, description="none where too little is known")
    hazard: str = Field(default="", description="`limits_now` in one word")
    doses: KeepingDoses | None = None
    judged_here: int = Field(
        default=0, description="judged grafts of this group of species that the share rests on"
    )
    share_first: bool = Field(
        default=False,
        description="so many, of wood both fresh and aged, that the share stands before its usual time and the last look",
    )
    learned_words: str = ""
    ageing_version: int | None = Field(
        default=None, description="what was learned from takes; none: nothing yet"
    )
    numbers_digest: str = ""
    digest: str = Field(
        default="", description="of where it lay, of what was seen, and of how far it had aged"
    )

    def as_kept(self) -> dict[str, Any]:
        """As it is stored, to be read again."""
        return self.model_dump(mode="json", context=AS_KEPT, round_trip=True)

    @property
    def until(self) -> date | None:
        """Until when three quarters are left, as reckoned; by its age where too little is known; none: beyond both."""
        return self.keeps_until or (None if self.share else self.usual_until)

    @property
    def first_on(self) -> date | None:
        """The day by which it is sorted: what a look found comes first, by the day of the look; else until when it keeps."""
        return min((day for day in (self.found_on, self.until) if day is not None), default=None)

    @property
    def sort_on(self) -> date:
        """The day of the look that found something, else until when it keeps."""
        return min(self.found_on or date.max, self.sort_end)

    @property
    def sort_end(self) -> date:
        """Until when it keeps as reckoned, beyond all that is reckoned where no end was found; else as its kind is usually kept.
        Where nothing is known of its kind, after all others.
        """
        if self.share is not None and self.store_id is not None and self.keeps_until is None:
            return self.as_of.date() + OVER_TWO_YEARS
        return self.keeps_until or self.usual_until or date.max

    @property
    def sort_key(self) -> tuple[date, int, date]:
        """What is used first: by the day, of one day what is worst by its last look, then what keeps shortest."""
        return self.sort_on, self.found_rank, self.sort_end

    @property
    def ends(self) -> Ends | None:
        """The early and the late end of `keeps_until`; none where nothing was reckoned."""
        return None if self.keeps_until is None else (self.keeps_from, self.keeps_to)


class WaySpan(Answer):
    """From when until when a bundle lay in a store; without a name, in none."""

    store_name: str
    from_at: datetime
    until_at: datetime


class WayMark(Answer):
    """What happened on its way: look, weighed; heat or freezing of its store for as long as it lasted."""

    what: str
    at: datetime
    until_at: datetime | None = None
    words: str


class WayRead(Answer):
    """A bundle's way from its cut to now: where it lay without a gap, and what happened to it."""

    spans: list[WaySpan]
    marks: list[WayMark]


class GainedRead(Answer):
    """Days of keeping more than where it lies, fewer below nothing; rounded to a day below fourteen, to seven above."""

    days: int
    low: int
    high: int
    more: bool = Field(description="at least so many: there it keeps for over two years")


class ElsewhereRead(Answer):
    """How long the bundle would keep in one store from now on, if its last week goes on."""

    store_id: UUID
    store_name: str
    kind: str
    is_here: bool
    keeps_until: date | None = Field(
        description="when three quarters of the start would be left; none: not within two years"
    )
    keeps_from: date | None
    keeps_to: date | None
    until_words: str
    gained: GainedRead | None = Field(
        description="against where it lies; none there, and where it lies in no store"
    )
    gained_words: str
    limits_then: str
    mean_c: float = Field(description="of the last week")
    low_c: float
    high_c: float
    inputs: list[KeepingInput]
    not_proposed: str = Field(description="why it is not to be put there; empty: it may be")


class WhatIfRead(Answer):
    """A bundle in each open store of the club: days gained or lost. It proposes; nothing is moved by it."""

    bundle_id: UUID
    as_of: datetime
    words: str
    best_id: UUID | None = Field(
        description="where it would keep longest, if not where it lies; none: nowhere else"
    )
    stores: list[ElsewhereRead]
    way: WayRead
    keeping: KeepingRead = Field(description="how it stands now, and what is known of the bundle itself")


class MissedDay(Answer):
    """A day the club fixed, by which fewer than three quarters of some wood are likely left."""

    what: str = Field(description="the exchange, or grafting day")
    on: date


class UseFirstRead(Answer):
    """A bundle, what should be used first before the rest."""

    bundle_id: UUID
    store_id: UUID | None = Field(description="none: it lies in no store")
    store_name: str
    code: str | None
    parent_code: str | None
    kind: str
    variety: str
    on_hand: int
    stopped: bool
    keeping: KeepingRead
    misses: list[MissedDay] = Field(
        default=[], description="days of the club, still to come, until which it hardly keeps"
    )
