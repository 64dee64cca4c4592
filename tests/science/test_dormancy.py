"""The table is judgement over published words (Lang et al. 1987); the dates are COMPUTED here, from real air."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import product

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from service.science.dormancy import (
    TABLE,
    About,
    AirFacts,
    Change,
    Judged,
    Phase,
    Seen,
    Verdict,
    days_from_midwinter,
    judge_dormancy,
    need_spread,
    phase_of,
)
from service.science.groups import GROUPS
from service.science.requirements import own_need
from service.science.winters import Course, Kind, courses
from tests.science.seattle import LATITUDE, seattle

FIT, FIRST, NOW, NOT_YET, UNKNOWN = (
    Verdict.FIT_TO_STORE, Verdict.FIT_USE_FIRST, Verdict.GRAFT_AT_ONCE, Verdict.DO_NOT_CUT_YET, Verdict.NOT_KNOWN,
)  # fmt: skip
AIR = {
    Phase.PARA: AirFacts(5, 0), Phase.ENDO: AirFacts(30, 0.01), Phase.ECO: AirFacts(60, 0.5), Phase.MOVING: AirFacts(90, 2),
}  # fmt: skip
LOOKS = (Seen.TIGHT, Seen.SWELLING, Seen.GREEN, Seen.NOT_LOOKED)


@pytest.mark.parametrize(
    "portions, dose, leaves_down, phase",
    [
        (5, 0, None, Phase.PARA), (12.5, 0, None, Phase.ENDO), (5, 0, True, Phase.ENDO), (30, 0, False, Phase.PARA),
        (50, 0.2, None, Phase.ECO), (50, 0.2, False, Phase.ECO), (60, 1.66, True, Phase.ECO), (60, 1.67, True, Phase.MOVING),
    ],
)  # fmt: skip
def test_a_phase_follows_chill_then_leaves_then_warmth(
    portions: float, dose: float, leaves_down: bool | None, phase: Phase
) -> None:
    assert phase_of(portions, 50, dose, leaves_down=leaves_down) is phase


@pytest.mark.parametrize(
    "phase, verdicts",
    [
        (Phase.PARA, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)), (Phase.ENDO, (FIT, FIRST, NOW, FIT)),
        (Phase.ECO, (FIT, FIRST, NOW, FIT)), (Phase.MOVING, (FIRST, NOW, NOW, UNKNOWN)),
    ],
)  # fmt: skip
def test_where_chill_is_known_phase_and_look_decide(phase: Phase, verdicts: tuple[Verdict, ...]) -> None:
    found = [judge_dormancy(seen, 50, AIR[phase]) for seen in LOOKS]

    assert tuple(each.verdict for each in found) == verdicts
    assert {each.phase for each in found} == {phase}


@pytest.mark.parametrize(
    "leaves_down, from_midwinter, need, verdicts",
    [
        (True, None, 50, (FIT, FIRST, NOW, UNKNOWN)), (None, 20, 50, (FIT, FIRST, NOW, UNKNOWN)),
        (None, None, 0, (FIT, FIRST, NOW, UNKNOWN)),
        (False, 20, 50, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)), (None, 61, 50, (UNKNOWN, FIRST, NOW, UNKNOWN)),
        (None, None, 50, (UNKNOWN, FIRST, NOW, UNKNOWN)),
    ],
)  # fmt: skip
def test_where_chill_is_not_known_leaves_speak(
    leaves_down: bool | None, from_midwinter: int | None, need: float, verdicts: tuple[Verdict, ...]
) -> None:
    found = [
        judge_dormancy(seen, need, None, leaves_down=leaves_down, days_from_midwinter=from_midwinter)
        for seen in LOOKS
    ]

    assert tuple(each.verdict for each in found) == verdicts
    assert {each.phase for each in found} == {None}


def test_the_table_has_a_verdict_for_everything() -> None:
    rows = {row for row, _ in TABLE}

    assert set(TABLE) == set(product(rows, Seen))
    assert rows == {
        *Phase,
        "leaves_down",
        "leaves_on",
        "leaves_not_seen",
        "eco_near_budbreak",
        "para_after_midwinter",
        "leaves_not_seen_before_midwinter",
    }


def test_leaves_that_are_still_on_go_before_chill() -> None:
    for phase in (Phase.PARA, Phase.ENDO):
        found = {judge_dormancy(seen, 50, AIR[phase], leaves_down=False).verdict for seen in LOOKS}
        assert found == {NOT_YET}


@pytest.mark.parametrize(
    "after, verdicts",
    [
        (-100, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)), (None, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)),
        (0, (NOT_YET, NOT_YET, NOT_YET, NOT_YET)),
        (1, (NOT_YET, FIRST, NOW, NOT_YET)), (100, (NOT_YET, FIRST, NOW, NOT_YET)),
    ],
)  # fmt: skip
def test_buds_in_growth_are_of_a_mild_winter_only_after_the_shortest_day(
    after: int | None, verdicts: tuple[Verdict, ...]
) -> None:
    """Before it they are a second growth of the same summer: half a chill portion, a hundred days from midwinter (judgement)."""
    found = [
        judge_dormancy(
            seen, 50, AirFacts(0.5, 0), days_from_midwinter=100, days_after_midwinter=after, spread=0
        )
        for seen in LOOKS
    ]

    assert tuple(each.verdict for each in found) == verdicts
    more = [Change.MORE_CHILL in each.would_change for each in found]
    assert more == [verdict is NOT_YET for verdict in verdicts]


@pytest.mark.parametrize(
    "after, verdicts",
    [
        (-100, (UNKNOWN, NOT_YET, NOT_YET, UNKNOWN)),
        (100, (UNKNOWN, FIRST, NOW, UNKNOWN)),
        (None, (UNKNOWN, FIRST, NOW, UNKNOWN)),
    ],
)
def test_without_air_buds_in_growth_before_the_shortest_day_are_a_second_growth(
    after: int | None, verdicts: tuple[Verdict, ...]
) -> None:
    """Nobody saw the leaves and it is no time in which they count as fallen (judgement, as with an air record)."""
    found = [
        judge_dormancy(seen, 50, None, days_from_midwinter=100, days_after_midwinter=after) for seen in LOOKS
    ]

    assert tuple(each.verdict for each in found) == verdicts
    assert all(Change.LOOK_AT_LEAVES in each.would_change for each in found)


@given(
    st.floats(0, 130), st.floats(0, 4), st.sampled_from([True, False, None]), st.sampled_from([-100, -61, 0, None, 61, 100])
)  # fmt: skip
@example(0.5, 0.0, None, -100)
@example(0.5, 0.0, None, 100)
def test_a_worse_look_never_gives_a_better_verdict(
    portions: float, dose: float, leaves: bool | None, after: int | None
) -> None:
    air = AirFacts(portions, dose)
    verdicts = [
        judge_dormancy(each, 50, air, leaves_down=leaves, days_after_midwinter=after).verdict
        for each in LOOKS[:3]
    ]

    if after is None or after <= 0 or leaves is not None or verdicts[0] is not NOT_YET:
        order = (FIT, FIRST, NOW)
        assert set(verdicts) == {NOT_YET} or verdicts == sorted(verdicts, key=order.index)
    else:  # a mild winter: no better wood comes, and the eye goes before the air
        assert verdicts == [NOT_YET, FIRST, NOW]


# -- evidence and what would change it ------------------------------------------------------------------------------------


def about(judged: Judged) -> dict[About, float | str]:
    return {each.about: each.value for each in judged.evidence}


def test_a_verdict_tells_what_it_rests_on() -> None:
    judged = judge_dormancy(Seen.TIGHT, 50, AirFacts(61.5, 0.4, 12), leaves_down=True)

    assert about(judged) == {
        About.BUDS: "tight", About.LEAVES: "down", About.PORTIONS: 61.5, About.NEED: 50, About.BUD_DOSE: 0.4,
        About.UNKNOWN_HOURS: 12,
    }  # fmt: skip
    assert all(each.mark for each in judged.evidence)
    assert judged.would_change == (Change.BUDS_SWELL, Change.FILL_GAPS, Change.OWN_NEED)


def test_the_calendar_says_that_it_spoke() -> None:
    assert about(judge_dormancy(Seen.TIGHT, 50, days_from_midwinter=9)) == {
        About.BUDS: "tight", About.CALENDAR: "midwinter",
    }  # fmt: skip


@pytest.mark.parametrize(
    "judged, changes",
    [
        (judge_dormancy(Seen.NOT_LOOKED, 50), (Change.LOOK_AT_BUDS, Change.LOOK_AT_LEAVES, Change.AIR_RECORD)),
        (judge_dormancy(Seen.NOT_LOOKED, 50, AIR[Phase.MOVING], spread=0), (Change.LOOK_AT_BUDS,)),
        (judge_dormancy(Seen.GREEN, 0), ()),
        (judge_dormancy(Seen.TIGHT, 50, leaves_down=False), (Change.LEAVES_FALL, Change.BUDS_SWELL, Change.AIR_RECORD)),
        (judge_dormancy(Seen.TIGHT, 50, AIR[Phase.PARA], spread=0), (Change.LOOK_AT_LEAVES, Change.MORE_CHILL)),
    ],
)  # fmt: skip
def test_a_verdict_tells_what_would_change_it(judged: Judged, changes: tuple[Change, ...]) -> None:
    assert judged.would_change == changes


@pytest.mark.parametrize(
    "air, spread, could_be",
    [
        (AirFacts(12, 0), 0.2, (FIT,)),  # of a need of 40 it is more than a quarter
        (AirFacts(13, 0), 0.2, (NOT_YET,)),  # of one of 60 it is less
        (AirFacts(12.6, 0), 0, ()), (AirFacts(60, 0.5), 0.2, ()),
        (AirFacts(5, 0, 240), 0, (FIT,)),  # ten days that nobody measured may have been cold
    ],
)  # fmt: skip
def test_a_verdict_tells_what_else_it_could_be(
    air: AirFacts, spread: float, could_be: tuple[Verdict, ...]
) -> None:
    judged = judge_dormancy(Seen.TIGHT, 50, air, spread=spread)

    assert judged.could_be == could_be


def test_walnut_is_less_sure_of_its_need() -> None:
    """The compiler's older table gives 53.8-71.5 CP where the newer gives 38-54."""
    chandler, hartley = own_need("walnut", "Chandler"), own_need("walnut", "Hartley")

    assert (need_spread("walnut"), need_spread("apple")) == (0.4, 0.2)
    assert (need_spread("walnut", chandler), need_spread("walnut", hartley)) == (0.4, 0.4)


