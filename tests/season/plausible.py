"""What a person would send to each route that changes something: bodies of the API, forms of the pages.

`$name` stands for an id, a code or a day of the filled club; for whom it is tried decides which (see `things_of`).
"""

from __future__ import annotations

import re
from typing import Any
from uuid import uuid4

from tests.builders.catalogue import cultivar_id, rootstock_id, taxon_id
from tests.builders.members import PASSWORD
from tests.infra.web import Client
from tests.season import keeping
from tests.season.filled_club import APPLE, FilledClub, fixed, picture, symbol

Json = Any
NEW_PASSWORD = "lantern quince furrow mist"
CUT = {"tree_id": "$tree_id", "sticks": 3}
RECEIPT = {
    "taxon_id": "$taxon_id",
    "name_as_told": "Gate Pippin",
    "sticks": 3,
    "from_whom": "a neighbour",
    "area_id": "$area_id",
}
DEED = {"bundle_id": "$club_bundle", "sticks": 1, "reason": "mouldy"}
SIGN_IN = {"name": "steward", "password": PASSWORD}
CHANGED_PASSWORD = {"old_password": PASSWORD, "password": NEW_PASSWORD}
PICTURE = picture()
A_SYMBOL = symbol("HTTPS://TAGS.HOLLIN-VALE.EXAMPLE/T/00000000")
JOINED = {"name": "Runa Vestergård", "sign_in_name": "runa", "password": NEW_PASSWORD}
PERMIT = {
    "from_area_id": "$area_id", "to_area_id": "$far_area", "reference": "HV 9/26", "allows": True, "answered_on": "2026-06-01",
}  # fmt: skip
SITE = {"name": "Mill plot", "area_id": "$area_id"}
TREE = {"site_id": "$site_id", "cultivar_id": "$cultivar_id", "may_cut": "yes"}

