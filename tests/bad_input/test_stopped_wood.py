"""Stopped trees, bundles and plants in every action there is: none is used or moved, and looking at them stays free.

The list comes from the routes: an action that is not in the table below fails the first test, so that a new one must say
what it does with stopped wood.
"""

from __future__ import annotations

import importlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

import pytest

from service.pages import MOMENTS
from tests.bad_input.desk import Club, Json, check_page, check_problem, typed_in
from tests.season.keeping import TOUCHES_NO_WOOD

STOPPED = {
    "/problems/stopped-tree", "/problems/stopped-bundle", "/problems/stopped-wood-stays", "/problems/wood-is-stopped",
    "/problems/stock-is-stopped", "/problems/plant-is-stopped",
}  # fmt: skip


@dataclass(frozen=True)
class Sick:
    """Everything of one tree that was stopped: its wood in store, with a guest and on the table, and a plant of it."""

    club: Club
    tree_id: str
    bundle: Json
    handed: Json
    loose: Json  # wood of another tree, not stopped
    box: Json
    plant: Json
    graft: Json

    @property
    def id(self) -> str:
        return str(self.bundle["id"])


def make_sick(club: Club) -> Sick:
    tree_id = club.plant()
    (bundle,) = club.cut(20, tree_id=tree_id, done_at="2025-11-20T10:00:00Z")
    loose, name = club.bundle(5), uuid4().hex[:6]
    store = club.made("/stores", {"name": f"Fridge {name}", "host_id": str(club.cast.host.party_id)})
    box = club.made("/boxes", {"name": f"Crate {name}", "store_id": store["id"]})
    club.made("/put-away", [{"bundle_id": bundle["id"], "into_box_id": box["id"]}])
    handed = club.hand_over(bundle, 3)
    club.hand_over(bundle, 2, "table")
    graft = club.graft(bundle, plants=1, done_at="2025-11-21T10:00:00Z")  # long enough ago to be judged
    club.made("/take-checks", [{"graft_id": graft["id"], "alive": 1, "looked_at": 1, "is_verdict": True}])
    club.stop(tree_id=tree_id)
    return Sick(club, tree_id, bundle, handed, loose, box, graft["plants"][0], graft)


@pytest.fixture(scope="session")
def sick_ones() -> dict[str, Sick]:
    return {}


@pytest.fixture
def sick(club: Club, database_kind: str, sick_ones: dict[str, Sick]) -> Sick:
    """One sick tree per database: every refusal leaves it as it was."""
    if database_kind not in sick_ones:
        sick_ones[database_kind] = make_sick(club)
    return sick_ones[database_kind]


def woods(bundle: Json, **more: Any) -> Json:
    return [{"woods": [{"bundle_id": bundle["id"]}], **more}]


