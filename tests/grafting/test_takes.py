"""Looks at takes, what is due, counts, and plants that become trees, on both databases."""

from __future__ import annotations

import threading
from datetime import date, timedelta
from uuid import uuid4

import pytest
from sqlmodel import select

from service.grafting import actions, queries
from service.grafting.rules import (
    AlreadyATree,
    BeforeTheGraft,
    CountsDoNotFit,
    GroupBy,
    NoSuchGraft,
    NoSuchPlant,
    NotForGrafting,
    NotTakenYet,
    NotYourGraft,
    PlantIsStopped,
    PlantOfAnotherGraft,
    PlantState,
    VerdictTooEarly,
)
from service.grafting.schemas import PlantAsTree, PlantUpdate
from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.errors import Stale
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import Role
from service.trees.rules import Identity
from service.trees.tables import SourceTree
from tests.builders.grafting import (
    APPLE,
    COMICE,
    GALA,
    HARDY,
    M9,
    PEAR,
    QUINCE_A,
    WILLIAMS,
    graft,
    look,
    make_bench,
    make_stop,
    make_tree,
    make_wood,
    of,
    rows,
)
from tests.builders.storage import Ground, make_person, make_store
from tests.conftest import TODAY
from tests.infra.statements import Statements

THEN = TODAY - timedelta(weeks=10)


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_bench(writer)


def make_graft(writer: Writer, ground: Ground, grafts: int = 1, plants: int = 0, **given):
    wood, member = (
        given.pop("wood", None) or make_wood(writer, ground, APPLE, GALA),
        given.pop("by", ground.host),
    )
    entry = {
        "woods": of(wood),
        "rootstock_id": M9,
        "method": "whip-and-tongue",
        "grafts": grafts,
        "plants": plants,
        "done_at": THEN,
        **given,
    }
    return graft(writer, member, entry)[0]


def states(database: Database, graft_id) -> list[PlantState]:
    with database.reading() as session:
        return [plant.state for plant in queries.plants_of_grafts(session, [graft_id]).get(graft_id, [])]


def day(weeks: float) -> date:
    return (THEN + timedelta(weeks=weeks)).date()


# -- looks -----------------------------------------------------------------------------------------------------------


def test_a_verdict_on_all_makes_every_plant_a_take(database: Database, writer: Writer, ground: Ground):
    made = make_graft(writer, ground, 3, 3)

    (first,) = look(writer, ground.host, {"graft_id": made.id, "alive": 3, "looked_at": 3, "seen_on": day(4)})
    (verdict,) = look(
        writer,
        ground.host,
        {"graft_id": made.id, "alive": 3, "looked_at": 3, "is_verdict": True, "seen_on": day(8)},
    )

    assert [p.state for p in first.plants] == [PlantState.WAITING] * 3 and not first.take.is_verdict
    assert [p.state for p in verdict.plants] == [PlantState.TOOK] * 3 == states(database, made.id)
    assert (verdict.take.alive, verdict.take.looked_at, verdict.take.is_verdict) == (3, 3, True)


def test_the_tag_of_a_plant_names_its_graft(database: Database, writer: Writer, ground: Ground):
    made = make_graft(writer, ground, 2, 2)

    dead, alive = look(
        writer,
        ground.host,
        {"code": made.plants[0].code, "alive": 0},
        {"code": made.plants[1].code, "alive": 1, "is_verdict": True},
    )

    assert dead.graft_id == alive.graft_id == made.id
    assert states(database, made.id) == [PlantState.FAILED, PlantState.TOOK]
    assert (alive.take.alive, alive.take.looked_at) == (1, 2)


def test_later_looks_win_whenever_they_were_written_down(database: Database, writer: Writer, ground: Ground):
    made = make_graft(writer, ground, 1, 1)
    look(writer, ground.host, {"graft_id": made.id, "alive": 1, "is_verdict": True, "seen_on": day(9)})

    (late,) = look(writer, ground.host, {"graft_id": made.id, "alive": 0, "seen_on": day(3)})

    assert (late.take.alive, late.take.seen_on) == (1, day(9))
    assert states(database, made.id) == [PlantState.TOOK]


