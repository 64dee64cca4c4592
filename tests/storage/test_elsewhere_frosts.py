"""A bundle in a store whose thermometer kept a frost in mind: it counts there as it does where wood lies."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.storage import actions, schemas
from tests.storage.test_elsewhere import Garages


@pytest.fixture
def garages(database, writer, clock):
    found = Garages(database, writer, clock)
    found.until(24 * 21).hourly([4.0] * 24 * 21)
    return found


def read(garages, store, days, now, lowest=None):
    body = schemas.DialReadingCreate(
        store_id=store.id, now=now, lowest=lowest, reset_done=True, sure=True, read_at=garages.clock.at - timedelta(days=days)
    )  # fmt: skip
    garages.writer.write_now(actions.read_dial, garages.host, body)


def test_a_frost_kept_in_mind_counts_in_another_store_and_it_is_not_proposed(garages):
    frosty, mild = (
        garages.beside("Frosty shed", kind="cold_room"),
        garages.beside("Mild shed", kind="cold_room"),
    )
    for store in (frosty, mild):
        read(garages, store, 6.5, "2")
        read(garages, store, 0.5, "2", "-30" if store is frosty else "1.5")

    _, by_name = garages.compared()

    there, other = by_name["Frosty shed"], by_name["Mild shed"]
    assert "had kept −30 °C in mind" in there.not_proposed
    assert other.not_proposed == ""
    assert there.keeps_until < other.keeps_until
    assert [one.words for one in there.inputs if one.what == "remembered frost"] == ["down to −30 °C"]
    assert not [one for one in other.inputs if one.what == "remembered frost"]


def test_a_frost_of_before_the_last_week_or_of_nobody_knows_when_does_not_bar_a_store(garages):
    before, unknown = (
        garages.beside("Old frost", kind="cold_room"),
        garages.beside("First look", kind="cold_room"),
    )
    read(garages, before, 20, "2")
    read(garages, before, 12, "2", "-8")
    read(garages, before, 1, "2", "1.5")
    read(garages, unknown, 1, "2", "-8")

    _, by_name = garages.compared()

    assert (by_name["Old frost"].not_proposed, by_name["First look"].not_proposed) == ("", "")
    assert [one.words for one in by_name["First look"].inputs if one.what == "remembered frost"] == [
        "down to −8 °C"
    ]
