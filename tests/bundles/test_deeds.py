"""Late is in order, before a bundle's own day is not; on both databases."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from service.bundles import actions, queries
from service.bundles.actions import Passing, TableCount
from service.bundles.rules import BeforeItWasMade, HandOverForm, can_be_done_at
from service.bundles.schemas import CutToLengthCreate, DiscardCreate, GiveOutsideCreate, RecountCreate
from service.lib.database import Database
from service.lib.write import Writer
from service.storage import actions as storage
from service.storage.schemas import BundleCheckCreate, WeighingCreate
from tests.builders.bundles import Cutting, audit_of, make_bundle, make_cutting, moves_of, read_bundle
from tests.infra.cast import Cast
from tests.infra.statements import Statements

MADE = datetime(2026, 2, 10, 15, tzinfo=UTC)
DAY_BEFORE = MADE - timedelta(days=1)


def passing(bundle_id: UUID, at: datetime) -> list[Passing]:
    return [Passing(uuid4(), bundle_id, uuid4(), 1, at)]


Deed = Callable[[UUID, datetime, UUID], tuple[Any, ...]]
DEEDS: dict[str, Deed] = {
    "split": lambda b, at, _area: (actions.pass_on, passing(b, at)),
    "table": lambda b, at, _area: (actions.count_out_to_table, [TableCount(uuid4(), b, 1, at)]),
    "outside": lambda b, at, area: (
        actions.give_outside, GiveOutsideCreate(bundle_id=b, sticks=1, to_whom="A school", area_id=area, done_at=at),
    ),
    "discard": lambda b, at, _area: (actions.discard_sticks, DiscardCreate(bundle_id=b, sticks=1, reason="dry", done_at=at)),
    "length": lambda b, at, _area: (
        actions.cut_to_length, CutToLengthCreate(bundle_id=b, sticks_before=1, sticks_after=2, done_at=at),
    ),
    "recount": lambda b, at, _area: (actions.recount_bundle, RecountCreate(bundle_id=b, counted=11, reason="found", done_at=at)),
    "graft": lambda b, at, _area: (actions.use_in_graft, [(b, 1)], at),
    "look": lambda b, at, _area: (storage.record_bundle_checks, [BundleCheckCreate(bundle_id=b, buds="tight", seen_at=at)]),
    "weighing": lambda b, at, _area: (storage.weigh_bag, WeighingCreate(bundle_id=b, grams=200, weighed_at=at)),
}  # fmt: skip


@pytest.fixture
def cutting(writer: Writer, cast: Cast) -> Cutting:
    return make_cutting(writer, cast.steward)


@pytest.fixture
def bundle(writer: Writer, cast: Cast, cutting: Cutting) -> UUID:
    return make_bundle(writer, cast.steward, cutting, done_at=MADE).id


@pytest.mark.parametrize("deed", DEEDS.values(), ids=DEEDS)
def test_no_deed_lies_before_the_day_its_bundle_was_made(
    writer: Writer, database: Database, cast: Cast, bundle: UUID, cutting: Cutting, deed: Deed
):
    action, *told = deed(bundle, DAY_BEFORE, cutting.orchard.area_id)

    with pytest.raises(BeforeItWasMade) as refused:
        writer.write_now(action, cast.steward, *told)

    assert "was made on 10 February 2026, and this is said to be done on 9 February 2026" in str(
        refused.value.detail
    )
    assert refused.value.field in ("done_at", "seen_at", "weighed_at")
    assert len(moves_of(database, bundle)) == 1
    assert read_bundle(database, bundle).on_hand == 12
    assert audit_of(database).clean


def test_no_hand_over_lies_before_the_day_its_bundle_was_made(
    writer: Writer, database: Database, cast: Cast, bundle: UUID
):
    given = Passing(
        uuid4(), bundle, uuid4(), 1, DAY_BEFORE, party_id=cast.member.party_id, form=HandOverForm.FLAG
    )

    with pytest.raises(BeforeItWasMade):
        writer.write_now(actions.pass_on, cast.steward, [given])

    assert len(moves_of(database, bundle)) == 1
    assert read_bundle(database, bundle).on_hand == 12


@pytest.mark.parametrize("deed", DEEDS.values(), ids=DEEDS)
def test_a_deed_told_late_or_by_its_day_alone_is_in_order(
    writer: Writer, database: Database, cast: Cast, bundle: UUID, cutting: Cutting, deed: Deed
):
    action, *told = deed(bundle, MADE.replace(hour=12), cutting.orchard.area_id)

    writer.write_now(action, cast.steward, *told)

    assert audit_of(database).clean


def test_the_day_is_the_clubs_and_not_that_of_greenwich():
    half_past_midnight = datetime(2026, 2, 9, 23, 30, tzinfo=UTC)  # the tenth in Berlin

    assert can_be_done_at(MADE, half_past_midnight, "Europe/Berlin")
    assert not can_be_done_at(MADE, half_past_midnight, "Europe/London")


def test_a_clock_that_goes_wrong_by_minutes_at_midnight_is_no_reason_to_refuse():
    midnight = datetime(2026, 2, 10, tzinfo=UTC)

    assert can_be_done_at(midnight, midnight - timedelta(minutes=10), "UTC")
    assert not can_be_done_at(midnight, midnight - timedelta(minutes=11), "UTC")


@pytest.mark.parametrize("number", [1, 20])
def test_asking_for_the_days_costs_no_statement_where_all_is_well_and_two_where_it_is_not(
    database: Database, statements: Statements, bundle: UUID, number: int
):
    well = [(bundle, MADE, MADE)] * number
    same_day = [(bundle, MADE, MADE.replace(hour=12))] * number

    with database.reading() as session:
        with statements.exactly(0):
            queries.check_deeds(session, well)
        with statements.exactly(2):
            queries.check_deeds(session, same_day)