API: dict[tuple[str, str], Json] = {
    ("POST", "/api/stops"): {"tree_id": "$tree_id", "reason": "health", "agent": "apple-proliferation"},
    ("POST", "/api/stops/{stop_id}/bind"): {"tree_ids": ["$tree_id"]},
    ("POST", "/api/stops/{stop_id}/confirm"): {"note": "the laboratory found it"},
    ("POST", "/api/stops/{stop_id}/clear"): {"note": "the laboratory found nothing"},
    ("POST", "/api/stops/{stop_id}/release"): {"bundle_ids": ["$sick_bundle"], "reason": "cut before the tree fell ill"},
    ("POST", "/api/recalls"): {"stop_id": "$doubt"},
    ("POST", "/api/recalls/{recall_id}/told"): {"party_id": "$collector", "how": "telephone"},
    ("POST", "/api/recalls/{recall_id}/renewal"): None,
    ("POST", "/api/parties/{party_id}/forget"): None,
    ("PATCH", "/api/bundles/{bundle_id}"): {"note": "thin wood"},
    ("POST", "/api/discards"): DEED,
    ("POST", "/api/cuts-to-length"): {"bundle_id": "$club_bundle", "sticks_before": 1, "sticks_after": 2},
    ("POST", "/api/recounts"): {"bundle_id": "$club_bundle", "counted": 7, "reason": "counted twice"},
    ("POST", "/api/given-outside"): {**DEED, "area_id": "$area_id"},
    ("POST", "/api/tags"): [{"kind": "tree", "thing_id": "$untagged_tree"}],
    ("POST", "/api/tags/{code}/replacement"): None,
    ("POST", "/api/tags/{code}/binding"): {"kind": "bundle", "thing_id": "$club_bundle", "placement": "wood"},
    ("POST", "/api/blank-batches"): {"blanks": 3},
    ("POST", "/api/label-sheet-sizes"): {"title": "A roll", "page_w_mm": 76, "page_h_mm": 25, "label_w_mm": 76, "label_h_mm": 25},
    ("POST", "/api/label-sheet-sizes/{name}/retirement"): None,
    ("POST", "/api/blanks-given-up"): {"codes": ["$blank"]},
    ("POST", "/api/labelled-cuts"): [{"cut": CUT}],
    ("POST", "/api/labelled-receipts"): [{"receipt": RECEIPT}],
    ("POST", "/api/label-sheets"): {"codes": ["$code"]},
    ("POST", "/api/public-addresses"): {"host": "tags.other.example"},
    ("POST", "/api/public-addresses/{address_id}/confirmation"): None,
    ("POST", "/api/stores"): {"name": "Cold room", "kind": "cold_room", "host_id": "$host"},
    ("PATCH", "/api/stores/{store_id}"): {"note": "hums"},
    ("POST", "/api/places"): {"store_id": "$store_id", "name": "Door"},
    ("POST", "/api/boxes"): {"name": "A new box", "store_id": "$store_id"},
    ("PATCH", "/api/boxes/{box_id}"): {"note": "green lid"},
    ("POST", "/api/put-away"): [{"bundle_id": "$club_bundle", "into_box_id": "$other_box"}],
    ("POST", "/api/bundle-checks"): [{"bundle_id": "$club_bundle", "buds": "tight"}],
    ("POST", "/api/splits"): [DEED],
    ("POST", "/api/hand-overs"): [{**DEED, "party_id": "$guest"}],
    ("POST", "/api/table-counts"): {"bundle_id": "$bundle_with_table", "sticks": 1},
    ("POST", "/api/returns"): {"bundle_id": "$flag"},
    ("POST", "/api/grafts"): [
        {"woods": [{"bundle_id": "$bundle_id", "sticks": 1}], "method": "whip-and-tongue", "rootstock_id": "$rootstock_id"}
    ],
    ("PATCH", "/api/grafts/{graft_id}"): {"note": "windy day"},
    ("POST", "/api/grafts/{graft_id}/taken-back"): {"reason": "written down twice"},
    ("POST", "/api/plant-moves"): [{"plant_id": "$plant_id", "party_id": "$guest"}],
    ("POST", "/api/take-checks"): [{"graft_id": "$graft_id", "alive": 1, "looked_at": 2}],
    ("PATCH", "/api/plants/{plant_id}"): {"note": "by the wall"},
    ("POST", "/api/plants/{plant_id}/source-tree"): {"site_id": "$site_id"},
    ("POST", "/api/collections"): [CUT],
    ("PATCH", "/api/collections/{collection_id}"): {"note": "cut in the rain"},
    ("PATCH", "/api/collections/{collection_id}/name"): {"name_as_told": "Gate Pippin", "reason": "the giver wrote"},
    ("PATCH", "/api/collections/{collection_id}/tree"): {"tree_id": "$other_tree", "reason": "counted from the other end"},
    ("PATCH", "/api/collections/{collection_id}/time"): {"done_at": "2026-01-09T10:00:00Z", "reason": "a day late in the book"},
    ("POST", "/api/receipts"): [RECEIPT],
    ("POST", "/api/rounds"): {"site_id": "$site_id"},
    ("PATCH", "/api/rounds/{round_id}"): {"tools": "a knife"},
    ("POST", "/api/sites"): [SITE],
    ("PATCH", "/api/sites/{site_id}"): {"note": "the gate sticks"},
    ("POST", "/api/sites/{site_id}/air"): {
        "measured": "a maximum and minimum thermometer on the north wall",
        "days": [{"day": "2026-01-05", "lowest_c": -2.5, "highest_c": 3.0}],
    },
    ("POST", "/api/trees"): [TREE],
    ("PUT", "/api/lists/{list_id}/form"): {"kind_id": "$taxon_id"},
    ("PUT", "/api/lists/{list_id}/answers"): {"answers": {"kind:aple:": ""}},
    ("POST", "/api/lists/{list_id}/take"): {},
    ("POST", "/api/lists/{list_id}/take-back"): {"reason": "The wrong file."},
    ("POST", "/api/lists/{list_id}/drop"): None,
    ("PATCH", "/api/trees/{tree_id}"): {"note": "leans"},
    ("PUT", "/api/trees/{tree_id}/owner-word"): {"may_cut": "ask", "most_sticks": 20, "words": "at the gate"},
    ("PATCH", "/api/trees/{tree_id}/name"): {
        "what": "wrong", "taxon_id": "$taxon_id", "name_as_told": "Gate Pippin", "reason": "seen in fruit",
    },
    ("POST", "/api/trees/{tree_id}/checks"): [{"kind": "leaf", "result": "healthy"}],
    ("POST", "/api/tree-checks"): [{"tree_id": "$tree_id", "kind": "leaf", "result": "healthy"}],
    ("PATCH", "/api/trees/{tree_id}/finish"): {"cultivar_id": "$cultivar_id", "reason": "seen in fruit"},
    ("POST", "/api/tree-checks/{look_id}/taken-back"): None,
    ("POST", "/api/tree-checks/{look_id}/picture"): {"picture": "$sha256"},
    ("POST", "/api/cultivars"): {"taxon_id": "$taxon_id", "epithet": "Gate Pippin", "provisional": True},
    ("PATCH", "/api/cultivars/{cultivar_id}"): {"trade_designation": "HOLLINGOLD"},
    ("PATCH", "/api/cultivars/{cultivar_id}/protection"): {"protection": "free"},
    ("POST", "/api/cultivars/{cultivar_id}/names"): {"name": "Old Gate Apple"},
    ("POST", "/api/session"): SIGN_IN,
    ("PUT", "/api/password"): CHANGED_PASSWORD,
    ("POST", "/api/tokens"): {"name": "a script", "scopes": ["read"]},
    ("POST", "/api/parties"): [{"kind": "guest", "name": "Ivo Lind"}],
    ("PATCH", "/api/parties/{party_id}"): {"contact": "by the weir"},
    ("PUT", "/api/roles/{party_id}"): {"roles": ["member"]},
    ("POST", "/api/areas"): [{"name": "Marl Hill"}],
    ("PATCH", "/api/areas/{area_id}"): {"note": "asked again"},
    ("POST", "/api/area-permits"): [PERMIT],
    ("POST", "/api/invitations"): {"roles": ["member"]},
    ("POST", "/api/invitations/accept"): {"token": "$token", **JOINED},
    ("PATCH", "/api/club"): {"short_name": "HV"},
    **keeping.API,
}  # fmt: skip

