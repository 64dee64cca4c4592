"""Pages that put right what was written wrong: a graft that was never made, a tree's name, the time of a cut."""

from __future__ import annotations

import pytest

from service.grafting import actions as grafting
from service.grafting.queries import get_graft
from service.grafting.schemas import GraftCreate, TakeCheckCreate
from service.lib.paging import Paging
from service.provenance import actions as provenance
from service.trees.queries import list_name_changes
from service.trees.schemas import TreeNameSet
from tests.bad_input.desk import check_page, words_of
from tests.builders.bundles import audit_of, moves_of, read_bundle
from tests.builders.catalogue import make_cultivar, make_namer
from tests.builders.members import make_party
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import make_tree, read_tree
from tests.pages.desk import fresh, opened, read, send, told_next


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


# -- a graft that was recorded by mistake --------------------------------------------------------------------------


@pytest.fixture
def graft(yard):
    (bundle,) = yard.cut(8)
    return yard.graft(bundle.id, plants=2, grafts=2)


def back_of(graft) -> str:
    return f"/grafts/{graft.id}/taken-back"


def look_at(yard, graft) -> None:
    body = TakeCheckCreate(graft_id=graft.id, alive=1, looked_at=1)
    yard.writer.write_now(grafting.record_take_checks, yard.cast.steward, [body])


def test_what_taking_back_does_is_said_first_and_the_page_says_it_afterwards(yard, client, graft):
    steward, bundle_id, code = client("steward"), graft.woods[0].bundle_id, graft.plants[0].code
    assert back_of(graft) in read(steward, f"/grafts/{graft.id}").text
    assert back_of(graft) in read(steward, f"/plants/{graft.plants[0].id}").text
    before = words_of(read(steward, back_of(graft)))

    answer = send(
        steward, back_of(graft), opened(steward, back_of(graft), reason="scanned the neighbour's tag")
    )

    assert "1 stick of ‘Gala’ goes back to bundle" in before
    assert f"Plant {graft.plants[0].number} never was. Whoever scans" in before
    after = told_next(steward, answer)
    assert "Taken back: 1 stick returned." in after
    assert f"Take the tags of plant {graft.plants[0].number}, plant {graft.plants[1].number} off." in after
    assert (
        "Recorded by mistake, taken back on 14 February 2026" in after
        and "Scanned the neighbour's tag" in after
    )
    assert "There is no such plant" in words_of(read(client("stranger"), f"/T/{code}"))
    assert read_bundle(yard.database, bundle_id).on_hand == 8
    assert back_of(graft) not in read(steward, f"/grafts/{graft.id}").text
    assert audit_of(yard.database).clean


def test_a_graft_taken_back_twice_by_two_taps_goes_back_once(yard, client, graft):
    steward = client("steward")
    form = opened(steward, back_of(graft), reason="written down twice")

    first, again = send(steward, back_of(graft), form), send(steward, back_of(graft), form)

    assert first.headers["location"] == again.headers["location"] == f"/grafts/{graft.id}"
    moves = [move.kind for move in moves_of(yard.database, graft.woods[0].bundle_id)]
    assert moves.count("graft_undone") == 1


def test_a_graft_without_a_reason_stays_and_is_told_so_at_the_field(yard, client, graft):
    steward = client("steward")

    answer = send(steward, back_of(graft), opened(steward, back_of(graft)))

    check_page(answer, 422, "Nothing was written.", at="reason")
    with yard.database.reading() as session:
        assert get_graft(session, graft.id).taken_back_at is None


def test_a_graft_that_was_seen_stays_and_the_page_says_what_to_do_instead(yard, client, graft):
    steward = client("steward")
    form = opened(steward, back_of(graft), reason="a slip")
    look_at(yard, graft)

    refused = send(steward, back_of(graft), form)

    said = words_of(read(steward, back_of(graft)))
    assert "This graft stays in the record" in said
    assert f"Graft {graft.number} was looked at once. A graft that somebody has seen was made." in said
    assert "<form method" not in read(steward, back_of(graft)).text.partition("<main")[2]
    check_page(refused, 409, "Nothing was written.", "A graft that somebody has seen was made.")
    assert back_of(graft) not in read(steward, f"/grafts/{graft.id}").text


