"""Days of air typed in on a site's page: a club with a thermometer on the shed."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest

from service.members.rules import Role
from tests.bad_input.desk import check_page, words_of
from tests.builders.air import set_latitude
from tests.builders.trees import make_orchard
from tests.pages.desk import opened, read, send, told_next
from tests.science.seattle import seattle


@pytest.fixture
def site(writer, cast):
    return f"/sites/{make_orchard(writer, cast.steward).site_id}"


@pytest.fixture
def steward(as_):
    return as_(Role.STEWARD)


def week(steward, site: str, days, unit: str = "C", **told: str) -> dict[str, str]:
    form = opened(steward, f"{site}/air", unit=unit, measured="on the shed, north wall", **told)
    for place, (day, low, high) in enumerate(days):
        form |= {f"day.{place}": day, f"lowest.{place}": low, f"highest.{place}": high}
    return form


def kept(steward, site: str) -> list[tuple[str, float, float]]:
    answer = steward.get(f"/api{site}/air?from_day=2000-01-01&until_day=2040-01-01").json()
    return [(each["day"], each["lowest_c"], each["highest_c"]) for each in answer["days"]]


def test_a_week_in_fahrenheit_is_what_the_station_says_in_celsius(steward, site) -> None:
    """Source: NOAA, Seattle-Tacoma, of vega_datasets, kept in °C; °F worked out here by the definition (°C times 1.8 plus 32)."""
    air = seattle()
    rows = list(zip(air.days, air.lowest_c, air.highest_c, strict=True))[380:387]  # over a frost

    def shown(celsius: float) -> str:
        return f"{celsius * 1.8 + 32:.2f}".replace(".", ",")

    form = week(steward, site, [(str(day), shown(low), shown(high)) for day, low, high in rows], "F")
    told = told_next(steward, send(steward, f"{site}/air", form))

    assert "7 days came into the record." in told
    found = kept(steward, site)
    assert [day for day, _, _ in found] == [str(day) for day, _, _ in rows]
    for (_, low, high), (_, true_low, true_high) in zip(found, rows, strict=True):
        assert (low, high) == pytest.approx((true_low, true_high), abs=0.01)
    assert min(low for _, low, _ in found) < 0


COLD = ("2026-01-05", "-4", "1,5")


@pytest.mark.parametrize(
    ("rows", "unit", "says"),
    [
        ([COLD, ("2026-01-06", "7", "2")], "C", "6 January 2026 : the lowest (7) is above the highest (2)"),
        ([COLD, ("2026-01-06", "1", "400")], "C", "400 is no temperature of the air"),
        ([COLD, ("2026-01-06", "271.2", "278")], "C", "271.2 looks like kelvin"),
        ([COLD, ("2036-01-06", "1", "4")], "C", "6 January 2036 has not come yet"),
        ([COLD, COLD], "C", "5 January 2026 stands there twice"),
        ([COLD, ("", "1", "4")], "C", "Row 2: say which day it was"),
        ([COLD, ("2026-01-06", "1", "")], "C", "6 January 2026 : the highest is missing"),
        ([COLD, ("2026-01-06", "mild", "4")], "C", "6 January 2026 : 'mild' is no number"),
        ([("2026-01-05", "", "")], "C", "The lowest and the highest of at least one day"),
        ([COLD], "", "Whether the thermometer shows °C or °F"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_is_named_with_its_day_and_nothing_is_kept(
    steward, site, rows, unit, says
) -> None:
    form = {**week(steward, site, rows), "unit": unit}

    page = send(steward, f"{site}/air", form)

    told = check_page(page, 422, "", keeps={"measured": "on the shed, north wall"})
    assert says.casefold() in told.casefold()
    assert kept(steward, site) == []


@pytest.mark.parametrize(("word", "lowest"), [("keep", -4.0), ("replace", -5.0)])
def test_a_day_that_stands_is_replaced_only_where_somebody_says_so(steward, site, word, lowest) -> None:
    told_next(steward, send(steward, f"{site}/air", week(steward, site, [COLD])))
    other = week(steward, site, [("2026-01-05", "-5", "1.5"), ("2026-01-06", "0", "2")])

    asked = send(steward, f"{site}/air", other)
    stood = kept(steward, site)
    then = told_next(steward, send(steward, f"{site}/air", {**other, "where_differing": word}))

    assert "5 January 2026 stands with −4 to 1.5 °C, not −5 to 1.5 °C" in check_page(asked, 409, "")
    assert stood == [("2026-01-05", -4.0, 1.5)]
    assert "1 day came into the record" in then
    assert kept(steward, site) == [("2026-01-05", lowest, 1.5), ("2026-01-06", 0.0, 2.0)]


def test_a_third_week_alike_is_asked_about_before_it_is_kept(steward, site) -> None:
    """Three weeks that say the same are likelier copied than measured (judgement)."""
    air = [(str(low), str(low + 4 + low % 3)) for low in (-3, -1, 0, 2, 1, -2, -4)]
    weeks = [
        [(f"2026-01-{1 + 7 * number + place:02}", *told) for place, told in enumerate(air)]
        for number in range(3)
    ]
    for days in weeks[:2]:
        told_next(steward, send(steward, f"{site}/air", week(steward, site, days)))
    third = week(steward, site, weeks[2])

    asked = send(steward, f"{site}/air", third)
    stood = len(kept(steward, site))
    told_next(steward, send(steward, f"{site}/air", {**third, "stuck": "true"}))

    assert (
        "From 8 January 2026 to 21 January 2026 each day says what the day a week before it said"
        in check_page(asked, 422, "")
    )
    assert (stood, len(kept(steward, site))) == (14, 21)


def test_a_file_that_is_missing_leaves_the_week_as_it_was_offered(steward, site) -> None:
    form = opened(steward, f"{site}/air")

    page = send(
        steward,
        f"{site}/air/files",
        {"form_key": form["form_key"], "csrf_token": form["csrf_token"], "measured_file": "mill"},
    )

    assert "Choose the file" in check_page(page, 422, "", keeps={"measured_file": "mill"})
    assert f'value="{form["day.0"]}"' in page.text


def test_a_site_of_which_nobody_told_the_latitude_says_what_is_missing(steward, site, writer) -> None:
    silent = read(steward, f"{site}/air")
    set_latitude(writer, UUID(site.removeprefix("/sites/")), 69.7)
    told = read(steward, f"{site}/air")

    assert "Without its latitude no hour of a day is known here" in words_of(silent)
    assert f'href="{site}/edit"' in silent.text
    assert "latitude" not in words_of(told)


@pytest.mark.parametrize("ago", [2, 100])
def test_no_day_is_offered_that_is_not_over(steward, site, clock, ago) -> None:
    today = clock.now().date()
    last = today - timedelta(days=ago)
    told_next(steward, send(steward, f"{site}/air", week(steward, site, [(str(last), "1", "2")])))

    page = read(steward, f"{site}/air")
    form = opened(steward, f"{site}/air")

    offered = [form[f"day.{place}"] for place in range(7) if form[f"day.{place}"]]
    assert offered[-1] == str(today - timedelta(days=1))
    assert f'max="{today - timedelta(days=1)}"' in page.text and f'max="{today}"' not in page.text


def test_a_week_with_a_day_that_is_not_over_is_refused_with_its_day(steward, site, clock) -> None:
    today = clock.now().date()

    page = send(steward, f"{site}/air", week(steward, site, [(str(today), "1", "2")]))

    assert "is not over yet" in check_page(page, 422, "This day is not over yet")
    assert kept(steward, site) == []


def test_the_form_goes_on_where_the_record_ends(steward, site, clock) -> None:
    today = clock.now().date()
    last = today - timedelta(days=10)
    told_next(steward, send(steward, f"{site}/air", week(steward, site, [(str(last), "1", "2")])))

    form = opened(steward, f"{site}/air")

    assert [form[f"day.{place}"] for place in range(7)] == [
        str(last + timedelta(days=n + 1)) for n in range(7)
    ]
    assert form["measured"] == "on the shed, north wall"
    assert "The air is told up to" in words_of(read(steward, f"{site}/air"))
