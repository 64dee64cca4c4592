"""A store's weeks as a picture, with words and a table that say the same."""

from __future__ import annotations

from service.members.rules import Role
from service.storage import actions, schemas
from tests.bad_input.desk import words_of
from tests.builders.storage import ago, make_ground, make_store
from tests.pages.desk import read


def test_a_picture_says_in_words_and_a_table_what_it_shows(as_, writer):
    ground = make_ground(writer)
    store = make_store(writer, ground)
    host = as_(Role.HOST)
    assert "Nothing was measured" in words_of(read(host, f"/store/{store.id}/temperature"))
    for days, highest in ((9, "4"), (2, "7.5")):
        told = {"now": "3", "lowest": "1", "highest": highest, "read_at": ago(days=days)}
        body = schemas.DialReadingCreate(store_id=store.id, **told)
        writer.write_now(actions.read_dial, ground.host, body)

    page = read(host, f"/store/{store.id}/temperature")

    assert (
        '<desc id="temps-d">From 1.0 to 7.5 °C on 2 of 42 days; 1 of them outside 0 to 4.4 °C.' in page.text
    )
    assert page.text.count("url(#temps-hatch)") == 1
    assert page.text.count("nothing measured") == 40
