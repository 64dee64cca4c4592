"""The page that says from which tree a cut really came."""

from __future__ import annotations

import pytest

from tests.bad_input.desk import check_page, words_of
from tests.builders.collection import read_collection
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import change, make_tree, read_tree
from tests.pages.desk import fresh, opened, read, send, told_next


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


def test_the_number_of_the_tree_is_enough_and_both_trees_tell_what_became_of_the_cut(yard, client, writer):
    (bundle,) = yard.cut(8)
    other = make_tree(writer, yard.cast.steward, yard.orchard, cultivar_id=yard.orchard.bramley_id)
    path, steward = f"/collections/{bundle.collection_id}/tree", client("steward")
    assert path in read(steward, f"/collections/{bundle.collection_id}").text

    after = told_next(
        steward, send(steward, path, opened(steward, path, tree_id=str(other.number), reason="counted again"))
    )

    assert f"It stands at tree {other.number} now. It is called ‘Bramley’ now." in after
    assert "Written down at tree 1, put right to tree 2: counted again" in after
    assert "stands at tree 2 now: counted again" in words_of(read(steward, f"/trees/{yard.tree_id}"))
    scanned = words_of(read(client("stranger"), f"/T/{bundle.code}"))
    assert "The tag names another tree Labelled as cut from tree 1, corrected to tree 2 on" in scanned


def test_a_tree_of_several_varieties_is_asked_about_and_what_was_typed_stays(yard, client, writer):
    (bundle,) = yard.cut(8)
    other = make_tree(writer, yard.cast.steward, yard.orchard)
    change(
        writer,
        yard.cast.steward,
        read_tree(yard.database, other.id),
        varieties=[{"cultivar_id": yard.orchard.bramley_id}],
    )
    path, steward = f"/collections/{bundle.collection_id}/tree", client("steward")

    asked = send(steward, path, opened(steward, path, tree_id=str(other.number), reason="counted again"))
    check_page(
        asked, 422, "This tree bears several varieties", at="cultivar_id", keeps={"reason": "counted again"}
    )
    typed = {
        "tree_id": str(other.number),
        "reason": "counted again",
        "cultivar_id": str(yard.orchard.bramley_id),
    }
    assert send(steward, path, {**fresh(asked), **typed}).status_code == 303

    assert read_collection(yard.database, bundle.collection_id).cultivar_id == yard.orchard.bramley_id


def test_stopped_wood_and_wood_of_a_stopped_tree_are_told(yard, client, writer):
    (bundle,) = yard.cut(8)
    yard.stop()
    other = make_tree(writer, yard.cast.steward, yard.orchard)
    yard.stop(other.id)
    path, steward = f"/collections/{bundle.collection_id}/tree", client("steward")

    after = told_next(
        steward, send(steward, path, opened(steward, path, tree_id=str(other.number), reason="x"))
    )

    assert "1 bundle is still stopped with tree 1: the health steward lets go of them." in after


@pytest.mark.parametrize(
    ("typed", "says"), [("", "Choose the tree"), ("no such", "Nothing in the list goes by"), ("1", "")]
)
def test_what_cannot_be_used_is_told_at_its_field(yard, client, typed, says):
    (bundle,) = yard.cut(8)
    path, steward = f"/collections/{bundle.collection_id}/tree", client("steward")

    answer = send(steward, path, opened(steward, path, tree_id=typed, reason="counted again"))

    check_page(
        answer,
        422,
        says or "That is the tree that stands in the record",
        at="tree_id",
        keeps={"reason": "counted again"},
    )
