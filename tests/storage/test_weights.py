"""Bags on a scale: what wood lost, what was taken out left aside, on both databases."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from service.bundles import actions as bundle_actions
from service.bundles.schemas import DiscardCreate
from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.write import Writer
from service.provenance import queries as provenance_queries
from service.storage import actions, queries, schemas
from service.storage.rules import (
    AreYouSure,
    BagOutweighs,
    Call,
    Moment,
    NoSuchBundle,
    Weighed,
    WeighingTakenBack,
    can_weigh,
    check_weight,
    judge_loss,
    loss_of,
    loss_words,
)
from tests.builders.storage import Ground, ago, make_bundles, make_ground, stop_bundles
from tests.conftest import TODAY
from tests.infra.statements import Statements

B, A = Moment.BEFORE, Moment.AFTER


def at(days: float, grams: float, moment: Moment = Moment.WEIGHED, empty: float | None = None) -> Weighed:
    return Weighed(
        TODAY + timedelta(days=days), round(grams * 10), moment, None if empty is None else round(empty * 10)
    )


# -- rules -----------------------------------------------------------------------------------------------------------------


def test_the_loss_is_the_difference_of_the_wood_alone_where_the_empty_bag_is_known():
    # (412 - 12) g of wood, 388 g at the end: 12 of 400 is 3 %, by arithmetic.
    loss = loss_of([at(0, 412, empty=12), at(30, 400)])

    assert loss is not None
    assert (loss.lost_grams, round(loss.lost_pct, 6), loss.at_least) == (12.0, 3.0, False)
    assert judge_loss(loss).call is Call.FINE


def test_without_the_empty_bag_the_share_is_a_lower_limit():
    with_bag, without = loss_of([at(0, 412, empty=12), at(30, 400)]), loss_of([at(0, 412), at(30, 400)])

    assert with_bag is not None
    assert without is not None
    assert (without.at_least, without.lost_pct < with_bag.lost_pct) == (True, True)
    assert "or more" in loss_words(without)


def test_what_was_taken_out_between_two_weighings_is_no_loss():
    # 400 -> 396 lost 4; 396 -> 200 taken out; 200 -> 198 lost 2. Left of the wood: 0.99 * 0.99, a loss of 1.99 %.
    loss = loss_of([at(0, 400, empty=0.1), at(10, 396, B), at(10, 200, A), at(20, 198)], [TODAY + timedelta(days=10)])  # fmt: skip

    assert loss is not None
    assert (loss.lost_grams, loss.removed_grams, loss.compared, loss.unclear) == (6.0, 196.0, 2, 0)
    assert loss.lost_pct == pytest.approx(1.99, abs=0.01)


def test_what_came_or_went_unweighed_counts_for_nothing():
    day5 = TODAY + timedelta(days=5)

    assert loss_of([at(0, 400), at(10, 300)], [day5]) is None
    assert loss_of([at(0, 400), at(10, 300, A)]) is None
    loss = loss_of([at(0, 400), at(10, 300), at(20, 297)], [day5])
    assert loss is not None
    assert (loss.lost_grams, loss.unclear) == (3.0, 1)


@pytest.mark.parametrize(
    "grams, call",
    [(399.5, Call.FINE), (390, Call.FINE), (378, Call.USE_FIRST), (355, Call.WARNING), (401, Call.FINE)],
)
def test_a_loss_warns_and_says_that_its_limits_are_judgement(grams: float, call: Call):
    loss = loss_of([at(0, 400), at(30, grams)])

    assert loss is not None
    assert judge_loss(loss).call is call
    assert "judgement" in judge_loss(loss).mark


@pytest.mark.parametrize(
    "now, before, problem",
    [
        (at(1, 400), None, None),
        (at(1, 396), at(0, 400), None),
        (at(1, 200), at(0, 400), AreYouSure),
        (at(1, 200, A), at(0, 400, B), None),
        (at(1, 430), at(0, 400), AreYouSure),
        (at(1, 6500), None, AreYouSure),
        (at(1, 0.4), None, AreYouSure),
        (at(1, 40, empty=40), None, BagOutweighs),
    ],
)
def test_an_unlikely_weight_is_asked_about(now: Weighed, before: Weighed | None, problem: Any):
    assert can_weigh(now, before, sure=False) is (problem is None)
    assert can_weigh(now, before, sure=True) is (problem is not BagOutweighs)
    if problem:
        with pytest.raises(problem):
            check_weight(now, before, sure=False)


# -- on both databases -----------------------------------------------------------------------------------------------------


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


def weigh(writer: Writer, ground: Ground, **told: Any) -> schemas.WeighingMade:
    return writer.write_now(actions.weigh_bag, ground.host, schemas.WeighingCreate(**told))


def test_two_weighings_tell_a_loss_on_the_bundles_timeline_too(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    (bundle,) = make_bundles(writer, ground)
    weigh(writer, ground, bundle_id=bundle, grams="412.5", empty_grams="12.5", weighed_at=ago(days=20))
    second = weigh(writer, ground, bundle_id=bundle, grams="404.5")

    with database.reading() as session:
        with statements.at_most(4):
            told = queries.get_weighings(session, bundle)
        words = [event.words for event in provenance_queries.timeline(session, bundle)]
    assert second.loss is not None
    assert second.loss == told.loss
    assert (second.loss.lost_grams, round(second.loss.lost_pct, 6)) == (8.0, 2.0)
    assert [one.grams for one in told.weighings] == [Decimal("404.5"), Decimal("412.5")]
    assert {"The bag weighed 412.5 g.", "The bag weighed 404.5 g."} <= set(words)


def test_sticks_thrown_away_between_two_weighings_make_them_incomparable_unless_weighed(
    writer: Writer, ground: Ground, database: Database
):
    (bundle,) = make_bundles(writer, ground)
    weigh(writer, ground, bundle_id=bundle, grams="400", weighed_at=ago(days=20))
    body = DiscardCreate(bundle_id=bundle, sticks=1, reason="mould", done_at=ago(days=10))
    writer.write_now(bundle_actions.discard_sticks, ground.host, body)

    assert weigh(writer, ground, bundle_id=bundle, grams="380").loss is None
    weigh(writer, ground, bundle_id=bundle, grams="398", moment="before", weighed_at=ago(days=10, minutes=5))
    last = weigh(writer, ground, bundle_id=bundle, grams="383", moment="after", weighed_at=ago(days=10))
    assert last.loss is not None
    assert (last.loss.lost_grams, last.loss.removed_grams) == (5.0, 15.0)


def test_an_unlikely_weight_is_asked_about_once_and_a_mistyped_one_is_crossed_out(
    writer: Writer, ground: Ground, database: Database
):
    (bundle,) = make_bundles(writer, ground)
    stop_bundles(writer, ground, [bundle])  # a weighing moves nothing, so stopped wood may be weighed
    weigh(writer, ground, bundle_id=bundle, grams="400", weighed_at=ago(days=2))
    with pytest.raises(AreYouSure):
        weigh(writer, ground, bundle_id=bundle, grams="40")
    made = weigh(writer, ground, bundle_id=bundle, grams="40", sure=True)
    body = schemas.TakenBack(why="it was 398")
    writer.write_now(actions.take_weighing_back, ground.host, made.id, body)

    with pytest.raises(WeighingTakenBack):
        writer.write_now(actions.take_weighing_back, ground.host, made.id, body)
    last = weigh(writer, ground, bundle_id=bundle, grams="398")
    assert last.loss is not None
    assert last.loss.lost_grams == 2.0


def test_a_weight_of_a_look_counts_too_and_what_cannot_be_is_refused(
    writer: Writer, ground: Ground, database: Database
):
    (bundle,) = make_bundles(writer, ground)
    look = schemas.BundleCheckCreate(bundle_id=bundle, bag_grams=300.0, seen_at=ago(days=9))
    writer.write_now(actions.record_bundle_checks, ground.host, [look])

    made = weigh(writer, ground, bundle_id=bundle, grams="297")
    assert made.loss is not None
    assert made.loss.lost_grams == 3.0
    for problem, told in (
        (NoSuchBundle, {"bundle_id": uuid4(), "grams": "3"}),
        (InTheFuture, {"bundle_id": bundle, "grams": "297", "weighed_at": TODAY + timedelta(hours=1)}),
    ):
        with pytest.raises(problem):
            weigh(writer, ground, **told)


def test_what_is_asked_of_a_weight_speaks_of_the_scale():
    with pytest.raises(AreYouSure) as asked:
        check_weight(at(0, 99_999), None, sure=False)

    assert "scale" in asked.value.todo