@pytest.mark.parametrize(
    "group, variety, spread",
    [("apricot", "Canino", 0.2), ("apricot", "Orange Red", 7 / 62), ("cherry_sweet", "Lapins", 0)],
)
def test_a_need_of_its_own_is_as_sure_as_the_range_told_of_it(
    group: str, variety: str, spread: float
) -> None:
    """Ranges as the compilation of Pope prints them: 30-45, 55-69 and 35 CP; half of each over its middle."""
    assert need_spread(group, own_need(group, variety)) == pytest.approx(spread)


@pytest.mark.parametrize(
    "latitude, day, apart",
    [
        (47.6, 355, 0), (47.6, 1, 11), (47.6, 172, 182), (-47.6, 172, 0), (-47.6, 1, 171), (-47.6, 365, 172), (10, 1, None),
    ],
)  # fmt: skip
def test_midwinter_is_half_a_year_apart_north_and_south(latitude: float, day: int, apart: int | None) -> None:
    assert days_from_midwinter(latitude, day) == apart


# -- real winters ---------------------------------------------------------------------------------------------------------


@cache
def course_of(group: str, year: int, *, south: bool = False) -> tuple[date, Course]:
    """From 1 August to 30 June. South: the same air half a year later, under the sun at 47.6° S."""
    span = seattle().span(date(year, 8, 1), date(year + 1, 6, 30), moved_days=182 if south else 0)
    kind = Kind(GROUPS[group].chill_need_cp, GROUPS[group].forcing_days or 1)
    return span.first, courses([span], -LATITUDE if south else LATITUDE, [kind])[0]


