"""What a scan says: to strangers, members and volunteers, from the card that every change renews."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import select, text

from service.catalogue import actions as catalogue
from service.catalogue.schemas import CultivarUpdate, ProtectionSet
from service.exchange import actions as exchange
from service.exchange.schemas import HandOverCreate
from service.lib.codes import ALPHABET, check_sign, make_code
from service.members.rules import May
from service.provenance import actions
from service.provenance.rules.offers import Act, Level
from service.provenance.tables import AnswerCard
from service.storage import actions as storage
from service.storage.schemas import BoxCreate, BundleCheckCreate, PutAwayCreate, StoreCreate
from service.tags import actions as tags
from service.tags.rules.words import MistypedCode, TagKind, TagState, UnknownTag
from tests.builders.provenance import Yard
from tests.builders.trees import look
from tests.infra.cast import NAMES
from tests.infra.statements import Statements


def test_a_stranger_hears_the_wood_and_its_state(yard: Yard) -> None:
    (bundle,) = yard.cut(8)

    told = yard.scan(bundle.code)

    assert told.level is Level.STRANGER
    assert told.answer == "This is ‘Gala’, apple: dormant wood cut on 14 February 2026. 8 sticks are on hand."
    assert told.card["name"]["full"] == "Malus domestica ‘Gala’"
    assert told.card["state"] == "ready"
    assert told.card["origin"]["words"].startswith("Cut from tree 1 in the lower valley")
    assert told.card["sticks"]["words"] == "8 sticks on hand, of 8 when it was tied."
    assert (told.thing_id, told.more, told.offers) == (None, {}, [])


def test_a_stranger_hears_no_person_and_no_place(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    store = yard.writer.write_now(
        storage.add_store,
        yard.cast.host,
        StoreCreate(name="Fridge at Fell's", host_id=yard.cast.host.party_id, whereabouts="4 Mill Lane"),
    )
    yard.writer.write_now(
        storage.put_away, yard.cast.host, [PutAwayCreate(bundle_id=bundle.id, store_id=store.id)]
    )
    child = yard.hand_over(bundle.id, 3, yard.cast.guest_id)

    said = json.dumps(
        [yard.scan(code).model_dump(mode="json") for code in (bundle.code, child.code, store.code)]
    )

    secret = [
        *NAMES.values(),
        "Pia Holm",
        "Mill Lane",
        "Fell",
        "Long Meadow",
        str(bundle.id),
        str(yard.tree_id),
        str(yard.cast.guest_id),
    ]
    assert [word for word in secret if word in said] == []


def test_a_member_sees_more_and_only_volunteers_see_who_has_it(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    child = yard.hand_over(bundle.id, 3, yard.cast.guest_id)

    member, volunteer = yard.scan(child.code, "member"), yard.scan(child.code, "steward")

    assert (member.level, volunteer.level) == (Level.MEMBER, Level.VOLUNTEER)
    assert (member.more["on_hand"], member.more["held_by"]) == (3, None)
    assert volunteer.more["held_by"]["name"] == "Pia Holm"
    assert member.offers == []


def test_a_member_sees_that_wood_is_theirs(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    child = yard.hand_over(bundle.id, 3, yard.cast.member.party_id)

    told = yard.scan(child.code, "member")

    assert told.more["yours"] is True
    assert told.more["held_by"]["name"] == NAMES["member"]


def test_a_member_is_told_of_their_own_sticks_under_a_flag_which_copies_the_bundles_code(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    flag = yard.hand_over(bundle.id, 3, yard.cast.member.party_id, form="flag")
    yard.hand_over(bundle.id, 2, yard.cast.guest_id, form="flag")

    told = yard.scan(bundle.code, "member").more
    others = yard.scan(bundle.code, "collector").more

    assert (told["yours"], told["own_flag"]) == (False, {"bundle_id": flag.id, "sticks": 3})
    assert others["own_flag"] is None


def test_an_offer_is_what_the_action_allows(yard: Yard) -> None:
    (bundle,) = yard.cut(2)
    free = {offer.act: offer for offer in yard.scan(bundle.code, "steward").offers}
    yard.stop()

    stopped = {offer.act: offer for offer in yard.scan(bundle.code, "steward").offers}

    assert all(
        free[act].allowed
        for act in (Act.SPLIT, Act.HAND_OVER, Act.GRAFT, Act.PUT_AWAY, Act.DISCARD, Act.COUNT)
    )
    assert [
        act
        for act in (Act.SPLIT, Act.HAND_OVER, Act.GRAFT, Act.PUT_AWAY, Act.DISCARD)
        if stopped[act].allowed
    ] == []
    assert stopped[Act.COUNT].allowed
    assert stopped[Act.SPLIT].why_not
    with pytest.raises(Exception, match="stop"):
        yard.hand_over(bundle.id, 1, yard.cast.guest_id)


@pytest.mark.parametrize("who", ["member", "collector", "host", "steward", "health_steward", "administrator"])
def test_nothing_is_offered_that_the_role_may_not_do(yard: Yard, who: str) -> None:
    (bundle,) = yard.cut(2)
    rights = yard.cast.asker(who).may

    offered = {offer.act for offer in yard.scan(bundle.code, who).offers}

    needed = {
        Act.LOOK: May.BUNDLE_CHECKS, Act.PUT_AWAY: May.STORE, Act.SPLIT: May.STICKS, Act.HAND_OVER: May.HAND_OVER,
        Act.CUT_TO_LENGTH: May.STICKS, Act.COUNT: May.STICKS, Act.DISCARD: May.STICKS, Act.STOP: May.STOP,
        Act.PRINT: May.LABELS, Act.GRAFT: May.STICKS,  # the club's wood: a member grafts only their own
    }  # fmt: skip
    assert offered == {act for act, right in needed.items() if right in rights}


def test_the_card_follows_looks_hand_overs_returns_and_looks_at_the_tree(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.writer.write_now(
        storage.record_bundle_checks,
        yard.cast.host,
        [BundleCheckCreate(bundle_id=bundle.id, buds="tight", mould=False)],
    )
    look(yard.writer, yard.cast.steward, yard.tree_id, seen_on="2025-07-03")
    child = yard.hand_over(bundle.id, 3, yard.cast.guest_id)
    handed = yard.scan(child.code)
    yard.take_back(child.id)

    parent, back = yard.scan(bundle.code), yard.scan(child.code)

    assert parent.card["last_look"]["words"] == "The buds were tight and there was no mould."
    assert parent.card["tree_checks"][0]["words"] == "Seen healthy in leaf on 3 July 2025."
    assert parent.card["sticks"]["on_hand"] == 5
    assert handed.card["kept"] == "handed over to somebody who holds it"
    assert (back.card["sticks"]["returned"], back.card["sticks"]["handed_over"]) == (True, False)


def test_the_card_follows_the_name_and_the_rights_of_its_variety(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    gala, writer, steward = yard.orchard.gala_id, yard.writer, yard.cast.steward

    writer.write_now(catalogue.change_cultivar, steward, gala, 1, CultivarUpdate(epithet="Gala Rask"))
    protected = ProtectionSet(protection="protected", protected_until="2031-03-01")
    writer.write_now(catalogue.note_protection, steward, gala, 2, protected)

    told = yard.scan(bundle.code)
    assert told.answer.startswith("This is ‘Gala Rask’, apple")
    assert told.card["rights"][0].startswith("The variety is protected until 1 March 2031")


def test_a_stop_is_told_first_without_saying_which_disease(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.stop(agent="fire-blight")

    told = yard.scan(bundle.code)

    assert told.answer == (
        "Do not use this wood: a disease or pest is suspected, since 14 February 2026. It is ‘Gala’, apple."
    )
    assert told.card["state"] == "stopped"
    assert "plant-health authority" in told.card["stops"][0]["todo"]
    assert "Erwinia" not in told.model_dump_json()


def test_a_flag_has_a_card_that_names_its_parents_code(yard: Yard) -> None:
    (bundle,) = yard.cut(8)

    flag = yard.hand_over(bundle.id, 2, yard.cast.guest_id, form="flag")

    with yard.database.reading() as session:
        stored = session.execute(select(AnswerCard.body).where(AnswerCard.bundle_id == flag.id)).scalar_one()
    body = json.loads(stored)
    assert (body["is_flag"], body["code"], body["parent_code"]) == (True, bundle.code, bundle.code)


def test_a_lost_tag_still_answers_and_names_the_new_one(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    new = yard.writer.write_now(tags.replace_tag, yard.cast.steward, bundle.code)

    old = yard.scan(bundle.code)

    assert old.state is TagState.LOST
    assert old.replaced_by == new.tag.code
    assert old.answer.startswith("This tag was reported lost; ")
    assert "‘Gala’" in old.answer


def test_an_unknown_code_and_a_mistyped_one_are_told_apart(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    wrong = bundle.code[:-1] + next(s for s in ALPHABET if s != bundle.code[-1])

    with pytest.raises(UnknownTag):
        yard.scan(make_code())
    with pytest.raises(MistypedCode) as mistyped:
        yard.scan(wrong)
    with pytest.raises(MistypedCode) as short:
        yard.scan("7K3")

    assert mistyped.value.facts["suggestion"] == bundle.code
    assert "suggestion" not in short.value.facts
    assert check_sign(bundle.code[:-1]) == bundle.code[-1]


def test_a_tree_a_box_a_store_and_a_plant_answer_too(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    store = yard.writer.write_now(
        storage.add_store,
        yard.cast.host,
        StoreCreate(name="Barn", kind="cellar", host_id=yard.cast.host.party_id),
    )
    box = yard.writer.write_now(
        storage.add_box, yard.cast.host, BoxCreate(name="Red crate", store_id=store.id)
    )
    yard.writer.write_now(
        storage.put_away, yard.cast.host, [PutAwayCreate(bundle_id=bundle.id, into_box_id=box.id)]
    )
    graft = yard.graft(bundle.id)
    plant = graft.plants[0]
    tree_code = yard.writer.write_now(tags.bind_new_tags, yard.cast.steward, TagKind.TREE, [yard.tree_id])[
        yard.tree_id
    ]

    said = {
        kind: yard.scan(code)
        for kind, code in (
            ("box", box.code),
            ("store", store.code),
            ("plant", plant.code),
            ("tree", tree_code),
        )
    }

    assert said["box"].answer == "This is the box Red crate, with 1 bundle: ‘Gala’."
    assert said["box"].card["contents"] == [
        {"code": bundle.code, "name": "‘Gala’", "on_hand": 7, "stopped": False}
    ]
    assert said["store"].answer == "This cellar is a cold store of the club. 1 bundle and 1 box are in it."
    assert said["plant"].answer.startswith(
        f"This is plant {plant.number}: ‘Gala’, apple on M.9, grafted on 14 February 2026"
    )
    assert said["tree"].answer == "This is tree 1: ‘Gala’, apple. Ask the club before you cut wood from it."


def test_a_stop_speaks_from_every_thing_it_binds(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    store = yard.writer.write_now(
        storage.add_store, yard.cast.host, StoreCreate(name="Barn", host_id=yard.cast.host.party_id)
    )
    box = yard.writer.write_now(
        storage.add_box, yard.cast.host, BoxCreate(name="Red crate", store_id=store.id)
    )
    yard.writer.write_now(
        storage.put_away, yard.cast.host, [PutAwayCreate(bundle_id=bundle.id, into_box_id=box.id)]
    )
    plant = yard.graft(bundle.id).plants[0]
    tree_code = yard.writer.write_now(tags.bind_new_tags, yard.cast.steward, TagKind.TREE, [yard.tree_id])[
        yard.tree_id
    ]
    yard.stop()

    said = [yard.scan(code).answer for code in (box.code, plant.code, tree_code)]

    assert said[0].startswith("Take nothing out of this box: 1 bundle in it is stopped.")
    assert said[1].startswith("Leave this plant where it is: a disease or pest is suspected")
    assert said[2].startswith("Cut no wood from this tree: a disease or pest is suspected")


@pytest.mark.parametrize("who, budget", [("stranger", 2), ("member", 2), ("steward", 2)])
def test_a_scan_keeps_to_its_statements(yard: Yard, statements: Statements, who: str, budget: int) -> None:
    """Who asks costs one more, read by the sign-in before."""
    (bundle,) = yard.cut(8)
    store = yard.writer.write_now(
        storage.add_store, yard.cast.host, StoreCreate(name="Barn", host_id=yard.cast.host.party_id)
    )
    box = yard.writer.write_now(
        storage.add_box, yard.cast.host, BoxCreate(name="Red crate", store_id=store.id)
    )
    plant = yard.graft(bundle.id).plants[0]

    for code in (bundle.code, store.code, box.code, plant.code):
        with statements.at_most(budget):
            yard.scan(code, who)


def test_cards_cost_the_same_statements_for_one_and_for_forty(yard: Yard, statements: Statements) -> None:
    bundles = yard.cut(*[2] * 40)
    counts = []
    for some in (bundles[:1], bundles):
        statements.clear()
        yard.writer.write_now(_renew, None, frozenset(bundle.id for bundle in some))
        counts.append(len(statements))

    assert counts[0] == counts[1] <= 8


def _renew(session: object, ids: frozenset) -> None:
    actions.renew_cards(session, ids)


def test_a_hand_over_that_is_refused_leaves_the_card_as_it_was(yard: Yard) -> None:
    (bundle,) = yard.cut(3)
    before = yard.scan(bundle.code)
    body = HandOverCreate(bundle_id=bundle.id, sticks=9, party_id=yard.cast.guest_id)

    with pytest.raises(Exception, match="only 3"):
        yard.writer.write_now(exchange.hand_over, yard.cast.steward, [body])

    assert yard.scan(bundle.code) == before


def test_all_cards_can_be_written_anew(yard: Yard) -> None:
    bundles = yard.cut(3, 4)
    yard.writer.write_now(_spoil, None)

    assert yard.writer.write_now(_renew_all, None) == len(bundles)
    assert yard.scan(bundles[0].code).card["sticks"]["on_hand"] == 3


def _spoil(session: object) -> None:
    session.execute(text("update answer_card set body = '{}'"))


def _renew_all(session: object) -> int:
    return actions.renew_all_cards(session)


def test_over_http_a_copy_that_still_holds_gives_304(client, yard_over_http) -> None:
    code = yard_over_http
    first = client("stranger").get(f"/api/tags/{code}/answer")

    again = client("stranger").get(
        f"/api/tags/{code}/answer", headers={"If-None-Match": first.headers["ETag"]}
    )
    signed_in = client("steward").get(
        f"/api/tags/{code}/answer", headers={"If-None-Match": first.headers["ETag"]}
    )

    assert (first.status_code, again.status_code, signed_in.status_code) == (200, 304, 200)
    assert {"Cookie", "Authorization"} <= {part.strip() for part in first.headers["Vary"].split(",")}
    assert "no-cache" in first.headers["Cache-Control"]
    assert client("stranger").get(f"/api/tags/{make_code()}/answer").status_code == 404
    assert client("stranger").get("/api/tags/7K3/answer").status_code == 422


@pytest.mark.parametrize("who, budget", [("stranger", 2), ("member", 3), ("steward", 3)])
def test_over_http_a_scan_keeps_to_its_statements(
    client, yard_over_http, statements: Statements, who: str, budget: int
) -> None:
    asking = client(who)

    with statements.at_most(budget):
        assert asking.get(f"/api/tags/{yard_over_http}/answer").status_code == 200


@pytest.fixture
def yard_over_http(app, cast) -> str:
    """The code of a bundle in the running app."""
    from tests.builders.provenance import make_yard

    yard = make_yard(app.state.writer, cast)
    (bundle,) = yard.cut(5)
    return bundle.code


def test_a_bundle_from_before_there_were_cards_answers_all_the_same(yard: Yard) -> None:
    (bundle,) = yard.cut(5)
    yard.writer.write_now(_forget_cards, None)

    assert yard.scan(bundle.code).card["sticks"]["on_hand"] == 5


def _forget_cards(session: object) -> None:
    session.execute(text("delete from answer_card"))
