"""A club's own table of wood that is still kept, or was handed on. The club, its people and its places are invented."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from service.bundles import actions as bundle_actions
from service.bundles import queries as bundle_queries
from service.bundles.schemas import DiscardCreate
from service.bundles.tables import Bundle, StickMove
from service.collection.tables import Collection
from service.lib.jobs import Worker
from service.lists.queries.resting import _FOLLOWS, _WHEN, STAYS, _references, _table
from service.lists.routes import router
from service.members import actions as member_actions
from service.members.schemas import PartyCreate, PartyUpdate
from service.members.tables import Club
from service.storage import actions as storage_actions
from service.storage import queries as storage_queries
from service.storage.actions.dosing import FOR_HANDS, keeping
from service.storage.schemas import PlaceCreate, StoreCreate
from service.storage.tables import Box, BundleKeeping
from service.tags.tables import Tag
from tests.builders.trees import make_orchard, make_tree, stop
from tests.lists.moving import as_csv, every_row, look_at, put, send, take
from tests.storage.desk import Desk

HEADER = ["Sorte", "Kind", "Sticks", "Cut on", "Tree", "Owner agreed", "Donor", "Received on", "Reference", "Health paper",
          "Zone", "Fridge", "Shelf", "Box", "Handed to", "Old label", "Notes"]  # fmt: skip


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    steward: Any = desk.askers["steward"]
    desk.orchard = make_orchard(writer, steward)  # type: ignore[attr-defined]
    parties = [
        PartyCreate(name=name, area_id=desk.orchard.area_id, kind=kind)
        for name, kind in (("Hollow Lane Fruit Club", "club"), ("Bo Fenwick", "member"))
    ]
    writer.write_now(
        member_actions.change_party, desk.askers["administrator"], desk.party("steward"),
        PartyUpdate(area_id=desk.orchard.area_id), 1,
    )  # fmt: skip
    club, bo = writer.write_now(member_actions.add_parties, steward, parties)
    store = writer.write_now(
        storage_actions.add_store, steward, StoreCreate(name="Garage fridge", host_id=bo.id, kind="fridge")
    )
    writer.write_now(storage_actions.add_place, steward, PlaceCreate(store_id=store.id, name="Top shelf"))
    desk.club, desk.bo, desk.store = club, bo, store  # type: ignore[attr-defined]
    return desk


def row(**told: str) -> list[str]:
    known = {"Sorte": "Gala", "Kind": "Apple", "Sticks": "6"}
    return [{**known, **told}.get(name, "") for name in HEADER]


def wood_list(desk: Desk, *rows: list[str]) -> str:
    return send(desk, as_csv([HEADER, *rows]), sort="wood")


def record(database) -> tuple[list[Collection], list[Bundle], list[StickMove]]:
    with database.reading() as session:
        return (
            list(session.execute(select(Collection).order_by(Collection.number)).scalars()),
            list(session.execute(select(Bundle)).scalars()),
            list(session.execute(select(StickMove).order_by(StickMove.seq)).scalars()),
        )


def clean(database) -> bool:
    with database.reading() as session:
        return bundle_queries.audit(session).clean


def test_wood_of_a_tree_is_a_cut_of_its_day_and_wood_from_outside_a_receipt(desk, database, writer):
    with database.writing_session() as session:
        session.add(Club(id=1, zone="Pacific/Auckland"))
        session.commit()
    tree = make_tree(writer, desk.askers["steward"], desk.orchard)
    list_id = wood_list(
        desk,
        row(**{"Tree": f"{tree.number}", "Cut on": "17.1.2026", "Sticks": "12", "Fridge": "Garage fridge", "Shelf": "Top shelf",
               "Old label": "K-17"}),
        row(**{"Donor": "Hollow Lane Fruit Club", "Received on": "3.2.2026", "Cut on": "31.1.2026", "Reference": "HL-12",
               "Health paper": "none", "Box": "Blue crate", "Fridge": "Garage fridge"}),
        row(**{"Donor": "a visitor from the coast", "Cut on": "2.2.2026", "Zone": "North Vale", "Box": "blue  CRATE", "Sticks": "3"}),
    )  # fmt: skip
    seen = look_at(desk, list_id)
    assert seen["counts"]["taken"] == 3, (seen["report"], seen["questions"])

    taken = take(desk, list_id)

    assert taken.status_code == 201, taken.text
    cuts, bundles, moves = record(database)
    assert [(one.kind, one.tree_id, one.sticks) for one in cuts] == [
        ("cut", tree.id, 12), ("receipt", None, 6), ("receipt", None, 3),
    ]  # fmt: skip
    assert [one.cut_on for one in cuts] == [date(2026, 1, 17), date(2026, 1, 31), date(2026, 2, 2)]
    assert cuts[0].done_at == datetime(2026, 1, 16, 23, tzinfo=UTC)  # noon of the 17th in Auckland
    assert (cuts[1].from_party_id, cuts[1].their_reference, cuts[1].area_id) == (
        desk.club.id, "HL-12", desk.orchard.area_id,
    )  # fmt: skip
    assert (cuts[2].from_party_id, cuts[2].from_whom) == (None, "a visitor from the coast")
    by_cut = {one.collection_id: one for one in bundles}
    assert by_cut[cuts[0].id].note == "On the old label: K-17"
    assert all(one.code and one.came_in == one.sticks_at_start for one in bundles)
    assert [(one.kind, one.sticks) for one in moves] == [("collected", 12), ("received", 6), ("received", 3)]
    with database.reading() as session:
        lies = storage_queries.whereabouts(session, [one.id for one in bundles])
        boxes = session.execute(select(Box)).scalars().all()
    assert [box.name for box in boxes] == ["Blue crate"]
    assert lies[by_cut[cuts[1].id].id].box_id == lies[by_cut[cuts[2].id].id].box_id == boxes[0].id
    assert lies[by_cut[cuts[0].id].id].place_name == "Top shelf"
    assert clean(database)


def test_wood_that_was_handed_on_is_with_whom_the_list_says_by_the_ledger(desk, database):
    list_id = wood_list(
        desk,
        row(**{"Donor": "Hollow Lane Fruit Club", "Cut on": "31.1.2026", "Handed to": "Bo Fenwick", "Sticks": "5"}),
        row(**{"Donor": "Hollow Lane Fruit Club", "Cut on": "31.1.2026", "Handed to": "Bo Fenwick", "Fridge": "Garage fridge"}),
    )  # fmt: skip
    assert [one["words"] for one in look_at(desk, list_id)["report"]] == [
        "it is told both where it lies and who has it"
    ]

    assert take(desk, list_id, leave_refused=True).status_code == 201

    _, bundles, moves = record(database)
    held = {one.holder_id: one.came_in - one.passed_on for one in bundles}
    assert held == {None: 0, desk.bo.id: 5}
    assert [one.kind for one in moves] == ["received", "handed_out", "handed_in"]
    assert clean(database)


def test_what_is_not_there_or_not_told_is_refused_with_its_column(desk):
    list_id = wood_list(
        desk,
        row(**{"Tree": "99", "Cut on": "17.1.2026"}),
        row(Sticks=""),
        row(Fridge="The old cellar"),
        row(**{"Cut on": "1.3.2026"}),
        row(Shelf="Top shelf"),
        row(Sticks="a few"),
    )

    report = look_at(desk, list_id)["report"]

    assert [(one["line"], one["column"]) for one in report] == [
        (2, "Tree"), (3, "Sticks"), (4, "Fridge"), (5, "Cut on"), (6, "Shelf"), (7, "Sticks"),
    ]  # fmt: skip
    assert all(one["state"] == "refused" and one["todo"] for one in report)


def test_a_store_and_a_giver_that_are_nearly_known_are_asked_once(desk, database):
    list_id = wood_list(
        desk,
        row(Fridge="Garrage fridge", Donor="Hollow Lane Friut Club"),
        row(Fridge="Garrage fridge", Donor="Hollow Lane Friut Club"),
    )
    seen = look_at(desk, list_id)
    while seen["questions"] and not all(one["answer"] for one in seen["questions"]):
        replies = {one["key"]: one["options"][0]["value"] for one in seen["questions"] if not one["answer"]}
        put(desk, list_id, "answers", answers=replies)
        seen = look_at(desk, list_id)

    assert sorted(one["what"] for one in seen["questions"]) == ["giver", "store"]
    assert take(desk, list_id).json()["brought"] == 2
    assert {one.from_party_id for one in record(database)[0]} == {desk.club.id}


def test_the_guards_of_the_record_hold_and_each_refused_row_is_told(desk, database, writer):
    steward = desk.askers["steward"]
    ask = make_tree(writer, steward, desk.orchard, may_cut="ask", owner_id=desk.bo.id)
    never = make_tree(writer, steward, desk.orchard, may_cut="no", owner_id=desk.bo.id)
    list_id = wood_list(
        desk,
        row(**{"Tree": str(ask.number), "Cut on": "17.1.2026", "Owner agreed": "on the telephone"}),
        row(**{"Tree": str(never.number), "Cut on": "17.1.2026"}),
        row(**{"Tree": str(ask.number), "Cut on": "17.1.2026"}),
    )
    before = every_row(database)

    refused = take(desk, list_id)

    assert refused.status_code == 409, refused.text
    assert refused.json()["facts"]["lines"] == [3, 4]
    assert every_row(database) == before
    left = take(desk, list_id, leave_refused=True)
    assert (left.json()["brought"], left.json()["left_out"]) == (1, 2)
    assert [one.tree_id for one in record(database)[0]] == [ask.id]
    assert "Line 3 stayed out" in left.json()["told"][0]


def test_wood_of_a_stopped_tree_is_born_bound(desk, database, writer):
    tree = make_tree(writer, desk.askers["steward"], desk.orchard)
    stop(writer, desk.askers["health_steward"], tree.id)

    assert (
        take(desk, wood_list(desk, row(**{"Tree": str(tree.number), "Cut on": "17.1.2026"}))).status_code
        == 201
    )

    assert [one.open_stops for one in record(database)[1]] == [1]


def test_wood_of_another_area_without_an_answer_is_refused(desk, database):
    list_id = wood_list(desk, row(Zone="South Shore"))
    before = every_row(database)

    answer = take(desk, list_id)

    assert answer.status_code == 409 and answer.json()["facts"]["lines"] == [2], answer.text
    assert every_row(database) == before


def test_a_list_of_wood_goes_back_by_corrections_and_counters_agree_with_the_ledger(desk, database, writer):
    tree = make_tree(writer, desk.askers["steward"], desk.orchard)
    list_id = wood_list(
        desk,
        row(**{"Tree": str(tree.number), "Cut on": "17.1.2026", "Sticks": "12", "Fridge": "Garage fridge", "Box": "Blue crate"}),
        row(**{"Donor": "Hollow Lane Fruit Club", "Cut on": "31.1.2026", "Handed to": "Bo Fenwick", "Sticks": "5"}),
    )  # fmt: skip
    put(desk, list_id, "form", area_id=str(desk.orchard.area_id))
    taken = take(desk, list_id)
    assert taken.status_code == 201, taken.text
    lines = len(record(database)[2])

    answer = desk.post("steward", f"/api/lists/{list_id}/take-back", {"reason": "It was last year’s."})

    assert answer.status_code == 201, answer.text
    assert answer.json()["told"] == [
        "3 bundles are counted to nothing, 1 box stays; the ledger keeps every line."
    ]
    _, bundles, moves = record(database)
    assert all(one.came_in - one.passed_on - one.grafted - one.discarded == 0 for one in bundles)
    assert [(one.kind, one.sticks) for one in moves[lines:]] in (
        [("corrected", -12), ("corrected", -5)], [("corrected", -5), ("corrected", -12)],
    )  # fmt: skip
    assert all("It was last year’s." in one.reason for one in moves[lines:])
    with database.reading() as session:
        assert storage_queries.whereabouts(session, [one.id for one in bundles]) == {}
        assert all(tag.state == "bound" for tag in session.execute(select(Tag)).scalars())
    assert clean(database)


def test_wood_that_was_used_since_keeps_its_list(desk, database, writer, clock):
    list_id = wood_list(desk, row(**{"Donor": "Hollow Lane Fruit Club", "Cut on": "31.1.2026"}))
    assert take(desk, list_id).status_code == 201
    (bundle,) = record(database)[1]
    clock.move(timedelta(minutes=1))
    writer.write_now(
        bundle_actions.discard_sticks, desk.askers["steward"],
        DiscardCreate(bundle_id=bundle.id, sticks=1, reason="mould"),
    )  # fmt: skip
    before = every_row(database)

    answer = desk.post("steward", f"/api/lists/{list_id}/take-back", {"reason": "the wrong file"})

    assert answer.status_code == 409
    assert answer.json()["detail"] == f"Line 2, bundle {bundle.code}: sticks of it were moved."
    assert every_row(database) == before


def test_wood_whose_keeping_was_reckoned_since_goes_back_all_the_same(desk, database, writer, clock):
    told = {"Donor": "Hollow Lane Fruit Club", "Cut on": "31.1.2026", "Fridge": "Garage fridge"}
    list_id = wood_list(desk, row(**told))
    assert take(desk, list_id).status_code == 201
    clock.move(FOR_HANDS)
    assert Worker(database, writer, [keeping()]).run_due() == 1
    (bundle,) = record(database)[1]
    with database.reading() as session:
        kept = session.execute(select(BundleKeeping.bundle_id, BundleKeeping.store_id)).all()
    assert kept == [(bundle.id, desk.store.id)]

    answer = desk.post("steward", f"/api/lists/{list_id}/take-back", {"reason": "the wrong file"})

    assert answer.status_code == 201, answer.text
    clock.move(FOR_HANDS)
    assert Worker(database, writer, [keeping()]).run_due() == 1
    with database.reading() as session:
        assert session.execute(select(BundleKeeping.store_id)).scalars().all() == [None]
    assert clean(database)


def test_what_points_at_wood_and_grafts_says_when_it_was_written_or_follows_or_is_an_act_of_its_own():
    """A table that is written of itself, and says not when, would keep every list for good."""
    acts = {"bundle", "plant", "graft_taken_back", "graft_on_plant"}
    found = {
        child.name
        for table, _ in STAYS.values()
        for child, column in _references(_table(table))
        if not {child.name, f"{child.name}.{column}"} & _FOLLOWS and not set(_WHEN) & set(child.c.keys())
    }

    assert found == acts
