"""The page of models and numbers: all of them, each with its address, for everybody; against the tables the functions read."""

from __future__ import annotations

import ast
import csv
import re
from html import unescape
from pathlib import Path

from playwright.sync_api import Browser

from service.lib.logged import STUCK_READINGS, STUCK_SECONDS, STUCK_SECONDS_COARSE
from service.science.parameters import MODELS, Mark, every_parameter
from service.science.requirements import REQUIREMENTS
from service.storage.rules.doses import DIAL_REACHES_HOURS
from service.storage.rules.excursions import (
    FREEZING_ABOVE_KILL10_C,
    FREEZING_HOURS,
    HOT_C,
    HOT_HOURS,
    VERY_HOT_C,
    VERY_HOT_HOURS,
)
from service.storage.rules.keeping import LONGEST_OUT_HOURS
from service.storage.rules.numbers import keeping_numbers
from tests.builders.catalogue import load_catalogue
from tests.infra.browser_checks import PHONE, check_page

RULES = Path(__file__).parents[2] / "service" / "storage" / "rules"
LIMITS = Path(__file__).parents[2] / "fixtures" / "reference" / "storage_limits.csv"


def test_every_model_number_and_need_is_there_with_its_address(client) -> None:
    page = client("stranger").get("/science").text

    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert {f"{each.model}-{each.name}" for each in every_parameter()} <= set(ids)
    assert set(MODELS) <= set(ids)
    assert page.count("<bdi>") >= len(REQUIREMENTS)


def test_what_rings_and_how_far_readings_reach_stand_there_as_they_are_used(client) -> None:
    page = client("stranger").get("/science").text

    for key, value in {
        "rings-heat": HOT_C,
        "rings-heat_hours": HOT_HOURS,
        "rings-high_heat": VERY_HOT_C,
        "rings-high_heat_hours": VERY_HOT_HOURS,
        "rings-frost_above_kill": FREEZING_ABOVE_KILL10_C,
        "rings-frost_hours": FREEZING_HOURS,
        "reach-dial": DIAL_REACHES_HOURS / 24,
        "reach-out_of_store": LONGEST_OUT_HOURS / 24,
        "stuck-readings": STUCK_READINGS,
        "stuck-hours": STUCK_SECONDS / 3600,
        "stuck-hours_coarse": STUCK_SECONDS_COARSE / 3600,
    }.items():
        line = page.partition(f'id="{key}"')[2].partition("</li>")[0]
        assert f"<strong>{value:g}</strong>" in line, key
        assert "judgement" in line, key
    assert "Step-by-step interpretation of 10-day electronic temperature monitoring devices" in page


def test_how_each_group_is_stored_stands_there_with_its_mark_and_source(writer, client) -> None:
    """Against fixtures/reference/storage_limits.csv itself."""
    load_catalogue(writer)
    page = client("stranger").get("/science").text
    lines = [line for line in LIMITS.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]

    for row in csv.DictReader(lines):
        told = unescape(page.partition(f'id="stored-{row["species_group"]}"')[2].partition("</article>")[0])
        for what in ("store_temp", "keep", "freeze"):
            assert f"({row[f'{what}_mark']}) {row[f'{what}_source'] or 'No source is named.'}" in told
        band = f"<strong>{row['store_temp_min_c']} to {row['store_temp_max_c']}</strong> °C".replace("-", "−")
        assert band in told
        assert f"<strong>{row['keep_weeks_min']} to {row['keep_weeks_max']}</strong> weeks" in told
    assert "Hartmann and Kester" in page.partition('id="stored-cherry_sweet"')[2].partition("</article>")[0]
    found = client("member").get("/science", params={"q": "Hartmann"}).text
    assert 'id="stored-almond"' in found and 'id="stored-apple"' not in found


def test_the_api_tells_the_same_to_everybody(client) -> None:
    told = client("stranger").get("/api/science/parameters").json()

    assert {(each["model"], each["name"]): each["value"] for each in told["parameters"]} == {
        **{(each.model, each.name): each.value for each in every_parameter()},
        **{(each.key, each.name): each.value for each in keeping_numbers()},
    }
    assert [each["key"] for each in told["models"]] == list(MODELS)
    assert len(told["needs"]) == len(REQUIREMENTS)
    assert all(each["mark"] for each in told["parameters"])