def test_a_plant_is_looked_at_by_its_latest_graft(database: Database, writer: Writer, ground: Ground):
    made = make_graft(writer, ground, 1, 1)
    plant = made.plants[0]
    look(writer, ground.host, {"plant_id": plant.id, "alive": 0, "seen_on": day(3)})
    again = make_graft(
        writer, ground, 1, 0, rootstock_id=None, plant_id=plant.id, done_at=THEN + timedelta(weeks=4)
    )

    (seen,) = look(writer, ground.host, {"plant_id": plant.id, "alive": 1, "is_verdict": True})

    assert seen.graft_id == again.id
    assert states(database, made.id) == [PlantState.TOOK]


def test_looks_that_do_not_fit_are_refused(writer: Writer, ground: Ground):
    made, other = make_graft(writer, ground, 2, 1), make_graft(writer, ground, 1, 1)
    store = make_store(writer, ground, with_tag=True)
    for entry, problem in (
        ({"graft_id": uuid4(), "alive": 1}, NoSuchGraft),
        ({"plant_id": uuid4(), "alive": 1}, NoSuchPlant),
        ({"graft_id": made.id, "plant_id": other.plants[0].id, "alive": 1}, PlantOfAnotherGraft),
        ({"graft_id": made.id, "alive": 3, "looked_at": 3}, CountsDoNotFit),
        ({"graft_id": made.id, "alive": 2, "looked_at": 1}, CountsDoNotFit),
        ({"graft_id": made.id, "alive": 1, "doubtful": 1, "looked_at": 1}, CountsDoNotFit),
        ({"graft_id": made.id, "alive": 1, "seen_on": (THEN - timedelta(days=1)).date()}, BeforeTheGraft),
        ({"graft_id": made.id, "alive": 1, "seen_on": (TODAY + timedelta(days=1)).date()}, InTheFuture),
        ({"code": store.code, "alive": 1}, NotForGrafting),
    ):
        with pytest.raises(problem):
            look(writer, ground.host, entry)


def test_members_look_at_their_own_grafts_and_volunteers_at_all(writer: Writer, ground: Ground):
    member, other = make_person(writer, Role.MEMBER), make_person(writer, Role.MEMBER, name="Odd Lind")
    made = make_graft(writer, ground, 1, 1, holder_id=member.party_id)

    look(writer, member, {"graft_id": made.id, "alive": 1})  # holds the plant
    look(writer, ground.host, {"graft_id": made.id, "alive": 1})
    with pytest.raises(NotYourGraft):
        look(writer, other, {"graft_id": made.id, "alive": 1})


def test_twenty_looks_cost_no_more_statements_than_one(
    writer: Writer, ground: Ground, statements: Statements
):
    wood = make_wood(writer, ground, APPLE, GALA, sticks=50)
    grafts = [make_graft(writer, ground, 1, 1, wood=wood) for _ in range(21)]
    entries = [{"code": g.plants[0].code, "alive": 1, "is_verdict": True} for g in grafts]
    statements.clear()
    look(writer, ground.host, entries[0])
    for_one = len(statements)
    statements.clear()

    look(writer, ground.host, *entries[1:])

    assert len(statements) <= for_one, str(statements)


# -- what is due -------------------------------------------------------------------------------------------------------


