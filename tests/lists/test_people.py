"""A club's own table of people: nobody twice, nobody with a role. The club and its people are invented."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from service.lists.routes import router
from service.lists.rules import SORTS
from service.members import actions as member_actions
from service.members.schemas import PartyCreate, PartyUpdate
from service.members.tables import Account, Area, Invitation, Party, PartyRole
from tests.builders.trees import make_orchard
from tests.lists.moving import OF_A_LIST, as_csv, every_row, look_at, put, send, take
from tests.storage.desk import Desk

HEADER = ["Full name", "Status", "E-mail", "Phone", "Zone", "Recall", "No", "Role", "Remarks"]


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    desk.orchard = make_orchard(writer, desk.askers["steward"])  # type: ignore[attr-defined]
    return desk


def people(database) -> dict[str, Party]:
    with database.reading() as session:
        return {party.name: party for party in session.execute(select(Party)).scalars()}


def send_people(desk: Desk, *rows: list[str]) -> str:
    return send(desk, as_csv([HEADER, *rows]), sort="people")


def test_people_guests_and_clubs_come_in_with_contact_area_and_note(desk, database):
    list_id = send_people(
        desk,
        ["Tilde Ashgrove", "Member", "tilde@ashgrove.example", "01632 960 117", "North Vale", "yes", "17", "", "on Saturdays"],
        ["Hollow Lane Fruit Club", "other club", "", "", "Far Marsh", "", "", "", ""],
        ["Odo Quill", "guest", "", "", "", "", "", "administrator", ""],
        ["Wren Sallow", "", "", "", "", "", "", "", ""],
    )  # fmt: skip
    seen = look_at(desk, list_id)
    assert {one["name"]: one["heading"] for one in seen["columns"] if one["heading"]} == {
        "name": "Full name", "kind": "Status", "email": "E-mail", "phone": "Phone", "area": "Zone",
        "keep_contact_for_recall": "Recall", "their_number": "No", "note": "Remarks",
    }  # fmt: skip
    assert (seen["counts"]["taken"], seen["counts"]["areas"]) == (4, 1)

    answer = take(desk, list_id)

    assert answer.status_code == 201, answer.text
    found = people(database)
    with database.reading() as session:
        areas = {area.id: area.name for area in session.execute(select(Area)).scalars()}
        roles = {role.party_id for role in session.execute(select(PartyRole)).scalars()}
        ways_in = [
            *session.execute(select(Account)).scalars(),
            *session.execute(select(Invitation)).scalars(),
        ]
    tilde = found["Tilde Ashgrove"]
    assert (tilde.kind, tilde.contact) == ("member", "tilde@ashgrove.example; 01632 960 117")
    assert tilde.keep_contact_for_recall and tilde.note == "on Saturdays\nNumber in the old list: 17"
    told = ["Tilde Ashgrove", "Hollow Lane Fruit Club", "Odo Quill", "Wren Sallow"]
    assert [found[one].kind for one in told] == ["member", "club", "guest", "member"]
    assert [areas.get(found[one].area_id) for one in told] == ["North Vale", "Far Marsh", None, None]
    assert not roles & {found[one].id for one in told}  # a column of roles is left alone
    assert {way.party_id for way in ways_in}.isdisjoint(found[one].id for one in told)


def test_a_person_twice_in_the_file_is_told_and_not_doubled(desk, database):
    list_id = send_people(
        desk,
        ["Tilde Ashgrove", "", "tilde@ashgrove.example", "", "", "", "", "", ""],
        ["tilde  ASHGROVE", "", "", "", "", "", "", "", ""],
        ["Tilde Ashgrove", "", "Tilde@Ashgrove.example", "01632 960 117", "", "", "", "", ""],
    )

    report = look_at(desk, list_id)["report"]
    taken = take(desk, list_id)

    assert [(one["line"], one["state"]) for one in report] == [(3, "known"), (4, "known")]
    assert "stands in line 2 already" in report[0]["words"]
    assert (taken.json()["brought"], taken.json()["left_out"]) == (1, 0)
    assert [name for name in people(database) if "tilde" in name.lower()] == ["Tilde Ashgrove"]


def test_two_people_of_one_name_are_asked_about(desk, database):
    rows = (
        ["Bo Fenwick", "", "bo@fenwick.example", "", "", "", "", "", ""],
        ["Bo Fenwick", "", "young-bo@quill.example", "", "", "", "", "", ""],
    )
    list_id = send_people(desk, *rows)
    (question,) = look_at(desk, list_id)["questions"]
    assert (question["what"], question["line"]) == ("name", 3)
    assert question["options"][0]["words"] == "Bo Fenwick (line 2 of this list)"
    assert take(desk, list_id).status_code == 422

    put(desk, list_id, "answers", answers={question["key"]: "new"})
    mended = look_at(desk, send_people(desk, *rows))
    both = take(desk, list_id)

    assert mended["told"][0].startswith("Read as the list")
    assert [one["answer"] for one in mended["questions"]] == [
        ""
    ]  # in another file that line can be another person
    assert both.json()["brought"] == 2
    with database.reading() as session:
        named = session.execute(select(Party).where(Party.name == "Bo Fenwick")).scalars().all()
    assert sorted(one.contact for one in named) == ["bo@fenwick.example", "young-bo@quill.example"]


def test_the_same_person_by_an_answer_brings_nothing(desk, database):
    list_id = send_people(
        desk,
        ["Bo Fenwick", "", "bo@fenwick.example", "", "", "", "", "", ""],
        ["Bo Fenwick", "", "bo@quill.example", "", "", "", "", "", ""],
    )
    (question,) = look_at(desk, list_id)["questions"]

    put(desk, list_id, "answers", answers={question["key"]: question["options"][0]["value"]})

    assert look_at(desk, list_id)["counts"] | {"areas": 0} == {
        "rows": 2, "taken": 1, "asked": 0, "refused": 0, "known": 1, "areas": 0, "people": 0, "sites": 0,
    }  # fmt: skip
    assert take(desk, list_id).json()["brought"] == 1


def test_who_is_in_the_record_is_told_and_who_is_nearly_so_is_asked(desk, database, writer):
    steward = desk.askers["steward"]
    told = [
        PartyCreate(name="Tilde Ashgrove", contact="tilde@ashgrove.example"),
        PartyCreate(name="Odo Quill", contact="odo@quill.example"),
    ]
    writer.write_now(member_actions.add_parties, steward, told)
    list_id = send_people(
        desk,
        ["Tilde Ashgrove", "", "", "", "", "", "", "", ""],
        ["Tilda Ashgrove", "", "", "", "", "", "", "", ""],
        ["O. Quill", "", "odo@quill.example", "", "", "", "", "", ""],
        ["Wren Sallow", "", "", "", "", "", "", "", ""],
        ["Tilda  Ashgrove", "", "", "", "", "", "", "", ""],
    )

    seen = look_at(desk, list_id)

    assert [(one["line"], one["state"]) for one in seen["report"]] == [
        (2, "known"),
        (3, "asked"),
        (4, "asked"),
        (6, "asked"),
    ]
    assert [(one["spelling"], one["options"][0]["words"]) for one in seen["questions"]] == [
        ("Tilda Ashgrove", "Tilde Ashgrove (tilde@ashgrove.example)"),
        ("O. Quill", "Odo Quill (odo@quill.example)"),
        ("Tilda Ashgrove", "Tilde Ashgrove (tilde@ashgrove.example)"),
    ]
    assert seen["counts"]["taken"] == 1


def test_a_row_without_a_name_and_a_kind_nobody_knows_are_refused(desk):
    list_id = send_people(
        desk,
        ["", "", "who@fenwick.example", "", "", "", "", "", ""],
        ["Odo Quill", "treasurer", "", "", "", "", "", "", ""],
        ["Wren Sallow", "", "x" * 501, "", "", "", "", "", ""],
    )

    report = look_at(desk, list_id)["report"]

    assert [(one["line"], one["column"]) for one in report] == [
        (2, "Full name"),
        (3, "Status"),
        (4, "E-mail"),
    ]


def test_a_list_of_people_goes_back_whole(desk, database):
    before = every_row(database, but=OF_A_LIST)
    list_id = send_people(
        desk,
        ["Tilde Ashgrove", "", "", "", "Far Marsh", "", "", "", ""],
        ["Bo Fenwick", "", "", "", "Far Marsh", "", "", "", ""],
    )
    assert take(desk, list_id).json()["brought"] == 2

    answer = desk.post("steward", f"/api/lists/{list_id}/take-back", {"reason": "Another club's list."})

    assert answer.status_code == 201, answer.text
    assert every_row(database, but=OF_A_LIST) == before


@pytest.mark.parametrize("sort", list(SORTS))
def test_a_sample_is_read_by_its_own_headings_and_can_be_taken(desk, database, writer, sort):
    here = PartyUpdate(area_id=desk.orchard.area_id)
    writer.write_now(
        member_actions.change_party, desk.askers["administrator"], desk.party("steward"), here, 1
    )
    raw = desk.get("steward", f"/api/lists/samples/{sort}").content
    list_id = send(desk, raw, sort=sort)
    put(desk, list_id, "form", area_id=str(desk.orchard.area_id))

    seen = look_at(desk, list_id)

    assert len(seen["header"]) == len([one for one in seen["columns"] if one["heading"]])
    assert seen["counts"]["rows"] == seen["counts"]["taken"] == 2, seen["report"]
    assert take(desk, list_id).status_code == 201
