"""A club's own table of grafts that were made. The club, its people and its places are invented."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from service.bundles import queries as bundle_queries
from service.bundles.tables import Bundle, StickMove
from service.catalogue.tables import GraftingMethod
from service.collection.tables import Collection
from service.grafting import actions as grafting_actions
from service.grafting import queries as grafting_queries
from service.grafting.schemas import TakeCheckCreate
from service.grafting.tables import Graft, Plant, TakeCheck
from service.lib.codes import make_code
from service.lists.routes import router
from service.members import actions as member_actions
from service.members.schemas import PartyCreate
from service.tags import actions as tag_actions
from service.tags.schemas import LabelledReceiptCreate
from service.trees.tables import TreeVariety
from tests.builders.trees import _add, make_orchard, make_tree
from tests.lists.moving import as_csv, every_row, look_at, put, send, take
from tests.storage.desk import Desk

HEADER = ["Date", "Scion variety", "Kind", "Bundle code", "Donor", "Sticks", "Rootstock", "Tree", "Technique", "How many", "Plants",
          "Grafted by", "Took", "Date judged", "Bed", "Notes"]  # fmt: skip


@pytest.fixture
def desk(database, writer, clock) -> Desk:
    desk = Desk(database, writer, clock, router)
    steward: Any = desk.askers["steward"]
    desk.orchard = make_orchard(writer, steward)  # type: ignore[attr-defined]
    method = GraftingMethod(
        slug="whip-and-tongue", name="Whip and tongue", family="graft", verdict_weeks_from=8, verdict_weeks_to=12,
        source="common practice, no source", mark="common practice, no source",
    )  # fmt: skip
    writer.write_now(_add, None, [method])
    told = [PartyCreate(name="Tilde Ashgrove", area_id=desk.orchard.area_id)]
    (desk.tilde,) = writer.write_now(member_actions.add_parties, steward, told)  # type: ignore[attr-defined]
    return desk


def row(**told: str) -> list[str]:
    known = {
        "Date": "5.4.2025",
        "Scion variety": "Gala",
        "Kind": "Apple",
        "Rootstock": "M.9",
        "How many": "3",
    }
    return [{**known, **told}.get(name, "") for name in HEADER]


def graft_list(desk: Desk, *rows: list[str]) -> str:
    return send(desk, as_csv([HEADER, *rows]), sort="grafts")


def everything(database, table) -> list[Any]:
    with database.reading() as session:
        return list(session.execute(select(table)).scalars())


def clean(database) -> bool:
    with database.reading() as session:
        return bundle_queries.audit(session).clean


def back(desk: Desk, list_id: str) -> Any:
    return desk.post("steward", f"/api/lists/{list_id}/take-back", {"reason": "the wrong file"})


def test_grafts_of_wood_that_is_not_in_the_record_come_with_a_receipt_that_says_so(desk, database):
    list_id = graft_list(
        desk,
        row(**{"Donor": "a visitor", "Technique": "whip and tongue", "Took": "2 of 3", "Date judged": "1.8.2025",
               "Grafted by": "Tilde Ashgrove", "Bed": "nursery bed 2"}),
        row(**{"Technique": "by the old book", "Rootstock": "a wild one", "How many": "1", "Took": "not judged", "Notes": "by the wall"}),
    )  # fmt: skip
    seen = look_at(desk, list_id)
    assert seen["counts"]["taken"] == 2, (seen["report"], seen["questions"])

    taken = take(desk, list_id)

    assert taken.status_code == 201, taken.text
    first, second = sorted(everything(database, Graft), key=lambda one: one.number)
    assert (first.grafts, first.method, first.rootstock_id) == (3, "whip-and-tongue", desk.orchard.m9_id)
    assert (first.for_party_id, first.by_party_id) == (desk.tilde.id, desk.party("steward"))
    assert first.done_at.date() == date(2025, 4, 5)
    assert (second.method, second.stock_as_told) == ("", "a wild one")
    assert second.note == "by the wall\nMethod in the old list: by the old book"
    receipts = sorted(everything(database, Collection), key=lambda one: one.number)
    assert [(one.kind, one.sticks, one.from_whom) for one in receipts] == [
        ("receipt", 3, "a visitor"), ("receipt", 1, "not told in the list of grafts"),
    ]  # fmt: skip
    assert all("used up before it was in the record" in one.note for one in receipts)
    assert [one.came_in - one.grafted for one in everything(database, Bundle)] == [0, 0]
    (look,) = everything(database, TakeCheck)
    assert (look.alive, look.looked_at, look.is_verdict, look.seen_on) == (2, 3, True, date(2025, 8, 1))
    plants = everything(database, Plant)
    assert [one.graft_id for one in plants].count(first.id) == 3 and len(plants) == 4
    assert {one.holder_id for one in plants if one.graft_id == first.id} == {desk.tilde.id}
    assert {one.note for one in plants} == {"nursery bed 2", ""}
    assert clean(database)


def make_wood(desk, writer) -> Any:
    receipt = {
        "cultivar_id": desk.orchard.gala_id,
        "sticks": 5,
        "from_whom": "a visitor",
        "done_at": "2025-02-01T12:00:00Z",
    }
    body = LabelledReceiptCreate.model_validate({"receipt": receipt})
    (made,) = writer.write_now(tag_actions.receive_and_label, desk.askers["steward"], [body])
    return made.bundles[0]


def test_wood_of_the_record_is_taken_from_its_bundle_and_not_more_than_there_is(desk, database, writer):
    bundle = make_wood(desk, writer)
    list_id = graft_list(
        desk,
        row(**{"Bundle code": bundle.code, "Scion variety": "", "Kind": "", "Sticks": "2"}),
        row(**{"Bundle code": bundle.code, "Sticks": "4"}),
        row(**{"Bundle code": make_code()}),
    )
    before = every_row(database)

    refused = take(desk, list_id)

    assert refused.status_code == 409, refused.text
    assert refused.json()["facts"]["lines"] == [3, 4]
    assert every_row(database) == before
    assert take(desk, list_id, leave_refused=True).json()["brought"] == 1
    (kept,) = [one for one in everything(database, Bundle) if one.id == bundle.id]
    assert (kept.came_in, kept.grafted) == (5, 2)
    assert clean(database)


def test_what_a_row_does_not_tell_or_tells_wrongly_is_refused_with_its_column(desk):
    list_id = graft_list(
        desk,
        row(Date=""),
        row(Date="1.3.2026"),
        row(Rootstock=""),
        row(Tree="99"),
        row(Took="4 of 3"),
        row(Took="perhaps"),
        row(Plants="4"),
        row(**{"How many": "0"}),
    )

    report = look_at(desk, list_id)["report"]

    assert [(one["line"], one["column"]) for one in report] == [
        (2, "Date"), (3, "Date"), (4, "Rootstock"), (5, "Tree"), (6, "Took"), (7, "Took"), (8, "Plants"), (9, "How many"),
    ]  # fmt: skip
    assert all(one["words"] and one["todo"] for one in report)


def test_a_verdict_before_its_day_is_refused_by_the_record(desk, database):
    list_id = graft_list(
        desk,
        row(
            **{"Technique": "whip and tongue", "Took": "yes", "Date": "1.2.2026", "Date judged": "10.2.2026"}
        ),
    )

    answer = take(desk, list_id)

    assert answer.status_code == 409 and answer.json()["facts"]["lines"] == [2], answer.text
    assert "judged from" in answer.json()["detail"]
    assert everything(database, Graft) == []


def test_a_list_of_grafts_goes_back_sticks_plants_and_receipts(desk, database, writer):
    bundle = make_wood(desk, writer)
    list_id = graft_list(
        desk,
        row(**{"Bundle code": bundle.code, "Sticks": "2", "Took": "2"}),
        row(**{"Took": "no", "How many": "1"}),
    )
    assert take(desk, list_id).status_code == 201

    answer = back(desk, list_id)

    assert answer.status_code == 201, answer.text
    assert answer.json()["told"] == [
        "2 grafts are taken back, 4 plants are void, 1 bundle is counted to nothing; the ledger keeps every line."
    ]
    assert all(one.taken_back_at for one in everything(database, Graft))
    assert {one.state for one in everything(database, Plant)} == {"void"}
    on_hand = {one.id: one.came_in - one.grafted for one in everything(database, Bundle)}
    assert on_hand.pop(bundle.id) == 5 and set(on_hand.values()) == {0}
    kinds = [one.kind for one in sorted(everything(database, StickMove), key=lambda one: one.seq)]
    assert kinds.count("graft_undone") == 2 and kinds.count("corrected") == 1
    assert clean(database)


def test_grafts_that_somebody_looked_at_since_keep_their_list(desk, database, writer, clock):
    list_id = graft_list(desk, row())
    assert take(desk, list_id).status_code == 201
    (graft,) = everything(database, Graft)
    clock.move(timedelta(minutes=1))
    look = TakeCheckCreate(graft_id=graft.id, alive=3, looked_at=3)
    writer.write_now(grafting_actions.record_take_checks, desk.askers["steward"], [look])
    before = every_row(database)

    answer = back(desk, list_id)

    assert answer.status_code == 409, answer.text
    assert answer.json()["detail"] == f"Line 2, graft {graft.number}: it was looked at."
    assert every_row(database) == before


def test_a_tree_that_carries_the_variety_since_keeps_the_list(desk, database, writer):
    tree = make_tree(writer, desk.askers["steward"], desk.orchard, cultivar_id=desk.orchard.bramley_id)
    list_id = graft_list(
        desk, row(**{"Rootstock": "", "Tree": str(tree.number), "Took": "yes", "How many": "2"})
    )
    assert take(desk, list_id).status_code == 201
    assert [one.cultivar_id for one in everything(database, TreeVariety)] == [desk.orchard.gala_id]
    assert everything(database, Plant) == []

    answer = back(desk, list_id)

    assert answer.status_code == 409, answer.text
    assert "its tree carries the variety since" in answer.json()["detail"]


def test_a_look_told_without_its_day_is_of_today_and_says_so(desk, database):
    list_id = graft_list(desk, row(Took="yes"))
    assert take(desk, list_id).status_code == 201

    (look,) = everything(database, TakeCheck)

    assert (look.alive, look.seen_on) == (3, date(2026, 2, 14))
    assert "does not say when" in look.note
    with database.reading() as session:
        (graft,) = everything(database, Graft)
        assert grafting_queries.get_graft(session, graft.id).take is not None


def test_days_that_could_be_two_days_are_asked_once_for_their_column(desk, database):
    list_id = graft_list(desk, row(Date="3/4/2025"), row(Date="5/4/2025"))
    (question,) = look_at(desk, list_id)["questions"]
    assert (question["what"], question["spelling"]) == ("days", "Date")
    assert [one["words"] for one in question["options"]] == [
        "3/4/2025 is 3 April", "3/4/2025 is 4 March", "leave these rows out",
    ]  # fmt: skip
    assert take(desk, list_id).status_code == 422

    put(desk, list_id, "answers", answers={question["key"]: "mdy"})

    assert take(desk, list_id).status_code == 201
    assert sorted(one.done_at.date() for one in everything(database, Graft)) == [
        date(2025, 3, 4),
        date(2025, 5, 4),
    ]


def test_days_of_which_one_tells_the_order_are_not_asked(desk, database):
    list_id = graft_list(desk, row(Date="3/4/2025"), row(Date="4/13/2025"))

    assert look_at(desk, list_id)["questions"] == []
    assert take(desk, list_id).status_code == 201
    assert sorted(one.done_at.date() for one in everything(database, Graft)) == [
        date(2025, 3, 4),
        date(2025, 4, 13),
    ]


def test_an_answer_that_is_meant_for_another_question_answers_nothing(desk):
    list_id = graft_list(desk, row(**{"Scion variety": "Galla"}))
    (question,) = look_at(desk, list_id)["questions"]

    for wrong in ("mdy", "new"):
        put(desk, list_id, "answers", answers={question["key"]: wrong})

        assert [one["answer"] for one in look_at(desk, list_id)["questions"]] == [""]
