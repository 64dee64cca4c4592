"""The pages that put something right in a real browser: fit for a phone by day and by dusk, and whole without a script."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from service.members.signin import SESSION_COOKIE
from tests.builders.bundles import moves_of
from tests.builders.provenance import Yard, make_yard
from tests.infra.browser_checks import PHONE, check_page

pytestmark = pytest.mark.databases("sqlite")


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def in_hand(chromium: Browser, live_server: str, cast) -> Iterator:
    """An administrator's phone, with or without scripts: `in_hand(script=False)`."""
    contexts = []

    def of(*, script: bool = True, scheme: str = "light") -> Page:
        context = chromium.new_context(
            **PHONE, java_script_enabled=script, color_scheme=scheme, base_url=live_server
        )
        context.add_cookies([{"name": SESSION_COOKIE, "value": cast.token("administrator"), "url": live_server}])  # fmt: skip
        contexts.append(context)
        return context.new_page()

    yield of
    for context in contexts:
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_that_puts_something_right_has_a_known_fault(yard, in_hand, scheme):
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    (sick,) = yard.cut(3)
    stop = yard.stop(bundle_id=sick.id).stop
    plant = f"/plants/{graft.plants[0].id}"
    cut = f"/collections/{bundle.collection_id}"
    page = in_hand(scheme=scheme)

    for path in (f"/grafts/{graft.id}/taken-back", plant, f"{plant}/pass-on", f"/trees/{yard.tree_id}/name",
                 f"/trees/{yard.tree_id}/name?what=topworked", f"/trees/{yard.tree_id}", cut, f"{cut}/time",
                 f"/stops/{stop.id}"):  # fmt: skip
        page.goto(path)
        check_page(page)
        expect(page.locator("h1")).to_be_visible()


def test_only_what_belongs_to_the_choice_is_shown(yard, in_hand):
    plant = yard.graft(yard.cut(8)[0].id).plants[0]
    page = in_hand()
    page.goto(f"/plants/{plant.id}/pass-on")
    who, outside = page.locator("[name=party_id]"), page.locator("[name=to_whom]")

    shown = [(who.is_visible(), outside.is_visible())]
    for way in ("given_outside", "died"):
        page.locator(f".chip:has([value={way}])").tap()
        shown.append((who.is_visible(), outside.is_visible()))

    assert shown == [(True, False), (False, True), (False, False)]
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("h1")).to_contain_text("it died")


def test_everything_is_there_without_a_script(yard, in_hand):
    (bundle,) = yard.cut(8)
    plant = yard.graft(bundle.id).plants[0]
    page = in_hand(script=False)

    page.goto(f"/plants/{plant.id}")
    page.get_by_role("link", name="Pass it on, or it died").tap()
    page.locator(".chip:has([value=given_outside])").tap()
    page.fill("[name=to_whom]", "the fair at Weir End")
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("[role=status]")).to_contain_text("Given outside the club: the fair at Weir End.")

    page.goto(f"/trees/{yard.tree_id}")
    page.get_by_role("link", name="The name is wrong").tap()
    page.fill("[name=name_as_told]", "Bramley")
    page.fill("[name=reason]", "compared in fruit")
    page.get_by_role("button", name="Put the name right").tap()
    expect(page.locator("[role=status]")).to_contain_text("It is called ‘Bramley’ now.")

    page.goto(f"/bundles/{bundle.id}")
    page.get_by_role("link", name="its time is wrong").tap()
    page.fill("[name=done_at]", "2026-01-09T10:00")
    page.fill("[name=reason]", "entered a month late")
    page.get_by_role("button", name="Put the time right").tap()
    expect(page.locator("[role=status]")).to_contain_text("The time is put right.")


def test_a_hasty_second_tap_takes_a_graft_back_once(yard, in_hand):
    graft = yard.graft(yard.cut(8)[0].id)
    page = in_hand()
    page.goto(f"/grafts/{graft.id}")
    page.get_by_role("link", name="This graft was recorded by mistake").tap()
    page.fill("[name=reason]", "the wrong tag")

    page.get_by_role("button", name="Take the graft back").dblclick()

    expect(page.locator("h1")).to_contain_text("Recorded by mistake")
    moves = [move.kind for move in moves_of(yard.database, graft.woods[0].bundle_id)]
    assert moves.count("graft_undone") == 1
    page.go_back()  # the form is not kept: what stands is asked for anew
    expect(page.locator("main")).to_contain_text("This graft was taken back before")
