"""Days of readings as blocks of bytes: what comes out is what went in, in whatever order and however often it came."""

from __future__ import annotations

import zlib
from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.lib.readings import (
    DAY_SECONDS,
    DRY,
    FAHRENHEIT,
    DamagedBlock,
    Readings,
    hours_of,
    make_readings,
    merge,
    no_readings,
    pack_day,
    together,
    unpack_day,
    without_source,
    without_spans,
)

DAY = 20_498  # 14 February 2026
BEGINS = DAY * DAY_SECONDS


def rows_of(readings: Readings) -> list[tuple[int, Decimal, str, Decimal | None, int]]:
    """Each reading as a person would write it: exact numbers, not nearly."""
    return [
        (
            at, Decimal(temp).scaleb(-readings.temp_decimals), "F" if mark & FAHRENHEIT else "C",
            None if mark & DRY else Decimal(humidity).scaleb(-readings.humidity_decimals), source,
        )
        for at, temp, humidity, mark, source in zip(
            *(column.tolist() for column in (readings.at, readings.temp, readings.humidity, readings.marks, readings.source)), strict=True
        )
    ]  # fmt: skip


one_reading = st.tuples(
    st.integers(0, DAY_SECONDS - 1), st.integers(-(10**8), 10**8), st.integers(0, 10**8), st.integers(0, 3), st.integers(0, 2**40)
)  # fmt: skip


@st.composite
def days(draw: st.DrawFn, least: int = 0) -> Readings:
    """Any readings of one day, no instant twice."""
    rows = draw(st.lists(one_reading, min_size=least, max_size=60, unique_by=lambda row: row[0]))
    columns = [list(column) for column in zip(*rows, strict=True)] or [[], [], [], [], []]
    at = [BEGINS + second for second in columns[0]]
    return make_readings(
        at, columns[1], [0 if mark & DRY else humidity for humidity, mark in zip(columns[2], columns[3], strict=True)],
        columns[3], columns[4], draw(st.integers(0, 6)), draw(st.integers(0, 6)),
    )  # fmt: skip


@given(days())
def test_a_block_gives_back_exactly_what_was_put_in(readings: Readings) -> None:
    assert rows_of(unpack_day(pack_day(readings))) == rows_of(readings)


@given(days(), st.permutations(range(60)))
def test_the_order_in_which_readings_come_changes_nothing(readings: Readings, order: list[int]) -> None:
    places = np.array([place for place in order if place < len(readings)], int)
    shuffled = readings.pick(places)

    again = make_readings(
        *(column.tolist() for column in (shuffled.at, shuffled.temp, shuffled.humidity, shuffled.marks)),
        shuffled.source.tolist(), readings.temp_decimals, readings.humidity_decimals,
    )  # fmt: skip

    assert rows_of(again) == rows_of(readings)


@given(days(), days())
def test_what_stands_stays_and_what_is_new_is_added_in_its_place(stands: Readings, new: Readings) -> None:
    told = {row[0]: row for row in rows_of(stands)}
    wanted = {**{row[0]: row for row in rows_of(new)}, **told}
    same = [row for row in rows_of(new) if row[0] in told and told[row[0]][1:4] == row[1:4]]

    merged = merge(stands, new)

    assert rows_of(merged.readings) == [wanted[at] for at in sorted(wanted)]
    assert merged.added == len(wanted) - len(told)
    assert merged.same == len(same)
    assert len(merged.differing) == len(new) - merged.added - merged.same
    assert all(rows_of(new)[place][0] in told for place in merged.differing)


@given(days())
def test_the_same_readings_again_change_nothing(readings: Readings) -> None:
    merged = merge(readings, readings)

    assert rows_of(merged.readings) == rows_of(readings)
    assert (merged.added, merged.same, merged.differing) == (0, len(readings), ())


@given(days(), days(), days())
def test_late_readings_come_to_the_same_end_in_any_order(
    first: Readings, second: Readings, third: Readings
) -> None:
    """Where no two say different things of one instant."""
    told: dict[int, object] = {}
    parts = []
    for part in (first, second, third):
        fresh = np.array([int(at) not in told for at in part.at], bool)
        told |= dict.fromkeys(part.at.tolist())
        parts.append(part.pick(fresh))
    one, two, three = parts

    forth = merge(merge(merge(no_readings(), one).readings, two).readings, three).readings
    back = merge(merge(merge(no_readings(), three).readings, two).readings, one).readings

    assert rows_of(forth) == rows_of(back)


def test_an_instant_told_twice_at_once_is_kept_once_and_another_value_is_named() -> None:
    new = make_readings([60, 0, 60, 60], [31, 20, 31, 35], [0] * 4, [DRY] * 4, 1, 1)

    merged = merge(no_readings(), new)

    assert [(row[0], row[1]) for row in rows_of(merged.readings)] == [
        (0, Decimal("2.0")),
        (60, Decimal("3.1")),
    ]
    assert (merged.added, merged.same, merged.differing) == (2, 1, (3,))