def test_a_member_takes_back_their_own_graft_and_nobody_elses(yard, client, graft):
    member = client("member")
    own_wood = yard.hand_over(yard.cut(4)[0].id, 2, yard.cast.member.party_id)
    own = yard.writer.write_now(
        grafting.record_grafts, yard.cast.member,
        [GraftCreate(woods=[{"bundle_id": own_wood.id}], rootstock_id=yard.orchard.m9_id)],
    )[0]  # fmt: skip

    assert back_of(own) in read(member, f"/grafts/{own.id}").text
    assert read(member, back_of(graft)).status_code == 403
    told_next(member, send(member, back_of(own), opened(member, back_of(own), reason="never made")))
    assert read_bundle(yard.database, own_wood.id).on_hand == 2


def test_a_graft_of_stopped_wood_is_taken_back_by_who_may_release_alone(yard, client, graft):
    yard.stop()
    steward, health = client("steward"), client("health_steward")

    assert back_of(graft) not in read(steward, f"/grafts/{graft.id}").text
    assert "A stop binds what this graft used or made" in words_of(read(steward, back_of(graft)))
    assert back_of(graft) in read(health, f"/grafts/{graft.id}").text
    told_next(health, send(health, back_of(graft), opened(health, back_of(graft), reason="never made")))


def test_who_writes_it_for_whom_is_kept(yard, client, graft, writer):
    ruth, steward = make_party(writer, "Ruth Alder"), client("steward")

    form = opened(steward, back_of(graft), reason="she says she made none", on_behalf_of=str(ruth.id))
    said = told_next(steward, send(steward, back_of(graft), form))

    assert "Written for Ruth Alder." in said
    (undone,) = [
        move for move in moves_of(yard.database, graft.woods[0].bundle_id) if move.kind == "graft_undone"
    ]
    assert (undone.by_party_id, undone.for_party_id) == (yard.cast.steward.party_id, ruth.id)


# -- the name of a tree --------------------------------------------------------------------------------------------


def name_of(yard) -> str:
    return f"/trees/{yard.tree_id}/name"


def changes(yard) -> list:
    with yard.database.reading() as session:
        return list_name_changes(session, Paging(), yard.tree_id).items


def test_what_follows_a_name_is_counted_before_it_is_put_right_and_told_after(yard, client):
    steward = client("steward")
    first, _ = yard.cut(8, 3)
    child = yard.hand_over(first.id, 3, yard.cast.guest_id)
    plant = yard.graft(child.id).plants[0]
    page = words_of(read(steward, name_of(yard)))

    form = opened(steward, name_of(yard), name_as_told="bramley", reason="the fruit was compared")
    after = told_next(steward, send(steward, name_of(yard), {**form, "identity": "fruit_compared"}))

    assert "The right name reaches 3 bundles and 1 plant that took theirs from this tree." in page
    for fact in (
        "Cuts 1",
        "3 bundles (10 sticks on hand)",
        "2 bundles in the list to hand over",
        "1 graft (1 plant)",
    ):
        assert fact in page
    assert "4 tags keep the old name; a scan tells both" in page  # three bundles and the plant
    assert "It is called ‘Bramley’ now. So are 1 cut, 3 bundles, 1 plant." in after
    assert "Called before 14 February 2026 ‘Gala’ , which was wrong: the fruit was compared" in after
    assert "fruit compared" in after
    for code in (child.code, plant.code):
        assert "corrected to ‘Bramley’" in words_of(read(client("stranger"), f"/T/{code}"))


def test_a_name_that_the_catalogue_does_not_know_is_asked_back_with_what_comes_near(yard, client, writer):
    codlin = make_cultivar(
        writer, make_namer(writer), taxon_id=yard.orchard.apple_id, epithet="Keswick Codlin"
    )
    steward = client("steward")
    form = opened(steward, name_of(yard), name_as_told="Keswik Codlin", reason="compared in fruit")

    asked = send(steward, name_of(yard), form)

    check_page(asked, 422, "is it one of these?", "‘Keswick Codlin’ · Apple", at="which",
               keeps={"name_as_told": "Keswik Codlin", "reason": "compared in fruit"})  # fmt: skip
    told = {**form, **fresh(asked), "which": str(codlin.id)}
    assert "It is called ‘Keswick Codlin’ now." in told_next(steward, send(steward, name_of(yard), told))
    assert read_tree(yard.database, yard.tree_id).cultivar_id == codlin.id


