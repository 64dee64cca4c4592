"""The API's description as the search for faults reads it: with values that stand in the filled club, so that calls reach deep.

Wherever an id, a code or a word of the catalogue is asked for, what the club has is offered beside anything else of that shape.
"""

from __future__ import annotations

import copy
from typing import Any

from tests.builders.catalogue import cultivar_id, rootstock_id, taxon_id
from tests.season.filled_club import APPLE, FilledClub, fixed
from tests.season.plausible import API, EDITED_PARTS, QUESTIONS, filled_in, things_of

Json = Any

TREES = ("tree", "own_tree", "sick_tree", "far_tree")
BUNDLES = (
    "bundle",
    "spare_bundle",
    "own_bundle",
    "others_bundle",
    "flag",
    "table",
    "sick_bundle",
    "received",
)
CUTS = ("cut of tree", "cut of sick_tree", "unfinished", "receipt")
THINGS = (*TREES, *BUNDLES, "box", "store", "own_plant", "others_plant")
SHARED = ("On-Behalf-Of", "Idempotency-Key")
DAYS = ["2026-01-10", "2026-02-14", "2026-06-13", "1961-01-01", "0001-01-01", "9999-12-31"]
INSTANTS = [
    "2026-01-10T11:00:00Z",
    "2026-06-13T11:05:00+02:00",
    "2026-06-13T10:00:00Z",
    "1970-01-01T00:00:00Z",
]


def known_values(club: FilledClub) -> dict[str, list[Json]]:
    """What the club has, by the name of the field or parameter that asks for it."""
    people = [str(club.cast.asker(who).party_id) for who in ("member", "host", "administrator")]
    people += [str(club.cast.guest_id), fixed("party")]
    codes = [club.names[f"code of {fixed(name)}"] for name in (*BUNDLES, "tree", "box", "store", "own_plant")]
    ids: dict[str, tuple[str, ...]] = {
        "tree_id": TREES, "stock_tree_id": TREES, "tree_ids": TREES, "also_tree_ids": TREES, "bundle_id": BUNDLES,
        "bundle_ids": BUNDLES, "parent_id": BUNDLES, "collection_id": CUTS, "site_id": ("site", "far_site"),
        "area_id": ("area", "far_area"), "from_area_id": ("far_area", "area"), "to_area_id": ("area", "far_area"),
        "store_id": ("store", "cellar"), "box_id": ("box", "other_box"), "stop_id": ("stop", "doubt"), "recall_id": ("recall",),
        "graft_id": ("own_graft", "others_graft"), "plant_id": ("own_plant", "others_plant", "own_second_plant"),
        "thing_id": THINGS, "sheet_id": ("sheet",), "invitation_id": ("invitation",), "token_id": ("token of administrator",),
        "into_box_id": ("box", "other_box"), "into_store_id": ("store", "cellar"),
    }  # fmt: skip
    return {
        **{field: [fixed(name) for name in names] for field, names in ids.items()},
        **dict.fromkeys(("party_id", "owner_id", "host_id", "holder_id", "from_party_id"), people),
        "On-Behalf-Of": people[:1],
        **dict.fromkeys(("code", "into_code", "codes", "stock_code", "interstem_code"), codes),
        "place_id": [club.names["place"]], "into_place_id": [club.names["place"]], "round_id": [club.names["round"]],
        "address_id": [club.names["address"]], "sha256": [club.names["sha256"]], "picture_sha256": [club.names["sha256"]],
        "taxon_id": [str(taxon_id("malus-domestica"))], "stock_taxon_id": [str(taxon_id("malus-domestica"))],
        "cultivar_id": [str(cultivar_id(APPLE))], "rootstock_id": [str(rootstock_id("m-26"))],
        "stage": ["00", "tight"], "method": ["whip-and-tongue"], "agent": ["apple-proliferation"], "genus": ["Malus"],
        "zone": ["Europe/Dublin"], "sheet": ["a4-3x7"], "sticks": [1, 2, 5], "q": ["gravenstein", "1"],
        "token": [club.names["invitation_token"]], "If-Match": [f'"v{version}"' for version in (1, 2, 3)],
    }  # fmt: skip


def enriched(document: Json, club: FilledClub) -> Json:
    """The description with the known values offered and an example of each call; what it allows and refuses stays the same."""
    richer, known = copy.deepcopy(document), known_values(club)
    for path, item in richer["paths"].items():
        things = things_of(club, "administrator", path, own=False)
        for method, operation in item.items():
            operation.pop(
                "security", None
            )  # who asks is signed in; `matrix.csv` and the tokens' tests try everybody else
            for parameter in operation.get("parameters", ()):
                parameter["schema"] = _offered(parameter["name"], parameter["schema"], known)
                if parameter["in"] == "path":
                    parameter["example"] = things[parameter["name"]]
                elif parameter["name"] in QUESTIONS.get(path, {}):
                    parameter["example"] = QUESTIONS[path][parameter["name"]]
            body = API.get((method.upper(), path))
            if body is not None:
                operation["requestBody"]["content"]["application/json"]["example"] = filled_in(body, things)
            if any(parameter["name"] == "If-Match" for parameter in operation.get("parameters", ())):
                address = EDITED_PARTS.sub("", path.format_map(things))
                etag = club.client("administrator").get(address).headers["ETag"]
                (version,) = [each for each in operation["parameters"] if each["name"] == "If-Match"]
                version["example"] = etag
    for schema in richer["components"]["schemas"].values():
        for name, field in schema.get("properties", {}).items():
            schema["properties"][name] = _offered(name, field, known)
    return richer


def thinned(document: Json) -> Json:
    """The description with the headers that all changes share told once per tag: their every misuse is tried there."""
    told: set[tuple[str, str]] = set()
    for item in document["paths"].values():
        for operation in item.values():
            kept = []
            for parameter in operation.get("parameters", ()):
                once = (operation["tags"][0], parameter["name"])
                if parameter["name"] not in SHARED or once not in told:
                    kept.append(parameter)
                told.add(once)
            operation["parameters"] = kept
    return document


def _offered(name: str, schema: Json, known: dict[str, list[Json]]) -> Json:
    if "anyOf" in schema:
        return {**schema, "anyOf": [_offered(name, choice, known) for choice in schema["anyOf"]]}
    if schema.get("type") == "array" and "items" in schema:
        return {**schema, "items": _offered(name, schema["items"], known)}
    values = {"date": DAYS, "date-time": INSTANTS}.get(schema.get("format", ""), known.get(name))
    if values is None or "$ref" in schema:
        return schema
    kind = {"string": str, "integer": int}.get(schema.get("type", ""))
    fitting = [value for value in values if kind is not None and isinstance(value, kind)]
    return {"anyOf": [{"enum": fitting}, schema]} if fitting else schema
