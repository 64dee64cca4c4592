"""Without reception: the three forms, and what a tag says out of what was taken along."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from service.lib.codes import group_code
from service.tags import actions as tags
from service.tags.schemas import TagCreate
from tests.builders.provenance import Yard
from tests.builders.tags import make_codes
from tests.builders.trees import make_tree
from tests.conftest import TODAY
from tests.pages.out import (
    blanks,
    cut,
    entries,
    look,
    online,
    open_form,
    say,
    sticks_cut,
    take_along,
    waits,
)

pytestmark = pytest.mark.databases("sqlite")


# -- the three forms --------------------------------------------------------------------------------------------------


def test_a_look_and_a_tie_are_sent_in_the_order_in_which_they_were_written(out: Page, yard: Yard) -> None:
    first, second = blanks(yard, 2)
    (bundle,) = yard.cut(12)
    take_along(out)
    online(out, reception=False)
    cut(out, 5)
    waits(out, 1)
    open_form(out, "tie")
    form = out.locator("form[data-deed=tie]")
    form.locator("[name=code]").fill(first)
    form.locator("[name=onto_code]").fill(group_code(bundle.code))
    form.get_by_role("button", name="Keep it").click()
    waits(out, 2)
    look(out, bundle.code, grams="412,5")
    waits(out, 3)

    online(out)

    expect(out.locator("#sent li")).to_have_count(3)
    assert yard.scan(first).card["code"] == bundle.code
    assert yard.scan(bundle.code).card["last_look"]["words"] == "The buds were swelling."
    assert yard.scan(second).answer == "This is a tag of this club, bound to nothing yet."


def test_blanks_are_tied_to_a_cut_that_waits_and_to_a_tree(out: Page, yard: Yard) -> None:
    first, second = blanks(yard, 2)
    take_along(out)
    online(out, reception=False)
    cut(out, 5)
    waits(out, 1)
    open_form(out, "tie")
    form = out.locator("form[data-deed=tie]")
    for place, (code, onto) in enumerate(((first, "bundle:"), (second, "tree:")), start=2):
        expect(form).not_to_have_attribute("data-busy", "true")
        form.locator("[name=code]").fill(code)
        value = form.locator(f"[name=onto] option[value^='{onto}']").get_attribute("value")
        form.locator("[name=onto]").select_option(value)
        form.get_by_role("button", name="Keep it").click()
        waits(out, place)

    online(out)

    expect(out.locator("#sent li")).to_have_count(3)
    assert yard.scan(first).answer.startswith("This is ‘Gala’, apple: dormant wood")
    assert yard.scan(second).answer.startswith("This is tree 1")


def test_a_blank_used_twice_on_one_phone_is_told_at_once(out: Page, yard: Yard) -> None:
    (code,) = blanks(yard, 1)
    take_along(out)
    online(out, reception=False)
    cut(out, 5, code=code)
    waits(out, 1)

    cut(out, 6, code=code)

    expect(out.locator("form[data-deed=cut] [data-wrong]")).to_contain_text("is used here already")
    waits(out, 1)


def test_the_trees_tag_chooses_the_tree_and_the_next_one_is_the_blank(out: Page, yard: Yard) -> None:
    (code,) = blanks(yard, 1)
    (tag,) = yard.writer.write_now(
        tags.add_tags, yard.cast.steward, [TagCreate(kind="tree", thing_id=yard.tree_id)]
    )
    take_along(out)
    open_form(out, "cut")
    form = out.locator("form[data-deed=cut]")

    form.locator("[name=any_code]").fill(f"HTTPS://TAGS.CLUB.EXAMPLE/T/{tag.code}")
    form.locator("[name=any_code]").fill(code)

    expect(form.locator("[name=tree_id]")).to_have_value(str(yard.tree_id))
    expect(form.locator("[name=code]")).to_have_value(code)


# -- what was taken along ---------------------------------------------------------------------------------------------


def test_a_tag_answers_from_the_phone_with_its_age(out: Page, yard: Yard, live_server: str) -> None:
    (bundle,) = yard.cut(8)
    take_along(out)
    out.context.clock.set_system_time(TODAY + timedelta(days=3, hours=1))
    online(out, reception=False)

    out.goto(f"{live_server}/T/{bundle.code}")

    answer = out.locator("#answer")
    expect(answer).to_contain_text("As of 3 days ago, from this phone")
    expect(answer).to_contain_text(yard.scan(bundle.code).answer)
    expect(answer.locator("time").first).to_have_attribute("datetime", "2026-02-14")
    say(out, bundle.code.lower())
    expect(answer).to_contain_text("8 sticks are on hand")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("HTTPS://TAGS.OTHER.EXAMPLE/T/00000001", "a code of tags.other.example, not of this club"),
        ("0000", "A code has 8 signs; this has 4"),
        ("0000 000!", "The sign “!” is in no code: look at sign 8"),
        ("0000 0000", "one of its signs is wrong"),
        (make_codes(1, seed=77)[0], "not among those taken along"),
    ],
)
def test_what_is_no_tag_of_ours_is_told_as_such(out: Page, typed: str, told: str) -> None:
    take_along(out)
    say(out, typed)

    expect(out.locator("#answer")).to_contain_text(told)


def test_a_pack_of_last_season_says_names_and_nothing_else(out: Page, yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    take_along(out)
    out.context.clock.set_system_time(TODAY + timedelta(days=330))
    online(out, reception=False)
    out.reload()
    say(out, bundle.code)

    answer = out.locator("#answer")
    expect(answer).to_contain_text("‘Gala’, apple.")
    expect(answer).to_contain_text("they are of last season")
    assert "on hand" not in answer.inner_text()
    expect(out.locator("[data-age]")).to_contain_text("say names only")


def test_a_stopped_tree_refuses_to_be_cut_without_reception(out: Page, yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.stop()
    take_along(out)
    online(out, reception=False)
    out.reload()

    open_form(out, "cut")
    form = out.locator("form[data-deed=cut]")
    form.locator("[name=sticks]").fill("4")
    form.locator("[name=tree_id]").select_option(index=1)

    expect(form.locator(".stop-banner")).to_contain_text("Cut nothing: a disease or pest is suspected")
    expect(form.get_by_role("button", name="Keep it")).to_be_hidden()
    form.evaluate("(form) => form.requestSubmit()")
    expect(form.locator("[data-wrong]")).to_contain_text("Cut nothing")
    assert entries(out) == []
    say(out, bundle.code)
    expect(out.locator("#answer .stop-banner")).to_contain_text("Do not use this wood")


def test_a_cut_made_before_a_stop_was_known_is_mended_as_already_cut(out: Page, yard: Yard) -> None:
    take_along(out)
    online(out, reception=False)
    yard.stop()
    cut(out, 4)
    waits(out, 1)
    online(out)

    refused = out.locator("#waiting li.refused")
    expect(refused).to_contain_text("stopped")
    refused.get_by_role("button", name="Mend it").click()
    form = out.locator("form[data-deed=cut]")
    form.get_by_text("The wood is cut already").click()
    form.get_by_role("button", name="Keep it").click()

    expect(out.locator("#sent li")).to_have_count(1)
    assert sticks_cut(yard) == [4]


def test_the_owner_is_asked_without_reception_too(out: Page, yard: Yard, writer, cast) -> None:
    make_tree(writer, cast.steward, yard.orchard, may_cut="ask", owner_id=cast.member.party_id)
    take_along(out)
    form = out.locator("form[data-deed=cut]")
    open_form(out, "cut")
    form.locator("[name=tree_id]").select_option(index=2)
    form.locator("[name=sticks]").fill("3")

    form.get_by_role("button", name="Keep it").click()

    expect(form.locator("[data-wrong]")).to_contain_text("Its owner is to be asked before each cut")
    expect(form.locator("[name=owner_agreed]")).to_be_focused()
