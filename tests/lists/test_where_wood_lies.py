"""Where the wood of an old list lies: in which box of which store, since when, and what of refused rows is left.

The club, its people and its places are invented.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from sqlalchemy import select

from service.bundles import queries as bundle_queries
from service.bundles.tables import Bundle
from service.lib.codes import group_code, make_code
from service.lists.routes import router
from service.lists.tables import ListThing
from service.members import actions as member_actions
from service.members.schemas import PartyCreate, PartyUpdate
from service.members.tables import Area, Party
from service.storage import actions as storage_actions
from service.storage import queries as storage_queries
from service.storage.schemas import BoxCreate, StoreCreate
from service.storage.tables import Box, Place, Stay, Store
from service.tags import actions as tag_actions
from service.tags.rules.words import TagKind
from service.tags.schemas import LabelledReceiptCreate, TagCreate
from service.trees.tables import Site
from tests.builders.trees import make_orchard, make_tree
from tests.lists.moving import as_csv, look_at, put, send, take
from tests.storage.desk import Desk

HEADER = [
    "Variety",
    "Kind",
    "Sticks",
    "Cut on",
    "Tree",
    "Store",
    "Place",
    "Box",
    "Lies there since",
    "Handed to",
    "Area",
]


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    steward: Any = desk.askers["steward"]
    desk.orchard = make_orchard(writer, steward)  # type: ignore[attr-defined]
    writer.write_now(
        member_actions.change_party, desk.askers["administrator"], desk.party("steward"),
        PartyUpdate(area_id=desk.orchard.area_id), 1,
    )  # fmt: skip
    bo = PartyCreate(name="Bo Fenwick", area_id=desk.orchard.area_id)
    (desk.bo,) = writer.write_now(member_actions.add_parties, steward, [bo])  # type: ignore[attr-defined]
    for name in ("Garage fridge", "Deep cellar"):
        store = StoreCreate(name=name, host_id=desk.bo.id, kind="fridge", places=["Top shelf", "Floor"])
        stored = writer.write_now(storage_actions.add_store, steward, store)
        writer.write_now(
            storage_actions.add_box, steward, BoxCreate(name=f"Crate of the {name}", store_id=stored.id)
        )
    return desk


def row(**told: str) -> list[str]:
    known = {"Variety": "Gala", "Kind": "Apple", "Sticks": "6", "Cut on": "2026-01-17", "Area": "North Vale"}
    told = {name.replace("_", " "): value for name, value in told.items()}
    return [{**known, **told}.get(name, "") for name in HEADER]


def wood_list(desk: Desk, *rows: list[str]) -> str:
    return send(desk, as_csv([HEADER, *rows]), sort="wood")


def names(database, table) -> set[str]:
    with database.reading() as session:
        return set(session.execute(select(table.name)).scalars())


def test_a_box_is_the_one_in_the_store_that_the_row_tells_or_the_row_is_refused(desk, database):
    list_id = wood_list(
        desk,
        row(Store="Garage fridge", Box="Crate of the Garage fridge"),
        row(
            Store="Garage fridge", Place="Floor", Box="crate of the garage fridge"
        ),  # anywhere in it, by the record
        row(Box="Crate of the Deep cellar"),
        row(Store="Garage fridge", Box="Crate of the Deep cellar"),
    )

    vague, told = look_at(desk, list_id)["report"]
    taken = take(desk, list_id, leave_refused=True)

    assert (vague["line"], vague["state"]) == (3, "taken")
    assert (told["line"], told["state"], told["column"]) == (5, "refused", "Box")
    assert told["todo"].startswith("Give it another name in the list")
    assert told["words"] == "the box “Crate of the Deep cellar” of the record stands elsewhere: Deep cellar"
    assert taken.json()["brought"] == 3, taken.text
    with database.reading() as session:
        bundles = list(session.execute(select(Bundle.id)).scalars())
        lies = storage_queries.whereabouts(session, bundles)
    assert sorted(spot.store_name for spot in lies.values()) == [
        "Deep cellar",
        "Garage fridge",
        "Garage fridge",
    ]


def test_a_new_box_stands_in_one_place_whatever_row_tells_it(desk, database):
    list_id = wood_list(
        desk,
        row(Box="Blue crate"),
        row(Store="Garage fridge", Box="Blue crate"),
        row(Store="Garage fridge", Place="Floor", Box="Blue crate"),
        row(Store="Deep cellar", Box="Blue crate"),
        row(Store="Garage fridge", Place="Top shelf", Box="Blue crate"),
    )

    report = look_at(desk, list_id)["report"]
    assert take(desk, list_id, leave_refused=True).status_code == 201

    assert [(one["line"], one["words"]) for one in report] == [
        (5, "by line 3 the box “Blue crate” stands elsewhere"),
        (6, "by line 4 the box “Blue crate” stands elsewhere"),
    ]
    with database.reading() as session:
        box = session.execute(select(Box).where(Box.name == "Blue crate")).scalar_one()
        stays = session.execute(
            select(Place.name).join(Stay, Stay.place_id == Place.id).where(Stay.box_id == box.id)
        )
        assert list(stays.scalars()) == ["Floor"]


def test_a_new_box_stands_there_since_the_first_day_that_a_row_tells(desk, database):
    list_id = wood_list(
        desk,
        row(Store="Garage fridge", Box="Blue crate", Lies_there_since="2026-01-25"),
        row(Store="Garage fridge", Box="Blue crate", Lies_there_since="2026-01-20"),
    )
    assert take(desk, list_id).status_code == 201

    with database.reading() as session:
        box = session.execute(select(Box).where(Box.name == "Blue crate")).scalar_one()
        since = session.execute(select(Stay.from_at).where(Stay.box_id == box.id)).scalar_one()
        (first,) = session.execute(
            select(Stay.bundle_id)
            .where(Stay.from_at == datetime(2026, 1, 20, 12, tzinfo=UTC))
            .where(Stay.bundle_id.is_not(None))
        ).scalars()
        then = storage_queries.whereabouts(session, [first], datetime(2026, 1, 21, tzinfo=UTC))
    assert since == datetime(2026, 1, 20, 12, tzinfo=UTC)
    assert then[first].store_name == "Garage fridge"


def stays_of(database, name: str) -> list[tuple[str, str, datetime]]:
    with database.reading() as session:
        found = session.execute(
            select(Store.name, Place.name, Stay.from_at)
            .join(Place, Place.id == Stay.place_id)
            .join(Store, Store.id == Place.store_id)
            .join(Box, Box.id == Stay.box_id)
            .where(Box.name == name)
        )
        return [tuple(one) for one in found]


def test_a_row_that_the_record_refuses_does_not_say_where_a_new_box_stands(desk, database):
    list_id = wood_list(
        desk,
        row(Sticks="4"),
        row(Box="Red crate"),
        row(Store="Deep cellar", Box="Red crate", Lies_there_since="2025-01-01"),  # before it was cut
        row(Store="Garage fridge", Place="Floor", Box="Red crate", Lies_there_since="2026-01-20"),
        row(Store="Garage fridge", Place="Door", Box="Red crate", Lies_there_since="2026-01-19"),
    )

    before = look_at(desk, list_id)
    taken = take(desk, list_id, leave_refused=True).json()

    assert [(one["line"], one["state"]) for one in before["report"]] == [(5, "refused"), (6, "refused")]
    assert (before["counts"]["taken"], taken["brought"], taken["left_out"]) == (3, 3, 2)
    assert stays_of(database, "Red crate") == [
        ("Garage fridge", "Floor", datetime(2026, 1, 20, 12, tzinfo=UTC))
    ]
    assert names(database, Place) == {"", "Top shelf", "Floor"}
    words = " ".join(taken["told"])
    assert "Line 4 stayed out" in words and "Line 5 was taken after all" in words and "Line 6" not in words


def test_where_no_other_row_is_sound_the_row_that_a_refused_one_spoke_against_comes_in(desk, database):
    list_id = wood_list(
        desk,
        row(Store="Deep cellar", Box="Red crate", Lies_there_since="2025-01-01"),
        row(Store="Garage fridge", Box="Red crate", Lies_there_since="2026-01-20"),
    )

    whole, taken = take(desk, list_id), take(desk, list_id, leave_refused=True)

    assert (whole.status_code, taken.status_code) == (422, 201), taken.text
    assert (taken.json()["brought"], taken.json()["left_out"]) == (1, 1)
    assert [one[0] for one in stays_of(database, "Red crate")] == ["Garage fridge"]


def test_a_row_that_the_record_refuses_does_not_say_since_when_a_new_box_stands(desk, database, writer):
    never = make_tree(writer, desk.askers["steward"], desk.orchard, may_cut="no", owner_id=desk.bo.id)
    list_id = wood_list(
        desk,
        row(Store="Garage fridge", Box="Blue crate", Lies_there_since="2026-01-25"),
        row(Tree=str(never.number), Store="Garage fridge", Box="Blue crate", Lies_there_since="2026-01-18"),
    )

    assert take(desk, list_id, leave_refused=True).json()["brought"] == 1

    (stay,) = stays_of(database, "Blue crate")
    assert stay[2] == datetime(2026, 1, 25, 12, tzinfo=UTC)


def test_a_place_that_the_list_tells_of_a_box_of_the_record_is_not_dropped_without_a_word(desk, database):
    list_id = wood_list(
        desk,
        row(Store="Garage fridge", Place="Floor", Box="Crate of the Garage fridge"),
        row(Store="Garage fridge", Place="floor", Box="Crate of the Garage fridge"),
        row(Store="Garage fridge", Place="Top shelf", Box="Crate of the Garage fridge"),
    )

    told, refused = look_at(desk, list_id)["report"]
    taken = take(desk, list_id, leave_refused=True).json()

    left = "the list has the box “Crate of the Garage fridge” on “Floor”; the record has it anywhere in Garage fridge"
    assert (told["line"], told["state"]) == (2, "taken")
    assert told["words"].startswith(left)
    assert (refused["line"], refused["state"]) == (4, "refused")
    assert refused["words"] == "by line 2 the box “Crate of the Garage fridge” stands on another place: Floor"
    assert taken["brought"] == 2
    assert any(words.startswith(f"Line 2: {left}") for words in taken["told"])
    assert [one[1] for one in stays_of(database, "Crate of the Garage fridge")] == [""]


def test_of_a_refused_row_nothing_is_left_and_what_a_taken_row_needs_is_written(desk, database, writer):
    never = make_tree(writer, desk.askers["steward"], desk.orchard, may_cut="no", owner_id=desk.bo.id)
    list_id = wood_list(
        desk,
        row(Tree=str(never.number), Store="Garage fridge", Place="Window sill", Box="Red crate"),
        row(Tree=str(never.number), Handed_to="Odo Marsh"),
        row(Area="Far Isles"),  # no answer lets its wood in
        row(Store="Garage fridge", Place="Door", Box="Blue crate"),
        row(Tree=str(never.number), Store="Garage fridge", Place="Door"),
    )
    put(desk, list_id, "form", area_id=str(desk.orchard.area_id))

    taken = take(desk, list_id, leave_refused=True)

    assert (taken.json()["brought"], taken.json()["left_out"]) == (1, 4), taken.text
    assert names(database, Place) == {"", "Top shelf", "Floor", "Door"}
    assert "Blue crate" in names(database, Box) and "Red crate" not in names(database, Box)
    assert "Odo Marsh" not in names(database, Party)
    assert "Far Isles" not in names(database, Area)
    with database.reading() as session:
        things = session.execute(select(ListThing.kind, ListThing.line)).all()
        assert bundle_queries.audit(session).clean
    assert sorted(things) == [("box", 5), ("bundle", 5), ("collection", 5), ("place", 5)]


def test_a_site_of_refused_grafts_is_not_made(desk, database):
    head = ["Date", "Variety", "Kind", "Rootstock", "How many", "Bundle code", "Site", "Area", "By whom"]
    rows = [
        ["2025-04-05", "Gala", "Apple", "M.9", "3", make_code(), "Far Bank", "North Vale", "Odo Marsh"],
        ["2025-04-05", "Gala", "Apple", "M.9", "3", "", "Windy Corner", "North Vale", "Wren Ashgrove"],
    ]
    list_id = send(desk, as_csv([head, *rows]), sort="grafts")

    taken = take(desk, list_id, leave_refused=True)

    assert (taken.status_code, taken.json().get("brought")) == (201, 1), taken.text
    assert names(database, Site) == {"Long Meadow", "Windy Corner"}
    assert "Wren Ashgrove" in names(database, Party) and "Odo Marsh" not in names(database, Party)


def test_one_refused_row_among_many_costs_little_more_than_none(desk, database, writer, statements):
    never = make_tree(writer, desk.askers["steward"], desk.orchard, may_cut="no", owner_id=desk.bo.id)
    sound = [row(Store="Garage fridge") for _ in range(400)]
    costs = []
    for rows in (sound, [*sound[:250], row(Tree=str(never.number)), *sound[250:]]):
        list_id = wood_list(desk, *rows)
        before = len(statements)
        assert take(desk, list_id, leave_refused=True).json()["brought"] == 400
        costs.append(len(statements) - before)

    assert costs[1] <= 5 * costs[0], costs
    assert costs[1] < 400, costs  # fewer than one a row


def test_a_tree_is_found_by_the_code_of_its_tag_however_it_is_typed_and_a_slip_is_told(desk, writer):
    tree = make_tree(writer, desk.askers["steward"], desk.orchard)
    wanted = [TagCreate(kind=TagKind.TREE, thing_id=tree.id)]
    code = writer.write_now(tag_actions.add_tags, desk.askers["steward"], wanted)[0].code
    typed = [code.lower(), group_code(code).replace("0", "O").replace("1", "l"), f"  {code[:4]}-{code[4:]} "]
    wrong = code[:3] + ("2" if code[3] != "2" else "3") + code[4:]
    list_id = wood_list(desk, *(row(Tree=one) for one in typed), row(Tree=wrong))

    seen = look_at(desk, list_id)

    assert seen["counts"]["taken"] == 3
    (told,) = seen["report"]
    assert told["words"] == f"the record has no tree “{wrong}”; {group_code(code)} is one slip away"


def test_what_is_no_code_of_a_bundle_is_told_before_a_list_of_grafts_is_taken(desk, writer):
    receipt = {"cultivar_id": desk.orchard.gala_id, "sticks": 5, "done_at": "2025-02-01T12:00:00Z",
               "from_whom": "a visitor", "area_id": str(desk.orchard.area_id)}  # fmt: skip
    body = LabelledReceiptCreate.model_validate({"receipt": receipt})
    (made,) = writer.write_now(tag_actions.receive_and_label, desk.askers["steward"], [body])
    code = made.bundles[0].code
    head = ["Date", "Variety", "Kind", "Rootstock", "How many", "Bundle code"]
    rows = [
        ["2025-04-05", "", "", "M.9", "3", typed] for typed in (code[:-1], f"{group_code(code).lower()} ")
    ]

    seen = look_at(desk, send(desk, as_csv([head, *rows]), sort="grafts"))

    (told,) = seen["report"]
    assert (seen["counts"]["taken"], told["line"], told["column"]) == (1, 2, "Bundle code")
    assert f"Was {group_code(code)} meant?" in told["words"]
