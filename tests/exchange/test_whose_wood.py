"""Wood that somebody has stays theirs when it is split: a recall must find it with them."""

from __future__ import annotations

import pytest

from service.exchange import actions
from service.exchange.schemas import SplitCreate
from service.lib.write import Writer
from tests.builders.bundles import read_bundle
from tests.builders.provenance import Yard, make_yard
from tests.infra.cast import Cast


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    return make_yard(writer, cast)


def split(yard: Yard, bundle_id, sticks: int):
    body = SplitCreate(bundle_id=bundle_id, sticks=sticks)
    return yard.writer.write_now(actions.split_bundles, yard.cast.steward, [body])[0].bundle


def test_what_is_split_off_stays_with_whoever_has_the_bundle(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    theirs = yard.hand_over(bundle.id, 6, yard.cast.guest_id)

    of_theirs, of_the_clubs = split(yard, theirs.id, 2), split(yard, bundle.id, 2)

    holders = [read_bundle(yard.database, one.id).holder_id for one in (of_theirs, of_the_clubs)]
    assert holders == [yard.cast.guest_id, None]
    ties = {tie.tie: (tie.things, tie.sticks) for one in yard.stop().to_tell
            if one.party_id == yard.cast.guest_id for tie in one.ties}  # fmt: skip
    assert ties["holds"] == (2, 6)
