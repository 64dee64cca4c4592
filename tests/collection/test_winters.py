"""The winter of a site: against days computed here from the same air, and every way in which little is known.

The air: Seattle, day by day (tests/science/seattle.py names the source), moved by twelve years. The days on which wood is ripe
and buds move are those of `tests/science/test_dormancy.py`, found there with hours of another span.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from service.collection import queries
from service.collection.rules.winters import BY_THE_EYE, LOOK_FIRST, KindNow, answer_now, sentence_now
from service.collection.schemas.winters import SiteWinter
from service.lib.database import Database
from service.lib.write import Writer
from service.pages.pictures.winter import winter_over
from service.science.dormancy import AirFacts, Phase, Seen, Verdict, judge_dormancy
from service.trees.schemas import AirDayTold
from tests.builders.air import LATITUDE, seattle_days, set_group, set_latitude, tell_air
from tests.builders.collection import cut
from tests.builders.trees import Orchard, make_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements

LATE = "Late: cut here now only where buds are still tight, and use that wood first"
TODAY = date(2026, 2, 14)
BEFORE = date(2024, 8, 1)


@pytest.fixture
def site(writer: Writer, cast: Cast, orchard: Orchard) -> Orchard:
    """An apple, a pear and a fig nobody knows the need of, on a site with a latitude."""
    set_latitude(writer, orchard.site_id, LATITUDE)
    set_group(writer, orchard.apple_id, "apple")
    set_group(writer, orchard.pear_id, "pear_european")
    for kind in ({}, {"taxon_id": orchard.pear_id}, {"taxon_id": orchard.fig_id}):
        make_tree(writer, cast.steward, orchard, **kind)
    return orchard


def winter_of(database: Database, site: Orchard, today: date = TODAY, year: int | None = None) -> SiteWinter:
    with database.reading() as session:
        return queries.site_winter(session, site.site_id, today, year)


def test_the_days_of_earlier_winters_lie_within_a_day_of_those_that_the_science_found(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    """Apple, Seattle: at rest from 28 October 2012 and 15 October 2013, moving from 17 April 2013 and 3 April 2014."""
    tell_air(writer, cast.steward, site.site_id, seattle_days(date(2024, 8, 1), date(2026, 2, 13)))

    this, former = winter_of(database, site), winter_of(database, site, year=2024)

    apple = next(each for each in this.kinds if each.group == "apple")
    assert apple.turns.ripe_on is not None
    assert abs((apple.turns.ripe_on - date(2025, 10, 15)).days) <= 1
    moving = next(each for each in former.kinds if each.group == "apple").turns.moving_on
    assert moving is not None
    assert abs((moving - date(2025, 4, 17)).days) <= 1
    assert (this.begins, this.as_of, this.winters) == (
        date(2025, 8, 21),
        date(2026, 2, 13),
        [2025, 2024, 2023],
    )
    assert (former.last, former.answer) == (date(2025, 8, 20), "A winter that is over")


def test_with_one_earlier_winter_the_dates_are_not_known_yet_and_with_two_they_are(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))
    one = winter_of(database, site)
    earlier = [
        AirDayTold(day=each.day - timedelta(days=731), lowest_c=each.lowest_c, highest_c=each.highest_c)
        for each in seattle_days(date(2025, 8, 20), date(2026, 8, 25))
    ]
    tell_air(writer, cast.steward, site.site_id, [each for each in earlier if each.day < BEFORE])

    two = winter_of(database, site)

    assert one.earlier_winters == 1
    assert (
        "not known yet: the record holds one whole winter before this one, and 2 are needed" in one.sentence
    )
    assert "not known yet" in one.when_to_cut
    assert two.earlier_winters == 2
    apple = next(each for each in two.kinds if each.group == "apple")
    assert apple.moves is not None
    assert (apple.moves.winters, apple.moves.earliest < apple.moves.latest) == (2, True)
    assert "buds could move from" in two.sentence
    assert "In earlier winters of this record the air had the wood at rest" in two.when_to_cut


def test_the_answer_names_what_is_ready_and_the_cuts_are_there(
    database: Database, writer: Writer, cast: Cast, site: Orchard, statements: Statements
) -> None:
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))
    tree = make_tree(writer, cast.steward, site)
    made = cut(writer, cast.steward, tree.id, stage="00")

    with database.reading() as session, statements.at_most(5):
        told = queries.site_winter(session, site.site_id, TODAY)

    assert (told.answer, told.tone) == (
        "Wood may be cut here now, where the leaves are down",
        "alive",
    )
    assert [each.group for each in told.kinds] == ["apple", "pear_european"]
    assert told.not_reckoned == ["Fig"]
    assert [each.collection_id for each in told.cuts] == [made.id]
    apple = told.kinds[0]
    assert (apple.need.value, apple.need.least, apple.need.most) == (50, 50, 50)
    assert len(told.days) == (date(2026, 2, 13) - date(2025, 8, 21)).days + 1 == len(apple.warmth)
    assert 0 < apple.warmth_now < 1


FIRE_BLIGHT = {"agent": "fire blight", "state": "suspected"}


def test_what_can_carry_what_a_tree_is_stopped_for_is_not_among_what_may_be_cut(
    database: Database, writer: Writer, cast: Cast, site: Orchard, statements: Statements, client: Any
) -> None:
    """EPPO Global Database, ERWIAM: apple and pear are hosts of fire blight, plum is none."""
    set_group(writer, site.plum_id, "plum_european")
    make_tree(writer, cast.steward, site, taxon_id=site.plum_id)
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))
    pear = make_tree(writer, cast.steward, site, taxon_id=site.pear_id)
    stop(writer, cast.steward, pear.id, **FIRE_BLIGHT)

    with database.reading() as session, statements.at_most(7):
        told = queries.site_winter(session, site.site_id, TODAY)
    page = client("member").get(f"/sites/{site.site_id}/winter").text

    assert told.answer == "Wood of 1 of 3 kinds may be cut here now; of 2 a stop forbids it"
    assert told.tone == "first"
    assert told.sentence.startswith("Cut nothing of Apple, Pear while a stop is open.")
    assert "Apple" not in told.sentence.partition("buds could move")[2]
    assert {each.name for each in told.kinds if each.kept_back} == {"Apple", "Pear"}
    assert [(one.trees, one.kinds) for one in told.stops] == [([pear.number], ["Apple", "Pear"])]
    assert page.index("(fire blight) is suspected") < page.index("may be cut here now")
    assert "Ask the health steward" in page


def test_where_every_kind_is_kept_back_nothing_may_be_cut(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))
    tree = make_tree(writer, cast.steward, site)
    stop(writer, cast.steward, tree.id, **FIRE_BLIGHT)

    told = winter_of(database, site)

    assert (told.answer, told.tone) == ("Nothing may be cut here now: a stop is open", "stopped")
    assert told.sentence == "Cut nothing of Apple, Pear while a stop is open."
    assert winter_of(database, site, year=2024).stops == []


def test_a_doubt_about_a_name_binds_its_tree_and_no_other(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))
    tree = make_tree(writer, cast.steward, site)
    stop(writer, cast.steward, tree.id, reason="name")

    told = winter_of(database, site)

    assert told.answer == "Wood may be cut here now, where the leaves are down"
    assert [(one.trees, one.kinds) for one in told.stops] == [([tree.number], [])]


def test_without_air_an_open_stop_still_stands_first(
    database: Database, writer: Writer, cast: Cast, site: Orchard, client: Any
) -> None:
    stop(writer, cast.steward, make_tree(writer, cast.steward, site).id, **FIRE_BLIGHT)

    told = winter_of(database, site)

    assert told.sentence.startswith("Cut nothing of Apple, Pear while a stop is open.")
    assert "(fire blight) is suspected" in client("member").get(f"/sites/{site.site_id}/winter").text


@pytest.mark.parametrize("latitude, told", [(-90, True), (90, True), (69.6, True), (-66, False), (66, False)])
def test_beyond_the_polar_circle_the_page_says_what_cannot_be_told(
    writer: Writer, site: Orchard, client: Any, latitude: float, told: bool
) -> None:
    """The polar circles lie at 66.56 degrees. Tromsø, at 69.6 north, has no sunrise from late November to mid-January."""
    set_latitude(writer, site.site_id, latitude)

    page = client("member").get(f"/sites/{site.site_id}/winter")

    assert page.status_code == 200
    assert ("cannot be told from its lowest and highest" in page.text) is told


@pytest.mark.parametrize(
    "phases, answer",
    [
        (
            (Phase.MOVING, None),
            "Late for 1 of 2 kinds: cut here now only where buds are still tight, and use that wood first",
        ),
        ((Phase.MOVING, Phase.MOVING), LATE),
        ((Phase.PARA, None, None), "Too early to cut 1 of 3 kinds here for the store"),
        ((Phase.PARA, Phase.PARA), "Too early to cut here for the store"),
        (
            (Phase.PARA, Phase.MOVING),
            "Late for 1 of 2 kinds: cut here now only where buds are still tight, and use that wood first; of 1 it is too early",
        ),
        (
            (Phase.ECO, Phase.MOVING),
            "Wood of 1 of 2 kinds may be cut here now; of 1 only where buds are still tight, to be used first",
        ),
        ((Phase.ECO, Phase.PARA), "Wood of 1 of 2 kinds may be cut here now; of 1 it is too early"),
        ((Phase.ENDO, None), "Wood of 1 of 2 kinds may be cut here now, where the leaves are down"),
        ((None, None), "Whether wood may be cut here now the air does not say"),
    ],
)
def test_of_kinds_of_which_the_air_says_nothing_the_answer_says_nothing(
    phases: tuple[Phase | None, ...], answer: str
) -> None:
    kinds = [KindNow(f"Kind {place}", phase, None, None) for place, phase in enumerate(phases)]

    assert answer_now(kinds, "")[0] == answer


def test_of_what_a_stop_forbids_and_what_moves_each_is_told_with_its_number() -> None:
    """A site of eight kinds late in February: three are stopped, two could be moving."""
    kinds = [KindNow(f"Ready {place}", Phase.ECO, None, None) for place in range(3)]
    kinds += [KindNow(f"Moving {place}", Phase.MOVING, None, None) for place in range(2)]
    kinds += [KindNow(f"Stopped {place}", Phase.MOVING, None, None, kept_back=True) for place in range(3)]

    assert answer_now(kinds, "") == (
        "Wood of 3 of 8 kinds may be cut here now; of 2 only where buds are still tight, to be used first, of 3 a stop forbids it",
        "first",
    )
    told = sentence_now(kinds, "", TODAY, 0)
    assert "could be moving already: Moving 0, Moving 1." in told


@pytest.mark.parametrize(
    "seen, verdict",
    [
        (Seen.TIGHT, Verdict.FIT_USE_FIRST),
        (Seen.SWELLING, Verdict.GRAFT_AT_ONCE),
        (Seen.GREEN, Verdict.GRAFT_AT_ONCE),
    ],
)
def test_the_page_says_of_moving_buds_what_the_verdict_on_a_cut_says(seen: Seen, verdict: Verdict) -> None:
    facts = AirFacts(portions_cp=80, bud_dose=2.0)

    assert judge_dormancy(seen, 50, facts).verdict is verdict
    assert {
        Verdict.FIT_USE_FIRST: "with tight buds it may be cut and is used first",
        Verdict.GRAFT_AT_ONCE: "grafted at once",
    }[verdict] in LOOK_FIRST


def test_what_is_read_at_a_tree_are_two_short_sentences() -> None:
    told = sentence_now([], "No air.", TODAY, 0).removeprefix("No air. ").removesuffix(".").split(". ")

    assert told == [
        "Cut where leaves are down and buds tight",
        "Of kinds that keep their leaves, cut where buds are tight",
    ]


def test_early_in_autumn_it_is_too_early_and_in_june_it_is_late(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))

    early, late = (winter_of(database, site, day) for day in (date(2025, 9, 20), date(2025, 6, 20)))

    assert (early.answer, early.tone) == ("Too early to cut here for the store", "first")
    assert (late.answer, late.tone) == (LATE, "first")
    assert (
        "with tight buds it may be cut and is used first, with swelling or green ones it is grafted at once"
        in late.sentence
    )
    assert "Not at rest yet: Apple, Pear." in early.sentence


@pytest.mark.parametrize(
    "latitude, first, said",
    [
        (None, BEFORE, "has no latitude"), (3.0, BEFORE, "between the tropics"), (LATITUDE, None, "No day of air was told"),
        (LATITUDE, date(2026, 1, 14), "Only 31 of the 178 days"), (69.6, BEFORE, ""), (-89.9, BEFORE, ""),
    ],
)  # fmt: skip
def test_bad_ground_is_a_clear_sentence_and_never_an_error(
    database: Database, writer: Writer, cast: Cast, site: Orchard, client, latitude: float | None, first: date | None, said: str
) -> None:  # fmt: skip
    set_latitude(writer, site.site_id, latitude)
    if first is not None:
        tell_air(writer, cast.steward, site.site_id, seattle_days(first, date(2026, 2, 13)))

    told = winter_of(database, site)
    page = client("member").get(f"/sites/{site.site_id}/winter")

    assert page.status_code == 200
    assert (said in told.reason) if said else told.reason == ""
    if said:
        assert told.reason.split(";")[0] in page.text.replace('<time datetime="2025-08-21">', "").replace(
            "</time>", ""
        )
        assert told.sentence.endswith(BY_THE_EYE)


@pytest.mark.parametrize(("latitude", "about"), [(LATITUDE, 0), (69.65, 49), (-69.65, 113)])
def test_beyond_the_polar_circle_the_page_says_how_its_hours_are_taken(
    database: Database, writer: Writer, cast: Cast, site: Orchard, client, latitude: float, about: int
) -> None:
    """At Tromsø (69.65° N) the sun stays away from about 27 November to 15 January, and does not set from about 20 May to 22 July
    (from memory, no source); the winter there begins in late August. In the south the record reaches from one
    late summer into the next, over both the night and the long day."""
    set_latitude(writer, site.site_id, latitude)
    tell_air(writer, cast.steward, site.site_id, seattle_days(BEFORE, date(2026, 2, 13)))

    told = winter_of(database, site)
    page = client("member").get(f"/sites/{site.site_id}/winter").text

    assert told.without_sunrise == pytest.approx(about, abs=5)
    assert ("beyond the polar circle" in page) is (about > 0)


def test_a_gap_is_left_open_and_earns_nothing(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    for first, last in ((BEFORE, date(2025, 12, 1)), (date(2025, 12, 22), date(2026, 2, 13))):
        tell_air(writer, cast.steward, site.site_id, seattle_days(first, last))

    told = winter_of(database, site)

    gap = [each for each in told.days if not each.measured]
    assert (len(gap), told.days_measured) == (20, 157)
    assert len({each.portions for each in gap[1:-1]}) == 1


def test_on_the_south_of_the_earth_a_leap_year_loses_no_winter(
    database: Database, writer: Writer, cast: Cast, site: Orchard
) -> None:
    """Late summer is 19 February there, and 20 February in a leap year."""
    set_latitude(writer, site.site_id, -LATITUDE)
    days = seattle_days(date(2023, 8, 1), date(2026, 2, 13), moved_days=-182)
    tell_air(writer, cast.steward, site.site_id, days)

    told = winter_of(database, site, date(2025, 7, 1))

    assert (told.begins, told.winters) == (date(2025, 2, 19), [2025, 2024, 2023])
    assert told.kinds[0].earlier[0].begins == date(2024, 2, 20)


def test_the_page_shows_the_picture_with_its_gap_and_a_tree_says_when_to_cut_it(
    writer: Writer, cast: Cast, site: Orchard, client
) -> None:
    for first, last in ((BEFORE, date(2025, 12, 1)), (date(2025, 12, 22), date(2026, 2, 13))):
        tell_air(writer, cast.steward, site.site_id, seattle_days(first, last))
    apple = make_tree(writer, cast.steward, site)
    fig = make_tree(writer, cast.steward, site, taxon_id=site.fig_id)
    browser = client("member")

    page, tree, unknown = (
        browser.get(path).text
        for path in (f"/sites/{site.site_id}/winter", f"/trees/{apple.id}", f"/trees/{fig.id}")
    )

    line = page.partition('stroke="var(--water)" stroke-width="3"')[0].rpartition('d="')[2]
    assert line.count("M") == 2
    assert "157 of 178 days were measured" in page
    assert "the site’s air brought" in tree
    assert "Cutting opens when the leaves are down" in tree
    assert "How much chill fig needs is not known here." in unknown


@pytest.mark.parametrize(
    "trees, told",
    [
        ((), "; no kind stands here whose rest is reckoned; "),
        (("apple_id",), "; the one kind here: its rest has ended, its buds do not move; "),
        (("apple_id", "pear_id"), "; of 2 kinds the rest of 2 has ended, and the buds of 0 could be moving; "),
    ],
)  # fmt: skip
def test_the_picture_in_words_counts_no_kinds_where_none_stand(
    database: Database, writer: Writer, cast: Cast, orchard: Orchard, trees: tuple[str, ...], told: str
) -> None:
    set_latitude(writer, orchard.site_id, LATITUDE)
    set_group(writer, orchard.apple_id, "apple")
    set_group(writer, orchard.pear_id, "pear_european")
    for taxon in trees:
        make_tree(writer, cast.steward, orchard, taxon_id=getattr(orchard, taxon))
    tell_air(writer, cast.steward, orchard.site_id, seattle_days(BEFORE, date(2026, 2, 13)))

    assert told in winter_over(winter_of(database, orchard))
