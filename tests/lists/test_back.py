"""A list taken back as one act, and what keeps it. The club, its people and its places are invented."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import select
from sqlmodel import SQLModel

from service.bundles import queries as bundle_queries
from service.collection import actions as collection_actions
from service.collection.schemas import CollectionCreate
from service.lists.queries.resting import _NAMED, _WROTE, GOES, _references, _table, words_of
from service.lists.routes import router
from service.members import actions as member_actions
from service.members.schemas import PartyUpdate, RolesUpdate
from service.members.tables import Area, Party
from service.tags import actions as tag_actions
from service.tags.rules.words import TagKind
from service.trees.tables import Site, SourceTree
from tests.builders.trees import change, look, make_orchard, make_tree, stop
from tests.lists.moving import OF_A_LIST, as_csv, every_row, look_at, send
from tests.storage.desk import Desk

ROWS = [
    ["Variety", "Kind", "Site", "Who looks after it", "Plant-health area"],
    ["Gala", "Apple", "Withy Bank", "Tilde Ashgrove", "East Fold"],
    ["Bramley", "Apple", "Withy Bank", "Bo Fenwick", "East Fold"],
    ["Victoria", "Plum", "Withy Bank", "Bo Fenwick", "East Fold"],
]


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    desk.orchard = make_orchard(writer, desk.askers["steward"])  # type: ignore[attr-defined]
    return desk


@pytest.fixture
def taken(desk) -> str:
    list_id = send(desk, as_csv(ROWS))
    assert desk.post("steward", f"/api/lists/{list_id}/take", {}).status_code == 201
    return list_id


def back(desk: Desk, list_id: str, who: str = "steward", reason: str = "The wrong file.") -> Any:
    return desk.post(who, f"/api/lists/{list_id}/take-back", {"reason": reason})


def things(database) -> dict[str, Any]:
    with database.reading() as session:
        trees = session.execute(select(SourceTree).order_by(SourceTree.number)).scalars().all()
        site = session.execute(select(Site).where(Site.name == "Withy Bank")).scalar_one()
        people = {party.name: party for party in session.execute(select(Party)).scalars()}
    return {"trees": trees, "site": site, "people": people}


def test_all_that_a_list_brought_goes_again_and_the_audit_is_clean(desk, database):
    before = every_row(database, but=(*OF_A_LIST, "club"))
    list_id = send(desk, as_csv(ROWS))
    assert desk.post("steward", f"/api/lists/{list_id}/take", {}).json()["brought"] == 3
    assert every_row(database, but=(*OF_A_LIST, "club")) != before

    answer = back(desk, list_id)

    assert answer.status_code == 201, answer.text
    assert (answer.json()["state"], answer.json()["taken_back_reason"]) == ("taken_back", "The wrong file.")
    assert every_row(database, but=(*OF_A_LIST, "club")) == before
    with database.reading() as session:
        assert bundle_queries.audit(session).clean
    assert back(desk, list_id).status_code == 409
    assert look_at(desk, list_id)["state"] == "taken_back"


def test_a_list_taken_back_can_be_sent_and_taken_anew_and_no_number_is_given_twice(desk, database, taken):
    assert back(desk, taken).status_code == 201
    again = send(desk, as_csv(ROWS))

    assert look_at(desk, again)["told"] == []
    assert desk.post("steward", f"/api/lists/{again}/take", {}).status_code == 201
    assert [tree.number for tree in things(database)["trees"]] == [4, 5, 6]


def cut(desk, writer, of) -> None:
    body = CollectionCreate(tree_id=of["trees"][1].id, sticks=4, stage="00", owner_agreed="on the phone")
    writer.write_now(collection_actions.record_collections, desk.askers["steward"], [body])


def looked_at(desk, writer, of) -> None:
    look(writer, desk.askers["steward"], of["trees"][1].id)


def stopped(desk, writer, of) -> None:
    stop(writer, desk.askers["health_steward"], of["trees"][1].id)


def changed(desk, writer, of) -> None:
    change(writer, desk.askers["steward"], of["trees"][1], note="by the gate")


def tagged(desk, writer, of) -> None:
    writer.write_now(tag_actions.bind_new_tags, desk.askers["steward"], TagKind.TREE, [of["trees"][1].id])


def owns_another(desk, writer, of) -> None:
    make_tree(writer, desk.askers["steward"], desk.orchard, owner_id=of["people"]["Bo Fenwick"].id)


def another_tree_there(desk, writer, of) -> None:
    make_tree(writer, desk.askers["steward"], desk.orchard, site_id=of["site"].id)


def person_changed(desk, writer, of) -> None:
    told = PartyUpdate(contact="bo@fenwick.test")
    writer.write_now(
        member_actions.change_party, desk.askers["steward"], of["people"]["Bo Fenwick"].id, told, 1
    )


def has_a_role(desk, writer, of) -> None:
    person = of["people"]["Bo Fenwick"]
    writer.write_now(
        member_actions.set_roles, desk.askers["administrator"], person.id, RolesUpdate(roles=["collector"]), 1
    )


RESTS = {
    cut: (3, "tree 2: wood of it was cut"),
    looked_at: (3, "tree 2: it was looked at"),
    stopped: (3, "tree 2: it was stopped"),
    changed: (3, "tree 2: it was changed since"),
    tagged: (3, "tree 2: it has a tag"),
    owns_another: (3, "Bo Fenwick: they look after other trees"),
    another_tree_there: (2, "Withy Bank: other trees stand there"),
    person_changed: (3, "Bo Fenwick: it was changed since"),
    has_a_role: (3, "Bo Fenwick: they have a role"),
}


@pytest.mark.parametrize("happened", RESTS, ids=lambda one: one.__name__)
def test_what_the_record_rests_on_keeps_the_whole_list_and_is_told_by_its_line(
    desk, database, writer, taken, happened
):
    happened(desk, writer, things(database))
    before = every_row(database)

    answer = back(desk, taken)

    line, words = RESTS[happened]
    assert answer.status_code == 409, answer.text
    problem = answer.json()
    assert problem["type"].endswith("list-is-rested-on")
    assert line in problem["facts"]["lines"]
    assert f"line {line}, {words}" in problem["detail"].lower().replace("bo fenwick", "Bo Fenwick").replace(
        "withy bank", "Withy Bank"
    )
    assert every_row(database) == before


def test_only_a_list_that_was_taken_goes_back_and_not_without_a_reason(desk, database, taken):
    waiting = send(desk, as_csv(ROWS[:2]))

    assert back(desk, waiting).status_code == 409
    assert back(desk, taken, reason=" ").status_code == 422
    assert back(desk, taken, who="collector").status_code == 403
    assert len(things(database)["trees"]) == 3


def test_every_reference_to_what_a_list_brings_is_looked_at(database):
    found = {
        f"{child.name}.{column}" for kind in GOES for child, column in _references(_table(GOES[kind][0]))
    }
    keys = {
        f"{table.name}.{key.parent.name}"
        for table in SQLModel.metadata.sorted_tables
        for key in table.foreign_keys
        if key.column.table.name in {"source_tree", "site", "party", "area"}
    }

    assert found == keys | {"tag.thing_id"}
    assert len(keys) > 60
    plain = {one: words_of(one) for one in found if not one.endswith(("by_party_id", "for_party_id"))}
    assert _NAMED not in plain.values() and _WROTE not in plain.values()
    assert {words_of(one) for one in found - plain.keys()} >= {_WROTE}
    assert not [words for words in plain.values() if "_" in words]


def test_a_tree_that_came_by_another_list_keeps_the_site_and_the_first_list(desk, database, taken):
    second = send(desk, as_csv([ROWS[0], ["Gala", "Apple", "Withy Bank", "Bo Fenwick", "East Fold"]]))
    assert desk.post("steward", f"/api/lists/{second}/take", {}).status_code == 201

    refused, then = back(desk, taken), back(desk, second)

    assert (refused.status_code, then.status_code) == (409, 201)
    assert back(desk, taken).status_code == 201
    with database.reading() as session:
        assert session.execute(select(Area).where(Area.name == "East Fold")).first() is None


def test_where_another_list_rests_on_people_it_is_named_to_be_taken_back_first(desk):
    people = send(desk, as_csv([["Name", "Plant-health area"], ["Wren Marlow", "North Vale"]]), sort="people")
    assert desk.post("steward", f"/api/lists/{people}/take", {}).status_code == 201
    rows = [["Variety", "Kind", "Site", "Owner"], ["Gala", "Apple", "Long Meadow", "Wren Marlow"]]
    trees = send(desk, as_csv(rows), name="trees2.csv")
    assert desk.post("steward", f"/api/lists/{trees}/take", {}).status_code == 201

    told = back(desk, people).json()

    assert told["detail"].startswith(
        "Take the list “trees2.csv” back first. Line 2, Wren Marlow: they look after"
    )
    assert (told["lift"], told["facts"]["lists"]) == (f"/lists/{trees}", [trees])
    assert back(desk, trees).status_code == back(desk, people).status_code == 201
