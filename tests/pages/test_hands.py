"""Real taps on a phone, on the demo's pages: what gloves, a queue and a muddy thumb can do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from service.cli.demonstrating import load_demo
from service.cli.season import DEMO_DIR, read_settings
from tests.infra.demo import kept_demo
from tests.infra.web import live

PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
_TOLD = read_settings(DEMO_DIR)
PASSWORD = str(_TOLD["club"].get("password") or _TOLD.get("password"))
LEAST = 48  # CSS px: the touch target that Android's accessibility guidance recommends (48 dp), from memory


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("demo")
    with live(load_demo(kept_demo(folder)).app) as address:
        yield address


@pytest.fixture
def hand(demo: str, chromium: Browser) -> Iterator[Page]:
    """A collector's phone at the start page."""
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    page.goto(f"{demo}/sign-in")
    page.fill("[name=name]", "wenna")
    page.fill("[name=password]", PASSWORD)
    page.locator("main button[type=submit]").tap()
    expect(page.locator(".head.known")).to_be_visible()
    yield page
    context.close()


class Taps:
    """Counts the taps, and lets nothing smaller than a finger be tapped."""

    def __init__(self) -> None:
        self.count = 0

    def on(self, what: Locator) -> None:
        what.scroll_into_view_if_needed()
        box = what.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= LEAST, f"{what} is {box}"
        what.tap()
        self.count += 1


def chip(page: Page, name: str, value: str) -> Locator:
    return page.locator(f".chip:has([name={name}][value={value}])")


def open_tree(page: Page, number: int) -> Locator:
    return page.locator(".row", has=page.locator(".row-count", has_text=re.compile(rf"^\s*{number}\s*$")))


def cut(page: Page, taps: Taps, tree: int, more: int = 0) -> None:
    taps.on(open_tree(page, tree))
    for _ in range(more):
        taps.on(page.get_by_role("button", name="One more"))
    taps.on(chip(page, "stage", "tight"))
    taps.on(chip(page, "disinfected", "true"))
    taps.on(page.get_by_role("button", name="Cut, and give it a code"))
    expect(page.locator("h1")).to_contain_text("Saved")


def test_the_second_bundle_of_a_round_takes_twelve_taps_at_most_and_nothing_typed(hand: Page) -> None:
    hand.goto(f"{hand.url.rstrip('/')}/cut")
    cut(hand, Taps(), 1, more=2)
    taps = Taps()

    taps.on(hand.get_by_role("link", name="Next tree"))
    cut(hand, taps, 3)

    assert taps.count <= 12
    # As many sticks as of the tree before were offered, and nothing was typed.
    expect(hand.locator("main")).to_contain_text("12 sticks")
    assert hand.locator(".code-large").count() == 1


@pytest.mark.parametrize("stage", ["tight", "swelling", "green"])
def test_each_bud_stage_can_be_tapped(hand: Page, stage: str) -> None:
    hand.goto(f"{hand.url.rstrip('/')}/cut")
    open_tree(hand, 5).tap()

    Taps().on(chip(hand, "stage", stage))

    assert hand.locator("[name=stage]:checked").get_attribute("value") == stage


def test_bud_stages_can_be_chosen_with_the_keyboard_alone(hand: Page) -> None:
    hand.goto(f"{hand.url.rstrip('/')}/cut")
    open_tree(hand, 5).tap()
    hand.locator("[name=stage][value=tight]").focus()

    hand.keyboard.press("Space")
    hand.keyboard.press("ArrowRight")

    assert hand.locator("[name=stage]:checked").get_attribute("value") == "swelling"
    ring = hand.locator(".chip:has([name=stage][value=swelling]) > span")
    assert ring.evaluate("one => getComputedStyle(one).outlineStyle") == "solid"


def test_a_stop_is_told_as_a_sentence_with_its_date(hand: Page) -> None:
    hand.goto(f"{hand.url.rstrip('/')}/trees?q=11")
    open_tree(hand, 11).tap()

    said = hand.locator(".stop-banner strong").first

    assert re.fullmatch(r"[A-Z].* since \d{1,2} [A-Z][a-z]+ \d{4}\.", said.inner_text())
    assert said.locator("time").get_attribute("datetime") == "2026-02-19"


def test_three_signs_of_a_tag_or_a_piece_of_a_name_find_it_from_any_page(hand: Page) -> None:
    hand.goto(f"{hand.url.rstrip('/')}/hand-over")
    tag = hand.locator(".row-more").first.inner_text().split()[0]

    hand.fill(".head [name=q]", tag[:4])
    hand.keyboard.press("Enter")

    expect(hand.get_by_role("heading", name="Tags with these signs")).to_be_visible()
    expect(hand.locator(".row-more", has_text=tag).first).to_be_visible()
    hand.fill(".head [name=q]", "pettif")
    hand.keyboard.press("Enter")
    expect(hand.get_by_role("link", name="Old Mr Pettifer").first).to_be_visible()


def test_a_page_that_leads_nowhere_knows_who_is_signed_in(hand: Page) -> None:
    hand.goto(f"{hand.url.rstrip('/')}/no-such-page")

    expect(hand.locator("h1")).to_contain_text("no such")
    assert hand.get_by_role("link", name="Sign in").count() == 0
    expect(hand.get_by_role("button", name="Menu")).to_be_visible()
