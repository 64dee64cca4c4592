"""Pages of plants that change hands, come back, or die."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest

from service.grafting import queries
from service.lib.paging import Paging
from service.members.queries import list_party_names
from tests.bad_input.desk import check_page, typed_in, words_of
from tests.builders.members import make_party
from tests.builders.provenance import Yard, make_yard
from tests.pages.desk import fresh, opened, read, send, told_next


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def plant(yard):
    """A plant that the member has."""
    (bundle,) = yard.cut(8)
    return yard.graft(bundle.id, holder_id=yard.cast.member.party_id).plants[0]


def pass_on(plant) -> str:
    return f"/plants/{plant.id}/pass-on"


def stands(yard, plant):
    with yard.database.reading() as session:
        moves = queries.list_plant_moves(session, plant.id, Paging(), with_names=True).items
        return queries.get_plant(session, plant.id), moves


def tell(browser, plant, **typed: str):
    return send(browser, pass_on(plant), opened(browser, pass_on(plant), **typed))


def test_a_plant_goes_to_somebody_found_by_a_part_of_the_name_and_the_page_says_so(yard, client, plant):
    steward = client("steward")
    assert pass_on(plant) in read(steward, f"/plants/{plant.id}").text
    yard.writer.clock.move(timedelta(days=20))

    answer = tell(
        steward,
        plant,
        kind="handed_over",
        party_id="pia",
        done_at="2026-03-01T15:30",
        reason="in a pot of 3 litres",
    )

    after = told_next(steward, answer)
    now, moves = stands(yard, plant)
    assert "Handed over to Pia Holm." in after
    assert "with Pia Holm" in after
    assert "1 March 2026, 15:30 Marta Quill : Handed over to Pia Holm. by Edda Morrow" in after
    assert "in a pot of 3 litres" in after
    assert (now.holder_id, [move.done_at for move in moves]) == (
        yard.cast.guest_id, [datetime(2026, 3, 1, 15, 30, tzinfo=UTC)],
    )  # fmt: skip


def test_a_new_guest_is_recorded_with_the_plant_or_not_at_all(yard, client, plant):
    steward, far = client("steward"), str(yard.orchard.other_area_id)

    refused = tell(steward, plant, kind="handed_over", guest="Ivo Lind", guest_area=far)

    # From one plant-health area into another nothing goes without the authority's answer.
    check_page(refused, 409, "Nothing was written.", keeps={"guest": "Ivo Lind", "kind": "handed_over"})
    assert "Ivo Lind" not in names(yard)
    near = str(yard.orchard.area_id)
    form = opened(steward, pass_on(plant), kind="handed_over", guest="Ivo Lind", guest_area=near)
    first, again = send(steward, pass_on(plant), form), send(steward, pass_on(plant), form)
    assert "Handed over to Ivo Lind." in told_next(steward, first)
    assert again.status_code == 303
    assert names(yard).count("Ivo Lind") == 1
    assert len(stands(yard, plant)[1]) == 1


def names(yard) -> list[str]:
    with yard.database.reading() as session:
        return [party.name for party in list_party_names(session, Paging(limit=100)).items]


def test_a_plant_leaves_the_club_and_comes_back(yard, client, plant):
    steward = client("steward")

    gone = told_next(steward, tell(steward, plant, kind="given_outside", to_whom="a fair at Weir End"))
    page = read(steward, pass_on(plant))
    back = told_next(steward, tell(steward, plant))

    assert "‘Gala’: it left the club" in gone
    assert "Given outside the club: a fair at Weir End." in gone
    assert "Did it come back?" in words_of(page)
    assert typed_in(page.text)["kind"] == ["returned"]
    assert "Returned to the club." in back
    assert "with the club" in back
    assert "There is no such way" not in back


def test_a_plant_said_to_be_dead_may_be_there_after_all(yard, client, plant):
    steward = client("steward")

    dead = told_next(steward, tell(steward, plant, kind="died", reason="frost"))
    alive = told_next(steward, tell(steward, plant))

    assert "‘Gala’: it died" in dead
    assert "It is there after all" in dead
    assert "‘Gala’: not judged yet" in alive
    assert stands(yard, plant)[0].holder_id == yard.cast.member.party_id


def test_that_it_is_there_after_all_is_refused_where_somebody_wrote_meanwhile(yard, client, plant):
    steward = client("steward")
    tell(steward, plant, kind="died")
    form = opened(steward, pass_on(plant))
    tell(steward, plant)
    tell(steward, plant, kind="died")

    refused = send(steward, pass_on(plant), form)

    check_page(refused, 412, "It changed since you read it", keeps={"kind": "there"})
    told_next(steward, send(steward, pass_on(plant), {**form, **fresh(refused)}))


def test_a_member_passes_on_their_own_plant_without_seeing_the_list_of_people(yard, client, plant, writer):
    make_party(writer, "Ruth Alder")
    member = client("member")
    (other,) = yard.graft(yard.cut(4)[0].id).plants
    page = read(member, pass_on(plant))

    typed = send(
        member, pass_on(plant), {**fresh(page), "kind": "handed_over", "party_id": "Ruth Alder", "guest": "X"}
    )
    gone = tell(member, plant, kind="given_outside", to_whom="my neighbour")

    assert "Ruth Alder" not in page.text
    assert "handed_over" not in page.text
    check_page(typed, 422, "Choose one from the list", "Nothing was written.")
    assert "X" not in names(yard)
    # The plant was made for somebody else, and is no longer with them: its page is not theirs to see.
    assert gone.headers["location"] == "/bench"
    assert "Given outside the club" in told_next(member, gone)
    assert read(member, pass_on(other)).status_code == 403


def test_a_stopped_plant_stays_but_may_be_said_to_have_died(yard, client, plant):
    yard.stop()
    steward = client("steward")
    page = read(steward, pass_on(plant))

    refused = send(steward, pass_on(plant), {**fresh(page), "kind": "handed_over", "party_id": str(yard.cast.guest_id)})  # fmt: skip

    assert "This plant is stopped: it stays where it stands" in words_of(page)
    assert typed_in(page.text)["kind"] == ["died"]
    check_page(refused, 409, "Leave it where it stands until the stop is released")
    assert "‘Gala’: it died" in told_next(steward, tell(steward, plant))
    assert stands(yard, plant)[0].open_stops == 1


@pytest.mark.parametrize(
    ("typed", "at", "says"),
    [
        ({"kind": ""}, "kind", "choose what becomes of it"),
        ({"kind": "thrown"}, "kind", "choose what becomes of it"),
        ({"kind": "handed_over"}, "party_id", "choose who takes them"),
        ({"kind": "handed_over", "party_id": "nobody of that name"}, "party_id", "nothing in the list goes by"),
        ({"kind": "died", "done_at": "2026-02-15T10:00"}, "done_at", "It is said to be done on 15 February 2026"),
        ({"kind": "died", "done_at": "2026-02-13T10:00"}, "done_at", "was grafted on 14 February 2026, 10:00"),
    ],
    ids=["nothing", "no-such", "nobody", "unknown", "future", "before-the-graft"],
)  # fmt: skip
def test_what_cannot_be_is_told_at_its_field_with_all_that_was_typed(yard, client, plant, typed, at, says):
    steward = client("steward")

    answer = tell(steward, plant, **typed, reason="by hand")

    told = check_page(answer, 422, "Nothing was written.", at=at, keeps={"reason": "by hand"})
    assert says.lower() in told.lower()
    assert "UTC" not in told
    assert stands(yard, plant)[1] == []


def test_a_look_tells_what_was_lost_to_something_else(yard, client, plant):
    steward, at = client("steward"), f"/grafts/{plant.graft_id}"
    told = opened(steward, at, alive="0", looked_at="1", is_verdict="true", other_cause="1")
    refused = send(steward, f"{at}/look", told)
    check_page(refused, 422, "lost to is not told", at="cause", keeps={"other_cause": "1"})

    assert send(steward, f"{at}/look", {**told, "cause": "stock_died"}).status_code == 303

    assert "0 of 1 live, 1 lost otherwise (stock died), the verdict" in words_of(read(steward, at))


def test_what_grows_as_a_source_tree_is_passed_on_as_a_tree(yard, client, plant):
    steward = client("steward")
    yard.writer.clock.move(timedelta(weeks=10))  # by then its method lets a take be judged
    look = opened(steward, f"/grafts/{plant.graft_id}", alive="1", looked_at="1", is_verdict="true")
    assert send(steward, f"/grafts/{plant.graft_id}/look", look).status_code == 303
    planted = {**opened(steward, f"/plants/{plant.id}"), "site_id": "long meadow", "may_cut": "ask"}
    planted["site_id"] = str(yard.orchard.site_id)
    assert send(steward, f"/plants/{plant.id}/source-tree", planted).status_code == 303

    page = words_of(read(steward, pass_on(plant)))

    assert pass_on(plant) not in read(steward, f"/plants/{plant.id}").text
    assert "This plant is a source tree now" in page
    assert "Who looks after it is changed on the tree's page." in page


def test_the_scanned_tag_leads_to_passing_on_where_that_may_be_done(yard, client, plant, writer):
    seen = {who: read(client(who), f"/T/{plant.code}").text for who in ("stranger", "member", "host")}
    other = yard.graft(yard.cut(4)[0].id).plants[0]
    seen_by_member = read(client("member"), f"/T/{other.code}").text
    yard.stop()

    offered = {who: pass_on(plant) in page for who, page in seen.items()}
    assert offered == {"stranger": False, "member": True, "host": True}
    assert "/plants/" not in seen_by_member  # what they may not open is not offered
    assert pass_on(plant) not in read(client("steward"), f"/T/{plant.code}").text


def test_who_writes_it_for_whom_is_kept(yard, client, plant, writer):
    ruth = make_party(writer, "Ruth Alder", area_id=yard.orchard.area_id)

    answer = tell(client("host"), plant, kind="handed_over", party_id=str(ruth.id), on_behalf_of=str(ruth.id))

    assert "Written for Ruth Alder." in told_next(client("host"), answer)
    (move,) = stands(yard, plant)[1]
    assert (move.by_party_id, move.for_party_id) == (yard.cast.host.party_id, ruth.id)
    assert isinstance(move.party_id, UUID)