Body = Callable[[Sick], Json]
# What is refused for stopped wood: each action with a body for each way to use it there.
REFUSED: dict[str, dict[str, Body]] = {
    "POST /api/collections": {"cut": lambda s: [{"tree_id": s.tree_id, "sticks": 1}]},
    "POST /api/labelled-cuts": {"cut and label": lambda s: [{"cut": {"tree_id": s.tree_id, "sticks": 1}}]},
    "POST /api/splits": {"split": lambda s: [{"bundle_id": s.id, "sticks": 1}]},
    "POST /api/hand-overs": {
        "hand over as a bundle": lambda s: [{"bundle_id": s.id, "sticks": 1, "party_id": str(s.club.cast.guest_id)}],
        "hand over under a flag": lambda s: [
            {"bundle_id": s.id, "sticks": 1, "form": "flag", "party_id": str(s.club.cast.guest_id)}
        ],
        "out to the table": lambda s: [{"bundle_id": s.id, "sticks": 1, "form": "table"}],
        "hand over from whoever has it": lambda s: [
            {"bundle_id": s.handed["id"], "sticks": 1, "party_id": str(s.club.cast.guest_id)}
        ],
    },
    "POST /api/returns": {"return": lambda s: {"bundle_id": s.handed["id"]}},
    "POST /api/discards": {"discard": lambda s: {"bundle_id": s.id, "sticks": 1, "reason": "it is sick"}},
    "POST /api/given-outside": {"give outside": lambda s: {"bundle_id": s.id, "sticks": 1, "to_whom": "a fair"}},
    "POST /api/cuts-to-length": {"cut to length": lambda s: {"bundle_id": s.id, "sticks_before": 1, "sticks_after": 2}},
    "POST /api/put-away": {
        "put away": lambda s: [{"bundle_id": s.id, "store_id": s.box["store_id"]}],
        "take out": lambda s: [{"code": s.bundle["code"], "out": True}],
        "move its box": lambda s: [{"box_id": s.box["id"], "store_id": s.box["store_id"]}],
        "one of many": lambda s: [{"bundle_id": s.loose["id"], "out": True}, {"bundle_id": s.id, "out": True}],
    },
    "POST /api/grafts": {
        "graft": lambda s: woods(s.bundle, rootstock_id=str(s.club.orchard.m9_id)),
        "graft what one was given": lambda s: woods(s.handed, rootstock_id=str(s.club.orchard.m9_id)),
        "as an interstem": lambda s: [
            {
                "woods": [{"bundle_id": s.loose["id"]}, {"bundle_id": s.id, "part": "interstem"}],
                "rootstock_id": str(s.club.orchard.m9_id),
            }
        ],
        "onto the tree": lambda s: woods(s.loose, stock_tree_id=s.tree_id),
        "onto a plant of it": lambda s: woods(s.loose, plant_id=s.plant["id"]),
    },
    "POST /api/plant-moves": {
        "hand a plant over": lambda s: [{"plant_id": s.plant["id"], "party_id": str(s.club.cast.guest_id)}],
        "give a plant outside": lambda s: [{"plant_id": s.plant["id"], "kind": "given_outside", "to_whom": "a fair"}],
    },
    "POST /api/plants/{plant_id}/source-tree": {"plant as a tree": lambda s: {"site_id": str(s.club.orchard.site_id)}},
    "PATCH /api/trees/{tree_id}": {
        "let it be cut": lambda s: {"may_cut": "yes"},
        "move it to another site": lambda s: {"site_id": str(uuid4())},
        "fell it": lambda s: {"felled_on": "2026-02-14"},
    },
    "PUT /api/trees/{tree_id}/owner-word": {"let it be cut by word": lambda s: {"may_cut": "yes"}},
    "PATCH /api/trees/{tree_id}/finish": {"finish it": lambda s: {"may_cut": "yes"}},
    "PATCH /api/plants/{plant_id}": {"throw the plant away": lambda s: {"gone": True}},
}  # fmt: skip

# What stays free, and why.
FREE = {
    "POST /api/stops/{stop_id}/release": "its release", "PATCH /api/trees/{tree_id}/name": "a name put right moves nothing",
    "PATCH /api/collections/{collection_id}/time": "a time put right moves nothing",
    "PATCH /api/collections/{collection_id}/tree": "a tree put right frees nothing, and binds what that tree's stop reaches",
    "PATCH /api/collections/{collection_id}/name": "a name put right moves nothing",
    "POST /api/grafts/{graft_id}/taken-back": "mends a mistake; of stopped wood only by who may release",
    "POST /api/stops": "opens a stop", "POST /api/stops/{stop_id}/bind": "binds more", "POST /api/stops/{stop_id}/confirm": "a step of it",
    "POST /api/stops/{stop_id}/clear": "its release",
    "POST /api/recalls": "tells people", "POST /api/recalls/{recall_id}/told": "tells people",
    "POST /api/recalls/{recall_id}/renewal": "tells people",
    "POST /api/recounts": "a count moves nothing; that sticks are missing is for who may release",
    "POST /api/table-counts": "counts what nobody took; it comes back under its stop", "POST /api/bundle-checks": "a look",
    "POST /api/shelf-counts/{count_id}/photos": "a count moves nothing",
    "POST /api/tree-checks": "a look", "POST /api/trees/{tree_id}/checks": "a look", "POST /api/take-checks": "a look",
    "POST /api/tree-checks/{look_id}/taken-back": "a look", "POST /api/tree-checks/{look_id}/picture": "a look",
    "POST /api/pictures": "a look", "PATCH /api/bundles/{bundle_id}": "notes and measures", "PATCH /api/grafts/{graft_id}": "notes",
    "PATCH /api/collections/{collection_id}": "what was left out at the tree", "PATCH /api/rounds/{round_id}": "notes",
    "POST /api/tags": "a tag is how stopped wood is known", "POST /api/tags/{code}/replacement": "a tag is how stopped wood is known",
    "POST /api/tags/{code}/binding": "a tag is how stopped wood is known", "POST /api/blanks-given-up": "hangs on no wood",
    "POST /api/label-sheets": "prints tags", "PATCH /api/boxes/{box_id}": "names it", "PATCH /api/stores/{store_id}": "names it",
}  # fmt: skip