def test_the_same_value_with_more_decimals_is_the_same() -> None:
    stands = make_readings([0, 60], [20, 31], [0, 0], [DRY, DRY], 1, 1)

    merged = merge(stands, make_readings([0, 60], [200, 312], [0, 0], [DRY, DRY], 2, 2))

    assert (merged.added, merged.same, merged.differing) == (0, 1, (1,))


def test_degrees_of_the_other_kind_are_another_value() -> None:
    stands = make_readings([0], [35], [0], [DRY])

    merged = merge(stands, make_readings([0], [35], [0], [DRY | FAHRENHEIT], 2))

    assert merged.differing == (0,)


@given(days(least=1), st.data())
def test_what_came_from_one_place_can_be_taken_out_again(readings: Readings, data: st.DataObject) -> None:
    source = data.draw(st.sampled_from(readings.source.tolist()))

    left = without_source(readings, source)

    assert rows_of(left) == [row for row in rows_of(readings) if row[4] != source]


@given(
    days(),
    st.lists(st.tuples(st.integers(0, DAY_SECONDS), st.integers(0, DAY_SECONDS)).map(sorted), max_size=3),
)
def test_stretches_are_left_out_with_both_their_ends(readings: Readings, spans: list[list[int]]) -> None:
    out = [(BEGINS + begin, BEGINS + end) for begin, end in spans]

    left = without_spans(readings, out)

    assert rows_of(left) == [row for row in rows_of(readings) if not any(b <= row[0] <= e for b, e in out)]


@given(st.lists(st.integers(0, 40 * DAY_SECONDS), unique=True, max_size=80))
def test_days_are_cut_at_midnight_utc_and_put_together_again(at: list[int]) -> None:
    readings = make_readings(at, list(range(len(at))), [0] * len(at), [DRY] * len(at))

    cut = list(readings.days())

    assert all(
        datetime.fromtimestamp(int(second), UTC).date().toordinal() == day + date(1970, 1, 1).toordinal()
        for day, part in cut
        for second in part.at
    )
    assert [day for day, _ in cut] == sorted({second // DAY_SECONDS for second in at})
    assert rows_of(together([part for _, part in cut])) == rows_of(readings)


def test_parts_with_other_decimals_are_put_together_without_loss() -> None:
    first = make_readings([0], [2], [50], [0], 1)
    second = make_readings([60], [2375], [505], [0], 2, 3, 1)

    assert rows_of(together([first, second])) == [
        (0, Decimal(2), "C", Decimal(50), 1), (60, Decimal("2.375"), "C", Decimal("50.5"), 2),
    ]  # fmt: skip


def test_fahrenheit_is_shown_in_celsius_as_the_definition_has_it() -> None:
    # Fixed points of the Fahrenheit scale: 32 °F = 0 °C, 212 °F = 100 °C; both scales meet at -40 (definition of the scale).
    readings = make_readings([0, 1, 2, 3], [320, 2120, -400, -400], [0] * 4, [3, 3, 3, 2], 0, 1)

    assert readings.celsius().tolist() == pytest.approx([0.0, 100.0, -40.0, -40.0])


@given(days(least=1))
def test_an_hours_mean_is_the_plain_mean_of_its_readings(readings: Readings) -> None:
    found = hours_of(readings)

    celsius, percent = readings.celsius(), readings.percent()
    for place, hour in enumerate(found.hour.tolist()):
        inside = readings.at // 3600 == hour
        assert found.temp_c[place] == pytest.approx(np.mean(celsius[inside]), rel=1e-9, abs=1e-9)
        known = percent[inside][~np.isnan(percent[inside])]
        if len(known):
            assert found.humidity[place] == pytest.approx(np.mean(known), rel=1e-9)
        else:
            assert np.isnan(found.humidity[place])
    assert found.hour.tolist() == sorted(set((readings.at // 3600).tolist()))


def test_nothing_has_no_hours_and_no_days() -> None:
    assert len(hours_of(no_readings()).hour) == 0
    assert list(no_readings().days()) == []
    assert len(unpack_day(pack_day(no_readings()))) == 0


BLOCK = pack_day(make_readings([0, 60, 120], [1, 2, 3], [4, 5, 6], [0, 0, 0], 9, 1, 1))


@pytest.mark.parametrize(
    "block",
    [
        b"", b"\x01", b"\x02" + BLOCK[1:], BLOCK[:-3], BLOCK[:1] + b"\xff" + BLOCK[2:],
        BLOCK[:1] + zlib.compress(zlib.decompress(BLOCK[1:]) + b"\x00"), BLOCK[:1] + zlib.compress(zlib.decompress(BLOCK[1:])[:-1]),
        BLOCK[:1] + zlib.compress(b""),
    ],
    ids=["nothing", "a version alone", "another version", "cut short", "other bytes", "too much", "too little", "empty"],
)  # fmt: skip
def test_a_damaged_block_is_never_read_as_something_else(block: bytes) -> None:
    with pytest.raises(DamagedBlock):
        unpack_day(block)