def test_the_page_and_the_api_list_the_same_numbers_each_with_its_value_mark_and_source(client) -> None:
    page = client("stranger").get("/science").text
    told = client("stranger").get("/api/science/parameters").json()["parameters"]

    shown = set(re.findall(r'<li id="([^"]+)"', page))
    listed = [f"{each['model']}-{each['name']}" for each in told]
    assert len(listed) == len(set(listed)) > 350
    assert set(listed) <= shown
    priced = {"told-cost_steep_low", "told-cost_steep_high", "told-cost_q10_low", "told-cost_q10_high"}
    assert {"rings-warm_hours", "told-silent_steps", *priced} <= shown
    assert {one for one in shown if not one.startswith(("stored-", "source-"))} - set(listed) == set()
    none = {f"{each['model']}-{each['name']}" for each in told if each["value"] is None}
    assert {one.rpartition("-")[2] for one in none} <= {"forcing_days"}  # evergreen wood does not rest
    by_practice = str(Mark.PRACTICE)
    assert [each for each in told if each["mark"] not in set(Mark)] == []
    assert [each for each in told if not each["source"] and each["mark"] != by_practice] == []


# Numbers of keeping that nobody is told by: how much is read or shown at a time.
OF_THE_PROGRAM = {
    "own_limits.MOST_FREEZING_MINUTES": "how long a store’s own limit may be",
    "own_limits.WEEK_HOURS": "rings-heat_days, in hours",
    "doses.REACH_HOURS": "gaps-neighbour_hours and a day",
    "keeping.COARSE_HOURS": "steps in which an end is looked for first",
    "spans.MOST_IN_HOURS": "how a picture is drawn",
}
UNITS = ("_C", "_HOURS", "_DAYS", "_WEEKS", "_MINUTES", "_PCT")


def test_every_number_of_keeping_with_a_unit_is_among_them() -> None:
    """Found by walking the rules: constants with a unit in their name, and a number for a value."""
    listing = (RULES / "numbers.py").read_text(encoding="utf-8")
    missing = []
    for path in sorted(RULES.glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                name = node.targets[0].id
                told = f"{path.stem}.{name}"
                if (
                    name.endswith(UNITS)
                    and not name.startswith("_")
                    and not re.search(rf"\b{name}\b", listing)
                ):
                    missing.append(told)

    assert set(missing) - set(OF_THE_PROGRAM) == set()


def test_what_is_not_used_yet_says_so_and_each_model_names_its_function(client) -> None:
    page = client("stranger").get("/science").text

    unused = [each for each in MODELS.values() if not each.used]
    assert 0 < len(unused) < len(MODELS)
    assert page.count("Not used yet") == len(unused)
    assert all(f"<code>{each.function}</code>" in page for each in MODELS.values())


def test_what_is_looked_for_is_shown_and_nothing_else(client) -> None:
    browser = client("member")

    found, none = (
        browser.get("/science", params={"q": words}).text for words in ("Dynamic", "no such thing")
    )

    assert 'id="dynamic_model-E0"' in found
    assert 'id="group_apple"' not in found
    assert "Nothing of that name is reckoned with." in none


def test_cautions_lead_there_and_the_page_reads_on_a_phone(live_server: str, chromium: Browser) -> None:
    context = chromium.new_context(**PHONE)
    try:
        page = context.new_page()
        page.goto(f"{live_server}/cautions")
        page.get_by_role("link", name="Every model and number").click()
        page.wait_for_url("**/science")
        check_page(page)
    finally:
        context.close()


def test_each_way_to_know_a_number_that_is_explained_is_one_by_which_something_there_is_known(client) -> None:
    page = client("stranger").get("/science").text

    legend = page.partition("How a number is known</h2>")[2].partition("</section>")[0]
    borne = {each.mark for each in (*every_parameter(), *MODELS.values(), *REQUIREMENTS)}
    assert set(re.findall(r"<dt>([^<]+)</dt>", legend)) == set(borne) == set(Mark)