# What touches no wood that is there already.
OTHER = {
    "POST /api/sites/{site_id}/air", "POST /api/stores/{store_id}/nominal",
    "POST /api/receipts", "POST /api/labelled-receipts", "POST /api/rounds", "POST /api/sites", "PATCH /api/sites/{site_id}",
    "POST /api/trees", "POST /api/stores", "POST /api/places", "POST /api/boxes", "POST /api/cultivars",
    "PATCH /api/cultivars/{cultivar_id}", "PATCH /api/cultivars/{cultivar_id}/protection", "POST /api/cultivars/{cultivar_id}/names",
    "POST /api/blank-batches", "POST /api/label-sheet-sizes", "POST /api/label-sheet-sizes/{name}/retirement",
    "POST /api/public-addresses", "POST /api/public-addresses/{address_id}/confirmation", "POST /api/session", "DELETE /api/session",
    "DELETE /api/sessions", "DELETE /api/sessions/{session_id}", "PUT /api/password", "POST /api/tokens",
    "DELETE /api/tokens/{token_id}", "POST /api/parties", "PATCH /api/parties/{party_id}", "POST /api/parties/{party_id}/forget",
    "PUT /api/roles/{party_id}", "POST /api/areas", "PATCH /api/areas/{area_id}", "POST /api/area-permits", "POST /api/invitations",
    "POST /api/invitations/accept", "DELETE /api/invitations/{invitation_id}", "PATCH /api/club",
}  # fmt: skip
OTHER |= (
    TOUCHES_NO_WOOD
    | {"POST /api/lists"}
    | {
        f"{method} /api/lists/{{list_id}}/{act}"
        for method, act in (
            ("PUT", "form"),
            ("PUT", "answers"),
            ("POST", "take"),
            ("POST", "take-back"),
            ("POST", "drop"),
        )
    }
    | {"POST /api/lists"}
)


@pytest.mark.databases("sqlite")
def test_every_action_says_what_it_does_with_stopped_wood(club: Club) -> None:
    routes = {
        f"{method.upper()} {path}"
        for path, methods in club.app.openapi()["paths"].items()
        for method in methods
        if method != "get"
    }

    assert routes == REFUSED.keys() | FREE.keys() | OTHER


@pytest.mark.parametrize(
    ("action", "way"),
    [(action, way) for action, ways in REFUSED.items() for way in ways],
    ids=lambda told: told.rpartition("/")[2],
)
def test_no_action_uses_or_moves_what_is_stopped(sick: Sick, action: str, way: str) -> None:
    method, _, path = action.partition(" ")
    address = path.format(plant_id=sick.plant["id"], tree_id=sick.tree_id)
    browser = sick.club.browser("administrator")
    read = address.removesuffix("/finish").removesuffix("/owner-word")
    headers = {"If-Match": browser.get(read).headers.get("ETag", "")} if method in ("PATCH", "PUT") else {}

    with sick.club.nothing_written():
        answer = browser.request(method, address, json=REFUSED[action][way](sick), headers=headers)

    assert answer.json()["type"] in STOPPED, answer.text
    told = check_problem(answer, 409, answer.json()["type"].rpartition("/")[2])
    assert "health steward" in told["todo"] or "release" in told["todo"], told


