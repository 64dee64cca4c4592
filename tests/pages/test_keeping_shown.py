"""How wood keeps stands wherever a bundle is shown: the look and its usual time, then a range of days and why."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select, update

from service.bundles.tables import Bundle
from service.storage import actions, schemas
from service.storage.queries.keeping import kept_keeping
from tests.bad_input.desk import words_of
from tests.builders.members import make_session
from tests.builders.storage import put, run, stop_bundles
from tests.pages.desk import read
from tests.storage.test_keeping import Shelf

LOOK, USUAL, RANGE = (
    "Nobody has looked at it yet.",
    "Usually kept until ",
    "below three quarters ",
)
LISTS = [
    "/",
    "/look-up?q=7C0D",
    "/trees/{tree}",
    "/store/{store}",
    "/hand-over",
    "/collections/{cut}",
    "/bench",
]
OF_ONE = ["/hand-over/{bundle}", "/bench/graft/{bundle}", "/store/look/{bundle}"]


@pytest.fixture
def shelf(database, writer, clock):
    """A bundle under its tag, of which it was reckoned how it keeps."""
    found = Shelf(database, writer, clock)
    found.until(720).hourly([4.0] * 720)
    run(
        found.writer,
        lambda session: session.execute(
            update(Bundle).where(Bundle.id == found.bundle).values(code="7C0DE2AB")
        ),
    )
    return found


def shown(shelf, browser, address):
    names = {
        "tree": shelf.ground.tree_id, "store": shelf.store.id, "cut": shelf.ground.collection_id, "bundle": shelf.bundle,
    }  # fmt: skip
    page = browser(make_session(shelf.writer, shelf.steward))
    answer = read(page, address.format(**names))
    assert answer.status_code == 200
    return answer, words_of(answer)


def held_by_steward(session, shelf):
    session.execute(update(Bundle).where(Bundle.id == shelf.bundle).values(holder_id=shelf.steward.party_id))


@pytest.mark.parametrize("address", LISTS + OF_ONE)
def test_every_page_that_shows_a_bundle_tells_how_it_keeps(shelf, browser, address):
    if address == "/bench":
        run(shelf.writer, held_by_steward, shelf)
    with shelf.database.reading() as session:
        kept = kept_keeping(session, shelf.bundle)

    answer, told = shown(shelf, browser, address)

    said = told[told.index(LOOK) :]
    assert 0 < said.index(USUAL) < said.index(RANGE), said[:400]
    assert re.search(r"Some \d+ \((\d+–\d+|within one)\) of 100 fit so far \([a-z -]+ temperatures[;)]", said)
    assert f": {kept.limits_then}." in said
    assert f'<time datetime="{kept.keeps_from}">' in answer.text
    assert f'<time datetime="{kept.keeps_to}">' in answer.text


@pytest.mark.parametrize("address", [one for one in LISTS if one not in ("/hand-over", "/bench")] + OF_ONE)
def test_of_stopped_wood_only_the_stop_is_told(shelf, browser, address):
    with shelf.database.reading() as session:
        every = list(session.scalars(select(Bundle.id)))
    stop_bundles(shelf.writer, shelf.ground, every)

    _, told = shown(shelf, browser, address)

    assert "stopped" in told.lower()
    assert USUAL not in told and RANGE not in told


def test_a_child_tells_it_on_the_page_of_what_it_was_split_from(shelf, browser):
    run(
        shelf.writer,
        lambda session: session.execute(
            update(Bundle).where(Bundle.id != shelf.bundle).values(parent_id=shelf.bundle)
        ),
    )

    _, told = shown(shelf, browser, "/bundles/{bundle}")

    child = told.partition("Passed on or split off")[2].partition("Will it live?")[0]
    assert child.index(LOOK) < child.index(USUAL)


def test_a_box_tells_it_of_all_that_lies_in_it(shelf, browser):
    place = shelf.store.places[0].id
    box = shelf.writer.write_now(
        actions.add_box, shelf.ground.host, schemas.BoxCreate(name="Blue crate", place_id=place)
    )
    put(
        shelf.writer,
        shelf.ground.host,
        {"bundle_id": shelf.bundle, "into_box_id": box.id, "done_at": shelf.clock.at},
    )

    _, told = shown(shelf, browser, f"/store/box/{box.id}")

    assert told.index(LOOK) < told.index(USUAL) < told.index(RANGE)


@pytest.mark.parametrize("address", ["/store/{store}", "/use-first", "/hand-over"])
def test_one_end_never_stands_alone(shelf, browser, address):
    """Words of a club that was told one day where the record knew three to eight weeks."""
    _, told = shown(shelf, browser, address)

    assert not re.search(r"(left|age|keeps) until \d", told)
