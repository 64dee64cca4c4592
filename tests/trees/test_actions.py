"""Entering and changing sites and trees, and looking at them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from uuid import uuid4

import pytest

from service.lib.clock import FixedClock, InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Stale, Unusable
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import UnknownArea
from service.trees import actions, queries
from service.trees.rules import Identity, NotItsKind, StoppedTree, WrongResult
from service.trees.schemas import SiteUpdate, TreeCheckCreate, TreeCreate
from tests.builders.trees import Orchard, change, facts_of, look, make_site, make_tree, read_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements


def test_a_tree_keeps_what_was_told_of_it(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(
        writer, cast.steward, orchard, owner_id=cast.member.party_id, may_cut="ask", most_sticks=20, planted_year=1987,
        rootstock_id=orchard.m9_id, stands_on="with a Hibernal interstem", varieties=[{"cultivar_id": orchard.bramley_id, "branch": "north"}],  # noqa: E501
    )  # fmt: skip

    assert read_tree(database, tree.id) == tree
    assert (tree.number, tree.page_name, tree.kind, tree.rootstock) == (1, "‘Gala’", "Apple", "M.9")
    assert (tree.site_name, tree.region, tree.owner_name) == (
        "Long Meadow",
        "the lower valley",
        cast.member.name,
    )
    assert [(one.name, one.branch) for one in tree.varieties] == [("‘Bramley’", "north")]
    # International Code of Nomenclature for Cultivated Plants, 9th edition: genus and epithet, in single quotes.
    assert tree.name is not None and tree.name.plain == "Malus domestica ‘Gala’"


def test_a_tree_met_on_the_way_has_a_name_as_told_and_whose_it_is(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(
        writer, cast.collector, orchard, taxon_id=orchard.apple_id, name_as_told="Grandfather's red", owner_id=cast.guest_id,
        may_cut="ask", provisional=True,
    )  # fmt: skip

    assert (tree.page_name, tree.identity, tree.provisional) == (
        "Grandfather's red (as told)",
        Identity.AS_TOLD,
        True,
    )
    assert tree.owner_id == cast.guest_id


def test_a_tree_without_a_name_is_of_unknown_identity_and_belongs_to_who_entered_it(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard, taxon_id=orchard.fig_id)

    assert (tree.page_name, tree.identity, tree.owner_id) == (
        "no name known",
        Identity.UNKNOWN,
        cast.steward.party_id,
    )


HARD = [
    '‘Reine-Claude d’Oullins’ "the old one"',
    "🍏 幸水 🍐",
    "W" * 300,
    "תאנה שחורה של יריחו",
    "Ősi Šampion; DROP TABLE site --",
]


@pytest.mark.parametrize("name", HARD)
def test_names_stay_as_they_were_told(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, name: str
) -> None:
    tree = make_tree(writer, cast.steward, orchard, taxon_id=orchard.pear_id, name_as_told=name)

    assert read_tree(database, tree.id).name_as_told == name


@pytest.mark.parametrize(
    "told",
    [
        {"site_id": uuid4()}, {"cultivar_id": uuid4()}, {"taxon_id": uuid4()}, {"rootstock_id": uuid4()}, {"interstem_id": uuid4()},
        {"owner_id": uuid4()}, {"planted_year": 2027}, {"varieties": [{"cultivar_id": uuid4()}]},
    ],
    ids=lambda told: next(iter(told)),
)  # fmt: skip
def test_what_a_tree_refers_to_must_stand(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, told: dict
) -> None:
    with pytest.raises(Unusable) as refused:
        make_tree(writer, cast.steward, orchard, **told)

    assert refused.value.field in {*told, "cultivar_id"}
    with database.reading() as session:
        assert queries.list_trees(session, Paging(), exact=True).count == 0


def test_a_variety_of_another_kind_is_refused(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    with pytest.raises(NotItsKind):
        make_tree(writer, cast.steward, orchard, taxon_id=orchard.apple_id, cultivar_id=orchard.victoria_id)


def test_a_tree_needs_its_kind_or_its_variety(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    with pytest.raises(Unusable) as refused:
        writer.write_now(actions.add_trees, cast.steward, [TreeCreate(site_id=orchard.site_id)])

    assert refused.value.field == "taxon_id"


def test_the_same_tree_is_not_entered_twice(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    with pytest.raises(AlreadyKnown):
        make_tree(writer, cast.steward, orchard, id=tree.id)


def test_twenty_trees_cost_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    def body(count: int) -> list[TreeCreate]:
        kept = {"site_id": orchard.site_id, "cultivar_id": orchard.gala_id, "rootstock_id": orchard.m9_id}
        return [TreeCreate(**kept, varieties=[{"cultivar_id": orchard.bramley_id}]) for _ in range(count)]

    with statements.at_most(9):
        writer.write_now(actions.add_trees, cast.steward, body(1))
    with statements.at_most(9):
        many = writer.write_now(actions.add_trees, cast.steward, body(20))

    assert [tree.number for tree in many] == list(range(2, 22))


def test_trees_entered_at_the_same_time_get_numbers_of_their_own(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    with ThreadPoolExecutor(8) as pool:
        trees = list(pool.map(lambda _: make_tree(writer, cast.steward, orchard), range(24)))

    assert sorted(tree.number for tree in trees) == list(range(1, 25))


def test_a_change_keeps_what_is_left_out_and_counts_the_version(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(
        writer, cast.steward, orchard, most_sticks=20, varieties=[{"cultivar_id": orchard.bramley_id}]
    )

    changed = change(writer, cast.steward, tree, most_sticks=None, may_cut="no", note="By the gate")

    assert (changed.most_sticks, changed.may_cut, changed.note, changed.version) == (
        None,
        "no",
        "By the gate",
        2,
    )
    assert changed.varieties == tree.varieties and changed.cultivar_id == orchard.gala_id


def test_the_list_of_further_varieties_is_replaced_whole(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard, varieties=[{"cultivar_id": orchard.bramley_id}])

    change(writer, cast.steward, tree, varieties=[])

    assert facts_of(database, tree.id).more_varieties == frozenset()


def test_a_stale_change_is_refused_and_nothing_is_written(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    from service.trees.schemas import TreeUpdate

    tree = make_tree(writer, cast.steward, orchard)
    change(writer, cast.steward, tree, note="first")

    with pytest.raises(Stale) as refused:
        writer.write_now(
            actions.change_tree, cast.steward, tree.id, TreeUpdate(note="second", varieties=[]), tree.version
        )

    assert refused.value.facts == {"have": 2, "read": 1}
    assert read_tree(database, tree.id).note == "first"


def test_a_tree_cannot_be_felled_tomorrow(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    assert change(writer, cast.steward, tree, felled_on=date(2026, 2, 14)).felled_on == date(2026, 2, 14)
    with pytest.raises(InTheFuture):
        change(writer, cast.steward, tree, felled_on=date(2026, 2, 15))


def test_a_stopped_tree_takes_a_note_and_no_other_change(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    stop(writer, cast.host, tree.id, agent="fire-blight")

    assert change(writer, cast.steward, tree, note="Fenced off").note == "Fenced off"
    with pytest.raises(StoppedTree):
        change(writer, cast.steward, tree, may_cut="no")


def test_codes_are_told_to_many_trees_with_one_statement_and_one_look_for_their_wood(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, statements: Statements
) -> None:
    trees = [make_tree(writer, cast.steward, orchard) for _ in range(3)]
    codes = {tree.id: f"AAAA000{place}" for place, tree in enumerate(trees)}

    with statements.exactly(2):
        writer.write_now(actions.set_codes, None, codes)

    assert {tree.id: read_tree(database, tree.id).code for tree in trees} == codes


# -- sites ---------------------------------------------------------------------------------------------------------


def test_a_site_lies_in_a_known_area_that_was_checked_in_the_past(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    site = make_site(writer, cast.steward, orchard.area_id, area_checked_on=date(2026, 2, 14))

    assert (site.area_name, site.area_checked_on) == ("North Vale", date(2026, 2, 14))
    with pytest.raises(InTheFuture):
        make_site(writer, cast.steward, orchard.area_id, area_checked_on=date(2026, 2, 15))
    with pytest.raises(UnknownArea):
        make_site(writer, cast.steward, uuid4())


def test_a_site_is_changed_on_the_version_that_was_read(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    told = SiteUpdate(area_id=orchard.other_area_id, latitude=52.1, longitude=-2.3)

    changed = writer.write_now(actions.change_site, cast.steward, orchard.site_id, told, 1)

    assert (changed.area_name, changed.latitude, changed.version) == ("South Shore", 52.1, 2)
    with pytest.raises(Stale):
        writer.write_now(actions.change_site, cast.steward, orchard.site_id, told, 1)
    with pytest.raises(Unusable):
        writer.write_now(actions.change_site, cast.steward, orchard.site_id, SiteUpdate(longitude=None), 2)


# -- looks -----------------------------------------------------------------------------------------------------------


def test_a_symptom_comes_back_with_the_stop_it_asks_for_and_stops_nothing(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    seen = look(writer, cast.host, tree.id, "leaf", "symptom", agent="ERWIAM", note="Shepherd's crooks")

    # EPPO Global Database, ERWIAM: Erwinia amylovora.
    assert seen.agent == "Erwinia amylovora (fire blight)"
    assert seen.proposes_stop and seen.proposal is not None
    assert (seen.proposal.reason, seen.proposal.state, seen.proposal.agent) == (
        "health",
        "suspected",
        seen.agent,
    )
    assert "Open a stop" in seen.proposal.todo
    assert read_tree(database, tree.id).open_stops == 0


def test_a_wrong_fruit_asks_for_a_stop_for_the_name_and_a_healthy_leaf_for_none(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)

    wrong, healthy = look(writer, cast.host, tree.id, "fruit", "wrong"), look(writer, cast.host, tree.id)

    assert wrong.proposal is not None and wrong.proposal.reason == "name"
    assert (healthy.proposes_stop, healthy.proposal) == (False, None)


def test_the_last_look_is_the_newest_that_saw_the_tree(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database, clock: FixedClock
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    look(writer, cast.host, tree.id, "leaf", "healthy", seen_on=date(2025, 7, 1))
    look(writer, cast.host, tree.id, "leaf", "symptom", seen_on=date(2024, 7, 1))
    look(writer, cast.host, tree.id, "leaf", "not_seen", seen_on=date(2026, 1, 1))
    look(writer, cast.host, tree.id, "fruit", "true", seen_on=date(2025, 9, 1))

    facts = facts_of(database, tree.id)

    assert facts.last_leaf_check is not None and facts.last_fruit_check is not None
    assert (facts.last_leaf_check.result, facts.last_leaf_check.seen_on) == ("healthy", date(2025, 7, 1))
    assert (facts.last_fruit_check.result, facts.last_fruit_check.seen_on) == ("true", date(2025, 9, 1))

    clock.move(timedelta(minutes=1))
    look(writer, cast.host, tree.id, "leaf", "symptom", seen_on=date(2025, 7, 1))
    last = facts_of(database, tree.id).last_leaf_check
    assert last is not None and last.result == "symptom"


def test_a_look_that_says_what_cannot_be_seen_then_writes_none_of_its_list(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    good = TreeCheckCreate(tree_id=tree.id, kind="leaf", result="healthy")

    with pytest.raises(WrongResult):
        writer.write_now(
            actions.record_tree_checks,
            cast.host,
            [good, good.model_copy(update={"id": uuid4(), "result": "wrong"})],
        )
    with pytest.raises(InTheFuture):
        look(writer, cast.host, tree.id, seen_on=date(2026, 2, 15))
    with pytest.raises(queries.NoSuchTree):
        look(writer, cast.host, uuid4())

    with database.reading() as session:
        assert queries.list_tree_checks(session, Paging(), tree.id).count == 0


def test_a_stopped_tree_may_be_looked_at(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    stop(writer, cast.host, tree.id)

    seen = look(writer, cast.host, tree.id, "leaf", "symptom")

    assert seen.proposal is not None and "stopped already" in seen.proposal.todo


def test_looks_at_twenty_trees_cost_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    trees = [make_tree(writer, cast.steward, orchard) for _ in range(20)]
    bodies = [TreeCheckCreate(tree_id=tree.id, kind="leaf", result="healthy") for tree in trees]

    with statements.at_most(5):
        writer.write_now(actions.record_tree_checks, cast.host, bodies[:1])
    with statements.at_most(5):
        again = [one.model_copy(update={"id": uuid4()}) for one in bodies]
        writer.write_now(actions.record_tree_checks, cast.host, again)


def test_who_follows_trees_is_told_of_every_change_to_one(
    writer: Writer, cast: Cast, orchard: Orchard, monkeypatch: pytest.MonkeyPatch
) -> None:
    from service.trees.actions import following

    told: list[set] = []
    monkeypatch.setattr(following, "_FIND", [lambda _session, ids: told.append(set(ids)) or []])
    tree = make_tree(writer, cast.steward, orchard)

    look(writer, cast.host, tree.id)
    change(writer, cast.steward, tree, note="x")
    stop(writer, cast.host, tree.id)

    assert told == [{tree.id}] * 3
