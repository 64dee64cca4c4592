"""Days that are typed: late is in order, before the bundle's own day is refused, and a day long ago is asked about once."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from service.collection import queries as collections
from service.lib.paging import Paging
from service.members.rules import PartyKind, Role
from service.storage import queries as storage
from service.tags import actions as tag_actions
from service.tags.schemas import LabelledCutCreate
from tests.bad_input.desk import words_of
from tests.builders.bundles import read_bundle
from tests.builders.members import make_asker, make_party
from tests.builders.storage import ago, make_bundles, make_ground, make_store
from tests.builders.trees import make_orchard, make_tree
from tests.pages.desk import opened, read, send, told_next
from tests.storage.test_counting import tagged

SLIP, PAPER = "/hand-over/slip", "/cut/from-paper"


@pytest.fixture
def steward(writer):
    return make_asker(writer, Role.STEWARD)


@pytest.fixture
def orchard(writer, steward):
    return make_orchard(writer, steward)


def labelled(writer, steward, orchard, done_at: str):
    tree = make_tree(writer, steward, orchard)
    cut = {"tree_id": tree.id, "sticks": 12, "done_at": done_at}
    body = LabelledCutCreate.model_validate({"cut": cut, "bundles": [{"sticks": 12}]})
    return writer.write_now(tag_actions.collect_and_label, steward, [body])[0].bundles[0]


def slip_for(writer, orchard, host, bundle, day: str) -> dict[str, str]:
    guest = make_party(writer, "Old Mr Pettifer", PartyKind.GUEST, area_id=orchard.area_id)
    return opened(host, SLIP, party_id=str(guest.id), day=day, **{"code.1": bundle.code, "sticks.1": "2"})


def test_a_slip_from_before_the_cut_is_refused_at_its_row_and_its_own_day_is_taken(
    as_, writer, steward, orchard, database
):
    bundle, host = labelled(writer, steward, orchard, "2026-02-10T14:30:00Z"), as_(Role.HOST)
    form = slip_for(writer, orchard, host, bundle, "2026-02-09")

    refused = send(host, SLIP, form)
    taken = send(host, SLIP, {**form, "day": "2026-02-10"})

    assert refused.status_code == 409
    assert 'id="sticks.1-wrong"' in refused.text
    assert "was made on 10 February 2026 , and this is said to be done on 9 February 2026" in words_of(
        refused
    )
    assert "The slip is in the record: 2 sticks." in told_next(host, taken)
    assert read_bundle(database, bundle.id).on_hand == 10


def test_a_slip_of_years_ago_is_asked_about_and_stays_refused_where_the_wood_is_younger(
    as_, writer, steward, orchard, database
):
    bundle, host = labelled(writer, steward, orchard, "2026-02-10T14:30:00Z"), as_(Role.HOST)
    form = slip_for(writer, orchard, host, bundle, "2019-02-09")

    asked = send(host, SLIP, form)
    refused = send(host, SLIP, {**form, "sure": "true"})

    assert asked.status_code == 422 and "Is this right?" in words_of(asked)
    assert 'name="sure"' in asked.text and 'name="sure"' not in read(host, SLIP).text
    assert refused.status_code == 409 and "was made on" in words_of(refused)
    assert 'name="sure" value="true" checked' in refused.text
    assert read_bundle(database, bundle.id).on_hand == 12


@pytest.mark.parametrize(("day", "asks"), [("2025-01-10", False), ("2025-01-09", True), ("1930-01-05", True)])
def test_a_pencilled_list_of_more_than_four_hundred_days_ago_is_asked_about_once(
    as_, writer, steward, orchard, database, day, asks
):
    """The club's today is 14 February 2026: 10 January 2025 is 400 days ago."""
    tree, browser = make_tree(writer, steward, orchard), as_(Role.STEWARD)
    address = f"{PAPER}?site={orchard.site_id}"
    form = {**opened(browser, address), "day": day, f"sticks.{tree.id}": "3", "site": str(orchard.site_id)}

    first = send(browser, PAPER, form)
    if asks:
        assert first.status_code == 422
        assert "Is this right?" in words_of(first) and 'name="sure"' in first.text
        assert f'value="{day}"' in first.text and 'value="3"' in first.text
        first = send(browser, PAPER, {**form, "sure": "true"})

    assert first.status_code == 303, words_of(first)
    with database.reading() as session:
        (cut,) = collections.list_collections(session, Paging()).items
    assert str(cut.cut_on) == day


def test_wood_from_outside_cut_long_ago_is_asked_about(as_, writer, orchard, steward, database):
    make_tree(writer, steward, orchard)
    browser = as_(Role.STEWARD)
    form = opened(browser, "/receive", sticks="3", from_whom="A friend", cut_on="1930-01-05", wood="dormant")

    asked = send(browser, "/receive", form)
    sure = send(browser, "/receive", {**form, "sure": "true"})

    assert "Is this right?" in words_of(asked) and 'name="sure"' in asked.text
    assert "Is this right?" not in words_of(sure)


def test_what_was_put_away_earlier_is_entered_with_its_own_time(as_, writer, database):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    (bundle,) = make_bundles(writer, ground, made_at=ago(days=3))
    (code,) = tagged(writer, ground, [bundle])
    host = as_(Role.HOST)
    with database.reading() as session:
        place = storage.store_page(session, store.id).places[0].id
    form = opened(host, "/store/put-away", things=code, into=f"place:{place}", done_at="2026-02-12T09:30")

    early = send(host, "/store/put-away", {**form, "done_at": "2026-02-10T09:30"})
    saved = send(host, "/store/put-away", form)

    assert early.status_code == 409 and 'id="done_at-wrong"' in early.text
    assert "1 bundle put away" in told_next(host, saved)
    with database.reading() as session:
        (stay,) = storage.stays_of(session, bundle)
    assert stay.from_at == datetime(2026, 2, 12, 9, 30, tzinfo=ZoneInfo("Europe/Berlin"))
