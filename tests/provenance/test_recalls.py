"""Recalls: everybody is found, nobody is told twice, the forgotten stay forgotten and are reached all the same."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import text

from service.bundles import actions as bundles
from service.bundles.schemas import GiveOutsideCreate
from service.exchange import actions as exchange
from service.exchange.schemas import SplitCreate
from service.lib.errors import NotAllowed
from service.members.queries import get_party
from service.provenance import actions, queries
from service.provenance.rules.telling import (
    HoldsStoppedWood,
    NotInRecall,
    NotToldYet,
    RecallStands,
    StopIsOver,
    Tie,
    can_forget,
)
from service.provenance.schemas import StopBind, ToldCreate
from service.storage import actions as storage
from service.storage.schemas import PutAwayCreate, StoreCreate
from service.trees.schemas import StopStepCreate
from tests.builders.bundles import settle
from tests.builders.members import make_party
from tests.builders.provenance import Yard


def _tell(yard: Yard, recall_id, party_id, how: str = "by telephone"):
    return yard.writer.write_now(
        actions.mark_told, yard.cast.health_steward, recall_id, ToldCreate(party_id=party_id, how=how)
    )


def _ties(stop) -> dict:
    return {(one.party_id, tie.tie): tie for one in stop.to_tell for tie in one.ties}


def test_everybody_with_a_tie_to_the_wood_is_told_why(yard: Yard) -> None:
    cast = yard.cast
    (bundle,) = yard.cut(12)
    held = yard.hand_over(bundle.id, 4, cast.guest_id)
    back = yard.hand_over(bundle.id, 2, cast.member.party_id)
    yard.take_back(back.id)
    store = yard.writer.write_now(
        storage.add_store, cast.host, StoreCreate(name="Barn", host_id=cast.host.party_id)
    )
    yard.writer.write_now(
        storage.put_away, cast.host, [PutAwayCreate(bundle_id=bundle.id, store_id=store.id)]
    )
    yard.graft(held.id)

    stop = yard.stop()

    ties = _ties(stop)
    assert (ties[cast.guest_id, Tie.HOLDS].things, ties[cast.guest_id, Tie.HOLDS].sticks) == (1, 3)
    assert (cast.member.party_id, Tie.HELD) in ties
    assert (cast.host.party_id, Tie.STORES) in ties
    assert (cast.steward.party_id, Tie.GRAFTED) in ties
    guest = next(one for one in stop.to_tell if one.party_id == cast.guest_id)
    assert guest.why == "Holds 1 bundle of it (3 sticks)."
    assert guest.silent


def test_takers_at_an_open_table_and_outside_are_counted(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    yard.hand_over(bundle.id, 5, None, form="table")
    yard.count_back(bundle.id, 2)
    outside = GiveOutsideCreate(
        bundle_id=bundle.id, sticks=2, to_whom="a school garden", area_id=yard.orchard.area_id
    )
    yard.writer.write_now(bundles.give_outside, yard.cast.steward, outside)

    stop = yard.stop()

    assert [(one.how, one.sticks, one.told) for one in stop.unknown_takers] == [
        ("table", 3, ""),
        ("outside", 2, "a school garden"),
    ]


def test_a_piece_that_somebody_split_off_and_returned_was_with_them_too(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    theirs = yard.hand_over(bundle.id, 6, yard.cast.guest_id)
    body = SplitCreate(bundle_id=theirs.id, sticks=2)
    piece = yard.writer.write_now(exchange.split_bundles, yard.cast.steward, [body])[0].bundle
    yard.take_back(piece.id)

    stop = yard.stop(bundle_id=piece.id)

    assert yard.cast.guest_id in {one.party_id for one in stop.to_tell}


def test_a_recall_says_who_is_not_told_yet(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    yard.hand_over(bundle.id, 4, yard.cast.guest_id)
    recall = yard.recall(yard.stop().stop.id)
    before = recall.not_told

    after = _tell(yard, recall.id, yard.cast.guest_id)
    yard.writer.clock.move(timedelta(days=1))
    again = _tell(yard, recall.id, yard.cast.guest_id, "by letter")

    guest = next(one for one in after.people if one.party_id == yard.cast.guest_id)
    same = next(one for one in again.people if one.party_id == yard.cast.guest_id)
    assert (after.not_told, again.not_told) == (before - 1, before - 1)
    assert (guest.how, same.how, same.told_at) == ("by telephone", "by letter", guest.told_at)
    assert guest.told_by_party_id == yard.cast.health_steward.party_id


def test_a_party_that_is_not_in_the_recall_cannot_be_marked(yard: Yard) -> None:
    yard.cut(12)
    recall = yard.recall(yard.stop().stop.id)

    with pytest.raises(NotInRecall):
        _tell(yard, recall.id, yard.cast.guest_id)


def test_one_recall_is_enough_for_a_stop(yard: Yard) -> None:
    yard.cut(12)
    stop = yard.stop()
    recall = yard.recall(stop.stop.id)

    with pytest.raises(RecallStands) as refused:
        yard.recall(stop.stop.id)

    assert refused.value.facts["recall_id"] == str(recall.id)


def test_a_cleared_stop_is_not_recalled(yard: Yard) -> None:
    yard.cut(12)
    stop = yard.stop()
    yard.writer.write_now(
        actions.clear_stop, yard.cast.health_steward, stop.stop.id, StopStepCreate(note="nothing found")
    )

    with pytest.raises(StopIsOver):
        yard.recall(stop.stop.id)


def test_who_was_found_since_is_shown_and_taken_in(yard: Yard) -> None:
    first, second = yard.cut(6, 6)
    yard.hand_over(second.id, 2, yard.cast.guest_id)
    stop = yard.stop(bundle_id=first.id)
    recall = yard.recall(stop.stop.id)
    yard.writer.write_now(actions.bind_also, yard.cast.host, stop.stop.id, StopBind(bundle_ids=[second.id]))

    with yard.database.reading() as session:
        seen = queries.get_recall(session, recall.id)
    renewed = yard.writer.write_now(actions.renew_recall, yard.cast.health_steward, recall.id)

    assert yard.cast.guest_id in {one.party_id for one in seen.found_since}
    assert yard.cast.guest_id in {one.party_id for one in renewed.people}
    assert renewed.found_since == []


def test_a_forgotten_holder_is_reached_by_the_recall_alone(yard: Yard) -> None:
    told = {"keep_contact_for_recall": True, "contact": "0700 900 100"}
    agreed = make_party(yard.writer, name="Nils Arbor", **told).id
    silent = make_party(yard.writer, name="Vera Lind", contact="vera@lind.example").id
    settle(yard.writer, yard.orchard.area_id, agreed, silent)
    (bundle,) = yard.cut(12)
    for party in (agreed, silent):
        yard.hand_over(bundle.id, 2, party)
        yard.writer.write_now(actions.forget_member, yard.cast.steward, party)

    recall = yard.recall(yard.stop().stop.id)

    with yard.database.reading() as session:
        opened = {
            one.party_id: one for one in queries.get_recall(session, recall.id, date(2026, 2, 14)).people
        }
        too_late = {
            one.party_id: one for one in queries.get_recall(session, recall.id, date(2031, 2, 14)).people
        }
    assert (opened[agreed].name, opened[agreed].contact) == ("holder forgotten", "0700 900 100")
    assert (opened[silent].name, opened[silent].contact) == ("holder forgotten", "")
    assert too_late[agreed].contact == ""
    assert all(one.contact == "" for one in recall.people)


def test_no_kept_answer_of_a_recall_holds_a_contact(yard: Yard) -> None:
    party = make_party(
        yard.writer, name="Nils Arbor", keep_contact_for_recall=True, contact="0700 900 100"
    ).id
    settle(yard.writer, yard.orchard.area_id, party)
    (bundle,) = yard.cut(12)
    yard.hand_over(bundle.id, 2, party)
    from service.provenance.schemas import RecallCreate

    stop = yard.stop()
    body = RecallCreate(stop_id=stop.stop.id)
    recall = yard.writer.write_now(
        actions.start_recall, yard.cast.health_steward, body, key="start-of-recall"
    )
    told = ToldCreate(party_id=party, how="by letter")
    yard.writer.write_now(actions.mark_told, yard.cast.health_steward, recall.id, told, key="told-by-letter")

    with yard.database.reading() as session:
        kept = session.execute(text("select body from kept_answer")).scalars().all()
    assert len(kept) == 2
    assert not any("0700 900 100" in body for body in kept)


def test_nobody_is_forgotten_before_a_recall_has_reached_them(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    yard.hand_over(bundle.id, 4, yard.cast.guest_id)
    stop = yard.stop()

    with pytest.raises(HoldsStoppedWood):
        yard.writer.write_now(actions.forget_member, yard.cast.steward, yard.cast.guest_id)
    recall = yard.recall(stop.stop.id)
    with pytest.raises(NotToldYet):
        yard.writer.write_now(actions.forget_member, yard.cast.steward, yard.cast.guest_id)
    _tell(yard, recall.id, yard.cast.guest_id)
    forgotten = yard.writer.write_now(actions.forget_member, yard.cast.steward, yard.cast.guest_id)

    assert forgotten.contact_until is None
    with yard.database.reading() as session:
        assert get_party(session, yard.cast.guest_id).forgotten
        people = queries.get_recall(session, recall.id).people
    assert yard.cast.guest_id in {one.party_id for one in people}


def test_a_cleared_stop_keeps_nobody_from_being_forgotten(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    yard.hand_over(bundle.id, 4, yard.cast.guest_id)
    stop = yard.stop()
    yard.recall(stop.stop.id)
    yard.writer.write_now(
        actions.clear_stop, yard.cast.health_steward, stop.stop.id, StopStepCreate(note="nothing found")
    )

    yard.writer.write_now(actions.forget_member, yard.cast.steward, yard.cast.guest_id)

    with yard.database.reading() as session:
        assert get_party(session, yard.cast.guest_id).forgotten


def test_a_forgotten_persons_wood_stays(yard: Yard) -> None:
    (bundle,) = yard.cut(12)
    child = yard.hand_over(bundle.id, 4, yard.cast.guest_id)

    yard.writer.write_now(actions.forget_member, yard.cast.steward, yard.cast.guest_id)

    told = yard.scan(child.code, "steward")
    assert (told.more["on_hand"], told.more["held_by"]["name"]) == (4, "holder forgotten")


def test_a_steward_cannot_forget_an_administrator(yard: Yard) -> None:
    with pytest.raises(NotAllowed):
        yard.writer.write_now(actions.forget_member, yard.cast.steward, yard.cast.administrator.party_id)


@pytest.mark.parametrize(
    "untold, unrecalled, may", [(0, False, True), (1, False, False), (0, True, False), (2, True, False)]
)
def test_who_can_be_forgotten(untold: int, unrecalled: bool, may: bool) -> None:
    from service.provenance.rules.telling import check_can_forget

    assert can_forget(untold=untold, has_unrecalled_wood=unrecalled) == may
    if may:
        check_can_forget(untold=untold, has_unrecalled_wood=unrecalled)
    else:
        with pytest.raises((NotToldYet, HoldsStoppedWood)):
            check_can_forget(untold=untold, has_unrecalled_wood=unrecalled)


def test_the_host_of_a_store_is_told_once_the_box_came_there(yard: Yard) -> None:
    """The box stood nowhere while the wood lay in it at first; it came into the store later."""
    from service.storage.schemas import BoxCreate

    (bundle,) = yard.cut(6)
    host = yard.cast.host
    store = yard.writer.write_now(storage.add_store, host, StoreCreate(name="Barn", host_id=host.party_id))
    box = yard.writer.write_now(storage.add_box, host, BoxCreate(name="Crate"))
    yard.writer.write_now(storage.put_away, host, [PutAwayCreate(bundle_id=bundle.id, into_box_id=box.id)])
    stop = yard.stop()
    before = _ties(stop)
    yard.writer.write_now(
        actions.clear_stop, yard.cast.health_steward, stop.stop.id, StopStepCreate(note="nothing found")
    )
    yard.writer.write_now(storage.put_away, host, [PutAwayCreate(box_id=box.id, store_id=store.id)])

    after = _ties(yard.stop())

    assert (host.party_id, Tie.STORES) not in before
    assert (host.party_id, Tie.STORES) in after
