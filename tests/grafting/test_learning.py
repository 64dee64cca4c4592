"""Learning from takes, through the service. COMPUTED: posteriors worked out beforehand by another program on the same grid."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from itertools import permutations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import select

from service.grafting import actions, schemas
from service.grafting.actions.learning import LEARNING, learn_from, learning, learning_wanted
from service.grafting.queries.learning import AllTakes, all_takes
from service.lib.jobs import Job, TryLater
from service.science.parameters import numbers_digest, numbers_now
from service.storage.actions.learned import record_learned
from service.storage.tables import AgeingVersion, NumbersUsed
from tests.builders.cherries import CUT, FASTER, SLOWER, Cherries


@pytest.fixture
def cherries(database, writer, clock):
    return Cherries(database, writer, clock)


@pytest.mark.parametrize("example", [FASTER, SLOWER])
def test_takes_move_ageing_as_computed_elsewhere(cherries, example):
    rows, mean, spread = example
    cherries.season(rows)

    cherries.work()

    (group,) = cherries.learned().groups
    assert group.species_group == "cherry_sweet"
    assert group.mu == pytest.approx(mean, abs=2e-3)  # hours of a fridge, the example has whole days
    assert group.sigma == pytest.approx(spread, abs=2e-3)
    assert (group.before_mu, group.before_sigma) == (0, 0.30)
    assert (group.grafts, group.taken) == (sum(n for _, n, _ in rows), sum(y for *_, y in rows))
    assert group.is_told_apart
    assert [one.method for one in group.methods] == ["whip-and-tongue"]


def test_deaths_told_early_teach_as_much_as_those_told_on_the_day(cherries):
    rows, mean, spread = FASTER
    for days, grafted, taken in rows:
        dead = cherries.graft(days, grafted - taken)
        cherries.judge(dead, 0, seen_on=(dead.done_at + timedelta(weeks=4)).date())
        cherries.judge(cherries.graft(days, taken), taken)

    cherries.work()

    (group,) = cherries.learned().groups
    assert (group.grafts, group.taken, cherries.learned().left_out) == (30, 19, {})
    assert group.mu == pytest.approx(mean, abs=2e-3)
    assert group.sigma == pytest.approx(spread, abs=2e-3)


def test_a_graft_found_dead_early_is_learned_on_its_day_though_nobody_looks_again(cherries):
    cherries.worker.ticks = [learning_wanted]
    made = cherries.graft(150, 10)
    cherries.judge(made, 0, seen_on=(made.done_at + timedelta(weeks=3)).date())
    cherries.work()
    before = cherries.learned()
    cherries.clock.at = made.done_at + timedelta(weeks=6, days=-1)  # judged from six weeks on
    cherries.worker.look_at_the_clock()
    cherries.work()
    the_day_before = cherries.learned()
    cherries.clock.move(timedelta(days=1))
    cherries.worker.look_at_the_clock()

    cherries.work()

    assert (before.grafts, before.left_out) == (0, {"too_early": 10})
    assert the_day_before == before
    assert (cherries.learned().grafts, cherries.learned().taken, cherries.learned().left_out) == (10, 0, {})


def test_as_long_as_nothing_was_judged_there_is_no_version(cherries):
    cherries.graft(14, 10)
    cherries.writer.write_now(actions.learning.ask_to_learn, None)

    cherries.work()

    assert cherries.learned() is None


def test_a_graft_that_was_taken_back_counts_no_more(cherries):
    cherries.season(FASTER[0])
    made = cherries.graft(49, 10)
    cherries.judge(made, 0)
    cherries.work()
    before = cherries.learned().grafts
    body, just_now = schemas.GraftUndo(reason="Another bundle"), cherries.writer.clock.now()
    # As a list that is taken back does it: looks that came with it forbid nothing.
    cherries.writer.write_now(
        partial(actions.take_back_graft, but_looks_of=just_now), cherries.host, made.id, body
    )

    cherries.work()

    assert (before, cherries.learned().grafts) == (40, 30)


def test_what_was_lost_to_a_known_other_cause_is_no_failure(cherries):
    cherries.season(FASTER[0])
    cherries.judge(cherries.graft(35, 5), 0, other_cause=5, cause="stock_died")

    cherries.work()

    learned = cherries.learned()
    assert (learned.grafts, learned.left_out) == (30, {"other_cause": 5})
    assert learned.groups[0].mu == pytest.approx(FASTER[1], abs=2e-3)


def test_wood_of_which_nobody_knows_where_it_lay_says_nothing(cherries):
    away = cherries.wood(away=True)
    cherries.season(FASTER[0])
    cherries.season([(14, 5, 0)], bundle=away)

    cherries.work()

    learned = cherries.learned()
    assert learned.grafts == 30
    assert learned.left_out == {"not_written": 5}


def test_summer_budwood_says_nothing(cherries):
    from sqlalchemy import update

    from service.bundles.tables import Bundle
    from service.collection.tables import Collection

    summer = cherries.wood()
    its_cut = select(Bundle.collection_id).where(Bundle.id == summer).scalar_subquery()
    cherries.writer.write_now(
        lambda session: session.execute(update(Collection).where(Collection.id == its_cut).values(wood="summer")) and None, None
    )  # fmt: skip
    cherries.season([(14, 5, 5)], bundle=summer)
    cherries.season([(14, 10, 9)])

    cherries.work()

    assert cherries.learned().left_out == {"no_forecast": 5}


def test_a_graft_of_two_woods_says_nothing_of_either(cherries):
    other = cherries.wood()
    woods = [
        {"bundle_id": cherries.bundle, "sticks": 1},
        {"bundle_id": other, "sticks": 1, "part": "interstem"},
    ]
    cherries.judge(cherries.graft(14, 4, woods=woods), 3)
    cherries.season([(14, 10, 9)])

    cherries.work()

    assert cherries.learned().left_out == {"several_woods": 4}
    assert cherries.learned().grafts == 10


def test_learning_is_anew_from_all_takes_and_no_version_is_changed(cherries):
    cherries.season(FASTER[0][:2])
    cherries.work()
    first = cherries.learned()
    cherries.season(FASTER[0][2:])
    cherries.work()

    second = cherries.learned()

    assert (first.version, second.version) == (1, 2)
    assert cherries.learned(1) == first
    assert second.groups[0].mu == pytest.approx(FASTER[1], abs=2e-3)


def test_a_correction_of_a_look_is_learned_and_the_look_before_it_forgotten(cherries):
    made = cherries.graft(49, 10)
    cherries.judge(made, 9)
    cherries.work()
    before = cherries.learned()
    cherries.clock.move(timedelta(hours=1))
    cherries.judge(made, 2)

    cherries.work()

    assert cherries.learned().version == 2
    assert cherries.learned().taken == 2
    assert cherries.learned().groups[0].mu > before.groups[0].mu


def test_what_changes_nothing_makes_no_version(cherries):
    cherries.season(FASTER[0])
    cherries.work()
    cherries.graft(14, 3)  # waits for its verdict
    cherries.writer.write_now(actions.learning.ask_to_learn, None)

    cherries.work()

    assert cherries.learned().version == 1


def test_when_the_last_take_is_gone_nothing_is_learned_any_more(cherries):
    made = cherries.graft(49, 10)
    cherries.judge(made, 2)
    cherries.work()
    cherries.call(cherries.ground.taxon_id, "")  # no group: as of a name put right
    cherries.writer.write_now(actions.learning.ask_to_learn, None)

    cherries.work()

    learned = cherries.learned()
    assert (learned.version, learned.groups, learned.left_out) == (2, [], {"no_forecast": 10})


def test_late_readings_are_learned_from(cherries):
    """The hours of the fridge come a week late: doses are read from the record as it stands, not as it stood."""
    warm = cherries.wood()
    cherries.season([(35, 10, 5)], bundle=warm)
    cherries.work()
    before = cherries.learned().digest
    from tests.builders.loggers import send, steady

    send(
        cherries.writer,
        cherries.ground,
        cherries.sensor,
        steady(CUT + timedelta(days=5, minutes=30), 48, "12.0"),
    )
    cherries.work()  # its hours are put together first
    cherries.writer.write_now(actions.learning.ask_to_learn, None)

    cherries.work()

    assert cherries.learned().version == 2
    assert cherries.learned().digest != before


def test_two_who_learn_at_the_same_time_make_one_version(cherries):
    cherries.season(FASTER[0])
    with cherries.database.reading() as session:
        found = learn_from(all_takes(session, cherries.clock.at), 1, cherries.clock.at)
    cherries.writer.write_now(record_learned, None, found)

    with pytest.raises(TryLater):
        cherries.writer.write_now(record_learned, None, found)

    assert cherries.learned().version == 1


def test_the_numbers_it_was_reckoned_with_are_kept(cherries):
    cherries.season(FASTER[0])

    cherries.work()

    with cherries.database.reading() as session:
        kept = session.exec(select(NumbersUsed)).one()
    assert kept.digest == cherries.learned().numbers_digest == numbers_digest()
    assert kept.numbers == numbers_now()
    assert kept.numbers["learning.sigma"] == 0.3


def test_only_verdicts_and_grafts_taken_back_ask_for_learning(cherries):
    made = cherries.graft(14, 10)
    cherries.judge(made, 8, is_verdict=False, seen_on=(made.done_at + timedelta(weeks=3)).date())
    with cherries.database.reading() as session:
        before = session.exec(select(Job).where(Job.kind == LEARNING)).all()
    cherries.judge(made, 8)
    cherries.judge(made, 8)

    with cherries.database.reading() as session:
        after = session.exec(select(Job).where(Job.kind == LEARNING)).all()

    assert (len(before), len(after)) == (0, 1)


def test_statements_do_not_grow_with_the_grafts(cherries, statements):
    kind = learning()
    assert kind.name == LEARNING
    cherries.season(FASTER[0])
    statements.clear()
    with cherries.database.reading() as session:
        all_takes(session, cherries.clock.at)
    few = len(statements)
    for _ in range(4):
        cherries.season(FASTER[0], bundle=cherries.wood())
    statements.clear()

    with cherries.database.reading() as session:
        all_takes(session, cherries.clock.at)

    assert len(statements) == few <= 17


@pytest.mark.databases("sqlite")
@given(order=st.permutations(range(6)))
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_is_learned_is_the_same_whatever_order_takes_came_in(told_takes, order):
    takes = told_takes
    mixed = {name: [own[n] for n in order if n < len(own)] for name, own in takes.by_group.items()}
    others = AllTakes(mixed, takes.left_out, takes.came_true, takes.digest)

    assert learn_from(others, 1, CUT) == learn_from(takes, 1, CUT)


@pytest.fixture
def told_takes(cherries):
    cherries.season([*SLOWER[0], (14, 3, 1), (35, 3, 2)])
    with cherries.database.reading() as session:
        return all_takes(session, cherries.clock.at)


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("order", list(permutations(range(3)))[::2])
def test_takes_that_were_written_down_in_another_order_give_the_same_digest(cherries, order):
    made = [cherries.graft(days, grafted) for days, grafted, _ in FASTER[0]]
    for place in order:
        cherries.judge(made[place], FASTER[0][place][2])

    cherries.work()

    with cherries.database.reading() as session:
        version = session.exec(select(AgeingVersion)).one()
    assert version.taken == 19
    (group,) = cherries.learned().groups
    assert group.mu == pytest.approx(FASTER[1], abs=2e-3)


def test_groups_start_from_the_others_once_three_have_twenty_grafts_each():
    from service.science.learning import learn, learn_groups
    from tests.science.test_learning import SLOWER as SLOW
    from tests.science.test_learning import takes as science_takes

    slow, few = science_takes(SLOW), science_takes([(49, 4, 2)])

    start, found = learn_groups({"a": slow, "b": slow, "c": slow, "d": few})

    alone = learn(slow).ageing.mu
    assert found["d"].before.mu == pytest.approx(alone)
    assert found["a"].before.mu == 0  # only two others have so many
    assert start.mu == pytest.approx(alone)