PAGES: dict[str, dict[str, str]] = {
    "/cut/new-tree": {"site_id": "$site_id", "name_as_told": "apple by the pump", "taxon_id": "$taxon_id", "owner_id": "$guest"},
    "/trees/{tree_id}/contract": {"rights_note": "the seller, by letter", "version": "$version"},
    "/trees/{tree_id}/may-cut": {"may_cut": "ask", "most_sticks": "20", "version": "$version"},
    "/varieties/{cultivar_id}/rights": {"protection": "free", "register_name": "the national register", "version": "$version"},
    "/hand-over/slip": {"party_id": "$guest", "day": "2026-02-14", "code.1": "$code", "sticks.1": "1"},
    "/cut/from-paper": {"site": "$site_id", "day": "2026-01-09", "sticks.$tree_id": "3"},
    "/cut/{tree_id}": {"sticks": "3", "wood": "dormant"},
    "/receive": {**{name: str(value) for name, value in RECEIPT.items() if name != "area_id"}, "from_party_id": "$host"},
    "/collections/{collection_id}": {"note": "cut in the rain", "version": "$version"},
    "/collections/{collection_id}/name": {
        "taxon_id": "$taxon_id", "name_as_told": "Gate Pippin", "reason": "the giver wrote", "which": "none", "looked_for": "Gate Pippin",
        "version": "$version",
    },
    "/collections/{collection_id}/tree": {"tree_id": "$other_tree", "reason": "counted from the other end", "version": "$version"},
    "/collections/{collection_id}/time": {"done_at": "2026-01-09T10:00", "reason": "a day late in the book", "version": "$version"},
    "/labels": {"codes": "$code", "sheet": "a4-3x7", "first_label": "1", "copies": "1"},
    "/labels/address": {"host": "tags.other.example"},
    "/labels/lost/{code}": {},
    "/labels/blank": {"blanks": "3", "sheet": "a4-3x7", "first_label": "1"},
    "/labels/sheets": {
        "title": "A roll", "page_w_mm": "76", "page_h_mm": "25", "columns": "1", "rows": "1", "label_w_mm": "76", "label_h_mm": "25",
    },
    "/labels/sheets/{name}/retired": {},
    "/labels/blank/given-up": {"codes": "$blank", "state": "spoiled"},
    "/labels/tie/{code}": {"kind": "tree", "thing": "$untagged_tree"},
    "/store/new": {"name": "Cold room", "kind": "cold_room", "host_id": "$host"},
    "/store/box": {"name": "A new box", "place_id": "$place"},
    "/store/put-away": {"things": "$code", "into": "box:$other_box"},
    "/store/look/{bundle_id}": {"buds": "tight", "packing": "sealed"},
    "/loggers": {"name": "A further logger", "store_id": "$store_id", "sensor": "air"},
    "/loggers/{logger_id}/hang": {"store_id": "$store_id", "sensor": "pack"},
    "/loggers/{logger_id}/files": {},
    "/reading-files/{file_id}/form": {**keeping.FORM, "unit": "C", "order": "ymd"},
    "/reading-files/{file_id}/take": {},
    "/reading-files/{file_id}/drop": {},
    "/reading-files/{file_id}/taken-back": {},
    "/store/{store_id}/fruit": {"what": "Bramleys", "amount": "ripe", "from_on": "2026-01-09"},
    "/store/{store_id}/fruit/{fruit_id}/out": {"until_on": "2026-01-10"},
    "/my-fridge": {"store_id": "$store_id", "now": "3.5", "unit": "C"},
    "/store/{store_id}/limits": {"heat_c": "8", "heat_hours": "12", "version": "$version"},
    "/store/{store_id}/nominal": {"temp_c": "4"},
    "/lists": {"sort": "trees"},
    "/lists/{list_id}/form": {"column.variety": "Variety"},
    "/lists/{list_id}/answers": {},
    "/lists/{list_id}/take": {"leave_refused": "true"},
    "/lists/{list_id}/take-back": {"reason": "The wrong file."},
    "/lists/{list_id}/drop": {},
    "/store/count": {"of": "box:$box_id"},
    "/store/count/{count_id}/scan": {"code": "$code"},
    "/store/count/{count_id}/photo": {},
    "/scan": {"code": "$code"},
    "/store/count/{count_id}/settle": {"bundle_id": "$club_bundle", "act": "here"},
    "/store/count/{count_id}/end": {},
    "/store/dials/{reading_id}/taken-back": {"why": "mistyped"},
    "/store/weigh": {"thing": "$code", "grams": "410"},
    "/store/weigh/{weighing_id}/taken-back": {"why": "mistyped"},
    "/hand-over": {"code": "$code"},
    "/hand-over/{bundle_id}": {"sticks": "1", "form": "flag", "party_id": "$guest"},
    "/hand-over/{bundle_id}/back": {"back": "1"},
    "/bench": {"code": "$code"},
    "/bench/graft/{bundle_id}": {"sticks": "1", "grafts": "1", "plants": "1", "method": "whip-and-tongue", "rootstock_id": "$rootstock_id"},
    "/grafts/{graft_id}/look": {"alive": "1", "looked_at": "2"},
    "/grafts/{graft_id}/taken-back": {"reason": "written down twice"},
    "/plants/{plant_id}/source-tree": {"site_id": "$site_id", "may_cut": "ask"},
    "/plants/{plant_id}/pass-on": {"kind": "handed_over", "party_id": "$guest"},
    "/trees/new": {"site_id": "$site_id", "taxon_id": "$taxon_id", "name_as_told": "Gate Pippin", "may_cut": "ask"},
    "/trees/{tree_id}/finish": {"site_id": "$site_id", "taxon_id": "$taxon_id", "variety_id": "$cultivar_id", "version": "$version"},
    "/sites/new": {"name": "Mill plot", "area_id": "$area_id"},
    "/sites/{site_id}/edit": {"name": "Weir orchard", "area_id": "$area_id", "gate": "the blue door", "version": "$version"},
    "/sites/{site_id}/air": {"unit": "C", "measured": "the shed", "day.0": "2026-01-05", "lowest.0": "-2,5", "highest.0": "3"},
    "/sites/{site_id}/air/files": {"measured_file": "the station at the mill"},
    "/air-files/{air_file_id}/form": keeping.AIR_FORM,
    "/air-files/{air_file_id}/take": {},
    "/air-files/{air_file_id}/drop": {},
    "/air-files/{air_file_id}/taken-back": {},
    "/sites/{site_id}/round/{kind}": {"look.$tree_id": "healthy"},
    "/looks/{look_id}/picture": {},
    "/looks/{look_id}/taken-back": {},
    "/trees/{tree_id}/look": {"kind": "leaf", "result": "healthy"},
    "/trees/{tree_id}/name": {
        "what": "wrong", "taxon_id": "$taxon_id", "name_as_told": "Gate Pippin", "which": "none", "looked_for": "Gate Pippin",
        "reason": "seen in fruit", "version": "$version",
    },
    "/bundles/{bundle_id}/{act}": {"sticks": "1", "reason": "mouldy"},
    "/stops/new": {"tree_id": "$tree_id", "reason": "health", "agent": "apple-proliferation"},
    "/stops/{stop_id}/bind": {"tree_ids": "$tree_id"},
    "/stops/{stop_id}/step": {"step": "confirm", "note": "the laboratory found it"},
    "/stops/{stop_id}/release": {"bundle_ids": "$sick_bundle", "reason": "cut before the tree fell ill"},
    "/stops/{stop_id}/recall": {},
    "/stops/{stop_id}/told/{recall_id}": {"party_id": "$collector", "how": "telephone"},
    "/sign-in": SIGN_IN,
    "/sign-out": {},
    "/J/{token}": JOINED,

    "/account/contact": {"name": "Another Name", "contact": "by the weir", "version": "$version"},
    "/account/password": CHANGED_PASSWORD,
    "/account/sessions/{session_id}/end": {},
    "/account/sign-out-everywhere": {},
    "/account/tokens/new": {"name": "a script", "scopes": "read", "days": "30"},
    "/account/tokens/{token_id}/revoke": {},
    "/account/calendar": {},
    "/account/calendar/take-back": {},
    "/people/invite": {"roles": "member", "valid_days": "14"},
    "/people/invitations/{invitation_id}/revoke": {},
    "/people/new": {"kind": "guest", "name": "Ivo Lind"},
    "/people/{party_id}/edit": {"kind": "guest", "name": "Runa Vestergård", "contact": "by the weir", "version": "$version"},
    "/people/{party_id}/roles": {"roles": "member", "version": "$version"},
    "/people/{party_id}/forget": {},
    "/club": {"name": "Hollin Vale Grafters", "short_name": "HV", "zone": "UTC", "recall_look_back_winters": "3", "version": "$version"},
    "/areas/new": {"name": "Marl Hill"},
    "/areas/{area_id}/edit": {"name": "Hollin Vale", "note": "asked again", "version": "$version"},
    "/areas/answers/new": {**{name: str(value) for name, value in PERMIT.items()}, "allows": "true"},
}  # fmt: skip

