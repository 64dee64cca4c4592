"""Answers on what takes say of how wood ages."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from pydantic import Field, SerializationInfo, computed_field, field_serializer

from service.lib.schemas import Answer
from service.storage.rules.keeping_words import ShareWord, outward, share_word
from service.storage.schemas.keeping import AS_KEPT, KeepingDoses, KeepingShare


class MethodLearned(Answer):
    """How well a method takes in a group of species, apart from how far the wood had aged."""

    method: str
    grafts: int
    taken: int
    base: float = Field(description="of fresh wood, 0 to 1")


class GroupLearned(Answer):
    """How fast wood of a group ages here: th, above 1 faster than is usual; where half, a tenth and nine tenths lie below."""

    species_group: str
    grafts: int = Field(description="unions it rests on")
    taken: int
    before_mu: float = Field(description="mean of ln th before these takes")
    before_sigma: float
    mu: float
    sigma: float
    median: float
    low: float
    high: float
    kept_days_before: int | None = Field(
        description="days at 4 °C until three quarters are left, before these takes; null: over two years"
    )
    kept_days: int | None
    is_told_apart: bool = Field(
        description="false: only fresh or only aged wood was grafted, so ageing and base take cannot be told apart"
    )
    methods: list[MethodLearned]


class CameTrue(Answer):
    """Grafts of a group whose wood was told to have about the same share alive: what was told, and what took."""

    species_group: str
    tenth: int = Field(description="of the share told: 9 is nine tenths and above")
    grafts: int
    taken: int
    told: float = Field(
        description="the mean share told at grafting, 0 to 1, to the hundredth; none: below five of a hundred"
    )

    @computed_field(description="how much that was, as a word")  # type: ignore[prop-decorator]
    @property
    def word(self) -> ShareWord:
        return share_word(self.told)

    @field_serializer("told")
    def _outward(self, share: float, info: SerializationInfo) -> float | None:
        return share if info.context == AS_KEPT else outward(share)


class AgeingRead(Answer):
    """What all takes together said at one time. A version is never changed."""

    version: int
    made_at: datetime
    digest: str = Field(description="of all that went in")
    numbers_digest: str = Field(description="of the numbers of the models")
    grafts: int
    taken: int
    start_mu: float = Field(description="mean of ln th that a group without takes starts from")
    left_out: dict[str, int] = Field(description="unions that do not count, by why")
    came_true: list[CameTrue] = Field(description="forecasts kept at grafting against takes")
    groups: list[GroupLearned]


class ForecastRead(Answer):
    """How a bundle was reckoned to keep, kept as it stood. Never changed."""

    id: UUID
    bundle_id: UUID
    move_seq: int | None = Field(description="the line of the stick ledger that it was kept for")
    why: str = Field(description="handed_over, grafted, or changed by a step")
    as_of: datetime
    made_at: datetime
    share: KeepingShare | None = Field(description="none where too little was known")
    hazard: str
    doses: KeepingDoses | None
    keeps_until: date | None
    keeps_from: date | None = Field(description="the early end of that; none where it was not kept")
    keeps_to: date | None = Field(description="the late end; none: over two years, or not kept")
    ageing_version: int | None
    numbers_digest: str
    digest: str


class ToldBefore(Answer):
    """What was told of a bundle at one time, in words: the share, its end, why that was kept, and by what it was reckoned."""

    as_of: datetime
    share_words: str
    limits_words: str
    keeps_words: str = Field(
        description="until when three quarters were left, with its range; empty: not told"
    )
    why_words: str
    by_words: str


class VersionSummary(Answer):
    """A version in short."""

    version: int
    made_at: datetime
    grafts: int
    taken: int


class LearnedRead(Answer):
    """What stands as learned, and every version before it."""

    newest: AgeingRead | None = Field(description="null as long as no graft was judged")
    versions: list[VersionSummary] = Field(description="the newest first")