def judged_days(group: str, year: int, *, south: bool = False) -> list[tuple[date, Verdict]]:
    """Of tight wood, every day."""
    first, course = course_of(group, year, south=south)
    need = GROUPS[group].chill_need_cp
    return [
        (first + timedelta(days=day), judge_dormancy(Seen.TIGHT, need, course.facts(0, day)).verdict)
        for day in range(len(course.portions_cp))
    ]


def turns(group: str, year: int, *, south: bool = False) -> list[tuple[str, Verdict]]:
    """The days on which the verdict is another than the day before."""
    found: list[tuple[str, Verdict]] = []
    for day, verdict in judged_days(group, year, south=south):
        if not found or found[-1][1] is not verdict:
            found.append((day.isoformat(), verdict))
    return found


@pytest.mark.parametrize(
    "group, year, fit, first",
    [
        ("apple", 2012, "2012-10-28", "2013-04-17"), ("apple", 2013, "2013-10-15", "2014-04-03"),
        ("apple", 2014, "2014-11-11", "2015-03-30"), ("pear_european", 2012, "2012-10-31", "2013-03-26"),
        ("pear_european", 2013, "2013-10-16", "2014-03-07"), ("pear_european", 2014, "2014-11-13", "2015-03-10"),
        ("cherry_sweet", 2012, "2012-10-26", "2013-02-16"), ("cherry_sweet", 2013, "2013-10-13", "2014-01-20"),
        ("cherry_sweet", 2014, "2014-11-10", "2015-02-06"), ("peach", 2012, "2012-11-02", "2013-03-01"),
        ("peach", 2013, "2013-10-19", "2014-02-11"), ("peach", 2014, "2014-11-15", "2015-02-15"),
    ],
)  # fmt: skip
def test_verdicts_on_tight_wood_of_real_winters_turn_on_these_days(
    group: str, year: int, fit: str, first: str
) -> None:
    assert turns(group, year) == [(f"{year}-08-01", NOT_YET), (fit, FIT), (first, FIRST)]


