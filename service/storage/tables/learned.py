"""What was learned of how wood ages, and forecasts as they stood when they mattered. Rows are only ever added."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, Index
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class AgeingVersion(SQLModel, table=True):
    """What all takes together said of how wood ages here, at one time. Never changed: what is learned anew is a new version."""

    __tablename__ = "ageing_version"
    version: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    made_at: datetime = instant()
    digest: str = Field(max_length=64)  # of all that went in
    numbers_digest: str = Field(max_length=64)  # of the numbers of the models
    grafts: int  # unions that count
    taken: int
    start_mu: float = 0  # what a group without takes starts from
    left_out: dict[str, Any] = Field(sa_type=JSON(none_as_null=True))  # unions that do not count, by why
    came_true: list[dict[str, Any]] | None = Field(
        default=None, sa_type=JSON(none_as_null=True)
    )  # forecasts against takes


class AgeingLearned(SQLModel, table=True):
    """How fast wood of a group ages here as one version has it: ln th before and after the takes, and what it rests on."""

    __tablename__ = "ageing_learned"
    version: int = refers_to("ageing_version.version", primary_key=True)
    species_group: str = word(40, primary_key=True)
    before_mu: float
    before_sigma: float
    mu: float
    sigma: float
    median: float  # of th
    low: float
    high: float
    grafts: int
    taken: int
    kept_days_before: int | None = None  # at 4 °C until three quarters are left; none: over two years
    kept_days: int | None = None
    is_told_apart: bool  # wood both fresh and aged was grafted
    by_method: dict[str, Any] = Field(sa_type=JSON(none_as_null=True))  # grafted, taken, take of fresh wood


class NumbersUsed(SQLModel, table=True):
    """Every number of the models as it stood when something was first reckoned with it."""

    __tablename__ = "numbers_used"
    digest: str = Field(primary_key=True, max_length=64)
    numbers: dict[str, Any] = Field(sa_type=JSON(none_as_null=True))
    first_used_at: datetime = instant()


class ForecastKept(SQLModel, table=True):
    """How a bundle was reckoned to keep when it was handed over or grafted, or when that changed by a step."""

    __tablename__ = "forecast_kept"
    __table_args__ = (Index("ix_forecast_kept_bundle_as_of", "bundle_id", "as_of"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    bundle_id: UUID = refers_to("bundle.id")
    move_seq: int | None = refers_to(
        "stick_move.seq", default=None, nullable=True, unique=True
    )  # that it was kept for
    why: str = word()  # handed_over, grafted, changed
    as_of: datetime = instant()
    made_at: datetime = instant()
    share: float | None = None  # none where too little was known
    low: float | None = None
    high: float | None = None
    hazard: str = word(default="")  # that took most of it
    doses: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    keeps_until: date | None = None
    keeps_from: date | None = None  # none of forecasts from before it was kept
    keeps_to: date | None = None
    ageing_version: int | None = refers_to("ageing_version.version", default=None, nullable=True)
    numbers_digest: str = Field(default="", max_length=64)
    digest: str = Field(
        default="", max_length=64
    )  # of where it lay, of what was seen, and of how far it had aged
