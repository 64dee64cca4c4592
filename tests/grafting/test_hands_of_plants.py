"""Plants change hands as wood does: whoever has or had one is found by traces and recalls."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

import pytest

from service.grafting import actions, queries
from service.grafting.rules import (
    AlreadyWithThem,
    BeforeTheGraft,
    NoSuchReceiverOfPlant,
    NotPassedOn,
    NotYourPlant,
    PlantInHand,
    PlantIsATree,
    PlantIsGone,
    PlantIsStopped,
    PlantIsVoid,
    PlantMoveKind,
    PlantState,
    can_pass_on,
    check_can_pass_on,
    holder_after,
)
from service.grafting.schemas import PlantMoveCreate
from service.lib.errors import Problem
from service.lib.paging import Paging
from service.lib.write import Writer
from service.members.rules import CrossesArea
from service.provenance.queries import trace_around, trace_forward
from service.storage.queries import resolve_codes
from tests.builders.bundles import settle
from tests.builders.members import make_party, make_permit
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import make_site, make_tree
from tests.infra.cast import Cast
from tests.infra.statements import Statements


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def plant_id(yard: Yard) -> UUID:
    (bundle,) = yard.cut(8)
    return yard.graft(bundle.id, holder_id=yard.cast.member.party_id).plants[0].id


def pass_on(yard: Yard, plant_id: UUID, who: str = "steward", **told):
    kind = {} if "party_id" in told or "kind" in told else {"kind": "returned"}
    body = PlantMoveCreate(plant_id=plant_id, **kind, **told)
    return yard.writer.write_now(actions.pass_on_plants, yard.cast.asker(who), [body])[0]


def plant_of(yard: Yard, plant_id: UUID):
    with yard.database.reading() as session:
        return queries.get_plant(session, plant_id)


HERE, THEY = UUID(int=1), UUID(int=2)
OVER, OUT, BACK, DIED = PlantMoveKind


def in_hand(**given) -> PlantInHand:
    return PlantInHand(
        **{"id": UUID(int=9), "number": 4, "state": PlantState.TOOK, "holder_id": HERE, "source_tree_id": None, "open_stops": 0, **given}
    )  # fmt: skip


@pytest.mark.parametrize(
    "plant, kind, to, refused",
    [
        (in_hand(), OVER, THEY, None),
        (in_hand(), OVER, HERE, AlreadyWithThem),
        (in_hand(), OUT, None, None),
        (in_hand(), BACK, None, None),
        (in_hand(holder_id=None), BACK, None, NotPassedOn),
        (in_hand(open_stops=1), OVER, THEY, PlantIsStopped),
        (in_hand(open_stops=1), OUT, None, PlantIsStopped),
        (in_hand(open_stops=1), BACK, None, PlantIsStopped),
        (in_hand(open_stops=1), DIED, None, None),
        (in_hand(state=PlantState.GONE), OVER, THEY, PlantIsGone),
        (in_hand(state=PlantState.GONE, holder_id=None, went_outside=True), BACK, None, None),
        (in_hand(state=PlantState.VOID), DIED, None, PlantIsVoid),
        (in_hand(source_tree_id=THEY), OVER, THEY, PlantIsATree),
    ],
    ids=[
        "to-another", "to-themselves", "outside", "back", "back-of-clubs-own", "stopped-over", "stopped-out", "stopped-back",
        "stopped-dies", "gone", "back-from-outside", "void", "tree",
    ],
)  # fmt: skip
def test_what_forbids_passing_a_plant_on(
    plant: PlantInHand, kind: PlantMoveKind, to: UUID | None, refused: type[Problem] | None
) -> None:
    assert can_pass_on(plant, kind, to) is (refused is None)
    if refused is not None:
        with pytest.raises(refused):
            check_can_pass_on(plant, kind, to)


def test_who_has_it_then() -> None:
    assert [holder_after(kind, HERE, THEY) for kind in PlantMoveKind] == [THEY, None, None, HERE]


def test_a_plant_goes_from_hand_to_hand_and_its_way_stays_written(yard: Yard, plant_id: UUID) -> None:
    pass_on(yard, plant_id, party_id=yard.cast.guest_id)
    pass_on(yard, plant_id, reason="no room")
    pass_on(yard, plant_id, kind="given_outside", to_whom="a garden in the next village")
    assert plant_of(yard, plant_id).state is PlantState.GONE
    pass_on(yard, plant_id)
    pass_on(yard, plant_id, party_id=yard.cast.host.party_id)
    pass_on(yard, plant_id, kind="died", reason="dried out")

    with yard.database.reading() as session:
        moves = queries.list_plant_moves(session, plant_id, Paging(), with_names=True).items
    member, guest, host = yard.cast.member.party_id, yard.cast.guest_id, yard.cast.host.party_id
    assert [(one.from_party_id, one.party_id) for one in moves] == [
        (member, guest), (guest, None), (None, None), (None, None), (None, host), (host, host),
    ]  # fmt: skip
    assert moves[2].words == "Given outside the club: a garden in the next village."
    after = plant_of(yard, plant_id)
    assert (after.holder_id, after.state) == (host, PlantState.GONE)


def test_a_plant_that_took_and_comes_back_from_outside_took_still(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    graft = yard.graft(bundle.id)
    yard.took(graft.id)
    plant_id = graft.plants[0].id

    pass_on(yard, plant_id, kind="given_outside", to_whom="a garden in the next village")
    pass_on(yard, plant_id)

    assert plant_of(yard, plant_id).state is PlantState.TOOK


def test_who_may_not_know_people_hears_of_each_move_but_no_name(yard: Yard, plant_id: UUID) -> None:
    pass_on(yard, plant_id, party_id=yard.cast.guest_id)
    pass_on(yard, plant_id, kind="given_outside", to_whom="Miss Amberley, next door")

    with yard.database.reading() as session:
        moves = queries.list_plant_moves(session, plant_id, Paging(), with_names=False).items

    assert [(one.from_party, one.party, one.to_whom) for one in moves] == [(None, None, ""), (None, None, "")]
    assert [one.words for one in moves] == ["Handed over to somebody.", "Given outside the club."]


def test_a_recall_finds_everybody_a_plant_was_ever_with(yard: Yard, plant_id: UUID) -> None:
    pass_on(yard, plant_id, party_id=yard.cast.guest_id)
    pass_on(yard, plant_id, party_id=yard.cast.collector.party_id)
    other = plant_id
    pass_on(yard, other, kind="given_outside", to_whom="the parish school")

    stop = yard.stop()
    recall = yard.recall(stop.stop.id)

    ties = {one.party_id: {tie.tie for tie in one.ties} for one in stop.to_tell}
    for party in (yard.cast.member.party_id, yard.cast.guest_id, yard.cast.collector.party_id):
        assert "had_plant" in ties[party]
    assert {yard.cast.member.party_id, yard.cast.guest_id} <= {one.party_id for one in recall.people}
    outside = [one for one in recall.unknown_takers if one.plant_id == plant_id]
    assert [one.how for one in outside] == ["outside"]
    assert "the parish school" in outside[0].told
    with yard.database.reading() as session:
        trace = trace_forward(session, "tree", yard.tree_id)
        near = trace_around(session, trace, with_names=True)
    held = {(one.party_id, one.now) for one in near.held_by if one.plant_id == plant_id}
    assert {party for party, _ in held} == {
        yard.cast.member.party_id, yard.cast.guest_id, yard.cast.collector.party_id,
    }  # fmt: skip
    assert not any(now for _, now in held)


def test_a_plant_crosses_no_boundary_without_the_authoritys_answer(yard: Yard, plant_id: UUID) -> None:
    far = make_party(yard.writer, "Olle Brandt").id
    settle(yard.writer, yard.orchard.other_area_id, far)

    with pytest.raises(CrossesArea):
        pass_on(yard, plant_id, party_id=far)
    settle(yard.writer, None, far)
    with pytest.raises(CrossesArea, match="not recorded"):
        pass_on(yard, plant_id, party_id=far)

    assert plant_of(yard, plant_id).holder_id == yard.cast.member.party_id


def test_a_plant_does_not_come_back_from_another_area_without_an_answer_for_that_way_either(
    yard: Yard, plant_id: UUID
) -> None:
    here, there = yard.orchard.area_id, yard.orchard.other_area_id
    far = make_party(yard.writer, "Olle Brandt").id
    settle(yard.writer, there, far)
    make_permit(yard.writer, yard.cast.administrator, here, there)
    pass_on(yard, plant_id, party_id=far)

    with pytest.raises(CrossesArea) as told:
        pass_on(yard, plant_id, party_id=yard.cast.guest_id)

    assert (told.value.facts["from_area"], told.value.facts["to_area"]) == ("South Shore", "North Vale")


def test_a_plant_is_asked_about_for_every_wood_it_carries(yard: Yard, plant_id: UUID) -> None:
    here, there = yard.orchard.area_id, yard.orchard.other_area_id
    site = make_site(yard.writer, yard.cast.steward, there)
    tree = make_tree(yard.writer, yard.cast.steward, yard.orchard, site_id=site.id)
    answer = make_permit(yard.writer, yard.cast.administrator, there, here)
    (bundle,) = yard.cut(4, tree_id=tree.id)
    yard.graft(bundle.id, plants=0, plant_id=plant_id)
    taken_back = {"id": uuid4(), "allows": False, "answered_on": answer.answered_on}
    make_permit(yard.writer, yard.cast.administrator, there, here, **taken_back)

    with pytest.raises(CrossesArea) as told:
        pass_on(yard, plant_id, party_id=yard.cast.guest_id)

    assert (told.value.facts["from_area"], told.value.facts["to_area"]) == ("South Shore", "North Vale")


def test_a_stopped_plant_stays_but_its_death_is_written_down(yard: Yard, plant_id: UUID) -> None:
    yard.stop()

    with pytest.raises(PlantIsStopped):
        pass_on(yard, plant_id, party_id=yard.cast.guest_id)
    pass_on(yard, plant_id, kind="died")

    after = plant_of(yard, plant_id)
    assert (after.state, after.open_stops) == (PlantState.GONE, 1)


def test_members_pass_on_their_own_plants_only(yard: Yard, plant_id: UUID) -> None:
    pass_on(yard, plant_id, "member", party_id=yard.cast.guest_id)

    with pytest.raises(NotYourPlant):
        pass_on(yard, plant_id, "member")


def test_nobody_gets_a_plant_who_is_not_in_the_record_nor_before_it_was_grafted(
    yard: Yard, plant_id: UUID
) -> None:
    with pytest.raises(NoSuchReceiverOfPlant):
        pass_on(yard, plant_id, party_id=uuid4())
    with pytest.raises(BeforeTheGraft):
        pass_on(
            yard, plant_id, party_id=yard.cast.guest_id, done_at=yard.writer.clock.now() - timedelta(days=3)
        )


def test_twenty_plants_change_hands_in_no_more_statements_than_one(
    yard: Yard, statements: Statements
) -> None:
    (bundle,) = yard.cut(30)
    plants = [plant.id for plant in yard.graft(bundle.id, plants=21, grafts=21).plants]
    moves = [PlantMoveCreate(plant_id=one, party_id=yard.cast.guest_id) for one in plants]
    statements.clear()
    yard.writer.write_now(actions.pass_on_plants, yard.cast.steward, moves[:1])
    for_one = len(statements)

    with statements.at_most(for_one):
        yard.writer.write_now(actions.pass_on_plants, yard.cast.steward, moves[1:])


def test_plants_change_hands_over_http_by_their_tags(yard: Yard, plant_id: UUID, client) -> None:
    code = plant_of(yard, plant_id).code
    body = [{"code": code, "party_id": str(yard.cast.guest_id), "reason": "for their garden"}]

    made = client("steward").post("/api/plant-moves", json=body)
    moves = client("steward").get(f"/api/plants/{plant_id}/moves")

    assert made.status_code == 201, made.text
    assert made.json()[0]["words"].startswith("Handed over to ")
    assert moves.json()["count"] == 1
    assert (
        client("steward").post("/api/plant-moves", json=body).json()["type"] == "/problems/already-with-them"
    )
    assert client("steward").post("/api/plant-moves", json=[{"code": code}]).status_code == 422
    assert client("member").get(f"/api/plants/{plant_id}/moves").status_code == 403
    assert client("stranger").post("/api/plant-moves", json=body).status_code == 401
    with yard.database.reading() as session:
        assert resolve_codes(session, {code: "code"})[code][1] == plant_id
