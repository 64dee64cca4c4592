"""Grafts that are not written down, on both databases: other people's wood, stops, counts, boundaries."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import uuid4

import pytest
from sqlmodel import select

from service.bundles.tables import Bundle
from service.grafting import actions
from service.grafting.rules import (
    NoSuchMethod,
    NoSuchStock,
    NoSuchWood,
    NothingCounted,
    NotYourWood,
    StockIsGone,
    StockIsStopped,
    TooManyPlants,
    WoodIsStopped,
)
from service.grafting.tables import Graft, GraftWood, Plant
from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Problem, Refused
from service.lib.write import Writer
from service.members.rules import CrossesArea, Role
from service.members.tables import Area, AreaPermit
from service.trees.tables import Site
from tests.builders.grafting import (
    APPLE,
    GALA,
    M9,
    graft,
    make_bench,
    make_stop,
    make_tree,
    make_wood,
    of,
    rows,
    sticks_grafted,
    stop_tree,
)
from tests.builders.storage import LONG_AGO, Ground, _add, make_person, run, stop_bundles
from tests.conftest import TODAY


@pytest.fixture
def ground(writer: Writer) -> Ground:
    return make_bench(writer)


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
    flag = Bundle(
        id=uuid4(),
        collection_id=collection,
        parent_id=bundle,
        holder_id=member.party_id,
        is_flag=True,
        came_in=2,
        made_at=LONG_AGO,
    )
    run(writer, _add, [flag])
    code = writer.write_now(bind_new_tags, ground.host, TagKind.BUNDLE, [bundle])[bundle]

    (made,) = graft(writer, member, {"woods": [{"code": code, "sticks": 2}], "rootstock_id": M9})

    assert made.woods[0].bundle_id == flag.id
    assert (sticks_grafted(database, flag.id), sticks_grafted(database, bundle)) == (2, 0)
    with pytest.raises(NotYourWood):
        graft(writer, member, {"woods": [{"code": code, "sticks": 1}], "rootstock_id": M9})


def test_nothing_stopped_is_grafted(database: Database, writer: Writer, ground: Ground):
    wood, sick = make_wood(writer, ground, APPLE, GALA), make_wood(writer, ground, APPLE, GALA)
    tree, felled = (
        make_tree(writer, ground, APPLE, GALA),
        make_tree(writer, ground, APPLE, GALA, felled_on=date(2025, 1, 1)),
    )
    (made,) = graft(writer, ground.host, {"woods": of(wood), "rootstock_id": M9, "plants": 1})
    stop_bundles(writer, ground, [sick])
    stop_tree(writer, ground, tree)
    writer.write_now(
        actions.bind_plant_stop, ground.health_steward, make_stop(writer, ground), [made.plants[0].id]
    )

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
        graft(
            writer,
            ground.host,
            *({"woods": of(wood, sticks=2), "rootstock_id": M9, "plants": 1} for _ in range(2)),
        )

    assert sticks_grafted(database, wood) == 0
    assert rows(database, Graft) == rows(database, GraftWood) == rows(database, Plant) == []


def test_the_rest_of_a_counted_stick_is_grafted_without_counting_again(
    database: Database, writer: Writer, ground: Ground
):
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
    wood, unknown = (
        make_wood(writer, ground, APPLE, GALA),
        make_wood(writer, ground, APPLE, GALA, area_id=None),
    )
    there = {"woods": of(wood), "rootstock_id": M9, "site_id": site.id}
    with pytest.raises(CrossesArea):
        graft(writer, ground.host, there)
    permit = AreaPermit(
        id=uuid4(), from_area_id=ground.area_id, to_area_id=far.id, reference="PH 12", allows=True, genus="Malus",
        answered_on=date(2026, 1, 2),
        recorded_at=LONG_AGO, by_party_id=ground.host.party_id,
    )  # fmt: skip
    run(writer, _add, [permit])

    (made,) = graft(writer, ground.host, there)
    (told,) = graft(writer, ground.host, {**there, "woods": of(unknown)})

    assert made.site_id == site.id
    assert "plant-health area" in told.warnings[-1]
