"""A site saved on a page: what cannot be reckoned where it lies is told at once, and on its own page."""

from __future__ import annotations

import re

from service.members.rules import Role
from tests.bad_input.desk import words_of
from tests.builders.members import make_asker
from tests.builders.trees import make_orchard
from tests.pages.desk import opened, read, send, told_next


def test_pages_tell_it_on_saving_and_the_site_goes_on_telling(as_, writer) -> None:
    orchard, steward = make_orchard(writer, make_asker(writer, Role.STEWARD)), as_(Role.STEWARD)
    page = f"/sites/{orchard.site_id}/edit"

    north = told_next(steward, send(steward, page, opened(steward, page, latitude="69,6", longitude="18,9")))
    south = told_next(
        steward, send(steward, page, opened(steward, page, latitude="−43,5", longitude="172,6"))
    )
    form = opened(steward, "/sites/new", name="Lower meadow", area_id=_an_area(steward))
    new = told_next(steward, send(steward, "/sites/new", form))

    assert "It lies beyond the polar circle." in north
    assert "bring the air by the hour, go by your eyes" in north
    assert "The site is changed." in south and "polar" not in south
    assert "cannot be reckoned" not in words_of(read(steward, f"/sites/{orchard.site_id}"))
    assert "Where it lies is not told, so daylight, winter and chill cannot be reckoned here." in new


def _an_area(steward) -> str:
    found = re.search(r'<option value="([0-9a-f-]{36})"', read(steward, "/sites/new").text)
    assert found
    return found[1]
