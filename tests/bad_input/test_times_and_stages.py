"""A cut in the future, a cut before its tree was planted, a growth stage that the crop does not have."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import httpx
import pytest

from service.catalogue.rules.stages import NoSuchStage
from service.lib.clock import InTheFuture
from tests.bad_input.desk import Club, Json, check_page, check_problem


def cut(club: Club, tree_id: str | None = None, **told: Any) -> httpx.Response:
    return club.post("/labelled-cuts", [{"cut": {"tree_id": tree_id or club.tree_id, "sticks": 3, **told}}])


def ahead(club: Club, **step: float) -> str:
    return (club.clock.now() + timedelta(**step)).isoformat()


def test_a_cut_more_than_ten_minutes_ahead_of_the_server_is_refused(club: Club) -> None:
    with club.nothing_written():
        answer = cut(club, done_at=ahead(club, minutes=10, seconds=1))

    told = check_problem(answer, 422, InTheFuture)
    assert told["detail"] == (
        "It is said to be done on 14 February 2026, 10:10 UTC, but it is only 14 February 2026, 10:00 UTC now."
    )
    assert "clock of the device" in told["todo"]


def test_a_clock_that_is_nine_minutes_fast_is_forgiven(club: Club) -> None:
    answer = cut(club, done_at=ahead(club, minutes=9))

    assert answer.status_code == 201, answer.text


def deeds(club: Club, done_at: str) -> dict[str, Json]:
    bundle = club.bundle(9)
    handed = club.hand_over(bundle, 1)
    club.hand_over(bundle, 1, "table")
    (plant,) = club.graft(bundle, plants=1)["plants"]
    own = {"bundle_id": bundle["id"], "sticks": 1, "done_at": done_at}
    when = {"bundle_id": bundle["id"], "done_at": done_at}
    return {
        "/labelled-cuts": [{"cut": {"tree_id": club.tree_id, "sticks": 1, "done_at": done_at}}],
        "/collections": [{"tree_id": club.tree_id, "sticks": 1, "done_at": done_at}],
        "/splits": [own],
        "/hand-overs": [{**own, "party_id": str(club.cast.guest_id)}],
        "/discards": {**own, "reason": "dry"},
        "/given-outside": own,
        "/cuts-to-length": {"sticks_before": 1, "sticks_after": 2, **when},
        "/recounts": {"counted": 3, "reason": "counted", **when},
        "/table-counts": own,
        "/returns": {"bundle_id": handed["id"], "done_at": done_at},
        "/put-away": [{"out": True, **when}],
        "/packings": [{"packing": "bare", **when}],
        "/stores/{store_id}/nominal": {"temp_c": 4, "done_at": done_at},
        "/grafts": [{"woods": [{"bundle_id": bundle["id"]}], "rootstock_id": str(club.orchard.m9_id), "done_at": done_at}],
        "/plant-moves": [{"plant_id": plant["id"], "party_id": str(club.cast.guest_id), "done_at": done_at}],
    }  # fmt: skip


DEEDS = (
    "/labelled-cuts", "/collections", "/splits", "/hand-overs", "/discards", "/given-outside", "/cuts-to-length", "/recounts",
    "/table-counts", "/returns", "/put-away", "/packings", "/stores/{store_id}/nominal", "/grafts", "/plant-moves",
)  # fmt: skip


@pytest.mark.databases("sqlite")
def test_every_deed_that_tells_its_own_time_is_in_the_list(club: Club) -> None:
    schemas = club.app.openapi()
    telling = {
        path.removeprefix("/api")
        for path, methods in schemas["paths"].items()
        if "post" in methods and _names_time(schemas, methods["post"].get("requestBody", {}))
    }

    assert telling - set(DEEDS) <= {"/bundle-checks", "/receipts", "/labelled-receipts"}
    assert set(DEEDS) <= telling


def _names_time(schemas: Json, body: Json, depth: int = 0) -> bool:
    if isinstance(body, dict):
        if "done_at" in body.get("properties", {}):
            return True
        if "$ref" in body and depth < 6:
            return _names_time(
                schemas, schemas["components"]["schemas"][body["$ref"].rpartition("/")[2]], depth + 1
            )
        return any(_names_time(schemas, part, depth) for part in body.values())
    return isinstance(body, list) and any(_names_time(schemas, part, depth) for part in body)


@pytest.mark.parametrize("path", DEEDS)
def test_no_deed_lies_in_the_future(club: Club, path: str) -> None:
    body = deeds(club, ahead(club, hours=1))[path]
    store = club.made(
        "/stores",
        {"name": f"Dairy {uuid4().hex[:8]}", "host_id": str(club.cast.host.party_id)},
        who="steward",
    )

    with club.nothing_written():
        answer = club.post(path.format(store_id=store["id"]), body)

    check_problem(answer, 422, InTheFuture)


@pytest.mark.parametrize(
    ("path", "body", "problem"),
    [
        ("/tree-checks", [{"kind": "leaf", "result": "healthy", "seen_on": "2026-02-15"}], "in-the-future"),
        ("/bundle-checks", [{"buds": "tight", "seen_at": "2026-02-14T10:10:01Z"}], "in-the-future"),
        ("/receipts", [{"sticks": 3, "cut_on": "2026-02-15"}], "cut-after-it-came"),
    ],
    ids=["a look at a tree", "a look at a bundle", "the cut of wood received"],
)  # fmt: skip
def test_nothing_is_seen_or_cut_tomorrow(club: Club, path: str, body: Json, problem: str) -> None:
    known = {"/tree-checks": {"tree_id": club.tree_id}, "/bundle-checks": {"bundle_id": club.bundle(3)["id"]}}
    more = known.get(path, {"cultivar_id": str(club.orchard.gala_id), "area_id": str(club.orchard.area_id)})

    with club.nothing_written():
        answer = club.post(path, [{**body[0], **more}])

    check_problem(answer, 422, problem)


def test_a_look_dated_tomorrow_is_told_at_its_field_on_the_page(club: Club) -> None:
    form = {"kind": "leaf", "result": "healthy", "seen_on": "2026-02-15", "note": "by the gate"}

    with club.nothing_written():
        page = club.submit(f"/trees/{club.tree_id}/look", form)

    check_page(
        page, 422, "15 February 2026 has not come yet.", "Nothing was written.", at="seen_on", keeps=form
    )


# -- before the tree was planted -------------------------------------------------------------------------------------


def test_a_cut_before_the_tree_was_planted_is_a_warning_not_a_refusal(club: Club) -> None:
    tree_id = club.plant(planted_year=2026)

    (made,) = cut(club, tree_id, done_at="2025-12-20T10:00:00Z").json()

    warned = {warning["word"]: warning["text"] for warning in made["collection"]["warnings"]}
    assert "planted in 2026" in warned["before_planting"]
    page = club.page(f"/cut/done/{made['collection']['id']}")
    check_page(page, 200, "Saved.", "planted in 2026; one of the two is wrong")


# -- stages ------------------------------------------------------------------------------------------------------------

# 07 is a stage of pome fruit only; 02 is in neither list (Meier (ed.), Growth stages of mono- and dicotyledonous plants,
# BBCH Monograph). Figs have no list of their own here.
STAGES = {
    "pome": ("apple_id", ["999", "02"]),
    "stone": ("plum_id", ["07"]),
    "plain": ("fig_id", ["00", "53"]),
}


@pytest.mark.parametrize("scale", STAGES)
def test_a_stage_that_the_crop_does_not_have_is_refused_with_those_it_has(club: Club, scale: str) -> None:
    taxon, stages = STAGES[scale]
    tree_id = club.plant(taxon_id=getattr(club.orchard, taxon), name_as_told="an old one")

    for stage in stages:
        with club.nothing_written():
            answer = cut(club, tree_id, stage=stage)
            page = club.submit(f"/cut/{tree_id}", {"sticks": "4", "stage": stage, "note": "south side"})
        told = check_problem(answer, 422, NoSuchStage)
        assert f"“{stage}” is not in the {scale} list" in told["detail"]
        assert "tight, swelling, green" in told["detail"]
        check_page(page, 422, "Nothing was written.", at="stage", keeps={"sticks": "4", "note": "south side"})


def test_finishing_a_cut_with_a_stage_it_cannot_have_is_told_on_its_page(club: Club) -> None:
    (bundle,) = club.cut(3)
    wood = club.get(f"/collections/{bundle['collection_id']}")
    form = {"stage": "999", "note": "north side", "version": str(wood["version"]), "form_key": str(uuid4())}

    with club.nothing_written():
        page = club.submit(f"/collections/{wood['id']}", form)

    check_page(page, 422, "Nothing was written.", at="stage", keeps={"note": "north side"})
