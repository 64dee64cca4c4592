"""Where a verdict must say that it does not know, or that it could be another: records that stop, doubts, what the eye saw.

The air: Seattle, day by day (tests/science/seattle.py names the source), moved by twelve years.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.collection import queries
from service.collection.rules.dormancy import NoChill, why_no_chill
from service.trees.schemas import AirDayTold
from tests.builders.air import set_group, set_latitude, set_variety, tell_air
from tests.builders.collection import receive, set_area
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


def mild_days(first: date, last: date) -> list[AirDayTold]:
    """From 8 to 17 °C every day: chill comes slowly, as at a coast without frost."""
    days = [first + timedelta(days=day) for day in range((last - first).days + 1)]
    return [AirDayTold(day=day, lowest_c=8, highest_c=17) for day in days]


@pytest.mark.parametrize(
    "latitude, winter, summer",
    [(34.0, date(2024, 12, 21), date(2025, 7, 1)), (-34.0, date(2025, 6, 21), date(2026, 1, 4))],
)
def test_after_a_winter_too_mild_the_air_says_nothing_in_summer(
    yard: Yard, latitude: float, winter: date, summer: date
) -> None:
    """Ten weeks of such days between warm ones bring sour cherry, which needs 60 portions, a part of them."""
    set_latitude(yard.writer, yard.orchard.site_id, latitude)
    set_group(yard.writer, yard.orchard.apple_id, "cherry_sour")
    mild = mild_days(winter - timedelta(days=122), summer)
    warm = [
        AirDayTold(day=each.day, lowest_c=17, highest_c=24) if abs((each.day - winter).days) > 35 else each
        for each in mild
    ]
    tell_air(yard.writer, yard.cast.steward, yard.orchard.site_id, warm)

    with yard.writer.database.reading() as session:
        now = queries.site_winter(session, yard.orchard.site_id, summer)
        then = queries.site_winter(session, yard.orchard.site_id, winter + timedelta(days=30))
        tree, _ = queries.tree_winter(session, yard.tree_id, summer)
    cut = yard.judged(yard.cut(summer, stage="00"))

    assert then.kinds[0].phase == "endo"
    assert (now.answer, now.kinds[0].phase) == ("Whether wood may be cut here now the air does not say", None)
    assert "never brought the chill these need" in now.sentence
    assert (cut.verdict, cut.phase) == ("not_known", None)
    assert tree == cut.no_chill_because == why_no_chill(NoChill.UNMET)


def test_wood_that_bursts_in_march_is_not_cut_too_early(yard: Yard) -> None:
    """The mild days again, of which a cherry of 60 portions has fewer than a quarter by then; nobody saw the leaves."""
    set_group(yard.writer, yard.orchard.apple_id, "cherry_sour")
    march = date(2025, 3, 10)
    days = [
        AirDayTold(day=each.day, lowest_c=16, highest_c=24) if (march - each.day).days > 20 else each
        for each in mild_days(date(2024, 8, 21), march)
    ]
    tell_air(yard.writer, yard.cast.steward, yard.orchard.site_id, days)

    told = yard.judged(yard.cut(march, stage="03"))

    assert (told.phase, told.verdict, told.label) == ("para", "graft_at_once", "Graft it at once")
    assert "Better wood comes" not in told.sentence


def test_evergreen_wood_is_told_nothing_of_leaves_or_rest(yard: Yard) -> None:
    set_group(yard.writer, yard.orchard.apple_id, "citrus")

    told = yard.judged(yard.cut(stage="00", leaves_down=False))

    assert (told.verdict, told.no_chill_because) == (
        "fit_to_store",
        why_no_chill(NoChill.NO_REST, kind="Apple"),
    )
    assert (
        told.sentence
        == "By its buds it may go into the store. It keeps its leaves and has no rest to wait for."
    )
    assert [each.about for each in told.evidence] == ["buds"]
    assert {each.word for each in told.would_change} == {"buds_swell"}


def test_a_tree_that_keeps_its_leaves_is_not_cut_by_their_fall(yard: Yard, client) -> None:
    set_group(yard.writer, yard.orchard.apple_id, "citrus")
    yard.air()

    page = client("member").get(f"/trees/{yard.tree_id}").text

    assert "It keeps its leaves, so no fall of leaves opens its cutting" in page
    assert "when the leaves are down" not in page
    assert why_no_chill(NoChill.NO_REST, kind="Apple") in page


@pytest.mark.parametrize(
    "stage, said, changes",
    [
        ("00", "The buds were tight", {"buds_swell"}), (None, "Look at the buds", {"look_at_buds"}),
        ("03", "too late for the store", set()),
    ],
)  # fmt: skip
def test_of_wood_from_outside_only_what_its_receiver_can_tell_is_asked(
    yard: Yard, stage: str | None, said: str, changes: set[str]
) -> None:
    set_area(yard.writer, yard.cast.steward.party_id, yard.orchard.area_id)

    told = yard.judged(receive(yard.writer, yard.cast.steward, yard.orchard, stage=stage))

    assert said in told.sentence
    assert ("Look at the buds" in told.sentence) is (stage is None)
    assert {each.word for each in told.would_change} == changes


@pytest.mark.parametrize(
    "variety, words, asked",
    [
        ("Canino", "the need told of the variety may lie 20 % off its middle, either way.", False),
        ("Gala", "the need of a variety may lie 20 % off its kind’s, either way.", True),
    ],
)
def test_a_doubt_tells_how_far_off_the_need_may_be(
    yard: Yard, client, variety: str, words: str, asked: bool
) -> None:
    """Canino, an apricot, is told to need 30 to 45 portions; 9 counted by then are a quarter of 36, and 14 of 56."""
    set_group(yard.writer, yard.orchard.apple_id, "apricot")
    set_variety(yard.writer, yard.orchard.gala_id, variety)
    yard.air()

    made = yard.cut(date(2025, 10, 9) if variety == "Canino" else date(2025, 10, 13), stage="00")
    told = yard.judged(made)

    assert (told.verdict, told.could_be) == ("do_not_cut_yet", ["fit_to_store"])
    assert words in client("collector").get(f"/collections/{made.id}").text
    assert ("own_need" in {each.word for each in told.would_change}) is asked


@pytest.mark.parametrize("variety, state", [("Canino", "rest by themselves"), ("Gala", "not at rest yet")])
def test_a_tree_goes_by_the_need_of_its_variety(yard: Yard, variety: str, state: str) -> None:
    """11 portions by then: more than a quarter of Canino's 37.5, less than a quarter of an apricot's 55."""
    set_group(yard.writer, yard.orchard.apple_id, "apricot")
    set_variety(yard.writer, yard.orchard.gala_id, variety)
    yard.air()

    with yard.writer.database.reading() as session:
        told, _ = queries.tree_winter(session, yard.tree_id, date(2025, 10, 12))

    assert told.startswith("By 12 October 2025 the site’s air brought 11 chill portions")
    assert state in told


def test_of_too_few_days_no_turn_no_warmth_and_no_picture_is_shown(yard: Yard, client) -> None:
    yard.air(date(2025, 12, 1), date(2026, 2, 13))

    with yard.writer.database.reading() as session:
        told = queries.site_winter(session, yard.orchard.site_id, date(2026, 2, 14))
    page = client("member").get(f"/sites/{yard.orchard.site_id}/winter").text

    kind = told.kinds[0]
    assert told.reason.startswith("Only 75 of the 178 days") and not told.is_counted
    assert (kind.warmth, kind.turns.ripe_on, kind.turns.rest_ended_on) == ([], None, None)
    assert page.count("<td>not known</td>") == 4
    assert "<td>not yet</td>" not in page and '<figure class="picture">' not in page
    assert "the true chill is not known" in page


def test_wood_of_april_that_nobody_looked_at_is_looked_at_before_it_is_stored(yard: Yard) -> None:
    """Apple, Seattle 2012/13, moved by twelve years: moving on 17 April."""
    yard.air(date(2024, 8, 1), date(2025, 4, 20))

    april, january = (
        yard.judged(yard.cut(on, leaves_down=True)) for on in (date(2025, 4, 10), date(2025, 1, 10))
    )

    assert (april.verdict, april.phase, january.verdict) == ("not_known", "eco", "fit_to_store")
    assert "not far from moving" in april.sentence
    assert april.would_change[0].word == "look_at_buds"
