"""A site's air by the hour: chill of the true hours against values computed elsewhere, in any order of arrival, mixed and taken back.

Sources: months of one temperature and of two in turn, and three real months of Seattle, as `tests/science/test_chill.py` has
them (shared reference of dormancy models, computed there by another implementation; vega_datasets 0.9.0, public domain).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import permutations
from uuid import uuid4

import numpy as np
import pytest

from service.lib.database import Database
from service.lib.sent_files import FileNeedsAnswers, Prepared
from service.lib.temperatures import WhereDiffering
from service.lib.write import Writer
from service.members.queries import club
from service.science.chill import chill_portions, utah_units
from service.science.heat import curved_degree_hours
from service.science.winters import Span, hours_of
from service.trees import actions, queries
from service.trees.rules.air_hours import DayOfAir, first_hour, hours_by_day
from service.trees.schemas import AirFileSummary, AirFileTake, AirFormSet, AirRecordCreate
from tests.builders.trees import Orchard
from tests.infra.cast import Cast
from tests.science.seattle import LATITUDE, hours_of_2010
from tests.science.test_chill import CYCLES

FIRST = date(2025, 1, 6)
NOW = datetime(2026, 2, 21, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


class Shed:
    """A site's shed with a logger in it."""

    def __init__(self, database: Database, writer: Writer, cast: Cast, site: Orchard) -> None:
        self.database, self.writer, self.cast, self.site_id = database, writer, cast, site.site_id

    def bring(
        self, celsius: Sequence[float], begin: datetime, *, where: str = "refuse", minute: int = 30
    ) -> AirFileSummary:
        rows = [
            f"{begin + place * HOUR + timedelta(minutes=minute):%Y-%m-%d %H:%M},{value:.4f}"
            for place, value in enumerate(celsius)
        ]
        sent = actions.read_sent_air("shed.csv", ("time,temp\n" + "\n".join(rows) + "\n").encode())
        write = self.writer.write_now
        file = write(actions.send_air_file, self.cast.steward, self.site_id, uuid4(), "the shed", sent)
        form = AirFormSet(day="time", temp="temp", unit="C", order="ymd", zone="UTC")
        write(actions.set_air_form, self.cast.steward, file.id, form)
        with self.database.reading() as session:
            plan: Prepared = queries.prepare_air_file(session, file.id, NOW, club(session).zone)
        body = AirFileTake(where_differing=WhereDiffering(where), stuck=True, sure=True, leave_faulty=True)
        return write(actions.take_air_file, self.cast.steward, file.id, body, plan)

    def back(self, file: AirFileSummary) -> AirFileSummary:
        return self.writer.write_now(actions.take_air_file_back, self.cast.steward, file.id)

    def tell(self, day: date, lowest_c: float, highest_c: float) -> None:
        told = {"day": day, "lowest_c": lowest_c, "highest_c": highest_c}
        body = AirRecordCreate.model_validate({"measured": "the dial", "days": [told]})
        self.writer.write_now(actions.record_air, self.cast.steward, self.site_id, body)

    def days(self) -> dict[date, DayOfAir]:
        with self.database.reading() as session:
            return queries.air_days(session, self.site_id, date(2009, 1, 1), date(2026, 12, 31))

    def told(self) -> dict[date, tuple[float, float, bytes | None]]:
        return {day: (one.lowest_c, one.highest_c, one.hours) for day, one in self.days().items()}

    def hours(self, first: date, days: int) -> np.ndarray:
        air = self.days()
        measured = {day: one[:2] for day, one in air.items()}
        return hours_of(Span(first, first + timedelta(days=days - 1), measured, hours_by_day(air)), LATITUDE)


@pytest.fixture
def shed(database: Database, writer: Writer, cast: Cast, orchard: Orchard) -> Shed:
    return Shed(database, writer, cast, orchard)


def midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)


@pytest.mark.parametrize(("other_c", "utah", "portions"), [(each[0], each[2], each[4]) for each in CYCLES])
def test_a_month_by_the_hour_chills_as_its_hours_do_and_not_as_its_lowest_and_highest(
    shed: Shed, other_c: float, utah: float, portions: float
) -> None:
    shed.bring(([5.0] * 16 + [float(other_c)] * 8) * 30, midnight(FIRST))

    found = shed.hours(FIRST, 30)
    by_extremes = hours_of(Span(FIRST, FIRST + timedelta(days=29), {d: a[:2] for d, a in shed.days().items()}), LATITUDE)  # fmt: skip

    assert float(utah_units(found).sum()) == utah
    assert float(chill_portions(found)[1].portions) == pytest.approx(portions, abs=0.001)
    assert float(utah_units(by_extremes).sum()) != utah


def test_three_real_months_keep_what_their_hours_say(shed: Shed) -> None:
    shed.bring(hours_of_2010().tolist(), midnight(date(2010, 1, 1)))

    found = shed.hours(date(2010, 1, 1), 90)

    assert float(utah_units(found).sum()) == 2036.5
    assert float(chill_portions(found)[1].portions) == pytest.approx(71.067, abs=0.01)
    assert float(curved_degree_hours(found).sum()) == pytest.approx(2264.2, abs=1)


@pytest.mark.parametrize("celsius", [-2.0, 1.0, 6.0, 12.34])
def test_hours_of_one_temperature_come_back_as_they_were_over_both_changes_of_the_clock(
    shed: Shed, celsius: float
) -> None:
    shed.bring([celsius] * 24 * 300, midnight(date(2025, 3, 1)))

    assert (shed.hours(date(2025, 3, 2), 290) == celsius).all()


