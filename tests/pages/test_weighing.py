"""The bag on a scale, on pages: scan, number, save."""

from __future__ import annotations

from service.members.rules import Role
from service.storage import actions, schemas
from tests.bad_input.desk import words_of
from tests.builders.storage import ago, make_bundles, make_ground
from tests.pages.desk import opened, read, send, told_next


def test_a_bundles_bag_is_weighed_from_its_page_and_an_unlikely_weight_is_asked_about_once(as_, writer):
    ground = make_ground(writer)
    (bundle,) = make_bundles(writer, ground)
    first = schemas.WeighingCreate(bundle_id=bundle, grams="400", weighed_at=ago(days=9))
    made = writer.write_now(actions.weigh_bag, ground.host, first)
    host, page = as_(Role.HOST), f"/store/weigh?bundle={bundle}"
    assert page in read(host, f"/bundles/{bundle}").text

    form = opened(host, page, grams="40")
    asked = send(host, "/store/weigh", form)
    assert asked.status_code == 422
    assert "were sticks taken out, or was it mistyped?" in words_of(asked)
    answer = send(host, "/store/weigh", {**form, "grams": "396"})
    assert "396 g written down. Lost 4 g (± 1 g), 1.0 % of its fresh mass or more" in told_next(host, answer)

    back = f"/store/weigh/{made.id}/taken-back"
    told = told_next(host, send(host, back, opened(host, back, why="another bag")))
    assert "crossed out" in told


def test_without_a_code_nothing_is_weighed(as_, writer):
    make_ground(writer)
    host = as_(Role.HOST)

    page = send(host, "/store/weigh", opened(host, "/store/weigh", grams="400"))

    assert page.status_code == 422
    assert "scan or type the code on the bag" in words_of(page).lower()
