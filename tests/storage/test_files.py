"""Loggers' files on both databases: looked at, asked about, taken whole or not at all, once, and taken back."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from service.lib.database import Database
from service.lib.errors import Problem
from service.lib.write import Writer
from service.storage import actions, schemas
from service.storage.rules import (
    FILE_STEPS,
    FileNeedsAnswers,
    FileSettled,
    FileState,
    FormMissing,
    NothingToTake,
    can_step,
    check_can_step,
)
from tests.builders.loggers import FORM, Clerk, hourly, make_logger
from tests.builders.storage import Ground, make_ground


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_ground(writer)


@pytest.fixture
def logger(writer: Writer, ground: Ground) -> schemas.LoggerRead:
    return make_logger(writer, ground, "Grey logger")


@pytest.fixture
def clerk(writer: Writer, ground: Ground, database: Database, logger: schemas.LoggerRead) -> Clerk:
    return Clerk(writer, ground, database, logger.id)


JAN_10 = datetime(2026, 1, 10, tzinfo=UTC)
NIGHT = hourly(JAN_10, ["2.5", "2.6", "2.4", "2.5"])


@pytest.mark.parametrize("state", list(FileState))
def test_each_state_allows_its_steps_and_no_other(state: FileState) -> None:
    for to in FileState:
        if can_step(state, to):
            check_can_step(state, to)
        else:
            with pytest.raises(FileSettled):
                check_can_step(state, to)
    assert set(FILE_STEPS) == set(FileState)


def test_a_file_is_looked_at_before_anything_is_in_the_record(clerk: Clerk) -> None:
    file = clerk.send(*NIGHT)
    before = clerk.look(file)
    clerk.form(file)
    looked = clerk.look(file)

    assert (before.columns, before.preview) == (["Time", "Temp"], None)
    assert before.form is not None
    assert (before.form.time, before.form.temp, before.form.zone) == ("Time", "Temp", "Europe/Berlin")
    assert looked.preview is not None
    assert (looked.preview.rows, looked.preview.new, looked.preview.same) == (4, 4, 0)
    assert (looked.preview.lowest_c, looked.preview.highest_c, looked.preview.mean_c) == (2.4, 2.6, 2.5)
    assert (looked.preview.first_at, looked.preview.step_minutes) == (JAN_10, 60)
    assert clerk.temps() == []


def test_the_columns_are_remembered_for_the_loggers_next_file(clerk: Clerk) -> None:
    clerk.take_all(*NIGHT)

    following = clerk.send(*hourly(JAN_10 + timedelta(days=1), ["3.0"]))
    other_kind = clerk.send("2026-01-12 08:00,3.0", heading="When,Degrees")

    assert clerk.look(following).preview is not None
    assert clerk.take(following).added == 1
    assert clerk.look(other_kind).preview is None
    with pytest.raises(FormMissing):
        clerk.take(other_kind)


def test_the_same_file_twice_adds_nothing_and_says_so(clerk: Clerk) -> None:
    first = clerk.take_all(*NIGHT)
    again = clerk.send(*NIGHT)
    taken = clerk.take(again)

    assert (first.added, first.same, taken.added, taken.same) == (4, 0, 0, 4)
    assert "very same file was taken" in again.told[0]
    assert clerk.temps() == [2.5, 2.6, 2.4, 2.5]


def test_two_people_who_take_the_same_file_at_once_add_it_once(clerk: Clerk) -> None:
    lines = hourly(JAN_10, ["2.5"] * 5 + ["2.6"] * 300)
    clerk.form(clerk.send(*NIGHT))
    files = [clerk.send(*lines) for _ in range(2)]

    with ThreadPoolExecutor(4) as pool:
        taken = list(pool.map(lambda file: _or_problem(clerk, file), files * 2))

    done = [one for one in taken if isinstance(one, schemas.FileSummary)]
    assert sorted((one.added, one.same) for one in done) == [(0, 305), (305, 0)]
    assert [type(one) for one in taken if isinstance(one, Problem)] == [FileSettled] * 2
    assert len(clerk.temps()) == 305


def _or_problem(clerk: Clerk, file: schemas.FileSummary) -> object:
    try:
        return clerk.take(file, stuck="right")
    except Problem as problem:
        return problem


# -- questions -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "bad, says",
    [
        ("2026-01-10 12:00,400", "400 is no temperature of a store"),
        ("2026-01-10 12:00,275.6", "looks like kelvin"),
        ("2026-01-10 12:00,warm", "'warm' is no number"),
        ("2027-01-10 12:00,2.5", "has not come yet"),
        ("soon,2.5", "is no date with a time"),
    ],
    ids=["400 degrees", "kelvin", "a word", "the future", "no time"],
)
def test_rows_that_cannot_be_are_named_and_left_out_only_when_somebody_says_so(
    clerk: Clerk, bad: str, says: str
) -> None:
    file = clerk.send(*NIGHT, bad)
    clerk.form(file)

    preview = clerk.look(file).preview
    with pytest.raises(FileNeedsAnswers) as refused:
        clerk.take(file)
    before = clerk.temps()
    taken = clerk.take(file, leave_faulty=True)

    assert preview is not None
    assert [(row.line, says in row.what) for row in preview.faulty] == [(6, True)]
    assert refused.value.facts["rows"][0].startswith("line 6: ")
    assert before == []
    assert (taken.added, taken.told) == (4, ["One row that cannot be used was left out."])


def test_another_value_than_what_stands_is_asked_about(clerk: Clerk) -> None:
    clerk.take_all(*NIGHT)
    file = clerk.send(*hourly(JAN_10, ["2.5", "9.9", "2.4", "2.5", "2.6"]))

    preview = clerk.look(file).preview
    with pytest.raises(FileNeedsAnswers):
        clerk.take(file)
    kept = clerk.take(file, where_differing="keep")

    assert preview is not None
    assert (preview.new, preview.same, preview.differing_count) == (1, 3, 1)
    assert [(row.line, row.what) for row in preview.differing] == [
        (3, "another value for this time is in the record")
    ]
    assert (kept.added, kept.same, kept.passed_over) == (1, 3, 1)
    assert clerk.temps() == [2.5, 2.6, 2.4, 2.5, 2.6]


def test_the_new_value_may_be_put_in_the_place_of_the_old(clerk: Clerk) -> None:
    clerk.take_all(*NIGHT)

    put = clerk.take_all(*hourly(JAN_10, ["2.5", "9.9"]), where_differing="replace")
    back = clerk.back(put)

    assert (put.replaced, put.same) == (1, 1)
    assert back.told[-1] == "One reading that it had replaced does not come back: send its file again."
    assert clerk.temps() == [2.5, 2.4, 2.5]


def test_two_loggers_in_one_file_are_told_and_one_can_be_chosen(clerk: Clerk) -> None:
    rows = [
        f"{JAN_10 + timedelta(hours=n):%Y-%m-%d %H:%M},{temp},{name}"
        for n in range(20)
        for temp, name in (("2.5", "top"), ("3.5", "bottom"))
    ]
    file = clerk.send(*rows, heading="Time,Temp,Sensor")
    clerk.form(file)

    both = clerk.look(file)
    with pytest.raises(FileNeedsAnswers):
        clerk.take(file)
    clerk.form(file, FORM.model_copy(update={"only_column": "Sensor", "only_value": "bottom"}))
    taken = clerk.take(file)

    assert both.preview is not None
    assert "two loggers" in both.preview.notes[-1]
    assert (both.several_column, both.several) == ("Sensor", ["bottom", "top"])
    assert (taken.added, set(clerk.temps())) == (20, {3.5})


def test_a_sensor_that_seems_stuck_is_asked_about(clerk: Clerk) -> None:
    file = clerk.send(*hourly(JAN_10, ["2.5", "2.6", *["2.7"] * 30, "2.8"]))
    clerk.form(file)

    preview = clerk.look(file).preview
    with pytest.raises(FileNeedsAnswers):
        clerk.take(file)
    taken = clerk.take(file, stuck="leave_out")

    assert preview is not None
    assert [(one.from_at, one.until_at, one.what) for one in preview.stuck] == [
        (JAN_10 + timedelta(hours=2), JAN_10 + timedelta(hours=31), "30 readings of 2.7 °C")
    ]
    assert taken.added == 33
    assert clerk.temps() == [2.5, 2.6, 2.8]
    assert (clerk.back(taken).state, clerk.temps()) == ("taken_back", [])


def test_what_is_right_though_it_never_moves_counts(clerk: Clerk) -> None:
    clerk.take_all(*hourly(JAN_10, ["2.7"] * 30), stuck="right")

    assert clerk.temps() == [2.7] * 30


@pytest.mark.parametrize("answer, counts", [("right", 21 * 24), ("leave_out", 7 * 24)])
def test_copied_weeks_are_named_by_both_ends_and_asked_about(clerk: Clerk, answer: str, counts: int) -> None:
    """Three weeks of 20 January to 9 February, the second and third copies of the first: made up, no outside source."""
    week = [f"{2 + (n * 37 % 101) / 50:.2f}" for n in range(7 * 24)]
    file = clerk.send(*hourly(datetime(2026, 1, 20, tzinfo=UTC), week * 3))
    clerk.form(file)
    preview = clerk.look(file).preview

    with pytest.raises(FileNeedsAnswers, match="say whether what says again") as refused:
        clerk.take(file)
    clerk.take(file, copied=answer)

    words = (
        "From 27 January 2026 to 9 February 2026 each reading says exactly what the one a week before it said"
    )
    assert preview is not None and preview.notes == [f"{words}: was something copied?"]
    assert [(one.from_at, one.until_at) for one in preview.copied] == [
        (datetime(2026, 1, 27, tzinfo=UTC), datetime(2026, 2, 9, 23, tzinfo=UTC))
    ]
    assert refused.value.facts["asked"] == ["copied"]
    assert len(clerk.temps()) == counts


def test_a_copied_day_a_gap_and_disorder_are_told(clerk: Clerk) -> None:
    day = [f"{2 + (n * 7 % 24) / 10}" for n in range(24)]
    lines = hourly(JAN_10, day * 2)
    lines[3], lines[5] = lines[5], lines[3]
    later = hourly(JAN_10 + timedelta(days=3), ["2.5"])

    file = clerk.send(*lines, *later)
    clerk.form(file)
    preview = clerk.look(file).preview

    assert preview is not None
    assert preview.notes == [
        "2 rows stood out of order and were put in order.",
        "On 11 January 2026 each reading says exactly what the one a day before it said: was something copied?",
    ]
    assert [(gap.from_at, gap.until_at) for gap in preview.gaps] == [
        (JAN_10 + timedelta(hours=47), JAN_10 + timedelta(days=3))
    ]


@pytest.mark.parametrize(
    "lines, form, says",
    [
        (
            ["2026-01-10 08:00,2.5"],
            FORM.model_copy(update={"zone": "Berlin"}),
            "neither a place nor an offset",
        ),
        (["2026-01-10 08:00,2.5"], FORM.model_copy(update={"temp": "Warmth"}), "no column called Warmth"),
    ],
    ids=["no such zone", "no such column"],
)
def test_a_form_that_does_not_fit_is_told_and_takes_nothing(
    clerk: Clerk, lines: list[str], form: schemas.FileFormSet, says: str
) -> None:
    file = clerk.send(*lines)
    clerk.form(file, form)

    assert says in clerk.look(file).problem
    with pytest.raises(Problem, match=says):
        clerk.take(file)


@pytest.mark.parametrize("text", ["", "hello", "PK\x03\x04 not a sheet"])
def test_what_is_no_table_is_told(clerk: Clerk, text: str) -> None:
    file = clerk.writer.write_now(
        actions.send_file, clerk.ground.host, clerk.logger_id, uuid4(), "x.csv", text.encode()
    )

    assert len(clerk.look(file).problem) > 10


def test_a_file_without_a_reading_brings_none(clerk: Clerk) -> None:
    with pytest.raises(NothingToTake):
        clerk.take_all("2026-01-10 08:00,--", "2026-01-10 09:00,400", leave_faulty=True)
