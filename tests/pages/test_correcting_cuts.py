"""Pages that put right the name of one cut or of wood from outside."""

from __future__ import annotations

import pytest

from tests.builders.collection import read_collection, receive
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import change, read_tree
from tests.pages.desk import opened, read, send


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


def test_the_name_of_wood_from_outside_is_put_right_on_its_own_page(yard, client):
    receipt = receive(yard.writer, yard.cast.steward, yard.orchard)
    steward, path = client("steward"), f"/collections/{receipt.id}/name"
    assert path in read(steward, f"/collections/{receipt.id}").text

    answer = send(steward, path, opened(steward, path, name_as_told="Bramley", reason="the giver wrote"))

    assert answer.headers["location"] == f"/collections/{receipt.id}"
    assert read_collection(yard.database, receipt.id).cultivar_id == yard.orchard.bramley_id


def test_a_cut_of_the_wrong_branch_is_put_right_and_a_tree_of_one_variety_leads_to_the_tree(yard, client):
    (bundle,) = yard.cut(4)
    steward, path = client("steward"), f"/collections/{bundle.collection_id}/name"
    assert steward.get(path, follow_redirects=False).headers["location"] == f"/trees/{yard.tree_id}/name"
    tree = read_tree(yard.database, yard.tree_id)
    change(yard.writer, yard.cast.steward, tree, varieties=[{"cultivar_id": yard.orchard.bramley_id}])
    page = opened(steward, path, cultivar_id=str(yard.orchard.bramley_id), reason="the north limb")

    answer = send(steward, path, page)

    assert answer.status_code == 303
    assert "Bramley" in yard.name_on_card(bundle.code)
