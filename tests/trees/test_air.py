"""The air at a site: days told, told again and refused, and the real days of the demo against their own file."""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import date, timedelta
from statistics import mean
from typing import Any

import pytest

from service.cli.season import DEMO_DIR
from service.lib.clock import day_words, start_of_day
from service.lib.database import Database
from service.lib.write import Writer
from service.pages.pictures import AirOfDay, air_over, months_of
from service.trees import actions, queries, schemas
from tests.builders.trees import Orchard
from tests.infra.cast import Cast
from tests.infra.statements import Statements
from tests.infra.web import Client

Browsers = Callable[[str], Client]
COLD = {"day": "2026-01-05", "lowest_c": -4.0, "highest_c": 1.5}


def told(*days: dict[str, Any]) -> dict[str, Any]:
    return {"measured": "thermometer on the north wall", "days": list(days)}


def test_days_are_kept_once_and_take_the_last_word(
    database: Database, writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    def tell(*days: dict[str, Any]) -> schemas.AirTaken:
        body = schemas.AirRecordCreate.model_validate(told(*days))
        return writer.write_now(actions.record_air, cast.steward, orchard.site_id, body)

    mild = {"day": "2026-01-06", "lowest_c": 2.0, "highest_c": 6.0}
    first = tell(COLD, mild)
    again = tell(COLD, mild)
    other = tell({**COLD, "lowest_c": -5.5}, {"day": "2026-01-08", "lowest_c": 0.0, "highest_c": 0.0})

    with database.reading() as session, statements.at_most(3):
        air = queries.air_at_site(session, orchard.site_id, date(2026, 1, 1), date(2026, 1, 31))
    assert [(taken.new, taken.same, taken.changed) for taken in (first, again, other)] == [
        (2, 0, 0),
        (0, 2, 0),
        (1, 0, 1),
    ]
    assert [(each.day.day, each.lowest_c, each.highest_c) for each in air.days] == [
        (5, -5.5, 1.5),
        (6, 2.0, 6.0),
        (8, 0.0, 0.0),
    ]
    assert [each.record_id for each in air.days] == [other.record.id, first.record.id, other.record.id]
    assert {(record.id, record.days) for record in air.records} == {
        (first.record.id, 1),
        (other.record.id, 2),
    }


@pytest.mark.parametrize(
    "days, said",
    [
        ([{**COLD, "lowest_c": 2.0}], "the wrong way round"),
        ([COLD, COLD], "stands there twice"),
        ([{**COLD, "day": "2036-01-05"}], "future"),
        ([{**COLD, "highest_c": 75.0}], "less than or equal to 60"),
        ([], "at least 1"),
    ],
)
def test_days_that_cannot_be_are_refused_and_none_is_kept(
    client: Browsers, orchard: Orchard, days: list[dict[str, Any]], said: str
) -> None:
    steward = client("steward")
    other = {"day": "2026-01-07", "lowest_c": 1.0, "highest_c": 2.0}

    answer = steward.post(f"/api/sites/{orchard.site_id}/air", json=told(*([other, *days] if days else [])))

    assert answer.status_code == 422
    assert said in answer.text
    kept = steward.get(f"/api/sites/{orchard.site_id}/air?from_day=2020-01-01&until_day=2040-01-01").json()
    assert (kept["days"], kept["records"]) == ([], [])


def test_today_is_refused_until_it_is_over_where_the_club_is(
    client: Browsers, orchard: Orchard, clock
) -> None:
    """The club's zone is that of London, where in February midnight is that of UTC."""
    steward, path = client("steward"), f"/api/sites/{orchard.site_id}/air"
    today = clock.now().date()
    body = told({"day": str(today), "lowest_c": -4.0, "highest_c": 1.5})

    early = steward.post(path, json=body)
    clock.move(start_of_day(today + timedelta(days=1), "UTC") - clock.now())
    later = steward.post(path, json=body)

    assert (early.status_code, later.status_code) == (422, 201)
    assert early.json()["type"].endswith("/day-not-over")
    assert f"{day_words(today)} is not over yet" in early.json()["detail"]


def test_the_months_of_the_real_days_are_what_their_own_file_says() -> None:
    """Source: seattle-weather.csv of vega_datasets 0.9.0 (NOAA, public domain), as fixtures/demo/air.csv keeps it; the means
    are computed here from the text of the file alone."""
    lines = [
        line
        for line in (DEMO_DIR / "air.csv").read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    ]
    rows = list(csv.DictReader(lines))
    days = [
        AirOfDay(date.fromisoformat(row["date"]), float(row["lowest"]), float(row["highest"])) for row in rows
    ]

    found = months_of(days)

    assert (len(days), len(found)) == (1461, 48)  # four whole years with one leap day
    for month in found:
        same = [row for row in rows if row["date"].startswith(f"{month.month:%Y-%m}")]
        assert month.mean_lowest_c == pytest.approx(mean(float(row["lowest"]) for row in same))
        assert month.mean_highest_c == pytest.approx(mean(float(row["highest"]) for row in same))
        assert month.frosts == len(
            [row for row in same if row["lowest"].startswith("-") and row["lowest"] != "-0.0"]
        )
        assert month.days == len(same)


def test_a_day_without_a_reading_stays_white_and_the_words_say_so() -> None:
    days = [AirOfDay(date(2026, 1, day), -float(day), 4.0) for day in (1, 2, 9)]

    picture = air_over(days, date(2026, 1, 1), date(2026, 1, 10))

    strokes = [part for part in picture.split("<path") if "var(--water)" in part]
    assert len(strokes) == 1
    assert strokes[0].count("M") == 3
    assert "3 of 10 days were measured; 3 had frost; the coldest was −9.0 °C." in picture
    assert air_over([], date(2026, 1, 1), date(2026, 1, 10)) == ""


def test_air_in_kelvin_is_called_kelvin(client: Browsers, orchard: Orchard) -> None:
    """0 °C are 273.15 K (SI Brochure, 9th edition)."""
    answer = client("steward").post(
        f"/api/sites/{orchard.site_id}/air", json=told({**COLD, "lowest_c": 273.15, "highest_c": 280.15})
    )

    assert answer.status_code == 422
    assert "273.15 looks like kelvin: tell it in °C, 0.0" in answer.text
    assert "less than or equal" not in answer.text
