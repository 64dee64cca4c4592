"""What a list asks, and what can be answered. The club and its places are invented."""

from __future__ import annotations

from uuid import uuid4

import pytest

from service.catalogue.tables import Taxon
from service.lists.routes import router
from service.members.actions import add_parties
from service.members.schemas import PartyCreate
from tests.builders.trees import _SAID, _add, make_orchard
from tests.lists.moving import as_csv, look_at, put, send, take
from tests.storage.desk import Desk

HEADER = ["Variety", "Kind", "Site", "Owner", "Planted"]


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    desk.orchard = make_orchard(writer, desk.askers["steward"])  # type: ignore[attr-defined]
    cherries = [
        Taxon(slug=slug, botanical_name=name, genus="Prunus", kind=kind, stage_scale="stone", **_SAID)
        for slug, name, kind in (
            ("sweet-cherry", "Prunus avium", "Sweet cherry"), ("sour-cherry", "Prunus cerasus", "Sour cherry"),
        )
    ]  # fmt: skip
    writer.write_now(_add, None, cherries)
    return desk


def test_a_kind_nobody_knows_offers_what_holds_its_word_then_every_kind_and_to_leave_its_rows_out(desk):
    rows = [
        ["", "Cherry", "Long Meadow", "", ""],
        ["", "Dragonfruit", "Long Meadow", "", ""],
        ["Gala", "Apple", "Long Meadow", "", ""],
    ]
    list_id = send(desk, as_csv([HEADER, *rows]))

    cherry, dragon = look_at(desk, list_id)["questions"]
    words = [one["words"] for one in cherry["options"]]
    put(
        desk,
        list_id,
        "answers",
        answers={cherry["key"]: cherry["options"][0]["value"], dragon["key"]: "leave_out"},
    )
    seen = look_at(desk, list_id)

    assert words[:2] == ["Sour cherry (Prunus cerasus)", "Sweet cherry (Prunus avium)"]
    assert len(words) == 7 and words[-1] == "leave these rows out"  # six kinds are known here
    assert [one["words"].partition(" (")[0] for one in dragon["options"][:-1]] == [
        "Apple", "Fig", "Pear", "Plum", "Sour cherry", "Sweet cherry",
    ]  # fmt: skip
    assert [(one["line"], one["state"], one["column"], one["words"]) for one in seen["report"]] == [
        (3, "refused", "Kind", "“Dragonfruit” is left out, as you answered")
    ]
    assert take(desk, list_id, leave_refused=True).json()["brought"] == 2


def test_an_owner_of_whose_name_the_record_has_two_is_asked_and_never_guessed(desk, writer):
    namesakes = [PartyCreate(name="Bo Fenwick"), PartyCreate(name="Bo Fenwick")]
    both = writer.write_now(add_parties, desk.askers["steward"], namesakes)

    seen = look_at(desk, send(desk, as_csv([HEADER[:4], ["Gala", "Apple", "Long Meadow", "Bo Fenwick"]])))

    (question,) = seen["questions"]
    assert {str(one.id) for one in both} < {option["value"] for option in question["options"]}
    assert (seen["counts"]["asked"], seen["counts"]["taken"]) == (1, 0)


def test_days_that_could_be_two_and_names_that_are_near_can_be_left_out(desk):
    rows = [
        ["Galla", "Apple", "Long Meadow", ""],
        ["Gala", "Apple", "Long Medow", ""],
        ["Gala", "Apple", "Long Meadow", ""],
    ]
    list_id = send(desk, as_csv([HEADER[:4], *rows]))
    asked = look_at(desk, list_id)["questions"]

    put(desk, list_id, "answers", answers={one["key"]: "leave_out" for one in asked})
    seen = look_at(desk, list_id)

    assert sorted(one["what"] for one in asked) == ["site", "variety"]
    assert (seen["counts"]["taken"], seen["counts"]["refused"], seen["ready"]) == (1, 2, True)


def test_a_day_of_wood_that_could_be_two_is_left_out_and_one_that_is_sure_is_not(desk):
    rows = [["Gala", "Apple", "6", "3/4/2025"], ["Gala", "Apple", "6", "2025-04-03"]]
    list_id = send(desk, as_csv([["Variety", "Kind", "Sticks", "Cut on"], *rows]), sort="wood")
    (asked,) = look_at(desk, list_id)["questions"]

    put(desk, list_id, "answers", answers={asked["key"]: "leave_out"})

    seen = look_at(desk, list_id)
    assert [one["line"] for one in seen["report"]] == [2]
    assert "can be two days" in seen["report"][0]["words"] and seen["counts"]["taken"] == 1


def test_a_mended_file_of_the_same_headings_is_read_and_answered_as_the_one_before_while_that_fits(desk):
    rows = [HEADER[:4], ["Galla", "Apple", "Long Meadow", ""], ["Gala", "Apple", "Long Medow", ""]]
    first = send(desk, as_csv(rows), name="trees1.csv")
    asked = {one["what"]: one for one in look_at(desk, first)["questions"]}
    meant = asked["site"]["options"][0]["value"]
    put(desk, first, "answers", answers={asked["variety"]["key"]: "as_told", asked["site"]["key"]: meant})
    columns = {"variety": "Variety", "kind": "Kind", "site": "Site"}
    put(desk, first, "form", columns=columns, area_id=str(desk.orchard.other_area_id), kind_id=str(uuid4()))
    assert desk.post("steward", f"/api/lists/{first}/drop", {}).status_code == 201

    mended = look_at(
        desk, send(desk, as_csv([*rows, ["Gala", "Apple", "Far Acre", "Bo"]]), name="trees2.csv")
    )
    other = look_at(
        desk, send(desk, as_csv([["Variety", "Kind", "Garden"], ["Galla", "Apple", "Long Meadow"]]))
    )

    assert mended["told"][0].startswith("Read as the list trees1.csv of ")
    assert {one["what"]: one["answer"] for one in mended["questions"]} == {
        "variety": "as_told",
        "site": meant,
    }
    assert (mended["counts"]["taken"], mended["counts"]["sites"], mended["counts"]["people"]) == (3, 1, 0)
    assert (other["told"], other["counts"]["asked"]) == ([], 1)


def test_an_answer_that_names_what_is_gone_since_is_asked_again(desk):
    rows = [HEADER[:3], ["Gala", "Apple", "Long Medow"]]
    first = send(desk, as_csv(rows))
    (asked,) = look_at(desk, first)["questions"]
    put(desk, first, "answers", answers={asked["key"]: str(uuid4())})

    again = look_at(desk, send(desk, as_csv([*rows, rows[1]])))

    assert [one["answer"] for one in again["questions"]] == [""]
