"""The page of a stop: what it binds, one by one, and what is let go of it while it goes on."""

from __future__ import annotations

import re

import pytest

from tests.bad_input.desk import check_page, typed_in, words_of
from tests.builders.bundles import read_bundle
from tests.builders.provenance import Yard, make_yard
from tests.pages.desk import fresh, read, send, told_next

WHO = ["member", "collector", "host", "steward", "health_steward", "administrator"]


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def bound(yard):
    """A stop that binds three bundles, what was split from the first, and a plant of the second."""
    first, second, third = yard.cut(8, 5, 3)
    child = yard.hand_over(first.id, 2, yard.cast.guest_id)
    plant = yard.graft(second.id).plants[0]
    return yard.stop().stop.id, first, second, third, child, plant


def release(browser, stop_id, *ticked, reason: str = "cut of tree 9, the tag shows it"):
    form = {**fresh(read(browser, f"/stops/{stop_id}")), "bundle_ids": [str(one) for one in ticked]}
    return send(browser, f"/stops/{stop_id}/release", {**form, "reason": reason})


def test_several_are_released_at_once_and_what_stays_bound_is_said(yard, client, bound):
    stop_id, first, second, third, child, plant = bound
    health = client("health_steward")

    after = told_next(health, release(health, stop_id, second.id, third.id))

    assert "Released. Still bound: 2 bundles, 1 tree." in after  # the plant came of the second alone
    assert "2 bundles (8 sticks on hand), 0 plants, 1 tree bound." in after
    assert [read_bundle(yard.database, one.id).stopped for one in (first, child, second, third)] == [True, True, False, False]  # fmt: skip
    gone = after.partition("Let go while the stop went on")[2]
    assert f"{second.code[:4]} {second.code[4:]} by Orla Penn : cut of tree 9, the tag shows it" in gone
    assert f"Plant {plant.number} by Orla Penn" in gone


def test_what_is_bound_is_listed_with_what_it_was_split_from(yard, client, bound):
    stop_id, first, second, third, child, plant = bound
    health = client("health_steward")

    page = read(health, f"/stops/{stop_id}")

    ticks = re.findall(r'name="bundle_ids" value="([^"]+)"', page.text.partition("What it binds")[2])
    told = words_of(page)
    assert set(ticks) == {str(one.id) for one in (first, second, third, child)}
    assert ticks.index(str(first.id)) < ticks.index(str(child.id))
    assert f"with Pia Holm, split from {first.code[:4]} {first.code[4:]}." in told
    assert f"Plant {plant.number}" in told
    assert "where it was found" in told


def test_a_piece_cannot_go_while_the_whole_stays_and_the_ticks_are_kept(yard, client, bound):
    stop_id, _, _, third, child, _ = bound
    health = client("health_steward")

    refused = release(health, stop_id, child.id, third.id)

    check_page(refused, 409, "The bundle it was split from is bound still", "Nothing was written.",
               keeps={"bundle_ids": str(child.id), "reason": "cut of tree 9, the tag shows it"})  # fmt: skip
    assert str(third.id) in typed_in(refused.text)["bundle_ids"]
    assert read_bundle(yard.database, third.id).stopped


def test_nothing_ticked_or_no_reason_is_told_at_the_field(yard, client, bound):
    stop_id, _, _, third, *_ = bound
    health = client("health_steward")

    nothing, no_reason = release(health, stop_id), release(health, stop_id, third.id, reason="")

    check_page(nothing, 422, "Tick at least one bundle.", at="bundle_ids", keeps={"reason": "cut of tree 9, the tag shows it"})  # fmt: skip
    check_page(no_reason, 422, at="reason", keeps={"bundle_ids": str(third.id)})
    assert read_bundle(yard.database, third.id).stopped


def test_a_form_sent_twice_releases_once_and_one_opened_before_is_refused(yard, client, bound):
    stop_id, _, _, third, *_ = bound
    health = client("health_steward")
    page = read(health, f"/stops/{stop_id}")
    form = {**fresh(page), "bundle_ids": str(third.id), "reason": "another tree's"}

    first, again = (send(health, f"/stops/{stop_id}/release", form) for _ in range(2))
    later = release(health, stop_id, third.id)

    assert (first.status_code, again.status_code) == (303, 303)
    check_page(later, 409, "This stop binds none of these bundles", "Read the stop again")
    page = words_of(read(health, f"/stops/{stop_id}"))
    assert page.partition("Let go")[2].count("another tree's") == 1


@pytest.mark.parametrize("who", WHO)
def test_ticks_are_shown_to_who_may_release_and_the_list_to_every_member(yard, client, bound, who):
    stop_id, first, _, third, _, plant = bound
    page = read(client(who), f"/stops/{stop_id}").text

    sent = release(client(who), stop_id, third.id)

    assert (f"/stops/{stop_id}/release" in page) == (sent.status_code == 303)
    assert f"/bundles/{first.id}" in page or str(first.id) in page
    assert ("Pia Holm" in page) == (who != "member")
    assert (f"/plants/{plant.id}" in page) == (who != "member")


def test_a_cleared_stop_offers_nothing_to_release(yard, client, bound):
    stop_id, *_ = bound
    health = client("health_steward")
    step = {**fresh(read(health, f"/stops/{stop_id}")), "step": "clear", "note": "the laboratory found nothing"}  # fmt: skip

    after = told_next(health, send(health, f"/stops/{stop_id}/step", step))

    assert "Nothing any more: it was cleared." in after
    assert "Release what is ticked" not in after


def test_a_long_list_goes_on_over_pages(yard, client, writer):
    for _ in range(5):
        yard.cut(*[1] * 41)
    stop_id = yard.stop().stop.id
    health = client("health_steward")

    first = read(health, f"/stops/{stop_id}").text
    following = re.search(r'href="(/stops/[^"]+cursor=[^"]+)"', first)
    assert following is not None
    second = read(health, following[1].replace("&amp;", "&")).text

    ticks = [re.findall(r'name="bundle_ids" value="([^"]+)"', page) for page in (first, second)]
    assert [len(each) for each in ticks] == [200, 5]
    assert not set(ticks[0]) & set(ticks[1])
