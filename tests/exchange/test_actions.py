"""Wood passes on: split off, handed over in three forms, counted back, returned, and kept within its area."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from pydantic import ValidationError

from service.bundles.rules import (
    HandOverForm,
    MoveKind,
    NoSuchBundle,
    NotEnoughSticks,
    NothingAtTable,
    StoppedBundle,
)
from service.bundles.schemas import BundleRead
from service.exchange import actions
from service.exchange.rules import NoSuchReceiver, ReceiverForgotten
from service.exchange.schemas import HandOverCreate, ReturnCreate, SplitCreate, TableBackCreate
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Problem
from service.lib.write import Writer
from service.members.actions import erase_party
from service.members.rules import AreaNotKnown, CrossesArea
from service.storage.actions import add_box, add_store, put_away
from service.storage.queries import whereabouts
from service.storage.schemas import BoxCreate, PutAwayCreate, StoreCreate
from service.tags.queries import find_tag
from tests.builders.bundles import (
    Cutting,
    audit_of,
    bind,
    cut_again,
    make_bundle,
    make_bundles,
    make_cutting,
    moves_of,
    read_bundle,
    settle,
)
from tests.builders.members import make_permit
from tests.infra.cast import Cast
from tests.infra.statements import Statements


@pytest.fixture
def cutting(writer: Writer, cast: Cast) -> Cutting:
    """Wood of the north; the guest lives there too, the member in the south, the collector nobody knows where."""
    made = make_cutting(writer, cast.steward)
    settle(writer, made.orchard.area_id, cast.guest_id)
    settle(writer, made.orchard.other_area_id, cast.member.party_id)
    return made


@pytest.fixture
def bundle(writer: Writer, cast: Cast, cutting: Cutting) -> BundleRead:
    return make_bundle(writer, cast.steward, cutting, code="K7M2QX4P", length_mm=240, diameter_mm=8.0)


def hand(
    writer: Writer, cast: Cast, bundle_id: UUID, sticks: int = 3, form: str = "bundle", **told: Any
) -> BundleRead:
    receiver = {} if form == "table" else {"party_id": cast.guest_id}
    body = HandOverCreate.model_validate(
        {"bundle_id": bundle_id, "sticks": sticks, "form": form, **receiver, **told}
    )
    return writer.write_now(actions.hand_over, cast.steward, [body])[0].bundle


def split(writer: Writer, cast: Cast, *wanted: tuple[UUID, int], **told: Any) -> list[BundleRead]:
    body = [SplitCreate(bundle_id=bundle_id, sticks=sticks, **told) for bundle_id, sticks in wanted]
    return [each.bundle for each in writer.write_now(actions.split_bundles, cast.steward, body)]


# -- splitting ------------------------------------------------------------------------------------------------------


def test_what_is_split_off_stays_with_whoever_has_the_rest_and_gets_a_tag(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    given = hand(writer, cast, bundle.id, 6)

    (child,) = split(writer, cast, (given.id, 2))

    assert (child.parent_id, child.collection_id, child.holder_id) == (
        given.id,
        bundle.collection_id,
        cast.guest_id,
    )
    assert (child.on_hand, child.length_mm, child.diameter_mm) == (2, 240, 8.0)
    assert child.code not in (None, given.code)
    with database.reading() as session:
        tag = find_tag(session, child.code or "")
    assert tag is not None
    assert tag.thing_id == child.id
    assert read_bundle(database, given.id).on_hand == 4
    assert audit_of(database).clean


def test_what_is_split_off_lies_where_the_rest_lies(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead, clock: FixedClock
) -> None:
    store = writer.write_now(
        add_store, cast.host, StoreCreate(name="Fridge", host_id=cast.host.party_id, with_tag=False)
    )
    box = writer.write_now(add_box, cast.host, BoxCreate(name="Blue crate", with_tag=False))
    body = [
        PutAwayCreate(box_id=box.id, store_id=store.id),
        PutAwayCreate(bundle_id=bundle.id, into_box_id=box.id),
    ]
    writer.write_now(put_away, cast.host, body)

    (child,) = split(writer, cast, (bundle.id, 2))

    with database.reading() as session:
        spots = whereabouts(session, [bundle.id, child.id])
    assert spots[child.id].box_id == spots[bundle.id].box_id == box.id
    clock.move(timedelta(days=2))
    (told_late,) = split(writer, cast, (bundle.id, 2), done_at=clock.now() - timedelta(days=1))
    with database.reading() as session:
        since = whereabouts(session, [told_late.id])[told_late.id].since
    assert since == told_late.made_at == clock.now() - timedelta(days=1)


@pytest.mark.parametrize(
    ("change", "refusal"),
    [("too many", NotEnoughSticks), ("too many together", NotEnoughSticks), ("stopped", StoppedBundle), ("unknown", NoSuchBundle), ("known child", AlreadyKnown)],  # noqa: E501
)  # fmt: skip
def test_a_split_that_is_refused_leaves_nothing_behind(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead, change: str, refusal: type[Problem]
) -> None:
    wanted = {
        "too many": [(bundle.id, 13)],
        "too many together": [(bundle.id, 7), (bundle.id, 6)],
        "unknown": [(uuid4(), 1)],
    }
    if change == "stopped":
        bind(writer, cast.steward, bundle.id)

    with pytest.raises(refusal):
        split(
            writer, cast, *wanted.get(change, [(bundle.id, 1)]), **({"child_id": bundle.id} if change == "known child" else {})
        )  # fmt: skip

    assert read_bundle(database, bundle.id).on_hand == 12
    assert audit_of(database).bundles == 1


# -- the three forms ----------------------------------------------------------------------------------------------------


def test_a_hand_over_as_a_bundle_makes_a_child_with_a_code_of_its_own(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    child = hand(writer, cast, bundle.id, 5, reason="for the pear wall")

    assert (child.parent_id, child.holder_id, child.on_hand, child.is_flag) == (
        bundle.id,
        cast.guest_id,
        5,
        False,
    )
    assert child.code not in (None, "K7M2QX4P")
    out, into = moves_of(database, bundle.id)[-1], moves_of(database, child.id)[0]
    assert (out.kind, into.kind) == (MoveKind.HANDED_OUT, MoveKind.HANDED_IN)
    assert (out.other_bundle_id, into.other_bundle_id) == (child.id, bundle.id)
    assert (out.party_id, out.form, out.reason) == (cast.guest_id, "bundle", "for the pear wall")


def test_a_hand_over_under_a_flag_makes_a_child_without_a_code(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    child = hand(writer, cast, bundle.id, 2, "flag")

    assert (child.code, child.is_flag, child.holder_id, child.on_hand) == (None, True, cast.guest_id, 2)
    assert read_bundle(database, bundle.id).on_hand == 10


def test_what_is_taken_at_the_table_is_counted_out_and_back(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    hand(writer, cast, bundle.id, 8, "table")

    back = writer.write_now(actions.count_back, cast.steward, TableBackCreate(bundle_id=bundle.id, sticks=3))

    assert back.on_hand == 7
    assert [(m.kind, m.sticks) for m in moves_of(database, bundle.id)][1:] == [
        (MoveKind.TABLE_OUT, 8),
        (MoveKind.TABLE_BACK, 3),
    ]
    with pytest.raises(NothingAtTable):
        writer.write_now(actions.count_back, cast.steward, TableBackCreate(bundle_id=bundle.id, sticks=6))
    assert audit_of(database).clean


@pytest.mark.parametrize("form", HandOverForm)
def test_no_form_hands_over_what_is_not_there_or_is_stopped(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead, form: str
) -> None:
    with pytest.raises(NotEnoughSticks):
        hand(writer, cast, bundle.id, 13, form)
    with pytest.raises(NoSuchBundle):
        hand(writer, cast, uuid4(), 1, form)
    bind(writer, cast.steward, bundle.id)
    with pytest.raises(StoppedBundle):
        hand(writer, cast, bundle.id, 1, form)

    assert len(moves_of(database, bundle.id)) == 1


@pytest.mark.parametrize("form", HandOverForm)
def test_every_form_but_the_open_table_names_its_receiver(form: HandOverForm) -> None:
    named = {"bundle_id": str(uuid4()), "sticks": 1, "form": form, "party_id": str(uuid4())}
    unnamed = {**named, "party_id": None}
    wrong = named if form is HandOverForm.TABLE else unnamed

    HandOverCreate.model_validate(unnamed if form is HandOverForm.TABLE else named)
    with pytest.raises(ValidationError, match="none for an open table"):
        HandOverCreate.model_validate(wrong)


def test_one_refusal_among_many_hands_nothing_over(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting
) -> None:
    first, second = make_bundles(writer, cast.steward, cutting, 2, sticks=4)
    body = [
        HandOverCreate(bundle_id=first.id, sticks=2, party_id=cast.guest_id),
        HandOverCreate(bundle_id=second.id, sticks=5, party_id=cast.guest_id),
    ]

    with pytest.raises(NotEnoughSticks):
        writer.write_now(actions.hand_over, cast.steward, body)

    assert [read_bundle(database, b.id).on_hand for b in (first, second)] == [4, 4]


def test_a_return_keeps_tag_and_history(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    child = hand(writer, cast, bundle.id, 5)
    before = moves_of(database, child.id)

    back = writer.write_now(actions.return_bundle, cast.steward, ReturnCreate(bundle_id=child.id))

    assert (back.code, back.parent_id, back.on_hand, back.holder_id) == (child.code, bundle.id, 5, None)
    assert moves_of(database, child.id)[:-1] == before
    assert moves_of(database, child.id)[-1].kind is MoveKind.RETURNED
    assert read_bundle(database, bundle.id).on_hand == 7


def test_nothing_that_is_unknown_comes_back(writer: Writer, cast: Cast) -> None:
    with pytest.raises(NoSuchBundle):
        writer.write_now(actions.return_bundle, cast.steward, ReturnCreate(bundle_id=uuid4()))
    with pytest.raises(NoSuchBundle):
        writer.write_now(actions.count_back, cast.steward, TableBackCreate(bundle_id=uuid4(), sticks=1))


# -- receivers and areas ------------------------------------------------------------------------------------------------


def test_wood_does_not_cross_an_area_boundary_until_the_answer_is_recorded(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, bundle: BundleRead
) -> None:
    there = {"party_id": cast.member.party_id}
    orchard = cutting.orchard
    with pytest.raises(CrossesArea, match="North Vale to South Shore"):
        hand(writer, cast, bundle.id, 1, **there)
    make_permit(writer, cast.administrator, orchard.other_area_id, orchard.area_id)
    with pytest.raises(CrossesArea):
        hand(writer, cast, bundle.id, 1, **there)

    make_permit(writer, cast.administrator, orchard.area_id, orchard.other_area_id)

    assert hand(writer, cast, bundle.id, 1, **there).holder_id == cast.member.party_id
    assert read_bundle(database, bundle.id).on_hand == 11


def test_a_no_of_the_authority_and_an_answer_for_other_wood_let_nothing_cross(
    writer: Writer, cast: Cast, cutting: Cutting, bundle: BundleRead
) -> None:
    orchard, there = cutting.orchard, {"party_id": cast.member.party_id}
    make_permit(writer, cast.administrator, orchard.area_id, orchard.other_area_id, genus="Prunus")
    with pytest.raises(CrossesArea, match="No answer"):
        hand(writer, cast, bundle.id, 1, **there)
    make_permit(
        writer, cast.administrator, orchard.area_id, orchard.other_area_id, genus="Malus", allows=False
    )

    with pytest.raises(CrossesArea, match="does not allow"):
        hand(writer, cast, bundle.id, 1, **there)


def test_an_answer_that_has_run_out_lets_nothing_cross(
    writer: Writer, cast: Cast, cutting: Cutting, bundle: BundleRead, clock: FixedClock
) -> None:
    orchard = cutting.orchard
    make_permit(writer, cast.administrator, orchard.area_id, orchard.other_area_id, valid_until="2026-02-14")
    hand(writer, cast, bundle.id, 1, party_id=cast.member.party_id)
    clock.move(timedelta(days=1))

    with pytest.raises(CrossesArea):
        hand(writer, cast, bundle.id, 1, party_id=cast.member.party_id)


def test_wood_is_not_given_to_somebody_whose_area_nobody_knows(
    writer: Writer, cast: Cast, bundle: BundleRead
) -> None:
    with pytest.raises(AreaNotKnown):
        hand(writer, cast, bundle.id, 1, party_id=cast.collector.party_id)


def test_one_boundary_among_many_receivers_is_enough_to_refuse(
    writer: Writer, database: Database, cast: Cast, bundle: BundleRead
) -> None:
    body = [
        HandOverCreate(bundle_id=bundle.id, sticks=1, party_id=party)
        for party in (cast.guest_id, cast.member.party_id, cast.guest_id)
    ]

    with pytest.raises(CrossesArea):
        writer.write_now(actions.hand_over, cast.steward, body)

    assert read_bundle(database, bundle.id).on_hand == 12


def test_a_receiver_must_be_in_the_record_and_not_forgotten(
    writer: Writer, cast: Cast, bundle: BundleRead
) -> None:
    with pytest.raises(NoSuchReceiver):
        hand(writer, cast, bundle.id, 1, party_id=uuid4())
    writer.write_now(erase_party, cast.administrator, cast.guest_id, None)

    with pytest.raises(ReceiverForgotten):
        hand(writer, cast, bundle.id, 1)


# -- budgets ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", HandOverForm)
def test_handing_over_twenty_costs_no_more_statements_than_one(
    writer: Writer, statements: Statements, cast: Cast, cutting: Cutting, form: HandOverForm
) -> None:
    sent = []
    for count in (1, 20):
        body = [
            HandOverCreate(
                bundle_id=b.id, sticks=2, form=form, party_id=None if form == "table" else cast.guest_id
            )
            for b in make_bundles(writer, cast.steward, cutting, count)
        ]
        before = len(statements)
        writer.write_now(actions.hand_over, cast.steward, body)
        sent.append(len(statements) - before)

    assert sent[1] <= sent[0], statements
    assert sent[0] <= 13, statements


def test_splitting_twenty_costs_no_more_statements_than_one(
    writer: Writer, statements: Statements, cast: Cast, cutting: Cutting
) -> None:
    sent = []
    for count in (1, 20):
        wanted = [(b.id, 2) for b in make_bundles(writer, cast.steward, cutting, count)]
        before = len(statements)
        split(writer, cast, *wanted)
        sent.append(len(statements) - before)

    assert sent[1] <= sent[0], statements


def test_the_areas_of_many_kinds_of_wood_are_all_asked(
    writer: Writer, database: Database, cast: Cast, cutting: Cutting, bundle: BundleRead
) -> None:
    plum = make_bundle(
        writer,
        cast.steward,
        cut_again(writer, cast.steward, cutting.orchard, cultivar_id=cutting.orchard.victoria_id),
    )
    orchard = cutting.orchard
    make_permit(writer, cast.administrator, orchard.area_id, orchard.other_area_id, genus="Malus")
    body = [HandOverCreate(bundle_id=b.id, sticks=1, party_id=cast.member.party_id) for b in (bundle, plum)]

    with pytest.raises(CrossesArea):
        writer.write_now(actions.hand_over, cast.steward, body)
    writer.write_now(actions.hand_over, cast.steward, body[:1])

    assert [read_bundle(database, b.id).on_hand for b in (bundle, plum)] == [11, 12]
