"""Looks that fall due later, against the list of those due now: on each day the two must agree."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

from hypothesis import given
from hypothesis import strategies as st

from service.storage.rules import LOOK_EVERY_DAYS, Call, DueWhy, LookedAfter, plan_due
from service.storage.rules.due import plan_looks

CUT = date(2026, 1, 10)
BOXES = (None, UUID(int=100), UUID(int=101))
TODAY = CUT + timedelta(days=60)


@st.composite
def _wood(draw):
    """Bundles as they lie on one day: looked at or not, alone or together, with mould found beside some."""
    found = []
    for number in range(draw(st.integers(1, 6))):
        seen = draw(st.none() | st.integers(0, 60))
        last = None if seen is None else CUT + timedelta(days=seen)
        mould = draw(st.none() | st.integers(0, 60)) if draw(st.booleans()) else None
        found.append(
            LookedAfter(
                UUID(int=number), CUT - timedelta(days=draw(st.integers(0, 30))), last,
                draw(st.sampled_from([Call.FINE, Call.USE_FIRST])) if last else Call.FINE,
                None if mould is None else CUT + timedelta(days=mould), "", draw(st.sampled_from(BOXES)),
            )
        )  # fmt: skip
    return found


@given(_wood(), st.integers(0, 90))
def test_what_is_due_on_a_day_is_what_fell_due_by_then(wood, days):
    day = TODAY + timedelta(days=days)

    by_then = {(look.bundle_id, look.why) for look in plan_looks(wood) if look.on <= day}

    assert by_then == {(due.bundle_id, due.why) for due in plan_due(wood, day)}


def test_a_look_at_one_bundle_of_a_box_counts_for_all_of_it():
    box, seen = BOXES[1], CUT + timedelta(days=20)
    wood = [LookedAfter(UUID(int=1), CUT, box=box), LookedAfter(UUID(int=2), CUT, seen, box=box)]

    (look,) = plan_looks(wood)

    assert (look.why, look.on) == (DueWhy.NEVER, seen + timedelta(days=LOOK_EVERY_DAYS))
    assert look.bundle_id == UUID(int=1)
