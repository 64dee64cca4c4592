"""Where a site lies decides what can be reckoned there; what cannot is told when it is saved, with what to do."""

from __future__ import annotations

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.trees import actions, queries
from service.trees.rules.seeing import saved_words, site_warnings
from service.trees.schemas import SiteCreate, SiteUpdate
from tests.builders.trees import Orchard
from tests.infra.cast import Cast


@pytest.mark.parametrize(
    ("latitude", "says"),
    [
        (None, "not told"), (66.6, "polar circle"), (-78.0, "polar circle"), (90.0, "polar circle"), (23.5, "tropics"), (0.0, "tropics"),
        (66.5, ""), (51.2, ""), (-43.5, ""), (23.6, ""),
    ],
)  # fmt: skip
def test_what_cannot_be_reckoned_is_told_by_the_latitude(latitude: float | None, says: str) -> None:
    """Circles: 90° less the tilt of the axis, 23.5° (common knowledge of astronomy, rounded)."""
    found = site_warnings(latitude)

    assert len(found) == bool(says)
    assert all(says in words and "your eyes" in words for words in found)
    assert len(saved_words("The site is in the record. Its first tree?", found)) < 300


def test_a_program_is_told_when_it_enters_and_when_it_corrects(
    database: Database, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    with database.reading() as session:
        area_id = queries.get_site(session, orchard.site_id).area_id
    body = SiteCreate(name="Far north", area_id=area_id, latitude=69.6, longitude=18.9)
    made = writer.write_now(actions.add_site, cast.steward, body)
    emptied = writer.write_now(
        actions.change_site, cast.steward, made.id, SiteUpdate(latitude=None, longitude=None), 1
    )
    mended = writer.write_now(
        actions.change_site, cast.steward, made.id, SiteUpdate(latitude=51.0, longitude=0.1), 2
    )

    assert "polar circle" in made.warnings[0]
    assert "not told" in emptied.warnings[0]
    assert mended.warnings == []
    with database.reading() as session:
        assert queries.get_site(session, made.id, exact=False).warnings == []