# What is sent as it is, and as which kind.
RAW = {
    "/api/pictures": (PICTURE, "image/png"), "/api/shelf-counts/{count_id}/photos": (A_SYMBOL, "image/png"),
    "/api/lists": (keeping.LIST, "text/csv"),
}  # fmt: skip

# The file that goes with a page's form.
FILES = {
    "/loggers/{logger_id}/files": {"file": ("february.csv", keeping.FILE.encode(), "text/csv")},
    "/sites/{site_id}/air/files": {"file": ("station.csv", keeping.AIR, "text/csv")},
    "/store/count/{count_id}/photo": {"picture": ("a shelf.png", A_SYMBOL, "image/png")},
    "/lists": {"file": ("trees.csv", keeping.LIST, "text/csv")},
    "/looks/{look_id}/picture": {"picture": ("a leaf.png", PICTURE, "image/png")},
}

# What a question of the API cannot do without.
QUESTIONS: dict[str, dict[str, str]] = {
    "/api/lists": {"list_id": fixed("new list"), "sort": "trees"},
    "/api/tags": {"thing_id": fixed("bundle")},
    "/api/cultivars/search": {"q": "gravenstein"},
    "/api/plant-health-agents/search": {"q": "proliferation"},
    "/api/join-advice": {
        "taxon_id": str(taxon_id("malus-domestica")),
        "rootstock_id": str(rootstock_id("m-26")),
    },
    "/api/join-advice/stocks": {"taxon_id": str(taxon_id("malus-domestica"))},
    **keeping.QUESTIONS,
}