# The pages' forms of the same acts: address, what is typed.
FORMS: dict[str, tuple[str, dict[str, str]]] = {
    "cut": ("/cut/{tree_id}", {"sticks": "2", "stage": "tight"}),
    "cut, from paper": ("/cut/from-paper", {"day": "2026-02-14", "sticks.{tree_id}": "2"}),
    "split": ("/bundles/{id}/split", {"sticks": "1"}),
    "discard": ("/bundles/{id}/discard", {"sticks": "1", "reason": "it is sick"}),
    "cut to length": ("/bundles/{id}/length", {"sticks_before": "1", "sticks_after": "2"}),
    "return": ("/bundles/{handed}/return", {}),
    "hand over: flag": ("/hand-over/{id}", {"sticks": "1", "form": "flag"}),
    "hand over: bundle": ("/hand-over/{id}", {"sticks": "1", "form": "bundle"}),
    "hand over: table": ("/hand-over/{id}", {"sticks": "1", "form": "table"}),
    "hand over: slip": ("/hand-over/slip", {"day": "2026-02-14", "code.1": "{code}", "sticks.1": "1"}),
    "graft": ("/bench/graft/{id}", {"sticks": "1", "grafts": "1", "plants": "1", "stock_as_told": "a seedling"}),
    "put away": ("/store/put-away", {"things": "{code}", "into": "out:", "note": "to the shed"}),
    "plant as a tree": ("/plants/{plant}/source-tree", {"may_cut": "yes"}),
    "let it be cut": ("/trees/{tree_id}/may-cut", {"may_cut": "yes", "version": "1"}),
    "end its contract": ("/trees/{tree_id}/contract", {"rights_note": "the seller, by letter", "version": "1"}),
    "settle a count": ("/store/count/{count}/settle", {"bundle_id": "{id}", "act": "out"}),
    "finish a tree": ("/trees/{tree_id}/finish", {"may_cut": "yes", "version": "1"}),
    "pass a plant on": ("/plants/{plant}/pass-on", {"kind": "handed_over"}),
}  # fmt: skip


@pytest.mark.parametrize("which", FORMS)
def test_no_form_uses_or_moves_what_is_stopped(sick: Sick, which: str) -> None:
    address, form = FORMS[which]
    names = {
        "id": sick.id,
        "handed": sick.handed["id"],
        "tree_id": sick.tree_id,
        "plant": sick.plant["id"],
        "code": sick.bundle["code"],
    }
    if which == "settle a count":
        names["count"] = sick.club.made("/shelf-counts", {"box_id": sick.box["id"]})["id"]
    typed = {name.format(**names): value.format(**names) for name, value in form.items()}
    typed |= {"party_id": str(sick.club.cast.guest_id)} if "hand over" in which or "pass" in which else {}
    typed |= {"site_id": str(sick.club.orchard.site_id)} if which == "plant as a tree" else {}

    if which in ("let it be cut", "end its contract"):
        tree = sick.club.browser("administrator").get(f"/api/trees/{sick.tree_id}").json()
        typed["version"] = str(tree["version"])

    with sick.club.nothing_written():
        page = sick.club.submit(address.format(**names), typed, "administrator")

    keeps = {"note": "to the shed"} if which == "put away" else {}
    told = check_page(page, 409, "Nothing was written.", keeps=keeps)
    assert "stop" in told.lower()


# Forms that stay free: looks, notes, counts, names, stops themselves; or that touch no wood that is there.
FREE_FORMS = {
    "/cut/new-tree", "/varieties/{cultivar_id}/rights",
    "/receive", "/collections/{collection_id}", "/labels", "/labels/address", "/labels/lost/{code}", "/labels/blank",
    "/labels/blank/given-up", "/labels/sheets", "/labels/sheets/{name}/retired", "/labels/tie/{code}", "/store/new", "/store/box",
    "/store/look/{bundle_id}", "/hand-over", "/hand-over/{bundle_id}/back", "/bench", "/grafts/{graft_id}/look", "/trees/new", "/sites/new",
    "/trees/{tree_id}/look", "/stops/new", "/stops/{stop_id}/bind", "/stops/{stop_id}/step", "/stops/{stop_id}/recall",
    "/stops/{stop_id}/told/{recall_id}", "/sites/{site_id}/edit", "/sites/{site_id}/round/{kind}", "/looks/{look_id}/picture",
    "/looks/{look_id}/taken-back", "/stops/{stop_id}/release", "/grafts/{graft_id}/taken-back", "/trees/{tree_id}/name",
    "/collections/{collection_id}/time", "/collections/{collection_id}/name", "/collections/{collection_id}/tree",
    "/my-fridge", "/store/weigh", "/sites/{site_id}/air", "/sites/{site_id}/air/files",
    "/air-files/{air_file_id}/form", "/air-files/{air_file_id}/take", "/air-files/{air_file_id}/drop",
    "/air-files/{air_file_id}/taken-back",
    "/store/dials/{reading_id}/taken-back", "/loggers", "/loggers/{logger_id}/hang", "/loggers/{logger_id}/files",
    "/reading-files/{file_id}/form", "/reading-files/{file_id}/take", "/reading-files/{file_id}/drop",
    "/reading-files/{file_id}/taken-back", "/store/{store_id}/fruit", "/store/{store_id}/fruit/{fruit_id}/out",
    "/store/{store_id}/limits", "/store/{store_id}/nominal",
    "/store/weigh/{weighing_id}/taken-back", "/store/count", "/store/count/{count_id}/scan", "/store/count/{count_id}/photo", "/scan",
    "/store/count/{count_id}/end", "/lists", "/lists/{list_id}/form", "/lists/{list_id}/answers", "/lists/{list_id}/take",
    "/lists/{list_id}/take-back", "/lists/{list_id}/drop",
}  # fmt: skip
REFUSED_FORMS = {
    "/cut/{tree_id}", "/hand-over/slip", "/cut/from-paper",
    "/bundles/{bundle_id}/{act}", "/hand-over/{bundle_id}", "/bench/graft/{bundle_id}", "/store/put-away",
    "/trees/{tree_id}/may-cut", "/trees/{tree_id}/contract", "/store/count/{count_id}/settle",
    "/plants/{plant_id}/source-tree", "/plants/{plant_id}/pass-on", "/trees/{tree_id}/finish",
}  # fmt: skip


