"""Whose word counts for a tree: the owner's for cutting, a steward's for whose it is and what rights bind it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from service.lib.write import Writer
from service.members.rules import May
from service.trees.rules import can_speak_for_owner
from tests.builders.trees import Orchard, make_tree
from tests.infra.cast import Cast
from tests.infra.web import Client

Browsers = Callable[[str], Client]


def owned(writer: Writer, cast: Cast, orchard: Orchard, **told: Any) -> str:
    return str(
        make_tree(writer, cast.steward, orchard, owner_id=cast.member.party_id, may_cut="no", **told).id
    )


def change(browser: Client, tree_id: str, how: str, body: dict[str, Any], **headers: str) -> Any:
    read = browser.get(f"/api/trees/{tree_id}")
    path = f"/api/trees/{tree_id}" + ("/owner-word" if how == "PUT" else "")
    return browser.request(how, path, json=body, headers={"If-Match": read.headers["ETag"], **headers})


def test_the_owner_says_what_may_be_cut_and_it_is_kept(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree_id = owned(writer, cast, orchard)

    said = change(
        client("member"), tree_id, "PUT", {"may_cut": "yes", "most_sticks": 12, "words": "low branches"}
    )
    again = change(client("steward"), tree_id, "PATCH", {"most_sticks": 6})

    assert (said.status_code, again.status_code) == (200, 200), (said.text, again.text)
    assert (said.json()["may_cut"], said.json()["most_sticks"]) == ("yes", 12)
    kept = client("steward").get(f"/api/trees/{tree_id}/owner-word").json()
    member, steward = str(cast.member.party_id), str(cast.steward.party_id)
    assert [(one["may_cut"], one["most_sticks"], one["words"], one["by_party_id"]) for one in kept] == [
        ("yes", 6, "", steward), ("yes", 12, "low branches", member),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("who", "how", "body", "problem"),
    [
        ("collector", "PATCH", {"may_cut": "yes"}, "only-the-owner"),
        ("collector", "PATCH", {"most_sticks": 500}, "only-the-owner"),
        ("collector", "PUT", {"may_cut": "yes"}, "only-the-owner"),
        ("host", "PUT", {"may_cut": "yes"}, "only-the-owner"),
        ("collector", "PATCH", {"no_propagation_contract": False}, "only-a-steward-of-trees"),
        ("health_steward", "PATCH", {"rights_note": "the nursery said yes"}, "only-a-steward-of-trees"),
        ("steward", "PATCH", {"no_propagation_contract": False}, "contract-lifted-by-whom"),
    ],
)
def test_nobody_else_can(
    client: Browsers,
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    who: str,
    how: str,
    body: dict[str, Any],
    problem: str,
) -> None:
    tree_id = owned(writer, cast, orchard, no_propagation_contract=True)
    before = client("steward").get(f"/api/trees/{tree_id}").json()

    answer = change(client(who), tree_id, how, body)

    assert answer.status_code == (422 if who == "steward" else 403)
    assert answer.json()["type"].endswith(problem), answer.text
    assert client("steward").get(f"/api/trees/{tree_id}").json() == before


def test_a_collector_cannot_make_a_tree_their_own_but_may_write_down_what_its_owner_said(
    client: Browsers, writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree_id = owned(writer, cast, orchard)
    collector = client("collector")

    mine = change(collector, tree_id, "PATCH", {"owner_id": str(cast.collector.party_id)})
    told = change(
        collector, tree_id, "PUT", {"may_cut": "ask"}, **{"On-Behalf-Of": str(cast.member.party_id)}
    )
    other = change(collector, tree_id, "PATCH", {"where_on_site": "by the gate", "may_cut": "ask"})

    assert (mine.status_code, told.status_code, other.status_code) == (403, 200, 200), told.text
    (kept,) = client("steward").get(f"/api/trees/{tree_id}/owner-word").json()
    assert (kept["by_party_id"], kept["for_party_id"]) == (
        str(cast.collector.party_id),
        str(cast.member.party_id),
    )


def test_who_speaks_for_an_owner(cast: Cast) -> None:
    for name in ("member", "collector", "host", "steward", "health_steward", "administrator"):
        asker = cast.asker(name)
        assert can_speak_for_owner(asker, asker.party_id)
        assert can_speak_for_owner(asker, cast.guest_id) is (May.PEOPLE in asker.may)
