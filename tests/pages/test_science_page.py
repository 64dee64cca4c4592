"""The page of models and numbers: all of them, each with its address, for everybody; against the tables the functions read."""

from __future__ import annotations

import re

from playwright.sync_api import Browser

from service.science.parameters import MODELS, Mark, every_parameter
from service.science.requirements import REQUIREMENTS
from tests.infra.browser_checks import PHONE, check_page


def test_every_model_number_and_need_is_there_with_its_address(client) -> None:
    page = client("stranger").get("/science").text

    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert {f"{each.model}-{each.name}" for each in every_parameter()} <= set(ids)
    assert set(MODELS) <= set(ids)
    assert page.count("<bdi>") >= len(REQUIREMENTS)


def test_the_api_tells_the_same_to_everybody(client) -> None:
    told = client("stranger").get("/api/science/parameters").json()

    assert {(each["model"], each["name"]): each["value"] for each in told["parameters"]} == {
        (each.model, each.name): each.value for each in every_parameter()
    }
    assert [each["key"] for each in told["models"]] == list(MODELS)
    assert len(told["needs"]) == len(REQUIREMENTS)
    assert all(each["mark"] for each in told["parameters"])


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
