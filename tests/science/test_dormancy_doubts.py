"""What a verdict could also be, and where it must not lean on the air. The rules are judgement; the air is real (seattle.py)."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from service.science.dormancy import About, AirFacts, Change, Phase, Seen, Verdict, is_unmet, judge_dormancy
from service.science.heat import forcing_per_hour
from service.science.seasons import days_after_midwinter
from service.science.winters import Course, Kind, Span, courses, hours_of
from tests.science.seattle import LATITUDE, seattle

FIT, FIRST, NOW, NOT_YET, UNKNOWN = (
    Verdict.FIT_TO_STORE, Verdict.FIT_USE_FIRST, Verdict.GRAFT_AT_ONCE, Verdict.DO_NOT_CUT_YET, Verdict.NOT_KNOWN,
)  # fmt: skip
CHERRY = Kind(48, 5.5)


def span_without(first: date, last: date, gap: tuple[date, date] | None) -> Span:
    air = seattle()
    told = {
        day: (float(low), float(high))
        for day, low, high in zip(air.days, air.lowest_c, air.highest_c, strict=True)
        if gap is None or not gap[0] <= day <= gap[1]
    }
    return Span(first, last, told)


def course_without(gap: tuple[date, date] | None) -> Course:
    return courses([span_without(date(2012, 8, 21), date(2013, 2, 20), gap)], LATITUDE, [CHERRY])[0]


# -- hours that nobody measured -------------------------------------------------------------------------------------------


def test_hours_that_nobody_measured_may_have_been_warm() -> None:
    """Sweet cherry, Seattle 2012/13: moving on 20 February; without the weeks before it the air says it is not."""
    whole = course_without(None).facts(0, -1)
    gapped = course_without((date(2013, 1, 20), date(2013, 2, 12))).facts(0, -1)

    sure, doubted = (judge_dormancy(Seen.TIGHT, 48, each, spread=0) for each in (whole, gapped))

    assert (sure.verdict, sure.could_be) == (FIRST, ())
    assert (doubted.verdict, doubted.could_be) == (FIT, (FIRST,))


def test_warmth_of_unknown_hours_is_that_of_the_last_known_week() -> None:
    """By `forcing_per_hour` of the same hours, the unknown ones left out."""
    gap = (date(2013, 2, 17), date(2013, 2, 18))
    span = span_without(date(2012, 8, 21), date(2013, 2, 20), gap)
    hours = hours_of(span, LATITUDE)

    facts = course_without(gap).facts(0, -1)

    known = hours[~np.isnan(hours)][-168:]
    assert facts.dose_an_hour == pytest.approx(float(forcing_per_hour(known).mean()) / 5.5)
    assert facts.unknown_hours >= 48


def test_unknown_hours_are_not_warm_where_rest_cannot_be_over() -> None:
    in_rest = AirFacts(portions_cp=20, bud_dose=0, unknown_hours=24 * 20, dose_an_hour=0.01)
    after_it = AirFacts(portions_cp=45, bud_dose=0, unknown_hours=24 * 20, dose_an_hour=0.01)

    assert judge_dormancy(Seen.TIGHT, 50, in_rest, spread=0).could_be == ()
    assert judge_dormancy(Seen.TIGHT, 50, after_it, spread=0).could_be == (FIRST,)


def test_a_day_in_the_midst_of_a_course_knows_only_what_was_before_it() -> None:
    course = course_without(None)
    early, late = course.facts(0, 10), course.facts(0, -1)

    shorter = span_without(date(2012, 8, 21), date(2012, 8, 21) + timedelta(days=10), None)
    assert early.dose_an_hour == pytest.approx(
        courses([shorter], LATITUDE, [CHERRY])[0].facts(0, -1).dose_an_hour, rel=0.02
    )
    assert early.dose_an_hour > 3 * late.dose_an_hour


# -- winters too mild ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "latitude, day, after",
    [
        (47.6, date(2026, 12, 21), 0), (47.6, date(2026, 8, 21), -122), (47.6, date(2027, 4, 21), 121),
        (-33.9, date(2026, 6, 21), 0), (-33.9, date(2026, 10, 20), 121), (-33.9, date(2027, 2, 18), 242), (8.0, date(2026, 6, 1), None),
    ],
)  # fmt: skip
def test_days_after_the_shortest_day_are_counted_north_and_south(
    latitude: float, day: date, after: int | None
) -> None:
    """Shortest days by the calendar: about 21 December north of the tropics, 21 June south of them."""
    assert days_after_midwinter(latitude, day) == after


@pytest.mark.parametrize(
    "portions, dose, after, unmet",
    [(40, 0.1, 121, True), (40, 0.1, 120, False), (40, 0.1, None, False), (60, 0.1, 200, False), (40, 2, 200, False)],
)  # fmt: skip
def test_long_after_midwinter_a_need_that_was_never_met_tells_nothing(
    portions: float, dose: float, after: int | None, unmet: bool
) -> None:
    assert is_unmet(AirFacts(portions, dose), 50, after) is unmet


# -- air and calendar together ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "leaves_down, from_midwinter, phase, verdicts",
    [
        (None, 30, Phase.ENDO, (FIT, FIRST, NOW, FIT)), (None, 61, Phase.PARA, (NOT_YET, FIRST, NOW, NOT_YET)),
        (None, -61, Phase.PARA, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)),
        (None, None, Phase.PARA, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)), (True, 61, Phase.ENDO, (FIT, FIRST, NOW, FIT)),
        (False, 30, Phase.PARA, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)),
    ],
)  # fmt: skip
def test_leaves_that_count_as_fallen_do_so_for_the_phase_too(
    leaves_down: bool | None, from_midwinter: int | None, phase: Phase, verdicts: tuple[Verdict, ...]
) -> None:
    """Five portions of a need of fifty: with leaves down the wood is at rest, whoever says so."""
    found = [
        judge_dormancy(
            seen,
            50,
            AirFacts(5, 0),
            leaves_down=leaves_down,
            days_from_midwinter=from_midwinter and abs(from_midwinter),
            days_after_midwinter=from_midwinter,
            spread=0,
        )
        for seen in (Seen.TIGHT, Seen.SWELLING, Seen.GREEN, Seen.NOT_LOOKED)
    ]

    assert tuple(each.verdict for each in found) == verdicts
    assert {each.phase for each in found} == {phase}
    assert {each.could_be for each in found} == {()}
    spoke = {About.CALENDAR in {one.about for one in each.evidence} for each in found}
    assert spoke == {leaves_down is None and from_midwinter == 30}


@pytest.mark.parametrize("leaves_down", [True, False, None])
@pytest.mark.parametrize("from_midwinter", [10, 100, None])
def test_evergreen_wood_is_not_judged_by_leaves_or_calendar(
    leaves_down: bool | None, from_midwinter: int | None
) -> None:
    judged = judge_dormancy(
        Seen.TIGHT, 0, AirFacts(30, 0, 48), leaves_down=leaves_down, days_from_midwinter=from_midwinter
    )

    assert (judged.verdict, judged.phase, judged.could_be) == (FIT, None, ())
    assert {each.about for each in judged.evidence} == {About.BUDS}
    assert not {Change.LEAVES_FALL, Change.LOOK_AT_LEAVES, Change.MORE_CHILL} & set(judged.would_change)


# -- near budbreak ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "dose, verdicts", [(0.99, (FIT, FIRST, NOW, FIT)), (1, (FIT, FIRST, NOW, UNKNOWN)), (1.6, (FIT, FIRST, NOW, UNKNOWN))]
)  # fmt: skip
def test_near_budbreak_wood_that_nobody_looked_at_is_not_known(
    dose: float, verdicts: tuple[Verdict, ...]
) -> None:
    """A dose of 1 is six tenths of the warmth that brings buds to move: judgement."""
    looks = (Seen.TIGHT, Seen.SWELLING, Seen.GREEN, Seen.NOT_LOOKED)
    found = [judge_dormancy(seen, 50, AirFacts(70, dose), leaves_down=True, spread=0) for seen in looks]

    assert tuple(each.verdict for each in found) == verdicts
    assert {each.phase for each in found} == {Phase.ECO}
    assert Change.LOOK_AT_BUDS in found[-1].would_change


def test_unknown_hours_may_have_brought_unseen_wood_near_budbreak() -> None:
    air = AirFacts(portions_cp=60, bud_dose=0.9, unknown_hours=24 * 3, dose_an_hour=0.002)

    judged = judge_dormancy(Seen.NOT_LOOKED, 50, air, leaves_down=True, spread=0)

    assert (judged.verdict, judged.could_be) == (FIT, (UNKNOWN,))