@pytest.mark.parametrize(
    "group, fit, first", [("apple", "2013-04-28", "2013-10-16"), ("cherry_sweet", "2013-04-26", "2013-08-17")]
)
def test_northern_weather_shifted_half_a_year_under_the_southern_sun_turns_half_a_year_later(
    group: str, fit: str, first: str
) -> None:
    """Not a southern record: Seattle's air of 2012/13 moved by 182 days, with the hours of the sun at 47.6° S."""
    assert turns(group, 2012, south=True) == [("2013-01-30", NOT_YET), (fit, FIT), (first, FIRST)]


def test_nearly_all_tight_wood_of_an_ordinary_january_is_fit_to_store() -> None:
    found = Counter(
        verdict
        for year in (2012, 2013, 2014)
        for group in GROUPS.values()
        if group.rests
        for day, verdict in judged_days(group.name, year)
        if day.month == 1
    )

    assert found == {FIT: 2001, FIRST: 138}
    assert found[FIT] / found.total() > 0.93


def test_a_gap_in_the_air_record_is_never_cold() -> None:
    first, last = date(2012, 8, 1), date(2013, 1, 31)
    span = seattle().span(first, last)
    gap = {first + timedelta(days=day) for day in range(100, 120)}
    gapped = replace(span, measured={day: told for day, told in span.measured.items() if day not in gap})
    apple = [Kind(50, 15)]

    one, other = courses([gapped, span], LATITUDE, apple)

    assert one.facts(0, -1).unknown_hours == pytest.approx(20 * 24, abs=24)
    assert (one.portions_cp <= other.portions_cp + 0.99).all()
    assert one.portions_cp[119] == one.portions_cp[101]
    assert one.bud_dose[0][119] == one.bud_dose[0][101]