def test_no_hour_is_lost_or_doubled_over_a_year_of_hours_that_all_differ(shed: Shed) -> None:
    values = [(place % 4001) / 100 - 10 for place in range(24 * 330)]
    shed.bring(values, midnight(date(2025, 2, 1)))

    found = shed.hours(date(2025, 2, 2), 326)

    assert found.tolist() == pytest.approx(values[24 : 24 * 327])
    assert (
        first_hour(date(2025, 7, 2), "Europe/London") - first_hour(date(2025, 1, 2), "Europe/London")
        == 24 * 181
    )


PARTS = list(permutations([(0, 19), (19, 53), (53, 96)]))


@pytest.mark.parametrize("order", PARTS)
def test_in_whatever_order_three_parts_arrive_the_days_are_those_of_one_file(
    shed: Shed, order: tuple[tuple[int, int], ...]
) -> None:
    """Two of the cuts lie within a day: neither part has it whole."""
    values = [4 + 3 * np.sin(place / 3.7) for place in range(96)]
    for begin, end in order:
        shed.bring(values[begin:end], midnight(FIRST) + begin * HOUR)
    found = shed.told()
    again = shed.bring(values, midnight(FIRST))

    assert list(found) == [FIRST + timedelta(days=place) for place in range(4)]
    assert shed.told() == found
    assert shed.hours(FIRST, 4).tolist() == pytest.approx(values, abs=0.0051)
    assert (again.added, again.same, again.replaced) == (0, 4, 0)


def test_days_by_hand_and_by_the_hour_stand_side_by_side(shed: Shed) -> None:
    values = [5.0] * 16 + [20.0] * 8
    for day in (0, 2):
        shed.bring(values, midnight(FIRST + timedelta(days=day)))
    shed.tell(FIRST + timedelta(days=1), 5.0, 20.0)

    found = shed.hours(FIRST, 3).reshape(3, 24)

    assert found[0].tolist() == found[2].tolist() == values
    assert found[1].tolist() != values
    assert (found[1].min() >= 4, found[1].max() <= 20.0) == (True, True)
    assert [one.hours is not None for one in shed.days().values()] == [True, False, True]


@pytest.mark.parametrize("by_hand_first", [True, False])
def test_the_same_day_told_both_ways_counts_by_the_hour_whichever_came_first(
    shed: Shed, by_hand_first: bool
) -> None:
    values = [float(hour % 9) for hour in range(24)]
    if by_hand_first:
        shed.tell(FIRST, 0.0, 8.0)
    file = shed.bring(values, midnight(FIRST))
    if not by_hand_first:
        shed.tell(FIRST, 0.0, 8.0)

    assert shed.hours(FIRST, 1).tolist() == values
    shed.back(file)
    assert shed.told() == ({FIRST: (0.0, 8.0, None)} if by_hand_first else {})


def test_where_a_hand_and_a_logger_differ_it_is_asked_and_the_word_holds(shed: Shed) -> None:
    shed.tell(FIRST, -3.0, 9.0)
    values = [float(hour % 9) for hour in range(24)]

    with pytest.raises(FileNeedsAnswers, match="one day says something else"):
        shed.bring(values, midnight(FIRST))
    kept = shed.bring(values, midnight(FIRST), where="keep")
    assert (kept.passed_over, shed.told()) == (1, {FIRST: (-3.0, 9.0, None)})
    replaced = shed.bring(values, midnight(FIRST), where="replace")

    assert (replaced.replaced, shed.days()[FIRST][:2]) == (1, (0.0, 8.0))
    assert shed.hours(FIRST, 1).tolist() == values
    shed.tell(FIRST, -3.0, 9.0)
    assert shed.told() == {FIRST: (-3.0, 9.0, None)}


def test_other_temperatures_at_the_same_times_are_asked_and_put_right(shed: Shed) -> None:
    shed.bring([5.0 + hour % 2 for hour in range(24)], midnight(FIRST))
    other = [7.0 + hour % 2 for hour in range(24)]

    with pytest.raises(FileNeedsAnswers, match="one day says something else"):
        shed.bring(other, midnight(FIRST))
    assert shed.bring(other, midnight(FIRST), where="keep").passed_over == 1
    assert shed.days()[FIRST][:2] == (5.0, 6.0)
    shed.bring(other, midnight(FIRST), where="replace")

    assert shed.hours(FIRST, 1).tolist() == other


def test_a_file_taken_back_leaves_what_the_others_read(shed: Shed) -> None:
    values = [float(hour % 11) for hour in range(48)]
    first = shed.bring(values, midnight(FIRST))
    whole = shed.told()
    shed.bring(values[:24], midnight(FIRST))
    shed.bring(values[24:30], midnight(FIRST) + 24 * HOUR)

    told = shed.back(first)

    assert shed.told() == {FIRST: whole[FIRST]}
    assert any("One day was taken out again." in words for words in told.told)


def test_a_day_with_a_gap_counts_once_the_rest_comes(shed: Shed) -> None:
    values = [float(hour % 11) for hour in range(24)]
    thin = shed.bring(values[:6], midnight(FIRST))
    shed.bring(values[18:], midnight(FIRST) + 18 * HOUR)
    assert (thin.added, shed.days()) == (0, {})

    late = shed.bring(values[6:18], midnight(FIRST) + 6 * HOUR)

    assert (late.added, shed.hours(FIRST, 1).tolist()) == (1, values)
