"""Winters that are over, and whose day it is: the club's, not that of the machine. The air: tests/science/seattle.py."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from service.collection import queries
from service.lib.clock import FixedClock
from tests.builders.collection import set_zone
from tests.builders.yard import Yard

TODAY = date(2026, 2, 14)


def test_a_past_winter_without_air_says_that_nothing_is_known_of_it(yard: Yard, client) -> None:
    yard.air(date(2025, 8, 1), date(2026, 2, 13))

    with yard.writer.database.reading() as session:
        told = queries.site_winter(session, yard.orchard.site_id, TODAY, 2023)
    address = f"/sites/{yard.orchard.site_id}/winter?year=2023"
    page = client("member").get(address).text
    api = client("member").get(f"/api{address}").json()

    assert (told.answer, told.sentence, told.is_over) == (
        "A winter that is over, and its air is not known", "", True,
    )  # fmt: skip
    assert told.reason == "No day of air was told for this site since 21 August 2023."
    assert (told.kinds, told.days, told.days_measured) == ([], [], 0)
    assert "may be cut here now" not in page
    assert "No day of air was told for this site" in page
    assert f'href="/sites/{yard.orchard.site_id}/winter">This winter' in page
    assert (api["answer"], api["is_over"], api["is_counted"]) == (told.answer, True, False)


@pytest.mark.parametrize(
    "last, words", [(date(2025, 8, 20), "not that winter"), (date(2025, 3, 1), "not known")]
)
def test_what_never_came_in_a_past_winter_is_told_only_of_a_whole_one(
    yard: Yard, client, last: date, words: str
) -> None:
    """Warm days all the winter long: no chill, so the rest of apple never ends."""
    yard.warm(date(2024, 8, 1), last)

    page = client("member").get(f"/sites/{yard.orchard.site_id}/winter?year=2024").text

    assert page.count(f"<td>{words}</td>") >= 3
    assert "<td>not yet</td>" not in page


@pytest.mark.parametrize("zone, day", [("Pacific/Auckland", 15), ("America/Los_Angeles", 14)])
def test_the_day_of_the_winter_is_that_of_the_club(
    yard: Yard, client, clock: FixedClock, zone: str, day: int
) -> None:
    yard.air()
    set_zone(yard.writer, zone)
    clock.at = datetime(2026, 2, 14, 22, tzinfo=UTC)

    told = client("member").get(f"/api/sites/{yard.orchard.site_id}/winter").json()

    assert told["last"] == f"2026-02-{day}"


@pytest.mark.parametrize("who, tells", [("steward", True), ("member", False)])
def test_site_winter_and_tree_lead_to_each_other_and_to_how_the_air_gets_there(
    yard: Yard, client, who: str, tells: bool
) -> None:
    site = f"/sites/{yard.orchard.site_id}"
    browser = client(who)

    page, winter, tree = (
        browser.get(path).text for path in (site, f"{site}/winter", f"/trees/{yard.tree_id}")
    )

    assert f'href="{site}/winter"' in page
    assert (f'href="{site}/air"' in page) is tells
    assert (f"POST /api{site}/air" in page) is tells
    assert "No day of air of the last year is in the record" in page
    assert f'href="{site}#air"' in winter
    assert (f'href="{site}/air"' in winter) is tells
    assert f'href="{site}/winter"' in tree
    assert f'href="{site}#air"' in tree
    assert f'href="/trees/{yard.tree_id}"' in page
