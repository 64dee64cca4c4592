"""Cuts, receipts and rounds."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import update
from sqlmodel import Session

from service.catalogue.rules import NoSuchStage, ProtectedVariety
from service.collection import actions, queries
from service.collection.rules import (
    CutAfterItCame,
    MoreThanOwnerSaid,
    NoStageInSummer,
    NotOnThisTree,
    OriginNotKnown,
    OwnerNotAsked,
)
from service.collection.schemas import CollectionCreate, ReceiptCreate, RoundCreate, RoundUpdate
from service.lib.clock import FixedClock, InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, NotFound, Problem, Stale, Unusable
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import CrossesArea, UnknownArea
from service.members.tables import Club, Party
from service.trees.rules import NotItsKind, StoppedTree
from tests.builders.collection import ALL_TOLD, cut, finish, read_collection, receive, words
from tests.builders.members import make_permit
from tests.builders.trees import Orchard, change, look, make_site, make_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements

TODAY = date(2026, 2, 14)


def cuts(database: Database) -> int | None:
    with database.reading() as session:
        return queries.list_collections(session, Paging()).count


def set_zone(writer: Writer, zone: str) -> None:
    def act(session: Session) -> None:
        session.execute(update(Club).values(zone=zone))

    writer.write_now(act, None)


def set_area(writer: Writer, party_id: UUID, area_id: UUID) -> None:
    def act(session: Session) -> None:
        session.execute(update(Party).where(Party.id == party_id).values(area_id=area_id))

    writer.write_now(act, None)


def test_a_cut_needs_only_its_tree_and_its_sticks(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    look(writer, cast.host, tree.id, seen_on=date(2025, 7, 1))

    made = cut(writer, cast.collector, tree.id, 6)

    assert (made.number, made.sticks, made.wood, made.cut_on, made.page_name) == (
        1,
        6,
        "dormant",
        TODAY,
        "‘Gala’",
    )
    assert made.unfinished and made.missing == ["stage", "leaves_down", "disinfected"]
    assert made.area_id == orchard.area_id and made.round_id is not None
    assert words(made) == {"area_not_known"}  # whoever cuts has no area in the record
    kept = read_collection(database, made.id)
    assert kept == made.model_copy(update={"warnings": []})


def test_a_cut_with_everything_told_is_finished(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id, **ALL_TOLD)

    assert (made.unfinished, made.missing, made.wood_use) == (False, [], "keep")


def test_a_cut_is_recorded_for_whom_it_was_done(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    for_guest = replace(cast.collector, acting_for_id=cast.guest_id)

    made = cut(writer, for_guest, make_tree(writer, cast.steward, orchard).id)

    assert (made.by_party_id, made.for_party_id) == (cast.collector.party_id, cast.guest_id)


@pytest.mark.parametrize("minutes, fine", [(10, True), (11, False)])
def test_a_cut_lies_at_most_ten_minutes_in_the_future(
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    clock: FixedClock,
    database: Database,
    minutes: int,
    fine: bool,
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    at = clock.now() + timedelta(minutes=minutes)

    if fine:
        assert cut(writer, cast.collector, tree.id, done_at=at).done_at == at
    else:
        with pytest.raises(InTheFuture):
            cut(writer, cast.collector, tree.id, done_at=at)
        assert cuts(database) == 0


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/Los_Angeles", "Europe/Berlin", "UTC"])
@pytest.mark.parametrize(
    "at", [datetime(2026, 1, 14, 23, 30, tzinfo=UTC), datetime(2025, 10, 26, 0, 30, tzinfo=UTC)]
)
def test_the_day_of_a_cut_is_the_one_on_the_clubs_calendar(
    writer: Writer, cast: Cast, orchard: Orchard, zone: str, at: datetime
) -> None:
    set_zone(writer, zone)

    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id, done_at=at)

    # Against zoneinfo's own tables.
    assert made.cut_on == at.astimezone(ZoneInfo(zone)).date()


def test_a_cut_before_the_tree_was_planted_is_told_and_recorded(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard, planted_year=2026)

    made = cut(writer, cast.collector, tree.id, done_at=datetime(2025, 12, 30, 12, tzinfo=UTC))

    assert "before_planting" in words(made)


def test_a_stage_the_kind_does_not_have_is_refused_and_names_those_it_has(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    plum = make_tree(writer, cast.steward, orchard, cultivar_id=orchard.victoria_id)
    apple = make_tree(writer, cast.steward, orchard)

    # BBCH Monograph (Meier, ed.): 07 stands in the pome list and not in the stone list.
    assert "stage_do_not_cut" in words(cut(writer, cast.collector, apple.id, stage="07"))
    with pytest.raises(NoSuchStage) as refused:
        cut(writer, cast.collector, plum.id, stage="07")
    assert refused.value.facts["allowed"] == ["00", "01", "03", "09", "10", "11"]
    assert cuts(database) == 1


def test_summer_budwood_is_asked_other_things(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    made = cut(writer, cast.collector, tree.id, wood="summer", leaves_off=True, disinfected=True)

    assert (made.unfinished, made.missing, made.wood_use) == (False, [], None)
    assert "use_within_days" in words(made)
    with pytest.raises(NoStageInSummer):
        cut(writer, cast.collector, tree.id, wood="summer", stage="00")


def test_nothing_is_cut_of_a_stopped_tree_and_no_other_cut_of_the_list_is_written(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    well, sick = make_tree(writer, cast.steward, orchard), make_tree(writer, cast.steward, orchard)
    stop(writer, cast.host, sick.id, agent="fire-blight")
    body = [CollectionCreate(tree_id=tree.id, sticks=3) for tree in (well, sick)]

    with pytest.raises(StoppedTree) as refused:
        writer.write_now(actions.record_collections, cast.collector, body)

    assert (
        refused.value.facts["agent"].startswith("Erwinia amylovora")
        and "health steward" in refused.value.todo
    )
    assert cuts(database) == 0


@pytest.mark.parametrize(
    "told",
    [{"may_cut": "no"}, {"no_propagation_contract": True}, {"cultivar": "protected"}, {"may_cut": "ask"}],
)
def test_what_may_not_be_cut_is_refused(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, told: dict
) -> None:
    protected = told == {"cultivar": "protected"}
    more = {"cultivar_id": orchard.protected_id} if protected else told
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, **more)

    with pytest.raises(Problem) as refused:
        cut(writer, cast.collector, tree.id)

    assert refused.value.todo and isinstance(refused.value, ProtectedVariety) is protected
    assert cuts(database) == 0


def test_how_the_owner_agreed_is_kept(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, may_cut="ask")

    made = cut(writer, cast.collector, tree.id, owner_agreed="by telephone on Sunday")

    assert read_collection(database, made.id).owner_agreed == "by telephone on Sunday"
    with pytest.raises(OwnerNotAsked):
        cut(writer, cast.collector, tree.id)
    assert cut(writer, replace(cast.collector, acting_for_id=cast.member.party_id), tree.id).number == 2


def test_the_owners_limit_holds_for_a_season_of_one_kind_of_wood(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, most_sticks=10)
    last_winter = clock.now() - timedelta(days=330)
    cut(writer, cast.collector, tree.id, 10, done_at=last_winter)
    cut(writer, cast.collector, tree.id, 10, wood="summer", done_at=clock.now() - timedelta(days=150))
    cut(writer, cast.collector, tree.id, 7)

    with pytest.raises(MoreThanOwnerSaid) as refused:
        cut(writer, cast.collector, tree.id, 4)
    with pytest.raises(MoreThanOwnerSaid):
        body = [CollectionCreate(tree_id=tree.id, sticks=2) for _ in range(2)]
        writer.write_now(actions.record_collections, cast.collector, body)

    assert refused.value.facts["left"] == 3
    assert cut(writer, cast.collector, tree.id, 3).sticks == 3


def test_two_who_cut_at_once_do_not_pass_the_owners_limit(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, most_sticks=10)

    def try_cut(_: int) -> str:
        try:
            return str(cut(writer, cast.collector, tree.id, 3).sticks)
        except Problem as problem:
            return problem.slug()

    with ThreadPoolExecutor(8) as pool:
        said = sorted(pool.map(try_cut, range(8)))

    assert said == ["3"] * 3 + ["more-than-owner-said"] * 5
    with database.reading() as session:
        page = queries.list_collections(session, Paging())
    assert (
        sorted(one.number for one in page.items) == [1, 2, 3]
        and len({one.round_id for one in page.items}) == 1
    )


def test_of_a_tree_of_several_varieties_one_is_cut(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard, varieties=[{"cultivar_id": orchard.bramley_id}])

    assert cut(writer, cast.collector, tree.id, cultivar_id=orchard.bramley_id).page_name == "‘Bramley’"
    with pytest.raises(NotOnThisTree):
        cut(writer, cast.collector, tree.id, cultivar_id=orchard.victoria_id)


def test_a_cut_of_nothing_known_is_told(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    with pytest.raises(NotFound):
        cut(writer, cast.collector, uuid4())
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)
    with pytest.raises(AlreadyKnown):
        cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id, id=made.id)


def test_twenty_cuts_cost_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    other = make_site(writer, cast.steward, orchard.area_id)
    trees = [
        make_tree(writer, cast.steward, orchard, site_id=(orchard.site_id, other.id)[n % 2])
        for n in range(20)
    ]

    def body(count: int) -> list[CollectionCreate]:
        return [CollectionCreate(tree_id=tree.id, sticks=2, **ALL_TOLD) for tree in trees[:count]]

    with statements.at_most(10):
        writer.write_now(actions.record_collections, cast.collector, body(1))
    with statements.at_most(10):
        writer.write_now(actions.record_collections, cast.collector, body(20))


# -- across a boundary -----------------------------------------------------------------------------------------------


def test_who_cuts_in_another_area_needs_the_authoritys_answer(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    set_area(writer, cast.collector.party_id, orchard.other_area_id)

    with pytest.raises(CrossesArea):
        cut(writer, cast.collector, tree.id)
    assert cuts(database) == 0
    make_permit(writer, cast.health_steward, orchard.area_id, orchard.other_area_id)
    assert words(cut(writer, cast.collector, tree.id)) == {"never_seen_in_leaf"}


def test_wood_from_another_area_is_taken_in_with_the_authoritys_answer_only(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)

    with pytest.raises(CrossesArea):
        receive(writer, cast.collector, orchard, area_id=orchard.other_area_id)
    with pytest.raises(OriginNotKnown):
        receive(writer, cast.collector, orchard, area_id=None)
    make_permit(writer, cast.health_steward, orchard.other_area_id, orchard.area_id, genus="Malus")
    assert (
        receive(writer, cast.collector, orchard, area_id=orchard.other_area_id).area_id
        == orchard.other_area_id
    )
    with pytest.raises(CrossesArea):
        receive(writer, cast.collector, orchard, area_id=orchard.other_area_id, taxon_id=orchard.fig_id)
    assert cuts(database) == 1


# -- receipts --------------------------------------------------------------------------------------------------------


def test_a_receipt_keeps_what_was_told(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)
    set_area(writer, cast.guest_id, orchard.area_id)

    made = receive(
        writer, cast.collector, orchard, 12, area_id=None, from_party_id=cast.guest_id, their_reference="HF-204", health_paper="none",
        tree_as_told="the old one by the well", cut_on=date(2026, 1, 20), stage="00",
    )  # fmt: skip

    assert (made.kind, made.sticks, made.cut_on, made.cut_on_guessed) == (
        "receipt",
        12,
        date(2026, 1, 20),
        False,
    )
    assert (made.area_id, made.unfinished, made.missing) == (orchard.area_id, False, [])  # the giver's area
    assert read_collection(database, made.id) == made and made.from_whom


def test_what_nobody_told_of_a_receipt_waits_and_its_day_is_marked_as_a_guess(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    made = receive(writer, cast.collector, orchard, taxon_id=orchard.pear_id, area_id=None)

    assert (made.cut_on, made.cut_on_guessed, made.page_name) == (TODAY, True, "no name known")
    assert made.missing == [
        "from",
        "area_id",
        "their_reference",
        "health_paper",
        "tree_as_told",
        "cut_on",
        "name",
    ]
    assert words(made) == {"no_health_paper", "unnamed"}


@pytest.mark.parametrize(
    "told, problem",
    [
        ({"cut_on": date(2026, 2, 15)}, CutAfterItCame), ({"cultivar_id": uuid4()}, Unusable), ({"taxon_id": uuid4()}, Unusable),
        ({"from_party_id": uuid4()}, Unusable), ({"area_id": uuid4()}, UnknownArea), ({"cultivar_id": "protected"}, ProtectedVariety),
        ({"taxon_id": "fig", "cultivar_id": "gala"}, NotItsKind), ({"taxon_id": None}, Unusable), ({"stage": "02"}, NoSuchStage),
        ({"done_at": datetime(2026, 2, 14, 10, 11, tzinfo=UTC)}, InTheFuture),
    ],
)  # fmt: skip
def test_a_receipt_that_cannot_be_is_refused(
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    database: Database,
    told: dict[str, Any],
    problem: type[Problem],
) -> None:
    named = {
        name: getattr(orchard, f"{value}_id") if isinstance(value, str) and name != "stage" else value
        for name, value in told.items()
    }

    with pytest.raises(problem):
        receive(writer, cast.collector, orchard, **named)

    assert cuts(database) == 0


def test_twenty_receipts_cost_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    def body(count: int) -> list[ReceiptCreate]:
        kept = {
            "sticks": 3,
            "cultivar_id": orchard.gala_id,
            "area_id": orchard.area_id,
            "from_party_id": cast.guest_id,
        }
        return [ReceiptCreate(**kept) for _ in range(count)]

    set_area(writer, cast.collector.party_id, orchard.area_id)
    with statements.at_most(7):
        writer.write_now(actions.record_receipts, cast.collector, body(1))
    with statements.at_most(7):
        writer.write_now(actions.record_receipts, cast.collector, body(20))


# -- finishing -------------------------------------------------------------------------------------------------------


def test_a_cut_leaves_the_list_when_nothing_is_missing_any_more(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)

    half = finish(writer, cast.collector, made, stage="01", disinfected=True)
    whole = finish(writer, cast.collector, made, leaves_down=False)

    assert (half.unfinished, half.missing, half.version) == (True, ["leaves_down"], 2)
    assert (whole.unfinished, whole.version) == (False, 3) and words(whole) == {
        "stage_use_first",
        "leaves_still_on",
    }
    with database.reading() as session:
        assert queries.list_to_finish(session, Paging()).items == []


def test_what_nobody_can_tell_any_more_leaves_the_list_too(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)

    settled = finish(writer, cast.collector, made, nothing_more=True)

    assert (settled.unfinished, settled.missing) == (False, ["stage", "leaves_down", "disinfected"])


def test_a_stale_finish_is_refused(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    from service.collection.schemas import CollectionUpdate

    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)
    finish(writer, cast.collector, made, stage="00")

    with pytest.raises(Stale):
        writer.write_now(
            actions.finish_collection, cast.collector, made.id, CollectionUpdate(stage="01"), made.version
        )


def test_what_belongs_to_a_receipt_is_not_told_of_a_cut_nor_the_other_way(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)
    made, received = (
        cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id),
        receive(writer, cast.collector, orchard),
    )

    for one, told in (
        (made, {"health_paper": "x"}),
        (made, {"cut_on": TODAY}),
        (received, {"leaves_down": True}),
        (made, {"stage": "02"}),
    ):
        with pytest.raises(Unusable):
            finish(writer, cast.collector, one, **told)
    with pytest.raises(NotOnThisTree):
        finish(writer, cast.collector, made, cultivar_id=orchard.bramley_id)


def test_a_receipt_is_put_right_and_its_area_is_checked_again(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)
    made = receive(writer, cast.collector, orchard)

    told = finish(
        writer,
        cast.collector,
        made,
        cut_on=date(2026, 1, 5),
        from_whom="Ida Brandt",
        cultivar_id=orchard.bramley_id,
    )

    assert (told.cut_on, told.cut_on_guessed, told.from_whom, told.page_name) == (
        date(2026, 1, 5),
        False,
        "Ida Brandt",
        "‘Bramley’",
    )
    with pytest.raises(CrossesArea):
        finish(writer, cast.collector, made, area_id=orchard.other_area_id)
    with pytest.raises(CutAfterItCame):
        finish(writer, cast.collector, made, cut_on=date(2026, 2, 15))


def test_a_cut_of_a_tree_stopped_since_can_still_be_finished(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    made = cut(writer, cast.collector, tree.id)
    stop(writer, cast.host, tree.id)

    assert finish(writer, cast.collector, made, disinfected=False).disinfected is False


def test_the_list_tells_in_words_what_waits(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    set_area(writer, cast.steward.party_id, orchard.area_id)
    cut(writer, cast.collector, tree.id, 6, stage="00", disinfected=True)
    receive(
        writer,
        cast.steward,
        orchard,
        4,
        from_whom="Ida Brandt",
        their_reference="7",
        health_paper="none",
        tree_as_told="x",
    )

    with database.reading() as session:
        both = queries.list_to_finish(session, Paging()).items
        (mine,) = queries.list_to_finish(session, Paging(), party_id=cast.collector.party_id).items

    assert [one.words for one in both] == [
        "Apple ‘Gala’, 4 sticks from Ida Brandt",
        "Apple ‘Gala’, 6 sticks cut on tree 1",
    ]
    assert mine.missing_words == ["whether the tree's leaves were down"]


# -- rounds ----------------------------------------------------------------------------------------------------------


def test_a_round_is_one_cutter_on_one_site_in_one_day(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    other = make_site(writer, cast.steward, orchard.area_id)
    here = [make_tree(writer, cast.steward, orchard).id for _ in range(2)]
    there = make_tree(writer, cast.steward, orchard, site_id=other.id).id
    yesterday = clock.now() - timedelta(days=1)

    def round_of(tree_id: UUID, member: Any = cast.collector, **told: Any) -> UUID | None:
        return cut(writer, member, tree_id, 1, **told).round_id

    first = round_of(here[0], done_at=clock.now() - timedelta(hours=1))

    assert round_of(here[1]) == round_of(here[0]) == first
    assert (
        len({first, round_of(there), round_of(here[0], cast.steward), round_of(here[0], done_at=yesterday)})
        == 4
    )
    for_guest = replace(cast.steward, acting_for_id=cast.collector.party_id)
    assert round_of(here[0], for_guest) == first  # written down by another, cut with the same tools


def test_a_round_begun_by_hand_takes_the_cuts_after_it(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    early = cut(writer, cast.collector, tree.id, done_at=clock.now() - timedelta(hours=2))

    begun = writer.write_now(
        actions.start_round,
        cast.collector,
        RoundCreate(site_id=orchard.site_id, tools="saw", disinfected="70 % alcohol"),
    )
    late, told = (
        cut(writer, cast.collector, tree.id),
        cut(writer, cast.collector, tree.id, round_id=early.round_id),
    )
    changed = writer.write_now(actions.change_round, cast.collector, begun.id, RoundUpdate(tools="shears"), 1)

    assert late.round_id == begun.id != early.round_id == told.round_id
    assert (changed.tools, changed.disinfected, changed.version) == ("shears", "70 % alcohol", 2)
    assert [one.id for one in changed.collections] == [late.id]
    for wrong in ({"round_id": uuid4()}, {"round_id": begun.id, "tree_id": "elsewhere"}):
        site = make_site(writer, cast.steward, orchard.area_id)
        where = (
            make_tree(writer, cast.steward, orchard, site_id=site.id).id if "tree_id" in wrong else tree.id
        )
        with pytest.raises(Unusable) as refused:
            cut(writer, cast.collector, where, round_id=wrong["round_id"])
        assert refused.value.field == "round_id"


def test_trees_cut_later_on_the_same_round_are_named_with_what_is_known_of_the_tools(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock, database: Database
) -> None:
    plum = {"cultivar_id": orchard.victoria_id}
    before, sick, after, clean = (
        make_tree(writer, cast.steward, orchard, **more) for more in (plum, {}, plum, plum)
    )
    for minutes, tree, told in (
        (60, before, {}),
        (50, sick, {}),
        (40, after, {"disinfected": False}),
        (30, clean, {"disinfected": True}),
    ):
        cut(writer, cast.collector, tree.id, done_at=clock.now() - timedelta(minutes=minutes), **told)
    cut(writer, cast.steward, make_tree(writer, cast.steward, orchard, **plum).id)

    with database.reading() as session:
        named = queries.stop_candidates(session, sick.id, "fire-blight")
        lately = queries.cut_later_on_rounds(session, sick.id, since=clock.now())

    assert [(one.tree_id, one.why) for one in named] == [(after.id, "same_round"), (clean.id, "same_round")]
    assert "not disinfected" in named[0].words and "were disinfected" in named[1].words
    assert lately == []


def test_facts_for_later_stages_cost_one_statement(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, statements: Statements
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    set_area(writer, cast.collector.party_id, orchard.area_id)
    made, received = (
        cut(writer, cast.collector, tree.id, stage="00"),
        receive(writer, cast.collector, orchard),
    )

    with database.reading() as session, statements.exactly(1):
        facts = queries.facts_for_collections(session, [made.id, received.id, uuid4()])

    assert set(facts) == {made.id, received.id}
    one = facts[made.id]
    assert (one.tree_number, one.genus, one.name, one.stage, one.cut_on, one.sticks) == (
        1,
        "Malus",
        "‘Gala’",
        "00",
        TODAY,
        6,
    )
    assert (facts[received.id].tree_id, facts[received.id].kind) == (None, "receipt")


def test_a_felled_tree_is_cut_no_more(
    writer: Writer, cast: Cast, orchard: Orchard, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    change(writer, cast.steward, tree, felled_on=TODAY)

    assert cut(writer, cast.collector, tree.id).number == 1
    clock.move(timedelta(days=1))
    with pytest.raises(Problem) as refused:
        cut(writer, cast.collector, tree.id)
    assert refused.value.slug() == "tree-felled"


def test_a_stop_placed_at_the_same_time_lets_no_cut_through_unseen(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    trees = [make_tree(writer, cast.steward, orchard).id for _ in range(4)]

    def attempt(act: Callable[[], Any]) -> bool:
        try:
            act()
        except StoppedTree:
            return False
        return True

    for tree in trees:
        acts = [lambda tree=tree: cut(writer, cast.collector, tree, 1) for _ in range(4)]
        acts.insert(2, lambda tree=tree: stop(writer, cast.host, tree))
        with ThreadPoolExecutor(5) as pool:
            done = list(pool.map(attempt, acts))
        assert done[2]
        assert not attempt(lambda tree=tree: cut(writer, cast.collector, tree, 1))
        with database.reading() as session:
            kept = queries.list_collections(session, Paging(), tree_id=tree).count
        assert kept == sum(done) - 1
