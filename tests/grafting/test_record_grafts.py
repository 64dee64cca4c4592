"""Writing grafts down on both databases: woods, stocks, sticks, plants, refusals, and what it costs."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, select

from service.bundles.tables import Bundle
from service.catalogue.rules import Verdict
from service.grafting import actions, queries
from service.grafting.rules import (
    NoNewPlant,
    NoSuchMethod,
    NoSuchStock,
    NoSuchWood,
    NothingCounted,
    NotYourWood,
    Part,
    PlantState,
    StockIsGone,
    StockIsStopped,
    TooManyPlants,
    WoodIsStopped,
)
from service.grafting.schemas import GraftUpdate
from service.grafting.tables import Graft, GraftWood, Plant
from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Problem, Refused, Stale
from service.lib.write import Writer
from service.members.rules import CrossesArea, Role
from service.members.tables import Area, AreaPermit
from service.tags.queries import find_tag
from service.trees.tables import Site
from tests.builders.grafting import (
    APPLE,
    BA29,
    COMICE,
    GALA,
    HARDY,
    M9,
    PEAR,
    QUINCE,
    QUINCE_A,
    WILLIAMS,
    graft,
    look,
    make_bench,
    make_stop,
    make_tree,
    make_wood,
    of,
    stop_tree,
)
from tests.builders.storage import LONG_AGO, Ground, _add, make_person, run, stop_bundles
from tests.conftest import TODAY
from tests.infra.statements import Statements


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_bench(writer)


def rows(database: Database, table) -> list:
    with database.reading() as session:
        return list(session.exec(select(table)).all())


def sticks_grafted(database: Database, bundle_id: UUID) -> int:
    with database.reading() as session:
        return session.exec(select(Bundle.grafted).where(Bundle.id == bundle_id)).one()


# -- a graft ---------------------------------------------------------------------------------------------------------


def test_a_graft_uses_sticks_and_makes_plants_with_their_own_tags(database: Database, writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA, sticks=5)

    (made,) = graft(
        writer, ground.host,
        {"woods": of(wood, sticks=2), "method": "whip-and-tongue", "grafts": 4, "rootstock_id": M9, "plants": 3, "site_id": ground.site_id},
    )  # fmt: skip

    assert sticks_grafted(database, wood) == 2
    assert [plant.number for plant in made.plants] == [1, 2, 3] and made.number == 1
    assert {plant.holder_id for plant in made.plants} == {ground.host.party_id}
    with database.reading() as session:
        for plant in made.plants:
            tag = find_tag(session, plant.code)
            assert tag is not None and (tag.kind, tag.thing_id) == ("plant", plant.id)
    assert (made.verdict, made.stock, made.method_name) == (Verdict.COMPATIBLE, "M.9", "Whip-and-tongue")
    assert (made.first_look_on, made.verdict_from_on, made.verdict_on) == (
        date(2026, 3, 7), date(2026, 3, 28), date(2026, 4, 11),
    )  # fmt: skip
    assert made.cautions and made.tie


def test_numbers_run_on_from_graft_to_graft(writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA)
    graft(writer, ground.host, {"woods": of(wood), "rootstock_id": M9, "grafts": 2, "plants": 2})

    first, second = graft(writer, ground.host, *({"woods": of(wood), "rootstock_id": M9, "plants": 1} for _ in range(2)))

    assert (first.number, second.number) == (2, 3)
    assert [p.number for p in first.plants + second.plants] == [3, 4]


def test_a_graft_is_read_back_as_it_was_told(database: Database, writer: Writer, ground: Ground, statements: Statements):
    wood = make_wood(writer, ground, APPLE, GALA)
    (made,) = graft(writer, ground.host, {"woods": of(wood), "method": "cleft", "rootstock_id": M9, "plants": 1, "note": "in the rain"})

    with database.reading() as session, statements.at_most(7):
        read = queries.get_graft(session, made.id)

    told_only_then = {"joins", "warnings"}
    assert read.model_dump(exclude=told_only_then) == made.model_dump(exclude=told_only_then)


def test_plants_may_be_the_clubs_or_somebody_elses_or_have_no_tag(database: Database, writer: Writer, ground: Ground):
    wood, guest = make_wood(writer, ground, APPLE, GALA), make_person(writer, Role.MEMBER, name="Odd Lind")
    one = {"woods": of(wood), "rootstock_id": M9, "plants": 1}

    club, theirs, bare = graft(
        writer, ground.host, {**one, "for_club": True}, {**one, "holder_id": guest.party_id}, {**one, "with_tags": False}
    )

    assert [g.plants[0].holder_id for g in (club, theirs, bare)] == [None, guest.party_id, ground.host.party_id]
    assert [g.plants[0].code is None for g in (club, theirs, bare)] == [False, False, True]


# -- what is known of the join ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "taxon, cultivar, stock, verdict",
    [
        # Williams on quince needs an interstem: Pear Decline, Pacific Northwest Plant Disease Management Handbook
        (PEAR, WILLIAMS, QUINCE_A, Verdict.NEEDS_INTERSTEM),
        # Doyenné du Comice is very successful on BA 29: the same handbook
        (PEAR, COMICE, BA29, Verdict.COMPATIBLE),
        # apple and pear are not inter-grafted: University of New Hampshire Extension
        (APPLE, GALA, QUINCE_A, Verdict.INCOMPATIBLE),
    ],
)
def test_a_join_is_told_as_known_and_warns_but_is_never_refused(writer: Writer, ground: Ground, taxon, cultivar, stock, verdict):
    wood = make_wood(writer, ground, taxon, cultivar)

    (made,) = graft(writer, ground.host, {"woods": of(wood), "rootstock_id": stock})

    assert made.verdict is verdict
    assert (made.warnings == []) is (verdict is Verdict.COMPATIBLE)
    assert all(join.mark for join in made.joins)


def test_an_interstem_makes_two_joins_of_two_woods(database: Database, writer: Writer, ground: Ground):
    scion, between = make_wood(writer, ground, PEAR, WILLIAMS), make_wood(writer, ground, PEAR, HARDY)

    (made,) = graft(
        writer, ground.host,
        {"woods": [*of(scion), {"bundle_id": between, "part": "interstem"}], "rootstock_id": QUINCE_A, "method": "double-working-grafts"},
    )  # fmt: skip

    assert [(j.wood[:6], j.verdict) for j in made.joins] == [("‘Willi", Verdict.COMPATIBLE), ("‘Beurr", Verdict.COMPATIBLE)]
    assert made.verdict is Verdict.COMPATIBLE and made.warnings == []
    assert {(w.bundle_id, w.part) for w in made.woods} == {(scion, Part.SCION), (between, Part.INTERSTEM)}
    assert (sticks_grafted(database, scion), sticks_grafted(database, between)) == (1, 1)


def test_a_stock_told_in_words_is_not_known(writer: Writer, ground: Ground):
    (made,) = graft(writer, ground.host, {"woods": of(make_wood(writer, ground, APPLE, GALA)), "stock_as_told": "wildling by the ditch"})

    assert (made.verdict, made.stock) == (Verdict.UNKNOWN, "wildling by the ditch")
    assert "not known here" in made.warnings[0]


def test_a_standing_tree_is_joined_by_its_own_kind(writer: Writer, ground: Ground):
    quince = make_tree(writer, ground, QUINCE, None)
    wood = make_wood(writer, ground, PEAR, WILLIAMS)

    (made,) = graft(writer, ground.host, {"woods": of(wood), "stock_tree_id": quince, "grafts": 3})

    assert made.stock_tree_id == quince and made.site_id == ground.site_id
    assert made.verdict is Verdict.NEEDS_INTERSTEM


# -- on what stands --------------------------------------------------------------------------------------------------


def test_a_graft_on_a_tree_that_took_makes_it_carry_one_variety_more(database: Database, writer: Writer, ground: Ground):
    tree = make_tree(writer, ground, PEAR, HARDY)
    wood = make_wood(writer, ground, PEAR, COMICE)
    (made,) = graft(writer, ground.host, {"woods": of(wood), "stock_tree_id": tree, "grafts": 2, "method": "cleft", "done_at": LONG_AGO})
    from service.trees.tables import TreeVariety

    look(writer, ground.host, {"graft_id": made.id, "alive": 1, "looked_at": 2})
    before = rows(database, TreeVariety)
    for _ in range(2):
        look(writer, ground.host, {"graft_id": made.id, "alive": 1, "looked_at": 2, "is_verdict": True})

    assert before == []
    assert [(v.tree_id, v.cultivar_id, v.since) for v in rows(database, TreeVariety)] == [(tree, COMICE, LONG_AGO.date())]


def test_a_plant_carries_one_variety_more(database: Database, writer: Writer, ground: Ground):
    first, second = make_wood(writer, ground, PEAR, HARDY), make_wood(writer, ground, PEAR, WILLIAMS)
    (made,) = graft(writer, ground.host, {"woods": of(first), "rootstock_id": QUINCE_A, "plants": 1})

    (more,) = graft(writer, ground.host, {"woods": of(second), "stock_code": made.plants[0].code})

    assert (more.on_plant_id, more.stock) == (made.plants[0].id, "plant 1")
    assert more.verdict is Verdict.COMPATIBLE  # pear on pear; the quince lies below
    with database.reading() as session:
        plant = queries.get_plant(session, made.plants[0].id)
        on_plants = queries.grafts_on_plants(session, [made.plants[0].id])
    assert [g.number for g in plant.grafts] == [1, 2]
    assert [g.number for g in on_plants[made.plants[0].id]] == [2]


def test_a_plant_that_failed_is_grafted_anew_on_what_it_stood_on(database: Database, writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, PEAR, WILLIAMS)
    (made,) = graft(writer, ground.host, {"woods": of(wood), "rootstock_id": QUINCE_A, "plants": 1, "done_at": LONG_AGO})
    plant = made.plants[0].id
    look(writer, ground.host, {"plant_id": plant, "alive": 0})

    (again,) = graft(writer, ground.host, {"woods": of(wood), "plant_id": plant})

    assert again.verdict is Verdict.NEEDS_INTERSTEM  # the pear is dead: it is on quince again
    (row,) = rows(database, Plant)
    assert row.state == PlantState.WAITING


def test_no_new_plant_comes_of_what_stands_already(writer: Writer, ground: Ground):
    tree, wood = make_tree(writer, ground, APPLE, GALA), make_wood(writer, ground, APPLE, GALA)

    with pytest.raises(NoNewPlant):
        graft(writer, ground.host, {"woods": of(wood), "stock_tree_id": tree, "plants": 1})


# -- whose wood --------------------------------------------------------------------------------------------------------


def test_a_member_grafts_only_what_they_hold(database: Database, writer: Writer, ground: Ground):
    member = make_person(writer, Role.MEMBER)
    own = make_wood(writer, ground, APPLE, GALA, holder_id=member.party_id)
    clubs = make_wood(writer, ground, APPLE, GALA)

    (made,) = graft(writer, member, {"woods": of(own), "rootstock_id": M9})

    assert made.for_party_id == member.party_id
    with pytest.raises(NotYourWood):
        graft(writer, member, {"woods": of(clubs), "rootstock_id": M9})


def test_scanning_a_stick_flag_uses_the_sticks_one_holds(database: Database, writer: Writer, ground: Ground):
    from service.tags.actions import bind_new_tags
    from service.tags.rules.words import TagKind

    member = make_person(writer, Role.MEMBER)
    bundle = make_wood(writer, ground, APPLE, GALA)
    with database.reading() as session:
        collection = session.exec(select(Bundle.collection_id).where(Bundle.id == bundle)).one()
    flag = Bundle(id=uuid4(), collection_id=collection, parent_id=bundle, holder_id=member.party_id, is_flag=True, came_in=2, made_at=LONG_AGO)
    run(writer, _add, [flag])
    code = writer.write_now(bind_new_tags, ground.host, TagKind.BUNDLE, [bundle])[bundle]

    (made,) = graft(writer, member, {"woods": [{"code": code, "sticks": 2}], "rootstock_id": M9})

    assert made.woods[0].bundle_id == flag.id
    assert (sticks_grafted(database, flag.id), sticks_grafted(database, bundle)) == (2, 0)
    with pytest.raises(NotYourWood):
        graft(writer, member, {"woods": [{"code": code, "sticks": 1}], "rootstock_id": M9})


# -- refusals ----------------------------------------------------------------------------------------------------------


def test_nothing_stopped_is_grafted(database: Database, writer: Writer, ground: Ground):
    wood, sick = make_wood(writer, ground, APPLE, GALA), make_wood(writer, ground, APPLE, GALA)
    tree, felled = make_tree(writer, ground, APPLE, GALA), make_tree(writer, ground, APPLE, GALA, felled_on=date(2025, 1, 1))
    (made,) = graft(writer, ground.host, {"woods": of(wood), "rootstock_id": M9, "plants": 1})
    stop_bundles(writer, ground, [sick])
    stop_tree(writer, ground, tree)
    writer.write_now(actions.bind_plant_stop, ground.health_steward, make_stop(writer, ground), [made.plants[0].id])

    for entry, problem in (
        ({"woods": of(sick), "rootstock_id": M9}, WoodIsStopped),
        ({"woods": [{"bundle_id": sick, "sticks": 0}], "rootstock_id": M9}, WoodIsStopped),
        ({"woods": of(wood), "stock_tree_id": tree}, StockIsStopped),
        ({"woods": of(wood), "stock_tree_id": felled}, StockIsGone),
        ({"woods": of(wood), "plant_id": made.plants[0].id}, StockIsStopped),
    ):
        with pytest.raises(problem):
            graft(writer, ground.host, entry)
    assert len(rows(database, Graft)) == 1


def test_a_plant_is_released_with_its_stop(writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA)
    (made,) = graft(writer, ground.host, {"woods": of(wood), "rootstock_id": M9, "plants": 1})
    stop = make_stop(writer, ground)
    for _ in range(2):
        writer.write_now(actions.bind_plant_stop, ground.health_steward, stop, [made.plants[0].id])
    writer.write_now(actions.lift_plant_stop, ground.health_steward, stop)

    (more,) = graft(writer, ground.host, {"woods": of(wood), "plant_id": made.plants[0].id})

    assert more.number == 2


def test_nobody_grafts_more_sticks_than_there_are(database: Database, writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA, sticks=3)

    with pytest.raises(Refused):
        graft(writer, ground.host, *({"woods": of(wood, sticks=2), "rootstock_id": M9, "plants": 1} for _ in range(2)))

    assert sticks_grafted(database, wood) == 0
    assert rows(database, Graft) == rows(database, GraftWood) == rows(database, Plant) == []


def test_the_rest_of_a_counted_stick_is_grafted_without_counting_again(database: Database, writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA, sticks=1)
    rest = {"woods": [{"bundle_id": wood, "sticks": 0, "scions": 2}], "rootstock_id": M9}
    with pytest.raises(NothingCounted):
        graft(writer, ground.host, rest)
    graft(writer, ground.host, {"woods": of(wood), "rootstock_id": M9}, rest)

    graft(writer, ground.host, rest)

    assert sticks_grafted(database, wood) == 1 and len(rows(database, Graft)) == 3


def test_what_does_not_stand_or_fit_is_refused(database: Database, writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA)
    good = {"woods": of(wood), "rootstock_id": M9}
    for entry, problem in (
        ({**good, "woods": of(uuid4())}, NoSuchWood),
        ({**good, "rootstock_id": uuid4()}, NoSuchStock),
        ({"woods": of(wood), "stock_tree_id": uuid4()}, NoSuchStock),
        ({"woods": of(wood), "plant_id": uuid4()}, NoSuchStock),
        ({**good, "site_id": uuid4()}, NoSuchStock),
        ({**good, "method": "glue"}, NoSuchMethod),
        ({**good, "plants": 2}, TooManyPlants),
        ({**good, "woods": of(wood, wood)}, Problem),
        ({**good, "woods": [{"bundle_id": wood, "part": "interstem"}]}, Problem),
        ({**good, "done_at": TODAY + timedelta(minutes=11)}, InTheFuture),
    ):
        with pytest.raises(problem):
            graft(writer, ground.host, entry)
    assert rows(database, Graft) == [] and sticks_grafted(database, wood) == 0


def test_the_same_graft_is_written_once(database: Database, writer: Writer, ground: Ground):
    wood = make_wood(writer, ground, APPLE, GALA)
    entry = {"id": uuid4(), "woods": of(wood), "rootstock_id": M9}
    graft(writer, ground.host, entry)

    with pytest.raises(AlreadyKnown):
        graft(writer, ground.host, entry)
    assert sticks_grafted(database, wood) == 1


def test_wood_is_grafted_across_a_boundary_only_with_the_authoritys_answer(writer: Writer, ground: Ground):
    far = Area(id=uuid4(), name="South valley")
    site = Site(id=uuid4(), name="New orchard", area_id=far.id)
    for group in ([far], [site]):
        run(writer, _add, group)
    wood, unknown = make_wood(writer, ground, APPLE, GALA), make_wood(writer, ground, APPLE, GALA, area_id=None)
    there = {"woods": of(wood), "rootstock_id": M9, "site_id": site.id}
    with pytest.raises(CrossesArea):
        graft(writer, ground.host, there)
    permit = AreaPermit(
        id=uuid4(), from_area_id=ground.area_id, to_area_id=far.id, reference="PH 12", allows=True, genus="Malus", answered_on=date(2026, 1, 2),
        recorded_at=LONG_AGO, by_party_id=ground.host.party_id,
    )  # fmt: skip
    run(writer, _add, [permit])

    (made,) = graft(writer, ground.host, there)
    (told,) = graft(writer, ground.host, {**there, "woods": of(unknown)})

    assert made.site_id == site.id
    assert "plant-health area" in told.warnings[-1]


# -- changes, lists, cost --------------------------------------------------------------------------------------------------


def test_a_note_and_the_day_of_judging_may_be_changed(writer: Writer, ground: Ground):
    (made,) = graft(writer, ground.host, {"woods": of(make_wood(writer, ground, APPLE, GALA)), "rootstock_id": M9})

    changed = writer.write_now(
        actions.change_graft, ground.host, made.id, 1, GraftUpdate(note="on the south side", verdict_on=date(2026, 6, 1))
    )

    assert (changed.note, changed.verdict_on, changed.version) == ("on the south side", date(2026, 6, 1), 2)
    with pytest.raises(Stale):
        writer.write_now(actions.change_graft, ground.host, made.id, 1, GraftUpdate(note="x"))


def test_grafting_twenty_costs_no_more_statements_than_one(writer: Writer, ground: Ground, statements: Statements):
    woods = [make_wood(writer, ground, PEAR, [WILLIAMS, HARDY, COMICE][n % 3]) for n in range(21)]
    entries = [
        {"woods": of(wood), "rootstock_id": [QUINCE_A, BA29][n % 2], "method": ["cleft", "saddle"][n % 2], "plants": 1, "site_id": ground.site_id}
        for n, wood in enumerate(woods)
    ]  # fmt: skip
    statements.clear()
    graft(writer, ground.host, entries[0])
    for_one = len(statements)
    statements.clear()

    graft(writer, ground.host, *entries[1:])

    assert len(statements) <= for_one, str(statements)


def test_grafts_are_found_by_their_bundles_trees_and_plants(database: Database, writer: Writer, ground: Ground, statements: Statements):
    tree = make_tree(writer, ground, APPLE, GALA)
    woods = [make_wood(writer, ground, APPLE, GALA) for _ in range(3)]
    first, second, third = graft(
        writer, ground.host, {"woods": of(woods[0]), "rootstock_id": M9, "plants": 1}, {"woods": of(woods[0], woods[1]), "stock_tree_id": tree},
        {"woods": of(woods[1]), "stock_as_told": "crab"},
    )  # fmt: skip

    with database.reading() as session:
        with statements.at_most(4):
            by_bundle = queries.grafts_of_bundles(session, woods)
        with statements.at_most(4):
            by_tree = queries.grafts_on_trees(session, [tree])
        with statements.at_most(1):
            plants = queries.facts_for_plants(session, [p.id for p in first.plants])
        with statements.at_most(1):
            of_grafts = queries.plants_of_grafts(session, [first.id, second.id])

    assert {b: {g.id for g in grafts} for b, grafts in by_bundle.items()} == {
        woods[0]: {first.id, second.id}, woods[1]: {second.id, third.id},
    }  # fmt: skip
    assert [g.id for g in by_tree[tree]] == [second.id]
    facts = plants[first.plants[0].id]
    assert (facts.kind, facts.variety, facts.stock, facts.state) == ("Apple", "‘Gala’", "M.9", PlantState.WAITING)
    assert list(of_grafts) == [first.id]


def test_a_plants_label_says_what_stays_true(database: Database, writer: Writer, ground: Ground):
    (made,) = graft(writer, ground.host, {"woods": of(make_wood(writer, ground, PEAR, COMICE)), "rootstock_id": BA29, "plants": 1})

    with database.reading() as session:
        words = queries.plant_words(session, [made.plants[0].id], TODAY.date())[made.plants[0].id]

    assert (words.name, words.second, words.large) == ("‘Doyenné du Comice’", "on BA 29", "14 Feb 2026")


def test_codes_of_plants_are_told(database: Database, writer: Writer, ground: Ground):
    (made,) = graft(writer, ground.host, {"woods": of(make_wood(writer, ground, APPLE, GALA)), "rootstock_id": M9, "plants": 1})

    writer.write_now(_set_codes, None, {made.plants[0].id: "NEWC0DE1"})

    assert rows(database, Plant)[0].code == "NEWC0DE1"


def _set_codes(session: Session, codes: dict) -> None:
    actions.set_codes(session, codes)