# Where a page's form carries the version of what it edits: how the API tells that version.
VERSIONS = {
    "/trees/{tree_id}/contract": "/api/trees/{tree_id}", "/varieties/{cultivar_id}/rights": "/api/cultivars/{cultivar_id}",
    "/collections/{collection_id}": "/api/collections/{collection_id}", "/trees/{tree_id}/name": "/api/trees/{tree_id}",
    "/collections/{collection_id}/time": "/api/collections/{collection_id}",
    "/collections/{collection_id}/tree": "/api/collections/{collection_id}",
    "/collections/{collection_id}/name": "/api/collections/{collection_id}",
    "/trees/{tree_id}/finish": "/api/trees/{tree_id}", "/trees/{tree_id}/may-cut": "/api/trees/{tree_id}",
    "/account/contact": "/api/parties/{self}",
    "/people/{party_id}/edit": "/api/parties/{party_id}", "/people/{party_id}/roles": "/api/parties/{party_id}",
    "/store/{store_id}/limits": "/api/stores/{store_id}/limits",
    "/club": "/api/club", "/sites/{site_id}/edit": "/api/sites/{site_id}", "/areas/{area_id}/edit": "/api/areas/{area_id}",
}  # fmt: skip
# Where the code of a route is a blank tag's.
BLANK = {"/api/tags/{code}/binding", "/labels/tie/{code}"}
EDITED_PARTS = re.compile(r"/(protection|name|tree|time|finish|owner-word)$")
READ_BY = {
    "/api/trees/{tree_id}/finish": {"tree_id": "met_tree"},
    "/trees/{tree_id}/finish": {"tree_id": "met_tree"},
    "/stops/{stop_id}/recall": {"stop_id": "doubt"},
    "/hand-over/{bundle_id}/back": {"bundle_id": "bundle"},
    **keeping.READ_BY,
}


