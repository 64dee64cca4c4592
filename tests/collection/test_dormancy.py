"""The dormancy of a cut: its chill against that of the same real days, told the science directly, and every way in which little is known.

The air: Seattle, day by day (tests/science/seattle.py names the source), moved by twelve years.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.collection import queries
from service.collection.rules.dormancy import NoChill, need_of, why_no_chill
from service.lib.database import Database
from service.science.chill import chill_portions
from service.science.seasons import winter_begins
from tests.builders.air import LATITUDE, MOVED, set_group, set_latitude
from tests.builders.collection import receive, set_area
from tests.builders.yard import CUT_ON, SINCE, Yard, value_of
from tests.infra.statements import Statements
from tests.science.seattle import seattle
from tests.season.plausible import new_form


def portions_by(day: date) -> float:
    """Chill of the same days, told the science directly."""
    back = {each: each.replace(year=each.year - MOVED) for each in (SINCE, day)}
    hours = seattle().cut_out(back[SINCE], back[day]).hours()
    return float(chill_portions(hours)[0][-1])


def test_tight_wood_of_january_is_fit_and_its_chill_is_that_of_the_air(yard: Yard) -> None:
    yard.air()

    told = yard.judged(yard.cut(stage="00", leaves_down=True))

    assert (told.verdict, told.label, told.phase) == ("fit_to_store", "Fit to store", "eco")
    assert value_of(told, "portions") == pytest.approx(portions_by(CUT_ON), abs=0.001)
    assert (told.counted_from, told.days_measured, told.days_asked) == (SINCE, 143, 143)
    assert told.need is not None and (told.need.value, told.need.is_own) == (50, False)
    assert told.measured == ["the station of the airport"]
    assert {each.word for each in told.would_change} == {"buds_swell", "own_need"}


@pytest.mark.parametrize(
    "on, stage, leaves, verdict",
    [
        (date(2025, 10, 2), "00", False, "do_not_cut_yet"), (date(2025, 10, 2), None, None, "do_not_cut_yet"),
        (date(2025, 12, 1), "00", True, "fit_to_store"), (CUT_ON, "01", True, "fit_use_first"),
        (CUT_ON, "03", None, "graft_at_once"), (CUT_ON, "tight", None, "fit_to_store"),
    ],
)  # fmt: skip
def test_what_was_seen_and_the_day_make_the_verdict(
    yard: Yard, on: date, stage: str | None, leaves: bool | None, verdict: str
) -> None:
    yard.air()

    assert yard.judged(yard.cut(on, stage=stage, leaves_down=leaves)).verdict == verdict


def test_in_the_south_the_same_winter_is_judged_half_a_year_later(yard: Yard) -> None:
    """Not a southern record: the same days half a year on, under the sun at 47.6° S."""
    set_latitude(yard.writer, yard.orchard.site_id, -LATITUDE)
    yard.air(date(2025, 1, 30), date(2025, 12, 31), moved_days=-182)

    fit, early = (yard.judged(yard.cut(on, stage="00")) for on in (date(2025, 7, 5), date(2025, 3, 20)))

    assert (fit.verdict, fit.phase, fit.counted_from) == ("fit_to_store", "eco", date(2025, 2, 19))
    assert early.verdict == "do_not_cut_yet"


def test_a_winter_begins_122_days_before_the_shortest_day_and_never_between_the_tropics() -> None:
    found = [
        winter_begins(latitude, day)
        for latitude in (50, -50)
        for day in (date(2025, 8, 20), date(2025, 8, 21))
    ]

    assert found == [date(2024, 8, 21), date(2025, 8, 21), date(2025, 2, 19), date(2025, 2, 19)]
    assert [winter_begins(latitude, CUT_ON) for latitude in (0.0, 23.4, -23.4)] == [None, None, None]


def test_a_varietys_own_need_goes_before_its_kinds() -> None:
    own, kind, unknown = (
        need_of("cherry_sweet", "Lapins"),
        need_of("cherry_sweet", "Kordia"),
        need_of("", "x"),
    )

    assert own is not None and (own.portions_cp, own.is_own, own.least, own.most) == (35, True, 30, 70)
    assert kind is not None and (kind.portions_cp, kind.is_own) == (48, False)
    assert unknown is None


NO_LATITUDE = why_no_chill(NoChill.NO_LATITUDE)


@pytest.mark.parametrize(
    "latitude, reason",
    [
        (None, NO_LATITUDE), (5.0, why_no_chill(NoChill.NO_WINTER)), (-12.0, why_no_chill(NoChill.NO_WINTER)),
        (66.9, ""), (78.2, ""), (90.0, ""),
    ],
)  # fmt: skip
def test_no_latitude_the_tropics_and_beyond_the_polar_circle_are_told_and_never_an_error(
    yard: Yard, latitude: float | None, reason: str
) -> None:
    set_latitude(yard.writer, yard.orchard.site_id, latitude)
    yard.air()

    told = yard.judged(yard.cut(stage="00", leaves_down=True))

    assert (told.verdict, told.no_chill_because) == ("fit_to_store", reason)
    assert (value_of(told, "portions") > 30) if not reason else told.phase is None


def test_without_air_the_leaves_and_the_shortest_day_speak(yard: Yard) -> None:
    seen, not_seen = yard.judged(yard.cut(stage="00")), yard.judged(yard.cut())

    assert seen.no_chill_because == "No day of air was told for this site since 21 August 2025."
    assert (seen.verdict, not_seen.verdict) == ("fit_to_store", "not_known")
    assert "air_record" in {each.word for each in seen.would_change}
    assert "nobody wrote down the leaves" in seen.evidence[-1].words


def test_air_of_one_month_only_is_too_little_to_count_chill_by(yard: Yard) -> None:
    yard.air(date(2025, 12, 11), CUT_ON)

    told = yard.judged(yard.cut(stage="00", leaves_down=True))

    assert told.no_chill_because.startswith("Only 31 of the 143 days since 21 August 2025 were measured")
    assert (told.verdict, told.phase) == ("fit_to_store", None)


def test_gaps_are_counted_and_told_and_their_days_earn_less(yard: Yard) -> None:
    yard.air(last=date(2025, 11, 19))
    yard.air(date(2025, 12, 10))

    told = yard.judged(yard.cut(stage="00", leaves_down=True))

    assert told.verdict == "fit_to_store"
    assert value_of(told, "unknown_hours") >= 20 * 24
    assert value_of(told, "portions") < portions_by(CUT_ON)
    assert "fill_gaps" in {each.word for each in told.would_change}


@pytest.mark.parametrize(
    "group, verdict, reason",
    [
        ("", "fit_to_store", why_no_chill(NoChill.NO_NEED, kind="Apple")),
        ("citrus", "fit_to_store", why_no_chill(NoChill.NO_REST, kind="Apple")), ("fig", "fit_use_first", ""),
    ],
)  # fmt: skip
def test_a_kind_is_judged_by_its_own_need_and_by_the_eye_where_it_has_none(
    yard: Yard, group: str, verdict: str, reason: str
) -> None:
    """A fig needs 12 portions: warmth counts from November on."""
    set_group(yard.writer, yard.orchard.apple_id, group)
    yard.air()

    told = yard.judged(yard.cut(date(2026, 2, 10), stage="00", leaves_down=True))

    assert (told.no_chill_because, told.verdict) == (reason, verdict)


def test_summer_budwood_gets_no_verdict_and_wood_from_outside_says_why(yard: Yard) -> None:
    yard.air()

    summer = yard.judged(yard.cut(date(2025, 8, 10), wood="summer"))
    set_area(yard.writer, yard.cast.steward.party_id, yard.orchard.area_id)
    outside = yard.judged(receive(yard.writer, yard.cast.steward, yard.orchard))

    assert (summer.verdict, summer.label, summer.evidence) == (None, "Summer budwood", [])
    assert (outside.verdict, outside.no_chill_because) == ("not_known", why_no_chill(NoChill.NO_SITE))


def test_a_year_of_days_costs_three_statements(
    yard: Yard, database: Database, statements: Statements
) -> None:
    yard.air(date(2024, 8, 1))
    made = yard.cut(SINCE - timedelta(days=1), stage="00", leaves_down=False)

    with database.reading() as session, statements.at_most(3):
        told = queries.cut_dormancy(session, made.id)

    assert (told.days_measured, told.days_asked) == (365, 365)


def test_the_verdict_stands_on_the_pages_of_the_cut(yard: Yard, client) -> None:
    yard.air()
    made = yard.cut(stage="00", leaves_down=True)
    browser = client("collector")

    pages = [browser.get(path).text for path in (f"/cut/done/{made.id}", f"/collections/{made.id}")]
    told = browser.get(f"/api/collections/{made.id}/dormancy").json()

    assert all("Fit to store." in page and "warmth that brings buds to move" in page for page in pages)
    assert told["verdict"] == "fit_to_store"
    assert client("stranger").get(f"/api/collections/{made.id}/dormancy").status_code == 401


def test_the_latitude_is_told_and_taken_away_on_the_sites_page(yard: Yard, client) -> None:
    steward, path = client("steward"), f"/sites/{yard.orchard.site_id}/edit"
    site = steward.get(f"/api/sites/{yard.orchard.site_id}").json()
    told = {"name": site["name"], "area_id": site["area_id"]}

    def saved(version: int, **more: str) -> object:
        answer = steward.submit(path, new_form({**told, "version": str(version), **more}))
        assert answer.status_code in {200, 303}, answer.text
        return steward.get(f"/api/sites/{yard.orchard.site_id}").json()["latitude"]

    found = [saved(1, latitude="-33.9", longitude="18.4"), saved(2), saved(3, latitude="", longitude="")]

    assert found == [-33.9, -33.9, None]
