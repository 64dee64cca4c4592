"""What a look does to a dose is judgement throughout."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.science.dormancy import Seen
from service.science.groups import GROUPS
from service.science.hazards import Doses, age, fresh_doses, traits_of
from service.science.looks import Look, after_look
from service.science.viability import viable_share

PEACH = traits_of(GROUPS["peach"])
CLEAN = Look(Seen.TIGHT, wrinkled=False, mould=False, green_under_scratch=True)
BAD = Look(Seen.SWELLING, wrinkled=True, mould=True, green_under_scratch=False)


def kept(days: int, temp: float = 4.0) -> Doses:
    return age(PEACH, fresh_doses(PEACH), np.full(days * 24, temp))


@given(st.integers(1, 120), st.floats(-2, 20))
@settings(max_examples=25)
def test_a_clean_look_never_makes_wood_worse_and_a_bad_one_never_better(days: int, temp: float) -> None:
    doses = kept(days, temp)
    share = float(viable_share(PEACH, doses))

    assert float(viable_share(PEACH, after_look(PEACH, doses, CLEAN))) >= share
    assert float(viable_share(PEACH, after_look(PEACH, doses, BAD))) <= share


@given(st.integers(1, 120))
@settings(max_examples=25)
def test_the_same_look_twice_says_no_more_than_once(days: int) -> None:
    for look in (CLEAN, BAD):
        once = after_look(PEACH, kept(days), look)
        assert float(viable_share(PEACH, after_look(PEACH, once, look))) == float(viable_share(PEACH, once))


def test_tight_buds_after_a_warm_spring_cap_what_was_reckoned() -> None:
    doses = kept(120)

    seen = after_look(PEACH, doses, Look(Seen.TIGHT))

    assert float(doses.bud) > 1.5
    assert float(seen.bud) == 0.6
    assert float(seen.mould) == float(doses.mould)


@pytest.mark.parametrize(
    "look, part, least",
    [
        (Look(Seen.SWELLING), "bud", 0.8), (Look(Seen.GREEN), "bud", 1), (Look(wrinkled=True), "lost_pct", 8),
        (Look(shrivelled=True), "lost_pct", 18), (Look(mould=True), "mould", 0.6), (Look(green_under_scratch=False), "reserve", 1),
    ],
)  # fmt: skip
def test_what_is_bad_sets_a_floor_the_same_on_the_day_it_was_cut_and_later(
    look: Look, part: str, least: float
) -> None:
    for days in (1, 2):
        assert float(getattr(after_look(PEACH, kept(days), look), part)) == least


@pytest.mark.parametrize(
    "look, part, most",
    [
        (Look(Seen.TIGHT), "bud", 0.6), (Look(wrinkled=False), "lost_pct", 8), (Look(mould=False), "mould", 0.3),
        (Look(green_under_scratch=True), "reserve", 1), (Look(green_under_scratch=True), "lost_pct", 20),
    ],
)  # fmt: skip
def test_what_is_clean_sets_a_ceiling(look: Look, part: str, most: float) -> None:
    ruined = age(PEACH, fresh_doses(PEACH), np.full(900 * 24, 20.0), np.full(900 * 24, 20.0))

    assert float(getattr(ruined, part)) > most
    assert float(getattr(after_look(PEACH, ruined, look), part)) == most


@pytest.mark.parametrize("look", [Look(), Look(Seen.NOT_LOOKED)])
def test_what_was_not_looked_at_says_nothing(look: Look) -> None:
    doses = kept(60)

    assert after_look(PEACH, doses, look) == doses


@pytest.mark.parametrize("wrinkled", [None, True, False])
def test_a_weighed_loss_takes_the_place_of_the_reckoned_one(wrinkled: bool | None) -> None:
    seen = after_look(PEACH, kept(60), Look(wrinkled=wrinkled, lost_pct=3.2))
    later = age(PEACH, seen, np.full(24, 4.0))

    assert float(seen.lost_pct) == 3.2
    assert float(later.lost_pct) > 3.2


def test_green_under_a_scratch_does_not_undo_a_frost() -> None:
    frozen = age(PEACH, kept(1), np.full(3, -20.0))

    assert float(viable_share(PEACH, after_look(PEACH, frozen, CLEAN))) < 0.1
