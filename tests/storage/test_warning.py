"""What is advised when a store rings: never colder than the wood that lies there bears, over every group of the reference.

The limits are those of fixtures/reference/storage_limits.csv, each row with its own source and mark.
"""

from __future__ import annotations

import csv
import re
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path

import pytest

from service.storage.rules import (
    ANY_SCIONS,
    UNKNOWN_WOOD,
    Alarm,
    AlarmKind,
    GroupLimit,
    limits_for,
    warning_text,
)
from service.storage.rules.own_limits import limits_told

LIMITS = Path(__file__).parents[2] / "fixtures" / "reference" / "storage_limits.csv"
AT = datetime(2026, 2, 8, 18, 0, tzinfo=UTC)
FROST, HEAT = AlarmKind.FREEZING, AlarmKind.HEAT
BAND = re.compile(r"(?:a place of|at|:) (-?[\d.]+)(?: to (-?[\d.]+))? °C")


def _groups():
    lines = [line for line in LIMITS.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [
        GroupLimit(
            row["species_group"], float(row["store_temp_min_c"]), float(row["store_temp_max_c"]), row["store_temp_mark"],
            row["store_temp_source"], float(row["freeze_kill10_c"]), row["freeze_mark"], 1, 2, "", "", freeze_source=row["freeze_source"],
        )
        for row in csv.DictReader(lines)
    ]  # fmt: skip


GROUPS = {one.group: one for one in _groups()}


def text_of(limits, kind=FROST, extreme_c=-8.0):
    return warning_text(Alarm(kind, 0, 0, None, extreme_c, 4.0, 0), limits, AT, AT)


def first_step(text):
    return next(line for line in text.splitlines() if line.startswith("1. "))


def bands(words):
    return [(float(low), float(high or low)) for low, high in BAND.findall(words)]


@pytest.mark.parametrize("kind, extreme_c", [(FROST, -8.0), (FROST, 1.5), (HEAT, 12.0)])
@pytest.mark.parametrize("group", GROUPS)
def test_no_group_is_advised_colder_than_it_is_kept_nor_below_freezing(group, kind, extreme_c):
    one = GROUPS[group]

    ((low, high),) = bands(first_step(text_of(limits_for([one]), kind, extreme_c)))

    assert low >= max(one.low_c, 0)
    assert low <= high <= one.high_c


@pytest.mark.parametrize("pair", list(combinations(GROUPS, 2)), ids="-".join)
def test_of_two_kinds_none_is_advised_beyond_its_band(pair):
    one, other = (GROUPS[group] for group in pair)
    limits = limits_for([one, other])

    step = first_step(text_of(limits))

    if limits.agree:
        ((low, high),) = bands(step)
        assert max(one.low_c, other.low_c, 0) <= low <= high <= min(one.high_c, other.high_c)
    else:
        assert "keep them apart" in step
        assert sorted(bands(step)) == sorted((max(each.low_c, 0), each.high_c) for each in (one, other))


def test_avocado_is_sent_to_where_it_is_kept_and_did_not_freeze_at_one_and_a_half():
    """5 to 8 °C is common practice, without a source; a tenth of its buds killed at -1 °C is judgement."""
    text = text_of(limits_for([GROUPS["avocado"]]), extreme_c=1.5)

    assert "Move the wood to a place of 5 to 8 °C" in text
    assert "Of avocado half an hour at -1 °C kills a tenth of the buds" in text
    assert limits_told(limits_for([GROUPS["avocado"]]))[0].name == "Rings with cold"
    assert "frozen" not in text and "kept better" not in text and "-7.8" not in text


@pytest.mark.parametrize("group", GROUPS)
def test_what_kills_a_tenth_is_the_groups_own_with_its_mark_and_source(group):
    one, text = GROUPS[group], text_of(limits_for([GROUPS[group]]))
    place = next(line for line in text.splitlines() if "kills a tenth" in line).split(".")[0]

    known = next(line for line in text.splitlines() if line.startswith(f"{place}: "))

    assert f"half an hour at {one.kill10_c:g} °C kills a tenth" in text
    assert known == f"{place}: {one.freeze_mark}{', ' if one.freeze_source else ''}{one.freeze_source}."


def test_of_several_kinds_the_tenderest_is_named_and_the_trial_of_hardy_plants_left_out():
    """Englert, Fuchigami and Chen 1993 froze hardy plants to -4 °C; a tenth of the buds of fig is killed at -5 °C (judgement)."""
    mixed = text_of(limits_for([GROUPS["apple"], GROUPS["fig"]]))
    hardy = text_of(limits_for([GROUPS["apple"], GROUPS["pear_european"]]))

    assert "Of fig, the tenderest here, half an hour at -5 °C" in mixed
    assert "kept better between -4 and 0" not in mixed
    assert "kept better between -4 and 0" in hardy
    assert "Of apple, the tenderest here" in hardy


def test_kinds_that_disagree_are_told_each_by_its_name():
    text = text_of(limits_for([GROUPS["avocado"], GROUPS["apple"], GROUPS["pear_european"]]))

    assert (
        "keep them apart, avocado at 5 to 8 °C; apple, European pear at 0 to 4.4 °C. See to avocado first."
        in text
    )


def test_where_nothing_is_known_of_the_wood_the_advice_says_so_and_where_none_lies_none_is_moved():
    unknown, empty = text_of(UNKNOWN_WOOD), text_of(ANY_SCIONS)

    assert "0 to 4.4 °C suits fruit and nut scions that drop their leaves" in unknown
    assert "evergreens want it warmer" in unknown
    assert "Move the wood" not in empty
