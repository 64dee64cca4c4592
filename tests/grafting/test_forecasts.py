"""Forecasts by what was learned, kept as they stood, and held against what took."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from sqlalchemy import update
from sqlmodel import select

from service.exchange import actions as exchange
from service.exchange.schemas import HandOverCreate
from service.grafting.actions.learning import learning_wanted
from service.lib.jobs import Worker
from service.members.tables import Party
from service.science.groups import GROUPS
from service.science.hazards import traits_of
from service.science.parameters import numbers_digest
from service.science.viability import Ageing, estimate
from service.storage.actions.dosing import ask_for_store, dosing, keeping
from service.storage.actions.forecasts import FORECASTS, forecasting, forecasts_wanted
from service.storage.queries.forecasts import forecasts_of, steps_of
from service.storage.queries.grafted import wood_then
from service.storage.queries.keeping import keeping_of
from service.storage.tables import ForecastKept
from tests.builders.cherries import CUT, FASTER, SLOWER, Cherries
from tests.builders.storage import make_person


class Kept(Cherries):
    """The cherries, with forecasts made and kept."""

    def __init__(self, *given):
        super().__init__(*given)
        self.worker = Worker(
            self.database, self.writer, [*self.worker.kinds.values(), keeping(), forecasting()]
        )
        self.worker.ticks = [forecasts_wanted]

    def work(self):
        if self.worker.ticks:
            self.worker.look_at_the_clock()
        super().work()

    def on_day(self, day):
        self.clock.at = CUT + timedelta(days=day)
        return self

    def told(self, bundle=None):
        with self.database.reading() as session:
            return keeping_of(session, bundle or self.bundle, self.clock.at)

    def kept(self, bundle=None, why=None):
        with self.database.reading() as session:
            rows = forecasts_of(session, bundle or self.bundle)
        return [one for one in rows if why in (None, one.why)]

    def reckon(self, day):
        self.on_day(day)
        self.writer.write_now(ask_for_store, None, self.store.id, timedelta(0))
        self.worker.run_due()


@pytest.fixture
def cherries(database, writer, clock):
    return Kept(database, writer, clock)


def test_of_however_many_bundles_the_steps_are_asked_for_in_one_statement(database, statements):
    """More ids than a database takes parameters."""
    with database.reading() as session:
        statements.clear()
        found = steps_of(session, [uuid4() for _ in range(70_000)])

    assert found == {}
    assert len(statements) == 1


def test_what_was_learned_moves_the_forecast_as_the_science_says(cherries):
    rows, mean, spread = SLOWER
    other = cherries.wood()
    before = cherries.on_day(49).told(other)
    cherries.on_day(180).season(rows)
    cherries.work()

    after = cherries.on_day(49).told(other)

    with cherries.database.reading() as session:
        at = cherries.clock.at
        wood = wood_then(session, {other: {at}})[other, at]
    expected = estimate(traits_of(GROUPS["cherry_sweet"]), wood.doses, Ageing(mean, spread))
    assert after.share.expected == pytest.approx(expected.expected, abs=5e-3)
    assert (after.share.low, after.share.high) == pytest.approx((expected.low, expected.high), abs=8e-3)
    assert after.share.expected > before.share.expected + 0.3
    assert (before.ageing_version, after.ageing_version) == (None, 1)
    assert after.keeps_until > before.keeps_until
    assert after.digest == before.digest  # the wood is the same, and lay the same


@pytest.mark.parametrize(
    "rows, share_first, says",
    [
        ([(14, 9, 8), (49, 10, 4)], False, "below 20"), ([(14, 10, 9), (49, 10, 4)], True, "rests on 20 judged grafts"),
        ([(14, 20, 15)], False, "which cannot tell its age from the grafting"),
    ],
)  # fmt: skip
def test_below_twenty_judged_grafts_the_usual_time_and_the_look_stand_first(
    cherries, rows, share_first, says
):
    cherries.season(rows)
    cherries.work()

    told = cherries.told(cherries.wood())

    assert (told.judged_here, told.share_first) == (sum(row[1] for row in rows), share_first)
    assert says in told.learned_words


def test_a_kind_without_takes_rests_on_general_numbers(cherries):
    told = cherries.on_day(40).told()

    assert (told.judged_here, told.share_first, told.ageing_version) == (0, False, None)
    assert "general numbers alone" in told.learned_words
    assert told.doses.budbreak > told.doses.reserve > 0
    assert told.hazard == "budbreak"


def test_a_forecast_is_kept_when_wood_is_grafted_and_stays_as_it_was(cherries):
    cherries.on_day(49).graft(49, 5)
    cherries.work()
    (kept,) = cherries.kept(why="grafted")
    assert kept.share == cherries.told().share
    assert kept.as_of == CUT + timedelta(days=49)
    assert (kept.ageing_version, kept.numbers_digest) == (None, numbers_digest())
    assert kept.doses == cherries.told().doses
    cherries.on_day(180).season(SLOWER[0])
    cherries.work()

    assert cherries.kept(why="grafted")[-1] == kept or kept in cherries.kept(why="grafted")
    assert cherries.on_day(49).told().share != kept.share


def test_a_forecast_is_kept_of_what_somebody_got(cherries):
    taker = make_person(cherries.writer, name="Hedy Brook")
    lives = update(Party).where(Party.id == taker.party_id).values(area_id=cherries.ground.area_id)
    cherries.writer.write_now(lambda session: session.execute(lives) and None, None)
    cherries.on_day(30)
    body = HandOverCreate(bundle_id=cherries.bundle, sticks=3, party_id=taker.party_id)
    child = cherries.writer.write_now(exchange.hand_over, cherries.host, [body])[0].bundle.id

    cherries.work()

    (kept,) = cherries.kept(child, "handed_over")
    assert kept.as_of == CUT + timedelta(days=30)
    assert kept.share.expected == pytest.approx(cherries.told().share.expected, abs=1e-3)
    assert kept.share.low < kept.share.expected < kept.share.high
    assert (kept.ageing_version, kept.numbers_digest) == (None, numbers_digest())
    assert kept.digest and kept.move_seq


def test_of_wood_that_nobody_knows_where_it_lay_is_kept_that_nothing_was_told(cherries):
    away = cherries.wood(away=True)
    cherries.on_day(49).graft(49, 5, away)

    cherries.work()

    (kept,) = cherries.kept(away)
    assert (kept.share, kept.doses, kept.why) == (None, None, "grafted")


def test_each_move_keeps_one_forecast_and_old_ones_none(cherries):
    cherries.graft(14, 2)
    cherries.work()
    cherries.work()
    assert len(cherries.kept(why="grafted")) == 1
    cherries.graft(20, 2)
    cherries.clock.move(timedelta(days=3))

    cherries.work()

    assert len(cherries.kept(why="grafted")) == 1


def test_a_forecast_is_kept_where_its_share_changes_by_a_step(cherries):
    with cherries.database.reading() as session:
        assert list(session.exec(select(ForecastKept)).all()) == []
    days = (1, 2, 3, 20, 35, 36, 45)
    for day in days:
        cherries.reckon(day)

    changed = list(reversed(cherries.kept(why="changed")))
    shares = [one.share.expected for one in changed]

    steps = [round(share * 20) for share in shares]
    assert len(steps) == len(set(steps))
    assert steps == sorted(steps, reverse=True)
    assert 3 <= len(steps) < len(days)
    assert all(one.digest and one.numbers_digest == numbers_digest() for one in changed)
    assert len({one.digest for one in changed}) == len(changed)  # of another way each


def test_what_was_told_at_grafting_is_held_against_what_took(cherries):
    cherries.season(FASTER[0])
    cherries.work()  # the forecasts are kept
    cherries.judge(cherries.graft(14, 2), 1)
    cherries.work()
    cherries.work()

    told = {one.tenth: (one.grafts, one.taken) for one in cherries.learned().came_true}

    kept = {one.as_of: one.share.expected for one in cherries.kept(why="grafted")}
    wanted = {}
    for days, grafted, taken in [*FASTER[0], (14, 2, 1)]:
        tenth = min(9, int(kept[CUT + timedelta(days=days)] * 10))
        before = wanted.get(tenth, (0, 0))
        wanted[tenth] = (before[0] + grafted, before[1] + taken)
    assert told == wanted
    assert sum(grafts for grafts, _ in told.values()) == cherries.learned().grafts


def test_time_asks_for_learning_each_day_once_anything_was_judged(cherries):
    def asked():
        with cherries.database.reading() as session:
            return [one.wait for one in learning_wanted(session, cherries.clock.at)]

    assert asked() == []
    cherries.season([(14, 10, 8)])
    assert asked() == [timedelta(0)]
    cherries.work()

    assert asked() == [timedelta(days=1)]


def test_keeping_forecasts_takes_as_many_statements_for_one_move_as_for_many(cherries, statements):
    assert (dosing().name, FORECASTS) == ("doses", "forecasts")
    cherries.graft(14, 1)
    statements.clear()
    cherries.worker.look_at_the_clock()
    cherries.worker.run_due()
    few = len(statements)
    for day in (15, 16, 17, 18):
        cherries.graft(day, 1, cherries.wood())
    statements.clear()

    cherries.worker.look_at_the_clock()
    cherries.worker.run_due()

    assert len(statements) <= few + 1
