"""Bodies and answers of a site's air temperature, day by day."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import BeforeValidator, Field, StringConstraints, model_validator

from service.lib.database import new_id
from service.lib.schemas import Answer, Body, Day, Words
from service.lib.temperatures import WhereDiffering, no_kelvin
from service.trees.rules.air import COLDEST_C, HOTTEST_C

MOST_DAYS = 4_000  # of one record: eleven years
Celsius = Annotated[
    float,
    Field(ge=COLDEST_C, le=HOTTEST_C, allow_inf_nan=False, description="°C"),
    BeforeValidator(no_kelvin),
]


class AirDayTold(Body):
    """One day: its lowest and its highest air temperature."""

    day: Day
    lowest_c: Celsius
    highest_c: Celsius

    @model_validator(mode="after")
    def _lowest_first(self) -> AirDayTold:
        if self.lowest_c > self.highest_c:
            raise ValueError("the lowest is above the highest: are the two columns the wrong way round?")
        return self


class AirRecordCreate(Body):
    """Days of one station or thermometer. A day that was told before takes the new values, unless it is said otherwise."""

    id: UUID = Field(default_factory=new_id)
    measured: Annotated[
        Words,
        StringConstraints(min_length=3, max_length=500),
        Field(description="which station or thermometer, and where its record comes from"),
    ]
    days: list[AirDayTold] = Field(min_length=1, max_length=MOST_DAYS)
    where_differing: WhereDiffering = Field(
        default=WhereDiffering.REPLACE,
        description="where a day stands already with other values: replace them, keep them, or refuse all of it",
    )

    @model_validator(mode="after")
    def _each_day_once(self) -> AirRecordCreate:
        days = [each.day for each in self.days]
        twice = sorted({day for day in days if days.count(day) > 1}) if len(set(days)) < len(days) else []
        if twice:
            raise ValueError(f"{twice[0]} stands there twice; send each day once")
        return self


class AirRecordRead(Answer):
    """Where days of air temperature were measured, and who entered them; `days` counts those that still stand."""

    id: UUID
    site_id: UUID
    measured: str
    recorded_at: datetime
    by_party_id: UUID
    for_party_id: UUID
    days: int


class AirTaken(Answer):
    """What became of the days that were sent."""

    record: AirRecordRead
    new: int
    same: int
    changed: int
    kept: int = Field(default=0, description="days left as they stand, though other values were sent")


class AirDayRead(Answer):
    """One day of the air at a site."""

    day: date
    lowest_c: float
    highest_c: float
    record_id: UUID
    by_hour: bool = Field(
        default=False,
        description="its hours were measured; of other days they are reckoned from lowest and highest",
    )


class SiteAirRead(Answer):
    """The air at a site, the oldest day first. A day without a reading is not there: a gap is never cold."""

    site_id: UUID
    records: list[AirRecordRead]
    days: list[AirDayRead]
