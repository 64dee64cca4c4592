"""Wood that leaves the club says where it goes, and crosses a plant-health boundary only with the authority's yes."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from service.bundles import actions
from service.bundles.rules import NotKnownWhereTo
from service.bundles.schemas import GiveOutsideCreate
from service.lib.database import Database
from service.lib.write import Writer
from service.members.rules import CrossesArea, UnknownArea
from tests.builders.bundles import make_bundle, make_cutting, moves_of, read_bundle
from tests.builders.members import make_permit
from tests.infra.cast import Cast


def test_it_is_refused_until_it_is_known_where_to_and_allowed(
    writer: Writer, database: Database, cast: Cast
) -> None:
    """The club of these tests knows two areas; within one nothing is asked."""
    cutting = make_cutting(writer, cast.steward)
    bundle = make_bundle(writer, cast.steward, cutting)
    near, far = cutting.orchard.area_id, cutting.orchard.other_area_id

    def give(area_id: UUID | None) -> None:
        body = GiveOutsideCreate(bundle_id=bundle.id, sticks=1, to_whom="a school garden", area_id=area_id)
        writer.write_now(actions.give_outside, cast.steward, body)

    for area_id, refused in ((None, NotKnownWhereTo), (far, CrossesArea), (uuid4(), UnknownArea)):
        with pytest.raises(refused):
            give(area_id)
    give(near)
    make_permit(writer, cast.health_steward, near, far, answered_on="2026-01-02", genus="Malus")
    give(far)

    assert read_bundle(database, bundle.id).on_hand == 10
    assert [move.kind for move in moves_of(database, bundle.id)].count("given_outside") == 2