def test_a_graft_is_due_from_its_day_until_its_verdict(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    made = make_graft(writer, ground, 2, 2)
    young = make_graft(writer, ground, done_at=TODAY - timedelta(weeks=2))

    def due(on: date) -> list:
        with database.reading() as session, statements.at_most(4):
            return [g.id for g in queries.list_takes_due(session, Paging(), on).items]

    assert due(day(8) - timedelta(days=1)) == []
    assert due(day(8)) == [made.id]
    look(writer, ground.host, {"graft_id": made.id, "alive": 2, "looked_at": 2})
    assert due(TODAY.date()) == [made.id]  # a first look is no verdict
    look(writer, ground.host, {"plant_id": made.plants[0].id, "alive": 1, "is_verdict": True})
    assert due(TODAY.date()) == [made.id]  # one plant is still to be judged
    look(writer, ground.host, {"plant_id": made.plants[1].id, "alive": 0, "is_verdict": True})
    assert due(TODAY.date()) == []
    assert due(TODAY.date() + timedelta(weeks=20)) == [young.id]
    with pytest.raises(VerdictTooEarly, match="judged from 14 March 2026 on"):
        look(writer, ground.host, {"graft_id": young.id, "alive": 1, "is_verdict": True})
    # That it died may be told at once.
    look(writer, ground.host, {"graft_id": young.id, "alive": 0, "is_verdict": True})
    assert due(TODAY.date() + timedelta(weeks=20)) == []


def test_members_see_only_their_own(database: Database, writer: Writer, ground: Ground):
    member = make_person(writer, Role.MEMBER)
    own = make_graft(
        writer, ground, wood=make_wood(writer, ground, APPLE, GALA, holder_id=member.party_id), by=member
    )
    held = make_graft(writer, ground, 1, 1, holder_id=member.party_id)
    foreign = make_graft(writer, ground, 1, 1)

    with database.reading() as session:
        mine = queries.list_grafts(session, Paging(), only_for=member.party_id)
        due = queries.list_takes_due(session, Paging(), TODAY.date(), only_for=member.party_id)
        plants = queries.list_plants(session, Paging(), only_for=member.party_id)
        with pytest.raises(NotYourGraft):
            queries.get_graft(session, foreign.id, only_for=member.party_id)
        with pytest.raises(NotYourGraft):
            queries.get_plant(session, foreign.plants[0].id, only_for=member.party_id)
        assert queries.get_graft(session, held.id, only_for=member.party_id).id == held.id

    assert {g.id for g in mine.items} == {g.id for g in due.items} == {own.id, held.id}
    assert [p.id for p in plants.items] == [held.plants[0].id]


def test_grafts_are_listed_by_person_season_and_method(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    helper = make_person(writer, Role.HOST, acting_for=ground.health_steward.party_id)
    old, new = make_graft(writer, ground), make_graft(writer, ground, done_at=TODAY, method="cleft")
    theirs = make_graft(writer, ground, done_at=TODAY, by=helper)
    season = (TODAY - timedelta(weeks=5), TODAY + timedelta(days=1))

    with database.reading() as session, statements.at_most(12):
        by_person = queries.list_grafts(session, Paging(), party_id=ground.health_steward.party_id)
        by_season = queries.list_grafts(session, Paging(), season=season)
        by_method = queries.list_grafts(session, Paging(), method="cleft")

    assert [g.id for g in by_person.items] == [theirs.id]
    assert {g.id for g in by_season.items} == {new.id, theirs.id} and old.id not in {
        g.id for g in by_season.items
    }
    assert [g.id for g in by_method.items] == [new.id]


def test_takes_are_counted_and_no_rate_is_made_of_them(
    database: Database, writer: Writer, ground: Ground, statements: Statements
):
    tree = make_tree(writer, ground, PEAR, COMICE)
    wood = make_wood(writer, ground, PEAR, COMICE, tree=tree)
    first = make_graft(writer, ground, 4, wood=wood, rootstock_id=QUINCE_A)
    make_graft(writer, ground, 3, wood=wood, rootstock_id=QUINCE_A)
    make_graft(writer, ground, 2, method="cleft")
    look(
        writer,
        ground.host,
        {"graft_id": first.id, "alive": 3, "looked_at": 4, "doubtful": 1, "is_verdict": True},
    )

    with database.reading() as session:
        with statements.at_most(2):
            by_method = queries.count_takes(session, GroupBy.METHOD)
        by_tree = queries.count_takes(session, GroupBy.TREE)
        by_variety = queries.count_takes(session, GroupBy.VARIETY)

    told = [(c.name, c.grafts, c.unions, c.judged, c.alive, c.doubtful, c.not_judged) for c in by_method]
    assert told == [("Whip-and-tongue", 2, 7, 4, 3, 1, 3), ("Cleft", 1, 2, 0, 0, 0, 2)]
    assert (by_tree[0].key, by_tree[0].alive) == (str(tree), 3)
    assert (by_variety[0].name, by_variety[0].unions) == ("Pear ‘Doyenné du Comice’", 7)
    assert "rate" not in type(by_method[0]).model_fields


# -- plants ------------------------------------------------------------------------------------------------------------


def took(writer: Writer, ground: Ground, **given):
    made = make_graft(writer, ground, 1, 1, **given)
    look(writer, ground.host, {"graft_id": made.id, "alive": 1, "is_verdict": True})
    return made.plants[0]


def test_a_plant_that_took_becomes_a_source_tree_once(database: Database, writer: Writer, ground: Ground):
    mother = make_tree(
        writer, ground, PEAR, WILLIAMS, identity="fruit_compared", no_propagation_contract=True
    )
    scion, between = (
        make_wood(writer, ground, PEAR, WILLIAMS, tree=mother),
        make_wood(writer, ground, PEAR, HARDY),
    )
    woods = [*of(scion), {"bundle_id": between, "part": "interstem"}]
    plant = took(writer, ground, wood=scion, woods=woods, rootstock_id=QUINCE_A)

    planted = writer.write_now(
        actions.plant_as_tree, ground.host, plant.id, PlantAsTree(site_id=ground.site_id, planted_year=2026)
    )

    with database.reading() as session:
        tree = session.exec(select(SourceTree).where(SourceTree.id == planted.tree_id)).one()
        after = queries.get_plant(session, plant.id)
    assert (tree.cultivar_id, tree.rootstock_id, tree.identity) == (WILLIAMS, QUINCE_A, Identity.DOCUMENTED)
    assert tree.stands_on == "interstem ‘Beurré Hardy’ on Quince A"
    assert tree.no_propagation_contract and tree.owner_id == ground.host.party_id
    assert (planted.tree_number, after.source_tree_id) == (tree.number, tree.id)
    with pytest.raises(AlreadyATree):
        writer.write_now(actions.plant_as_tree, ground.host, plant.id, PlantAsTree(site_id=ground.site_id))


def test_a_plant_of_two_varieties_becomes_a_tree_that_carries_both(
    database: Database, writer: Writer, ground: Ground
):
    woods = of(make_wood(writer, ground, PEAR, WILLIAMS), make_wood(writer, ground, PEAR, COMICE))
    made = make_graft(writer, ground, 2, 1, wood=woods[0]["bundle_id"], woods=woods)
    look(writer, ground.host, {"graft_id": made.id, "alive": 2, "looked_at": 2, "is_verdict": True})

    planted = writer.write_now(
        actions.plant_as_tree, ground.host, made.plants[0].id, PlantAsTree(site_id=ground.site_id)
    )

    from service.trees.queries import get_tree

    with database.reading() as session:
        tree = get_tree(session, planted.tree_id)
    assert {tree.cultivar_id, *(v.cultivar_id for v in tree.varieties)} == {WILLIAMS, COMICE}


def test_a_plant_that_did_not_take_or_is_stopped_becomes_no_tree(writer: Writer, ground: Ground):
    waiting = make_graft(writer, ground, 1, 1).plants[0]
    stopped = took(writer, ground)
    writer.write_now(actions.bind_plant_stop, ground.health_steward, make_stop(writer, ground), [stopped.id])

    for plant, problem in ((waiting.id, NotTakenYet), (stopped.id, PlantIsStopped), (uuid4(), NoSuchPlant)):
        with pytest.raises(problem):
            writer.write_now(actions.plant_as_tree, ground.host, plant, PlantAsTree(site_id=ground.site_id))


def test_a_plant_that_is_gone_can_come_back(database: Database, writer: Writer, ground: Ground):
    plant = took(writer, ground)

    gone = writer.write_now(
        actions.change_plant, ground.host, plant.id, 2, PlantUpdate(gone=True, note="vole")
    )
    back = writer.write_now(actions.change_plant, ground.host, plant.id, 3, PlantUpdate(gone=False))

    assert (gone.state, gone.note, back.state) == (PlantState.GONE, "vole", PlantState.TOOK)
    with pytest.raises(Stale):
        writer.write_now(actions.change_plant, ground.host, plant.id, 2, PlantUpdate(note="x"))


def test_a_stopped_plant_is_not_done_away_with(writer: Writer, ground: Ground):
    plant = took(writer, ground)
    writer.write_now(actions.bind_plant_stop, ground.health_steward, make_stop(writer, ground), [plant.id])

    with pytest.raises(PlantIsStopped):
        writer.write_now(actions.change_plant, ground.host, plant.id, 2, PlantUpdate(gone=True))


@pytest.mark.databases("postgres")
def test_of_two_who_plant_out_the_same_plant_at_once_one_is_refused(
    database: Database, writer: Writer, ground: Ground
):
    plant = took(writer, ground)
    heard: list[str] = []

    def plant_out() -> None:
        try:
            writer.write_now(
                actions.plant_as_tree, ground.host, plant.id, PlantAsTree(site_id=ground.site_id)
            )
            heard.append("planted")
        except AlreadyATree:
            heard.append("refused")

    threads = [threading.Thread(target=plant_out) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(heard) == ["planted", *["refused"] * 4]
    made = [tree for tree in rows(database, SourceTree) if tree.created_at == TODAY]
    assert len(made) == 1
