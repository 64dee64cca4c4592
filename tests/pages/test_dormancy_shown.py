"""The verdict on how dormant a cut was stands wherever one bundle of it is told of, with the way to the cut."""

from __future__ import annotations

import pytest

from service.collection.queries import cut_dormancy
from service.members.rules import Role
from service.provenance import actions
from service.provenance.schemas import StopOpen
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker, make_session
from tests.pages.desk import read
from tests.provenance.test_cards_tell_how_wood_keeps import Tagged

PAGES = ["/bundles/{bundle}", "/bundles/{bundle}/keeping", "/T/{code}"]


@pytest.fixture
def tagged(database, writer, clock):
    return Tagged(database, writer, clock).until(24 * 10)


def shown(tagged, browser, address):
    answer = read(
        browser(make_session(tagged.writer, tagged.steward)),
        address.format(bundle=tagged.bundle, code=tagged.code),
    )
    assert answer.status_code == 200
    return answer.text, words_of(answer)


@pytest.mark.parametrize("address", PAGES)
def test_a_bundle_tells_how_dormant_its_cut_was(tagged, browser, address):
    with tagged.database.reading() as session:
        verdict = cut_dormancy(session, tagged.ground.collection_id)

    text, told = shown(tagged, browser, address)

    assert f"{verdict.label}. {verdict.sentence}" in told
    assert f'href="/collections/{tagged.ground.collection_id}"' in text


def test_a_stopped_scan_tells_only_the_stop_and_a_strangers_tells_no_cut(tagged, browser):
    stranger = read(browser(), f"/T/{tagged.code}").text
    health = make_asker(tagged.writer, Role.HEALTH_STEWARD)
    tagged.writer.write_now(actions.open_stop, health, StopOpen(reason="health", bundle_id=tagged.bundle))

    text, _ = shown(tagged, browser, "/T/{code}")

    assert "When it was cut" not in text
    assert "When it was cut" not in stranger
    assert "/collections/" not in stranger
