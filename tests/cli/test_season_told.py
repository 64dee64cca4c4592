"""What the demo's pages have to tell: days from earlier winters at every site, and of all wood on hand how it keeps."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import col, select

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.cli.demonstrating import Loaded, load_demo
from service.collection.queries import site_winter
from service.collection.tables import Collection
from service.members.tables import Party
from service.storage.queries.use_first import use_first, use_first_of
from tests.infra.demo import kept_demo


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Loaded]:
    loaded = load_demo(kept_demo(tmp_path / "demo"))
    yield loaded
    loaded.app.state.database.close()


def test_two_whole_winters_before_its_own_give_every_kind_its_range_of_days(demo: Loaded) -> None:
    with demo.app.state.database.reading() as session:
        for site in ("otterlea", "lane", "tarn", "mill", "school", "kiln"):
            winter = site_winter(session, demo.season.ids["site", site], demo.season.now.date())

            assert winter.earlier_winters == 2
            assert winter.kinds
            for kind in winter.kinds:
                assert kind.opens and kind.rest_ends and kind.moves
                assert kind.moves.earliest < kind.moves.latest
            assert "In earlier winters of this record" in winter.when_to_cut


def test_of_all_the_clubs_wood_on_hand_it_is_told_how_it_keeps(demo: Loaded) -> None:
    """A share; but in the cellar, where no thermometer was read, and of what another club cut and kept for some days."""
    with demo.app.state.database.reading() as session:
        own = set(session.exec(select(Bundle.id).where(ON_HAND > 0, col(Bundle.holder_id).is_(None))))
        kept = {one.bundle_id: one.keeping for one in use_first(session, most=2000)}
        cut_on = session.exec(
            select(Collection.cut_on)
            .join(Bundle, col(Bundle.collection_id) == Collection.id)
            .where(ON_HAND > 0)
        ).all()

    without = [kept[one] for one in own if kept[one].share is None]
    assert own == set(kept)
    assert {one.store_id for one in without} <= {demo.season.ids["store", "cellar"]}
    assert all(
        "was ever read" in one.share_words or "is not written down" in one.share_words for one in without
    )
    assert len(without) < len(own) / 5
    assert {day.year for day in cut_on if day} == {2026}  # what was left of the winter before is settled


def test_a_member_who_grafts_holds_wood_of_this_winter_with_its_forecast(demo: Loaded) -> None:
    """Two bundles she chose at the swap afternoon; neither is of the pear that was stopped."""
    ids = demo.season.ids
    with demo.app.state.database.reading() as session:
        linnea = session.exec(select(Party.id).where(Party.name == "Linnéa Åkerwood")).one()
        hers = {one.bundle_id: one for one in use_first_of(session, linnea, demo.season.now)}

    assert set(hers) == {ids["bundle", "linnea-hardy-26"], ids["bundle", "linnea-egremont-26"]}
    assert not any(one.stopped for one in hers.values())
    assert all(one.keeping.share_words for one in hers.values())
