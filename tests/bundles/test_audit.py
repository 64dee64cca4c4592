"""The audit: clean where all is well, and naming what somebody tampered with."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session

from service.bundles import actions, queries
from service.bundles.actions import ledger
from service.bundles.rules import Balance, Counter, HandOverForm, MoveKind
from service.bundles.schemas import CutToLengthCreate, DiscardCreate, GiveOutsideCreate, RecountCreate
from service.lib.database import Database
from service.lib.write import Writer
from service.members.rules import Member
from tests.builders.bundles import (
    Cutting,
    audit_of,
    bind,
    cut_again,
    make_bundle,
    make_bundles,
    make_cutting,
    read_bundle,
    tamper,
)
from tests.infra.cast import Cast

COUNTERS = ("came_in", "passed_on", "grafted", "discarded", "promised", "claimed")


@pytest.fixture
def cutting(writer: Writer, cast: Cast) -> Cutting:
    return make_cutting(writer, cast.steward)


def test_an_untouched_record_is_clean(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundles = make_bundles(writer, cast.steward, cutting, 3)
    bind(writer, cast.steward, bundles[0].id)

    found = audit_of(database)

    assert found.clean
    assert (found.bundles, found.moves) == (3, 3)


@pytest.mark.parametrize("counter", COUNTERS)
def test_a_counter_that_was_tampered_with_is_named(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, counter: str
) -> None:
    sound = make_bundle(writer, cast.steward, cutting)
    wrong = make_bundle(writer, cast.steward, cutting, code="K7M2QX4P")
    tamper(
        database,
        f"update bundle set {counter} = {counter} + 1 where id = :id",
        id=_as_stored(database, wrong.id),
    )

    found = audit_of(database)

    assert not found.clean
    assert found.wrong_counters == ["K7M2QX4P: counters differ from the ledger"]
    assert str(sound.id) not in str(found)


def test_a_stick_that_was_smuggled_in_breaks_the_balance_too(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    tamper(
        database, "update bundle set came_in = came_in + 1 where id = :id", id=_as_stored(database, bundle.id)
    )

    found = audit_of(database)

    assert found.wrong_balances == [f"collection {cutting.collection_id}: 12 came, 13 accounted for"]


def test_a_movement_that_was_deleted_is_found(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    writer.write_now(
        actions.discard_sticks, cast.steward, DiscardCreate(bundle_id=bundle.id, sticks=2, reason="mould")
    )
    tamper(database, "delete from stick_move where kind = 'discarded'")

    assert audit_of(database).wrong_counters == [f"{bundle.id}: counters differ from the ledger"]


def test_a_bundle_whose_every_movement_was_deleted_is_found(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    tamper(database, "delete from stick_move")

    assert audit_of(database).wrong_counters == [f"{bundle.id}: counters differ from the ledger"]


def test_an_arrival_without_its_departure_breaks_the_balance(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    parent, child = make_bundle(writer, cast.steward, cutting), uuid4()
    passing = actions.Passing(uuid4(), parent.id, child, 5, None, form=None)
    writer.write_now(actions.pass_on, cast.steward, [passing])
    tamper(database, "delete from stick_move where kind = 'split_out'")
    tamper(database, "update bundle set passed_on = 0 where id = :id", id=_as_stored(database, parent.id))

    found = audit_of(database)

    assert found.wrong_counters == []
    assert found.wrong_balances == [f"collection {cutting.collection_id}: 12 came, 17 accounted for"]


def test_a_stop_that_was_wiped_off_a_bundle_is_found(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    bind(writer, cast.steward, bundle.id)
    tamper(database, "update bundle set open_stops = 0")

    assert audit_of(database).wrong_stops == [
        f"{bundle.id}: its count of stops differs from the stops that bind it"
    ]


def test_every_stick_of_a_cut_is_accounted_for(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    steward = cast.steward
    bundle = make_bundle(writer, steward, cutting, 20)
    other = make_bundle(writer, steward, cut_again(writer, steward, cutting.orchard), 7)
    child = uuid4()
    passing = actions.Passing(
        uuid4(), bundle.id, child, 6, None, party_id=cast.guest_id, form=HandOverForm.FLAG
    )
    writer.write_now(actions.pass_on, steward, [passing])
    writer.write_now(
        actions.discard_sticks, steward, DiscardCreate(bundle_id=child, sticks=1, reason="broken")
    )
    writer.write_now(
        actions.cut_to_length,
        steward,
        CutToLengthCreate(bundle_id=bundle.id, sticks_before=4, sticks_after=9),
    )
    writer.write_now(actions.use_in_graft, steward, [(child, 2)], datetime(2026, 2, 14, tzinfo=UTC))
    writer.write_now(
        actions.give_outside,
        steward,
        GiveOutsideCreate(bundle_id=bundle.id, sticks=3, area_id=cutting.orchard.area_id),
    )
    writer.write_now(
        actions.recount_bundle, steward, RecountCreate(bundle_id=bundle.id, counted=15, reason="one was lost")
    )
    writer.write_now(partial(actions.return_bundle, move_id=uuid4()), steward, child)

    with database.reading() as session:
        balance = queries.balance_of_collection(session, cutting.collection_id)

    # 20 collected + 5 gained - 1 corrected = 15 + 3 on hand + 2 grafted + 1 discarded + 3 outside
    assert (balance.collected, balance.gained, balance.corrections) == (20, 5, -1)
    assert (balance.on_hand, balance.grafted, balance.discarded, balance.given_outside) == (18, 2, 1, 3)
    assert balance.holds
    assert read_bundle(database, other.id).on_hand == 7
    assert audit_of(database).clean


def test_what_was_given_back_let_go_or_never_heard_of_is_accounted_for_too(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    steward, (bundle,) = cast.steward, make_bundles(writer, cast.steward, cutting, 1, 20)
    writer.write_now(actions.lift_bundle_stop, steward, bind(writer, steward, bundle.id))
    writer.write_now(actions.count_out_to_table, steward, [actions.TableCount(uuid4(), bundle.id, 5)])
    writer.write_now(partial(actions.count_back_from_table, move_id=uuid4()), steward, bundle.id, 2)
    writer.write_now(actions.use_in_graft, steward, [(bundle.id, 3)], datetime(2026, 2, 14, tzinfo=UTC))
    writer.write_now(actions.undo_graft_use, steward, [(bundle.id, 1)], "written down twice")
    writer.write_now(_never_heard_of, steward, bundle.id, 4)

    with database.reading() as session:
        balance = queries.balance_of_collection(session, cutting.collection_id)

    # 20 collected = 11 on hand + 3 - 1 grafted + 5 - 2 taken at the table + 4 not reported
    assert balance == Balance(20, 0, 0, 11, 2, 0, 3, 4)
    assert balance.holds
    assert audit_of(database).clean


def test_wood_from_outside_came_as_wood_that_was_cut_did(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    make_bundle(writer, cast.steward, cutting)
    tamper(database, "update stick_move set kind = 'received' where kind = 'collected'")

    with database.reading() as session:
        assert queries.balance_of_collection(session, cutting.collection_id).collected == 12
    assert audit_of(database).clean


def _never_heard_of(session: Session, member: Member, bundle_id: UUID, sticks: int) -> None:
    ledger.take_sticks(session, Counter.PASSED_ON, {bundle_id: sticks})
    line = ledger.Move(bundle_id, MoveKind.NOT_REPORTED, sticks, datetime(2026, 7, 1, tzinfo=UTC))
    ledger.write_moves(session, member, [line], {})


def _as_stored(database: Database, value: object) -> object:
    # A plain statement knows no column types: SQLite keeps ids as their 32 signs.
    return value.hex if database.is_sqlite else value  # type: ignore[attr-defined]
