"""What rings in a store, on its page: told with whose each limit is, set by its host, refused where it makes no sense."""

from __future__ import annotations

import pytest

from service.members.rules import Role
from tests.bad_input.desk import words_of
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.members import make_asker, make_session
from tests.builders.storage import ago
from tests.pages.desk import opened, read, send, told_next


@pytest.fixture
def garage(database, writer, clock):
    return Garage(database, writer, clock)


@pytest.fixture
def host(garage, browser, writer):
    return browser(make_session(writer, garage.host))


def test_the_page_tells_what_stands_and_then_what_is_the_stores_own(garage, host):
    address = f"/store/{garage.store.id}/limits"
    page = words_of(read(host, address))
    assert "It rings as every store does" in page
    assert "at or below −6.4 °C for 1 hour" in page
    assert "a tenth of the buds killed at -9.4 °C" in page

    told = told_next(
        host, send(host, address, opened(host, address, heat_c="8", heat_hours="12", cold_c="1"))
    )

    assert "These limits hold from now on" in told
    assert "It has limits of its own" in told
    assert "at 8 °C for 12 hours within 7 days, or at 15 °C for 2 hours" in told
    temperature = words_of(read(host, f"/store/{garage.store.id}/temperature"))
    assert "at 8 °C for 12 hours within 7 days" in temperature
    assert "below 1 °C for 1 hour; in the weekly letter, and nobody is rung this store’s own" in temperature
    form = opened(host, address)
    assert (form["heat_c"], form["heat_hours"], form["high_c"]) == ("8", "12", "")


@pytest.mark.parametrize(
    ("typed", "status", "words"),
    [
        (
            {"freezing_c": "-12"},
            409,
            "At -9.4 °C a tenth of the buds of apple is killed; -12 °C is colder than that.",
        ),
        ({"freezing_c": "11"}, 422, "is not colder than the heat limit"),
        ({"heat_hours": "0"}, 422, "more than none, and 168 at most (a week)"),
        ({"heat_c": "281"}, 422, "281 looks like kelvin"),
        ({"heat_c": "warm"}, 422, "A number"),
    ],
)
def test_what_makes_no_sense_comes_back_as_typed_with_what_to_do(garage, host, typed, status, words):
    address = f"/store/{garage.store.id}/limits"

    answer = send(host, address, opened(host, address, **typed))

    assert answer.status_code == status
    assert words in words_of(answer)
    (value,) = typed.values()
    assert f'value="{value}"' in answer.text


def test_a_form_that_is_older_than_what_stands_is_refused(garage, host):
    address = f"/store/{garage.store.id}/limits"
    older = opened(host, address, heat_c="9")
    send(host, address, opened(host, address, heat_c="8"))

    answer = send(host, address, older)

    assert answer.status_code == 412
    assert "at 8 °C for 10 hours" in words_of(answer)


def test_a_collector_may_not_set_them_unless_for_the_host(garage, browser, writer):
    address = f"/store/{garage.store.id}/limits"
    collector = browser(make_session(writer, make_asker(writer, Role.COLLECTOR)))
    form = opened(collector, address, heat_c="8")
    assert form["on_behalf_of"] == str(garage.host.party_id)

    refused = send(collector, address, {**form, "on_behalf_of": ""})
    told = told_next(collector, send(collector, address, {**opened(collector, address, heat_c="8")}))

    assert refused.status_code == 403
    assert "Only its host, or a steward, sets what rings in a store" in words_of(refused)
    assert "These limits hold from now on" in told


def test_cold_and_silence_stand_on_the_pages_of_the_store_and_of_its_host(garage, host):
    garage.send(
        garage.logger(),
        steady(ago(days=5), 24, 2.0),
        steady(ago(days=4), 10, -1.5),
        steady(ago(hours=86), 40, 2.0),
    )

    temperature = words_of(read(host, f"/store/{garage.store.id}/temperature"))
    assert "−1.5 °C at worst, 10 hours below 0 °C; nobody was rung" in temperature
    for address in ("/my-fridge", f"/store/{garage.store.id}"):
        page = words_of(read(host, address))
        assert "is silent since" in page
        assert "It used to send by itself." in page
    assert "nobody need read anything here" not in words_of(read(host, "/my-fridge"))
