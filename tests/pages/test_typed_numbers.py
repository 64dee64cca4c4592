"""Numbers as people type them: a comma, a proper minus sign, blanks; in °C and °F, and the same on a scale."""

from __future__ import annotations

import pytest

from service.lib.temperatures import plain_number
from service.members.rules import Role
from service.storage import queries
from service.storage.schemas import DialReadingCreate, WeighingCreate
from tests.bad_input.desk import words_of
from tests.builders.storage import make_bundles, make_ground, make_store
from tests.pages.desk import opened, send, told_next


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("−3,5", "-3.5"), ("-3,5", "-3.5"), ("–3.5", "-3.5"), ("− 3,5", "-3.5"), ("3\u202f,5", "3.5"), ("38", "38"),
        ("1,2,3", "1,2,3"), ("1,234.5", "1,234.5"), ("cold", "cold"), ("", ""),
    ],
)  # fmt: skip
def test_a_number_is_read_as_it_is_typed_and_what_is_none_stays_as_it_was(typed: str, read: str) -> None:
    assert plain_number(typed) == read


@pytest.mark.parametrize(
    ("unit", "now", "lowest", "frost_c"),
    [("C", "1,5", "−4,25", -4.25), ("F", "34,7", "24,35", -4.25), ("F", "30", "−0,5", -18.06), ("C", "2.5", "-4.25", -4.25)],
)  # fmt: skip
def test_a_frost_read_by_hand_counts_however_it_was_typed(
    as_, writer, database, unit, now, lowest, frost_c
) -> None:
    store = make_store(writer, make_ground(writer), "Far cellar")
    host = as_(Role.HOST)
    form = opened(host, f"/my-fridge?store={store.id}", now=now, lowest=lowest, unit=unit, sure="true")

    told = told_next(host, send(host, "/my-fridge", form))

    assert "The reading is written down." in told
    with database.reading() as session:
        assert queries.last_dials(session, [store.id])[store.id].lowest_c == pytest.approx(frost_c, abs=0.01)


def test_a_bag_is_weighed_with_a_comma_and_two_of_them_are_refused(as_, writer) -> None:
    (bundle,) = make_bundles(writer, make_ground(writer))
    host = as_(Role.HOST)
    form = opened(host, f"/store/weigh?bundle={bundle}", grams="395,5")

    refused = send(host, "/store/weigh", {**form, "grams": "39,5,5"})
    taken = told_next(host, send(host, "/store/weigh", form))

    assert refused.status_code == 422
    assert "A number." in words_of(refused)
    assert "395.5 g written down." in taken


def test_a_program_may_send_them_so_too() -> None:
    store = {"store_id": "00000000-0000-0000-0000-000000000001"}

    dial = DialReadingCreate.model_validate({**store, "lowest": "−4,25"})
    bag = WeighingCreate.model_validate({"bundle_id": store["store_id"], "grams": "395,5"})

    assert (float(dial.lowest or 0), float(bag.grams)) == (-4.25, 395.5)
