"""What people do with sticks: every refusal, and no more statements for twenty than for one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlmodel import col, select

from service.bundles import actions
from service.bundles.actions import Passing, TableCount
from service.bundles.rules import (
    BadCount,
    HandOverForm,
    MoveKind,
    NoSuchBundle,
    NotEnoughSticks,
    NotHandedOver,
    NothingAtTable,
    ReasonMissing,
    StoppedBundle,
    StoppedSticksMissing,
)
from service.bundles.schemas import (
    BundleStart,
    BundleUpdate,
    CutToLengthCreate,
    DiscardCreate,
    GiveOutsideCreate,
    RecountCreate,
)
from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.lib.clock import FixedClock, InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Problem, Stale, Unusable
from service.lib.write import Writer
from tests.builders.bundles import (
    Cutting,
    audit_of,
    bind,
    make_bundle,
    make_bundles,
    make_cutting,
    moves_of,
    read_bundle,
)
from tests.infra.cast import Cast
from tests.infra.statements import Statements

NOON = datetime(2026, 2, 14, 10, tzinfo=UTC)


@pytest.fixture
def cutting(writer: Writer, cast: Cast) -> Cutting:
    return make_cutting(writer, cast.steward)


def passing(bundle_id: UUID, sticks: int = 1, **told: Any) -> Passing:
    return Passing(uuid4(), bundle_id, uuid4(), sticks, None, **told)


# Each takes a stick of a bundle, so each is refused for the same reasons.
TAKING: dict[str, Callable[[UUID, int], tuple[Any, ...]]] = {
    "split": lambda b, n: (actions.pass_on, [passing(b, n)]),
    "table": lambda b, n: (actions.count_out_to_table, b, n),
    "outside": lambda b, n: (actions.give_outside, GiveOutsideCreate(bundle_id=b, sticks=n)),
    "discard": lambda b, n: (actions.discard_sticks, DiscardCreate(bundle_id=b, sticks=n, reason="mould")),
    "cut to length": lambda b, n: (
        actions.cut_to_length, CutToLengthCreate(bundle_id=b, sticks_before=n, sticks_after=n + 1),
    ),
    "graft": lambda b, n: (actions.use_in_graft, [(b, n)], NOON),
}  # fmt: skip


def take(writer: Writer, cast: Cast, way: str, bundle_id: UUID, sticks: int) -> Any:
    action, *args = TAKING[way](bundle_id, sticks)
    if way == "outside":  # it stays in the area it grew in
        with writer.database.reading() as session:
            args[0].area_id = session.exec(
                select(Collection.area_id)
                .join(Bundle, col(Bundle.collection_id) == col(Collection.id))
                .where(Bundle.id == bundle_id)
            ).first()
    if way == "table":
        return writer.write_now(_to_table, cast.steward, *args)
    return writer.write_now(action, cast.steward, *args)


def _to_table(session: Any, member: Any, bundle_id: UUID, sticks: int) -> Any:
    return actions.count_out_to_table(session, member, [TableCount(uuid4(), bundle_id, sticks)])[0]


@pytest.mark.parametrize("way", TAKING)
@pytest.mark.parametrize(
    ("before", "sticks", "refusal"),
    [("nothing", 13, NotEnoughSticks), ("stopped", 1, StoppedBundle), ("unknown", 1, NoSuchBundle)],
)
def test_no_way_of_taking_sticks_gets_what_is_not_there_or_not_free(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, way: str, before: str, sticks: int, refusal: type[Problem]
) -> None:  # fmt: skip
    bundle = make_bundle(writer, cast.steward, cutting)
    if before == "stopped":
        bind(writer, cast.steward, bundle.id)

    with pytest.raises(refusal):
        take(writer, cast, way, uuid4() if before == "unknown" else bundle.id, sticks)

    assert read_bundle(database, bundle.id).on_hand == 12
    assert len(moves_of(database, bundle.id)) == 1


@pytest.mark.parametrize("way", TAKING)
def test_every_way_of_taking_sticks_writes_its_line(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, way: str
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)

    take(writer, cast, way, bundle.id, 5)

    after = read_bundle(database, bundle.id)
    assert after.on_hand == (13 if way == "cut to length" else 7)
    assert after.version == bundle.version + 1
    line = moves_of(database, bundle.id)[-1]
    assert (line.sticks, line.by_party_id) == (1 if way == "cut to length" else 5, cast.steward.party_id)
    assert audit_of(database).clean


# -- beginning -----------------------------------------------------------------------------------------------------


def test_a_bundle_begins_with_what_was_cut(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(
        writer, cast.steward, cutting, 9, length_mm=250, diameter_mm=7.5, note="from the south side"
    )

    assert read_bundle(database, bundle.id) == bundle
    assert (bundle.on_hand, bundle.free, bundle.sticks_at_start, bundle.holder_id) == (9, 9, 9, None)
    assert [move.kind for move in moves_of(database, bundle.id)] == [MoveKind.COLLECTED]


@pytest.mark.parametrize(
    ("change", "refusal"),
    [
        (lambda start, _known: [start, start], Unusable),
        (lambda start, known: [start.model_copy(update={"id": known})], AlreadyKnown),
        (lambda start, _known: [start.model_copy(update={"collection_id": uuid4()})], Unusable),
        (lambda start, _known: [start.model_copy(update={"done_at": datetime(2026, 2, 14, 10, 11, tzinfo=UTC)})], InTheFuture),
        (lambda start, _known: [start, start.model_copy(update={"id": uuid4(), "collection_id": uuid4()})], Unusable),
    ],
    ids=["twice in one", "known id", "no such cut", "in the future", "one of two wrong"],
)  # fmt: skip
def test_what_cannot_begin_leaves_nothing_behind(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, change: Any, refusal: type[Problem]
) -> None:
    known = make_bundle(writer, cast.steward, cutting)
    start = BundleStart(collection_id=cutting.collection_id, sticks=3)

    with pytest.raises(refusal):
        writer.write_now(actions.start_bundles, cast.steward, change(start, known.id))

    assert audit_of(database).bundles == 1


def test_a_code_names_one_bundle_only(writer: Writer, cast: Cast, cutting: Cutting) -> None:
    make_bundle(writer, cast.steward, cutting, code="K7M2QX4P")

    with pytest.raises(AlreadyKnown):
        make_bundle(writer, cast.steward, cutting, code="K7M2QX4P")


def test_an_edit_on_an_older_reading_is_refused(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    writer.write_now(
        actions.change_bundle, cast.steward, bundle.id, BundleUpdate(note="first"), bundle.version
    )

    with pytest.raises(Stale):
        writer.write_now(
            actions.change_bundle, cast.steward, bundle.id, BundleUpdate(note="second"), bundle.version
        )

    assert read_bundle(database, bundle.id).note == "first"


# -- each on its own ------------------------------------------------------------------------------------------------


def test_sticks_are_not_thrown_away_without_a_reason(writer: Writer, cast: Cast, cutting: Cutting) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)

    with pytest.raises(ReasonMissing):
        writer.write_now(actions.discard_sticks, cast.steward, DiscardCreate(bundle_id=bundle.id, sticks=1))


def test_cutting_to_length_never_makes_fewer(writer: Writer, cast: Cast, cutting: Cutting) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    body = CutToLengthCreate(bundle_id=bundle.id, sticks_before=4, sticks_after=3)

    with pytest.raises(BadCount):
        writer.write_now(actions.cut_to_length, cast.steward, body)


def test_cutting_to_length_notes_the_new_length(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting, length_mm=600)
    body = CutToLengthCreate(bundle_id=bundle.id, sticks_before=12, sticks_after=36, length_mm=200)

    answer = writer.write_now(actions.cut_to_length, cast.steward, body)

    assert (answer.on_hand, answer.length_mm) == (36, 200)
    assert read_bundle(database, bundle.id) == answer


def test_a_count_that_differs_needs_a_reason_and_one_that_agrees_does_not(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)

    with pytest.raises(ReasonMissing):
        writer.write_now(actions.recount_bundle, cast.steward, RecountCreate(bundle_id=bundle.id, counted=11))
    writer.write_now(actions.recount_bundle, cast.steward, RecountCreate(bundle_id=bundle.id, counted=12))

    assert [(m.kind, m.sticks) for m in moves_of(database, bundle.id)][1:] == [(MoveKind.CORRECTED, 0)]


def test_that_stopped_sticks_are_missing_is_for_who_may_release_them(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    bind(writer, cast.steward, bundle.id)
    fewer = RecountCreate(bundle_id=bundle.id, counted=10, reason="two were lost")

    with pytest.raises(StoppedSticksMissing):
        writer.write_now(actions.recount_bundle, cast.steward, fewer)
    assert read_bundle(database, bundle.id).on_hand == 12
    writer.write_now(actions.recount_bundle, cast.steward, RecountCreate(bundle_id=bundle.id, counted=12))
    writer.write_now(actions.recount_bundle, cast.health_steward, fewer)

    assert read_bundle(database, bundle.id).on_hand == 10
    assert audit_of(database).clean


def test_no_more_comes_back_from_the_table_than_went_out(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    take(writer, cast, "table", bundle.id, 8)
    take(writer, cast, "outside", bundle.id, 2)

    with pytest.raises(NothingAtTable):
        writer.write_now(_from_table, cast.steward, bundle.id, 9)
    writer.write_now(_from_table, cast.steward, bundle.id, 3)
    with pytest.raises(NothingAtTable):
        writer.write_now(_from_table, cast.steward, bundle.id, 6)

    assert read_bundle(database, bundle.id).on_hand == 5
    assert audit_of(database).clean


def _from_table(session: Any, member: Any, bundle_id: UUID, sticks: int) -> Any:
    return actions.count_back_from_table(session, member, bundle_id, sticks, move_id=uuid4())


def _return(session: Any, member: Any, bundle_id: UUID) -> Any:
    return actions.return_bundle(session, member, bundle_id, move_id=uuid4())


def test_a_return_changes_the_holder_and_nothing_else(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    given = passing(bundle.id, 4, code="K7M2QX4P", party_id=cast.guest_id, form=HandOverForm.BUNDLE)
    (child,) = writer.write_now(actions.pass_on, cast.steward, [given])
    assert child.holder_id == cast.guest_id

    back = writer.write_now(_return, cast.steward, child.id)

    assert back == child.model_copy(update={"holder_id": None, "version": child.version + 1})
    with pytest.raises(NotHandedOver):
        writer.write_now(_return, cast.steward, child.id)
    assert moves_of(database, child.id)[-1].party_id == cast.guest_id


def test_a_graft_that_is_taken_back_needs_a_reason_and_cannot_give_back_more(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    take(writer, cast, "graft", bundle.id, 2)

    with pytest.raises(ReasonMissing):
        writer.write_now(actions.undo_graft_use, cast.steward, [(bundle.id, 1)], "")
    with pytest.raises(Problem):
        writer.write_now(actions.undo_graft_use, cast.steward, [(bundle.id, 3)], "entered twice")
    writer.write_now(actions.undo_graft_use, cast.steward, [(bundle.id, 2)], "entered twice")

    assert read_bundle(database, bundle.id).on_hand == 12
    assert audit_of(database).clean


def test_a_bundle_bound_by_two_stops_is_free_when_both_are_lifted(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    first, second = bind(writer, cast.steward, bundle.id), bind(writer, cast.steward, bundle.id)
    again = writer.write_now(actions.bind_bundle_stop, cast.steward, first, [(bundle.id, "origin")])
    assert again == []

    writer.write_now(actions.lift_bundle_stop, cast.steward, first)
    with pytest.raises(StoppedBundle):
        take(writer, cast, "split", bundle.id, 1)
    writer.write_now(actions.lift_bundle_stop, cast.steward, second)

    take(writer, cast, "split", bundle.id, 1)
    assert audit_of(database).clean


def test_what_is_done_far_in_the_future_is_refused(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, clock: FixedClock
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)
    soon, late = clock.now() + timedelta(minutes=10), clock.now() + timedelta(minutes=10, seconds=1)

    writer.write_now(
        actions.discard_sticks,
        cast.steward,
        DiscardCreate(bundle_id=bundle.id, sticks=1, reason="dry", done_at=soon),
    )
    with pytest.raises(InTheFuture):
        writer.write_now(
            actions.discard_sticks,
            cast.steward,
            DiscardCreate(bundle_id=bundle.id, sticks=1, reason="dry", done_at=late),
        )

    assert moves_of(database, bundle.id)[-1].done_at == soon


# -- budgets ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 20])
def test_starting_twenty_bundles_costs_no_more_than_one(
    writer: Writer, statements: Statements, cast: Cast, cutting: Cutting, count: int
) -> None:
    with statements.exactly(4):  # what stands, the cuts, the bundles, the ledger
        make_bundles(writer, cast.steward, cutting, count)


@pytest.mark.parametrize("count", [1, 20])
def test_passing_on_from_twenty_bundles_costs_no_more_than_from_one(
    writer: Writer, statements: Statements, cast: Cast, cutting: Cutting, count: int
) -> None:
    bundles = make_bundles(writer, cast.steward, cutting, count)
    given = [
        passing(b.id, 1 + n % 3, party_id=cast.guest_id, form=HandOverForm.FLAG)
        for n, b in enumerate(bundles)
    ]

    with statements.exactly(5):  # the children's ids, the parents, the counters, the children, the ledger
        writer.write_now(actions.pass_on, cast.steward, given)


@pytest.mark.parametrize("count", [1, 20])
def test_grafting_from_twenty_bundles_costs_no_more_than_from_one(
    writer: Writer, statements: Statements, database: Database, cast: Cast, cutting: Cutting, count: int
) -> None:
    used = [(b.id, 1 + n % 4) for n, b in enumerate(make_bundles(writer, cast.steward, cutting, count))]

    with statements.exactly(3):
        writer.write_now(actions.use_in_graft, cast.steward, used, NOON)

    assert [read_bundle(database, bundle_id).grafted for bundle_id, _ in used] == [
        sticks for _, sticks in used
    ]


@pytest.mark.parametrize("way", ["discard", "outside", "table"])
def test_taking_sticks_stays_within_its_budget(
    writer: Writer, statements: Statements, cast: Cast, cutting: Cutting, way: str
) -> None:
    bundle = make_bundle(writer, cast.steward, cutting)

    with statements.at_most(6 if way == "outside" else 4):
        take(writer, cast, way, bundle.id, 1)