def test_a_name_may_stand_as_it_was_written_and_a_changed_one_is_looked_for_anew(yard, client, writer):
    make_cultivar(writer, make_namer(writer), taxon_id=yard.orchard.apple_id, epithet="Keswick Codlin")
    steward = client("steward")
    form = opened(steward, name_of(yard), name_as_told="Keswik Codlin", reason="told by its grower")
    asked = {**form, **fresh(send(steward, name_of(yard), form)), "which": "none"}

    other = send(steward, name_of(yard), {**asked, "name_as_told": "Keswik"})
    done = told_next(steward, send(steward, name_of(yard), asked))

    check_page(other, 422, "is it one of these?", at="which")
    assert "It is called Keswik Codlin (as told) now." in done


@pytest.mark.parametrize(("identity", "status"), [("", 422), ("as_told", 422), ("unknown", 303)], ids=str)
def test_no_name_is_taken_only_where_it_is_said_that_nobody_knows_it(yard, client, identity, status):
    steward = client("steward")

    form = opened(steward, name_of(yard), identity=identity, reason="it is not ‘Gala’")
    answer = send(steward, name_of(yard), form)

    assert answer.status_code == status
    if status == 422:
        check_page(answer, 422, "where nobody knows it, say so below", at="name_as_told")
    assert len(changes(yard)) == (status == 303)


def test_a_name_changed_by_somebody_else_meanwhile_is_refused_with_all_that_was_typed(yard, client):
    steward, tree = client("steward"), read_tree(yard.database, yard.tree_id)
    form = opened(steward, name_of(yard), name_as_told="Bramley", reason="compared in fruit")
    quicker = TreeNameSet(
        what="wrong", taxon_id=yard.orchard.apple_id, name_as_told="Old Gate", reason="told"
    )
    yard.writer.write_now(provenance.set_tree_name, yard.cast.collector, tree.id, quicker, tree.version)

    refused = send(steward, name_of(yard), form)

    check_page(refused, 412, "It changed since you read it", "called Old Gate (as told)", "send it again if it still holds",
               keeps={"name_as_told": "Bramley", "reason": "compared in fruit"})  # fmt: skip
    assert len(changes(yard)) == 1
    assert "It is called ‘Bramley’ now." in told_next(
        steward, send(steward, name_of(yard), {**form, **fresh(refused)})
    )


def test_a_name_sent_twice_is_changed_once_and_the_same_name_is_no_change(yard, client):
    steward = client("steward")
    form = opened(steward, name_of(yard), name_as_told="Bramley", reason="compared in fruit")

    answers = [send(steward, name_of(yard), form) for _ in range(2)]
    same = send(
        steward, name_of(yard), opened(steward, name_of(yard), name_as_told="bramley", reason="again")
    )

    assert [answer.status_code for answer in answers] == [303, 303]
    assert len(changes(yard)) == 1
    check_page(same, 422, "It is called ‘Bramley’.", at="name_as_told")


def test_topworking_is_told_apart_and_leaves_earlier_wood_its_name(yard, client):
    steward = client("steward")
    (bundle,) = yard.cut(8)
    form = opened(steward, f"{name_of(yard)}?what=topworked", name_as_told="Bramley", reason="grafted over")

    after = told_next(steward, send(steward, name_of(yard), {**form, "keep_old": "true"}))

    assert "It bears ‘Bramley’ now; what was cut before keeps its name." in after
    assert "until it was topworked on 14 February 2026" in after
    assert "Further varieties ‘Gala’" in after
    assert "‘Gala’" in words_of(read(client("stranger"), f"/T/{bundle.code}"))


def test_a_tree_without_wood_in_the_record_says_that_it_alone_is_renamed(yard, client, writer):
    lonely = make_tree(writer, yard.cast.steward, yard.orchard)

    assert "Only the tree itself is renamed." in words_of(read(client("steward"), f"/trees/{lonely.id}/name"))


@pytest.mark.parametrize("who", ["member", "collector", "host", "steward", "health_steward", "administrator"])
def test_the_way_to_a_correction_is_shown_to_whom_it_lets_in(yard, client, who):
    (bundle,) = yard.cut(4)
    cut = f"/collections/{bundle.collection_id}"

    shown = {
        name_of(yard): name_of(yard) in read(client(who), f"/trees/{yard.tree_id}").text,
        f"{cut}/time": f"{cut}/time" in read(client(who), cut).text,
    }

    assert shown == {path: read(client(who), path).status_code == 200 for path in shown}
    assert shown[f"{cut}/time"] == (f"{cut}/time" in read(client(who), f"/bundles/{bundle.id}").text)
