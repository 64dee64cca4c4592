"""A store's weeks as a picture, with words and a table that say the same."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from service.members.rules import Role
from service.members.signin import SESSION_COOKIE
from service.storage import actions, schemas
from tests.bad_input.desk import words_of
from tests.builders.loggers import make_logger, send, steady
from tests.builders.members import make_asker, make_session
from tests.builders.storage import ago, make_ground, make_store
from tests.infra.browser_checks import check_page as check_in_browser
from tests.infra.web import live
from tests.pages.desk import read


def test_a_picture_says_in_words_and_a_table_what_it_shows(as_, writer):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    host = as_(Role.HOST)
    assert "Nothing was measured" in words_of(read(host, f"/store/{store.id}/temperature"))
    for days, highest in ((9, "4"), (2, "7.5")):
        told = {"now": "3", "lowest": "1", "highest": highest, "read_at": ago(days=days)}
        body = schemas.DialReadingCreate(store_id=store.id, **told)
        writer.write_now(actions.read_dial, ground.host, body)

    page = read(host, f"/store/{store.id}/temperature")

    assert (
        '<desc id="temps-d">From 1.0 to 7.5 °C on 2 of 42 days; 1 of them outside 0 to 4.4 °C.' in page.text
    )
    assert page.text.count("url(#temps-hatch)") == 1
    assert page.text.count("nothing measured") == 40


@pytest.fixture
def logged(as_, writer):
    """A host's browser and the address of a store with a logger: ten days, an hour each, warm for five hours, cold for two."""
    ground = make_ground(writer)

    def open_(**told):
        store = make_store(writer, ground, name=told.pop("name", "Garage fridge"))
        logger = make_logger(writer, ground, store_id=store.id, from_at=ago(days=500))
        for begin, hours, value in told["readings"]:
            send(writer, ground, logger.id, steady(begin, hours, value))
        return as_(Role.HOST), f"/store/{store.id}/temperature"

    return open_


BEGIN = datetime(2026, 2, 1, tzinfo=UTC)
WARM = BEGIN + timedelta(hours=100)
WEEKEND = (
    (BEGIN, 100, ("3.0", "95")),
    (WARM, 5, ("8.0", "85")),
    (WARM + timedelta(hours=5), 60, ("3.0", "95")),
)


def test_days_lead_closer_wider_earlier_and_later_and_each_link_opens(logged):
    host, path = logged(readings=WEEKEND)

    page = read(host, f"{path}?from=2026-02-01&days=14")

    told = dict(re.findall(r'<a class="press" href="(\?[^"]+)">([^<]+)</a>', page.text))
    assert {words: href.replace("&amp;", "&") for href, words in told.items()} == {
        "Earlier": "?from=2026-01-18&days=14",
        "2 days": "?days=2",
        "6 weeks": "?days=42",
        "Half a year": "?days=182",
        "A year": "?days=365",
    }
    assert '<a class="press" aria-current="true">2 weeks</a>' in page.text
    assert "1 February 2026 to 14 February 2026" in words_of(page)
    closer = re.findall(r'<a href="([^"]+)" aria-label="(Closer: [^"]+)">', page.text)
    assert len(closer) == 12 + 6
    assert closer[0] == ("?from=2026-02-01&amp;days=1", "Closer: 1 February 2026")
    assert closer[12] == ("?from=2026-02-01&amp;days=2", "Closer: 1 to 2 February 2026")
    for href in [*told, *(href for href, _ in closer[-2:])]:
        assert read(host, path + href.replace("&amp;", "&")).status_code == 200


def test_up_to_a_week_is_told_by_hours_and_the_stretch_beyond_is_shaded(logged):
    host, path = logged(readings=WEEKEND)

    page = read(host, f"{path}?from=2026-02-05&days=2")

    said = words_of(page)
    assert "Above 4.4 °C once, 5 hours in all; below 0 °C never for an hour." in said
    assert "8.0 °C at worst, 5 hours" in said
    assert "Hour by hour, °C, humidity in %" in said
    rows = re.findall(r'<tr><th scope="row">.*?</tr>', page.text)
    assert len(rows) == 48
    assert sum("<td>8.0</td><td>8.0</td><td>8.0</td><td>85</td><td>outside</td>" in row for row in rows) == 5
    assert page.text.count('fill-opacity=".16"') == 2  # the picture for a desk and that for a phone


def test_humidity_is_drawn_told_and_in_the_table_or_it_is_said_in_one_line_that_none_is_measured(logged):
    host, path = logged(readings=WEEKEND)
    _, dry = logged(readings=((BEGIN, 30, "3.0"),), name="Cellar")

    wet, without = read(host, path), read(host, dry)

    assert "Humidity in the store’s air from 85 to 95 % on 7 of 42 days" in words_of(wet)
    assert '<th scope="col">Humidity</th>' in wet.text and "<td>85–95</td>" in wet.text
    assert 'viewBox="0 0 720 350"' in wet.text and 'viewBox="0 0 720 240"' in without.text
    assert words_of(without).lower().count("humidity") == 1
    assert "No humidity is measured here." in words_of(without)


def test_a_year_is_few_paths_and_few_bytes_and_a_table_of_weeks(logged):
    """So that a phone scrolls it without a jerk; what is counted here is what a machine's load does not change."""
    year = [
        (datetime(2025, 2, 15, tzinfo=UTC) + timedelta(days=day), 24, (f"{2 + day % 4}", f"{95 - day % 8}"))
        for day in range(364)
        if day % 50 > 2
    ]
    host, path = logged(readings=year)

    page = read(host, f"{path}?days=365")

    assert len(page.content) < 60_000
    assert page.text.count("<") - page.text.count("</") < 900
    assert page.text.count("<path") < 90
    assert len(re.findall(r'<tr><th scope="row">', page.text)) == 53
    assert "Week by week, °C, humidity in %" in words_of(page)


@pytest.mark.parametrize(
    "question, words",
    [
        ("days=0", "0 days cannot be shown"),
        ("days=401", "401 days cannot be shown"),
        ("days=many", "many is no number of days"),
        ("from=2026-02-30", "2026-02-30 is no day"),
        ("from=2026-02-15", "15 February 2026 has not come yet"),
    ],
)
def test_days_that_cannot_be_shown_are_refused_in_plain_words(logged, question, words):
    host, path = logged(readings=((BEGIN, 3, "3.0"),))

    page = read(host, f"{path}?{question}")

    assert page.status_code == 422
    assert words in words_of(page)
    assert "1 to 400 days" in words_of(page)


@pytest.mark.databases("sqlite")
def test_a_touch_leads_closer_and_the_page_has_no_fault_that_axe_knows(
    app, phone, logged, writer, as_
) -> None:
    _, path = logged(readings=WEEKEND)
    signed_in = make_session(writer, make_asker(writer, Role.HOST))
    with live(app) as address:
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": signed_in.token, "url": address}])
        for question in ("", "?from=2026-02-05&days=2", "?days=365"):
            phone.goto(address + path + question)
            check_in_browser(phone)
        phone.goto(f"{address}{path}?from=2026-02-01&days=14")
        phone.get_by_role("link", name="Closer: 5 to 7 February 2026").click()
        phone.wait_for_url("**/temperature?from=2026-02-05&days=3")
