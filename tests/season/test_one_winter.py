"""The whole story through HTTP, on both databases: leaf, cut, tags, fridge, hand-over, graft, take, next tree, recall."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import pytest
from fastapi import FastAPI

from service.lib.clock import FixedClock
from tests.builders.catalogue import load_catalogue
from tests.infra.cast import Cast
from tests.infra.web import Client
from tests.season.winter import HOST, Winter, things

Json = Any


@dataclass
class Told:
    """What the story has so far; each chapter adds to it."""

    site: Json
    tree: Json
    other_tree: Json
    buyer_id: UUID
    bystander_id: UUID
    bundles: list[Json]
    other_bundle: Json
    box: Json


@pytest.fixture
def winter(app: FastAPI, client: Callable[[str], Client], clock: FixedClock, cast: Cast) -> Winter:
    load_catalogue(app.state.writer)
    return Winter(client, clock, cast)


def until_the_fridge(winter: Winter) -> Told:
    """Summer to February: two trees seen healthy in leaf, cut, labelled, and in one box of the fridge."""
    winter.on(2025, 7, 5)
    (area,) = winter.send("administrator", "/areas", [{"name": "Hollin Vale"}])
    people = (winter.cast.member, winter.cast.collector, winter.cast.steward, winter.cast.host)
    for party_id in (*(person.party_id for person in people), winter.cast.guest_id):
        winter.live_in(party_id, area["id"])
    (site,) = winter.send(
        "collector", "/sites", [{"name": "Weir orchard", "region": "Hollin Vale", "area_id": area["id"]}]
    )
    found = winter.ask("collector", "/cultivars/search", q="ashmeads kernal")
    tree, other = (winter.plant_tree(site["id"], found[0]["id"]) for _ in range(2))
    for each in (tree, other):
        winter.look_at(each["id"], "leaf", "healthy")
    winter.on(2026, 1, 10)
    bundles, (other_bundle,) = winter.cut(tree["id"], 12, 8), winter.cut(other["id"], 6)
    _, box = winter.open_store()
    for bundle in (*bundles, other_bundle):
        winter.put_into_box(bundle["code"], box["code"])
    buyer, bystander = winter.add_guest("Ottoline Brack"), winter.add_guest("Runa Vestergård")
    return Told(site, tree, other, buyer, bystander, bundles, other_bundle, box)


def test_the_sheet_carries_the_codes_of_the_cut(winter: Winter) -> None:
    told = until_the_fridge(winter)
    address = winter.send("administrator", "/public-addresses", {"host": HOST})
    winter.send("administrator", f"/public-addresses/{address['id']}/confirmation", {})
    codes = [bundle["code"] for bundle in (*told.bundles, told.other_bundle)]

    found = winter.print_sheet(codes)

    assert sorted(found) == sorted(f"HTTPS://{HOST}/T/{code}" for code in codes)


def test_a_box_moves_with_all_that_lies_in_it(winter: Winter) -> None:
    told = until_the_fridge(winter)
    cellar = winter.send(
        "host", "/stores", {"name": "Cellar", "kind": "cellar", "host_id": str(winter.cast.host.party_id)}
    )

    (moved,) = winter.send("host", "/put-away", [{"code": told.box["code"], "into_code": cellar["code"]}])

    assert moved["moved"] == 3
    lying = [
        winter.ask("host", f"/bundles/{bundle['id']}/whereabouts")["whereabouts"] for bundle in told.bundles
    ]
    assert {where["store_id"] for where in lying} == {cellar["id"]}


def test_one_winter_from_the_leaf_to_the_recall(winter: Winter) -> None:
    told = until_the_fridge(winter)
    winter.on(2026, 3, 7)
    first, second = told.bundles
    mine = winter.hand_over(first["id"], 4, winter.cast.member.party_id, "bundle")
    flag = winter.hand_over(first["id"], 2, winter.cast.guest_id, "flag")
    winter.hand_over(second["id"], 3, None, "table")
    winter.hand_over(told.other_bundle["id"], 2, told.bystander_id, "bundle")

    winter.on(2026, 4, 11)
    graft = winter.graft(mine["code"], sticks=2, grafts=3)
    winter.on(2026, 6, 13)
    plants = graft["plants"]
    for plant, alive in zip(plants, (1, 1, 0), strict=True):
        look = {"code": plant["code"], "alive": alive, "looked_at": 1, "is_verdict": True}
        (seen,) = winter.send("member", "/take-checks", [look])
    assert (seen["take"]["alive"], seen["take"]["looked_at"]) == (2, 3)

    winter.on(2026, 11, 21)
    planted = winter.send(
        "collector", f"/plants/{plants[0]['id']}/source-tree", {"site_id": told.site["id"], "may_cut": "yes"}
    )
    winter.look_at(planted["tree_id"], "leaf", "not_seen")
    winter.on(2027, 1, 16)
    (grandchild,) = winter.cut(planted["tree_id"], 3)
    sold = winter.hand_over(grandchild["id"], 1, told.buyer_id, "bundle")

    _trace_both_ways(winter, told, sold, [first, second, mine, flag, grandchild, sold, graft, *plants])
    _stop_and_recall(winter, told, planted, mine, grandchild)


def _trace_both_ways(winter: Winter, told: Told, last: Json, all_of_it: list[Json]) -> None:
    back = things(winter.trace("bundle", last["id"], "back"))
    assert told.tree["id"] in back
    assert told.other_tree["id"] not in back

    forward = winter.trace("tree", told.tree["id"], "forward", around=True)
    assert {thing["id"] for thing in all_of_it} <= things(forward)
    assert told.other_bundle["id"] not in things(forward)
    assert told.other_bundle["id"] in {beside["bundle_id"] for beside in forward["around"]["beside"]}
    assert [(taker["how"], taker["sticks"]) for taker in forward["around"]["unknown_takers"]] == [
        ("table", 3)
    ]


def _stop_and_recall(winter: Winter, told: Told, planted: Json, mine: Json, grandchild: Json) -> None:
    winter.on(2027, 2, 1)
    cast = winter.cast
    case = {"tree_id": told.tree["id"], "reason": "health", "agent": "apple-proliferation"}
    stop = winter.send("health_steward", "/stops", case)["stop"]

    for bundle in (mine, grandchild):
        assert winter.ask("collector", f"/bundles/{bundle['id']}")["stopped"]
    refused = winter.hand_over(grandchild["id"], 1, told.buyer_id, "bundle", status=409)
    assert refused["title"] == "This wood is stopped"
    again = {"cut": {"tree_id": planted["tree_id"], "sticks": 1}}
    winter.send("collector", "/labelled-cuts", [again], status=409)
    assert not winter.ask("collector", f"/bundles/{told.other_bundle['id']}")["stopped"]

    recall = winter.send("health_steward", "/recalls", {"stop_id": stop["id"]})
    # The tree's owner, who grafted and planted, whose flag it is, who had a stick of the next tree, where it lay:
    # nobody else, not even whoever took wood out of the same box.
    people = {cast.collector.party_id, cast.member.party_id, cast.guest_id, told.buyer_id, cast.host.party_id}
    assert {UUID(person["party_id"]) for person in recall["people"]} == people
    after = winter.send(
        "health_steward",
        f"/recalls/{recall['id']}/told",
        {"party_id": str(told.buyer_id), "how": "telephone"},
    )
    assert after["not_told"] == len(people) - 1

    seen = winter.scan("stranger", mine["code"])
    assert "Marta" not in str(seen)
    assert seen["answer"].startswith("Do not use this wood")
    audit = winter.ask("administrator", "/audit")
    assert (audit["wrong_counters"], audit["wrong_stops"], audit["wrong_balances"]) == ([], [], [])
    assert winter.ask("steward", f"/collections/{mine['collection_id']}/balance")["holds"]
