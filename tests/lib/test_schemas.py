"""Bodies take each value in the kind they ask for, and days and times written out."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from pydantic import TypeAdapter, ValidationError

from service.lib.schemas import Body, Day, Instant


class Sent(Body):
    yes: bool = False
    count: int | None = None
    width: float = 1.0
    plants: int | list[str] = 0
    day: Day | None = None
    at: Instant | None = None


FITTING = [
    {"yes": True}, {"yes": "true"}, {"count": 3}, {"count": "3"}, {"count": 3.0}, {"count": None}, {"width": 2}, {"width": 2.5},
    {"plants": 4}, {"plants": ["a"]}, {"day": "2026-02-14"}, {"at": "2026-02-14T10:00:00Z"},
]  # fmt: skip
UNFIT = [
    {"yes": 0}, {"yes": 1.0}, {"count": True}, {"width": False}, {"plants": True}, {"day": 0}, {"day": "20260214"},
    {"day": "0.5"}, {"day": "0001-01-01"}, {"day": "9999-12-31"}, {"at": 0}, {"at": "1771063200"}, {"at": "-1.5e3"},
    {"at": "2026-02-14T10:00:00"},
]  # fmt: skip


@pytest.mark.parametrize("told", FITTING, ids=str)
def test_a_value_of_its_kind_is_taken(told):
    assert Sent.model_validate(told).model_fields_set == set(told)


@pytest.mark.parametrize("told", UNFIT, ids=str)
def test_a_value_of_another_kind_is_refused(told):
    with pytest.raises(ValidationError):
        Sent.model_validate(told)


@pytest.mark.parametrize("told", ["2026-02-14T10:00:00", "2026-02-14 10:00"])
def test_a_time_without_a_zone_is_answered_with_what_to_write(told):
    with pytest.raises(
        ValidationError, match=r"a time with its zone: write Z behind .* such as 2026-02-14T10:00:00Z"
    ):
        TypeAdapter(Instant).validate_python(told)


@pytest.mark.parametrize("zoned", ["2026-02-14T10:00:00Z", "2026-02-14T11:00:00+01:00"])
def test_a_time_with_its_zone_is_that_moment(zoned):
    assert TypeAdapter(Instant).validate_python(zoned) == datetime(2026, 2, 14, 10, tzinfo=UTC)
