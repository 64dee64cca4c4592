"""Where a verdict must say that it does not know, or that it could be another: records that stop, doubts, what the eye saw.

The air: Seattle, day by day (tests/science/seattle.py names the source), moved by twelve years.
"""

from __future__ import annotations

from datetime import date

import pytest

from service.collection import queries
from tests.builders.yard import CUT_ON, Yard


@pytest.mark.parametrize("last, known", [(date(2026, 1, 3), True), (date(2026, 1, 2), False)])
def test_a_record_that_stopped_more_than_a_week_before_says_nothing_of_a_cut(
    yard: Yard, last: date, known: bool
) -> None:
    yard.air(last=last)

    told = yard.judged(yard.cut(stage="00", leaves_down=True))

    assert told.last_measured == last
    assert (told.phase is not None) is known
    if not known:
        assert told.no_chill_because.startswith("The record of this site’s air ended on 2 January 2026")
        assert "fill_gaps" in {each.word for each in told.would_change}
        assert told.verdict == "fit_to_store"  # by buds and leaves


@pytest.mark.parametrize("today, known", [(date(2026, 2, 20), True), (date(2026, 2, 21), False)])
def test_a_record_that_stopped_says_nothing_of_whether_wood_may_be_cut_now(
    yard: Yard, client, today: date, known: bool
) -> None:
    yard.air(last=date(2026, 2, 13))

    with yard.writer.database.reading() as session:
        told = queries.site_winter(session, yard.orchard.site_id, today)
        tree, _ = queries.tree_winter(session, yard.tree_id, today)

    assert (told.reason == "") is known
    if not known:
        assert told.answer == "Whether wood may be cut here now the air does not say"
        assert "ended on 13 February 2026" in told.sentence
        assert tree == told.reason
        assert {each.phase for each in told.kinds} == {None}


def test_of_a_winter_that_is_over_no_end_of_a_record_is_told(yard: Yard) -> None:
    yard.air(date(2024, 8, 1), date(2025, 3, 1))

    with yard.writer.database.reading() as session:
        told = queries.site_winter(session, yard.orchard.site_id, CUT_ON, 2024)

    assert (told.answer, told.reason) == ("A winter that is over", "")