@pytest.mark.databases("sqlite")
def test_every_form_about_wood_is_in_a_list() -> None:
    moments = [
        importlib.import_module(f"service.pages.{moment}") for moment in MOMENTS if moment != "account"
    ]
    forms = {route.path for moment in moments for route in moment.router.routes if "POST" in route.methods}

    assert forms == FREE_FORMS | REFUSED_FORMS
    shape = re.compile(r"\{\w+\}")
    tried = {shape.sub("*", address) for address, _ in FORMS.values()}
    untried = {shape.sub("*", address) for address in REFUSED_FORMS} - tried
    assert untried == {"/bundles/*/*"}, "its acts are tried one by one"


def test_the_pages_of_stopped_wood_offer_no_act_with_it(sick: Sick) -> None:
    """All that is left is to record what is cut already, and to count back what lies on the table."""
    left = {
        f"/cut/{sick.tree_id}": "",
        f"/cut/{sick.tree_id}?already_cut=true": "already_cut",
        f"/hand-over/{sick.id}": "back",
        f"/bench/graft/{sick.id}": "",
    }

    for address, field in left.items():
        page = sick.club.page(address, "administrator")
        check_page(page, 200, "stopped")
        forms = re.findall(r'<form method="post".*?</form>', page.text, re.DOTALL)
        assert [field in typed_in(form) for form in forms] == [True] * bool(field), address


def test_wood_of_a_stopped_tree_that_is_cut_already_is_stopped_from_its_first_moment(
    fresh_club: Club,
) -> None:
    tree_id = fresh_club.plant()
    fresh_club.stop(tree_id=tree_id)
    (bundle,) = fresh_club.cut(4, tree_id=tree_id, already_cut=True)

    with fresh_club.nothing_written():
        answer = fresh_club.post("/splits", [{"bundle_id": bundle["id"], "sticks": 1}])

    assert fresh_club.get(f"/bundles/{bundle['id']}")["stopped"] is True
    check_problem(answer, 409, "stopped-bundle")


def test_what_is_free_stays_free_on_stopped_wood(fresh_club: Club) -> None:
    sick = make_sick(fresh_club)
    club = fresh_club

    club.made("/recounts", {"bundle_id": sick.id, "counted": 14, "reason": "counted"}, "health_steward")
    club.made("/table-counts", {"bundle_id": sick.id, "sticks": 2})
    club.made("/bundle-checks", [{"bundle_id": sick.id, "mould": True}])
    club.made(
        "/tree-checks",
        [{"tree_id": sick.tree_id, "kind": "leaf", "result": "symptom", "agent": "fire blight"}],
    )
    club.made("/take-checks", [{"graft_id": sick.graft["id"], "alive": 0, "looked_at": 1}])
    club.made(
        "/put-away",
        [{"bundle_id": sick.id, "store_id": sick.box["store_id"], "to_isolate": True}],
        "health_steward",
    )

    assert club.get(f"/bundles/{sick.id}")["stopped"] is True