def things_of(club: FilledClub, who: str, route: str, *, own: bool) -> dict[str, str]:
    """What the names in routes and bodies stand for: somebody's own thing, or another's."""
    mark = "own" if own else "others"
    people = {name: str(club.cast.asker(name).party_id) for name in ("collector", "host", "administrator")}
    myself = (
        club.names["guest_party"]
        if who == "guest"
        else str(club.cast.asker(who or "").party_id)
        if who != "stranger"
        else ""
    )
    names = {
        "bundle_id": "own_bundle" if own else "spare_bundle", "tree_id": "tree", "untagged_tree": "own_tree", "other_tree": "own_tree",
        "collection_id": "receipt" if route.endswith("/name") else "cut of tree",
        "site_id": "site", "area_id": "area", "far_area": "far_area", "store_id": "store",
        "box_id": "box", "other_box": "other_box", "stop_id": "stop", "doubt": "doubt", "recall_id": "recall", "sheet_id": "sheet",
        "batch_id": "blank_batch",
        "sick_bundle": "sick_bundle", "look_id": f"look of {who}" if own else "look of administrator",
        "graft_id": f"{mark}_new_graft" if route.endswith("/taken-back") else f"{mark}_graft",
        "plant_id": f"{mark}_plant", "thing_id": "tree", "invitation_id": "invitation",
        "club_bundle": "spare_bundle", "bundle_with_table": "bundle", "flag": "flag", **keeping.NAMES, **READ_BY.get(route, {}),
    }  # fmt: skip
    return {
        **{name: fixed(told) for name, told in names.items()},
        **people, "guest": str(club.cast.guest_id), "self": myself, "party_id": myself if own else fixed("party"),
        "place_id": club.names["place"], "place": club.names["place"], "round_id": club.names["round"],
        "code": club.names["blank" if route in BLANK else f"code of {fixed('spare_bundle')}"], "blank": club.names["blank"],
        "address_id": club.names["address"], "session_id": club.session_of(who),
        "token_id": fixed(f"token of {who}"), "kind": "leaf" if "/round/" in route else "tree",
        "sha256": club.names["sha256"], "token": club.names["invitation_token"], "act": "discard", "path": "style.css",
        "secret": club.names["calendar_secret"], "slug": "not-enough-sticks", "sort": "trees", "version": "1",
        "name": f"own-{fixed('own_sheet').replace('-', '')[:12]}",
        "taxon_id": str(taxon_id("malus-domestica")), "cultivar_id": str(cultivar_id(APPLE)),
        "rootstock_id": str(rootstock_id("m-26")),
    }  # fmt: skip


def filled_in(body: Json, things: dict[str, str]) -> Json:
    """A body with every `$name` put in."""
    if isinstance(body, dict):
        return {filled_in(name, things): filled_in(value, things) for name, value in body.items()}
    if isinstance(body, list):
        return [filled_in(value, things) for value in body]
    if isinstance(body, str) and "$" in body:
        before, _, name = body.partition("$")
        return before + things[name]
    return body


def version_for(office: Client, address: str) -> str:
    """The version of what stands at an address of the API."""
    answer = office.get(address) if address else None
    return answer.json()["version"] if answer is not None and answer.is_success else ""


def new_form(form: dict[str, str]) -> dict[str, str]:
    return {"form_key": str(uuid4()), **form}
