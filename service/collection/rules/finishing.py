"""What was left out at the tree or at the door, and waits under 'to finish'."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.collection.rules.words import CollectionKind, Wood

MISSING_WORDS: Mapping[str, str] = {
    "stage": "the growth stage of the buds",
    "leaves_down": "whether the tree's leaves were down",
    "leaves_off": "whether the leaves were taken off",
    "disinfected": "whether the tools were disinfected before it",
    "from": "from whom it came",
    "their_reference": "the giver's own reference",
    "area_id": "the plant-health area it grew in",
    "health_paper": "whether a health paper came with it",
    "tree_as_told": "which tree it was cut from, as told",
    "cut_on": "the day it was cut, as told",
    "name": "the name of the variety, as told",
}
_CUT = {Wood.DORMANT: ("stage", "leaves_down", "disinfected"), Wood.SUMMER: ("leaves_off", "disinfected")}


def missing_of(kind: CollectionKind, wood: Wood, told: Mapping[str, Any]) -> list[str]:
    """The facts that nobody has told yet; `told` holds the collection's fields."""
    if kind is CollectionKind.CUT:
        return [name for name in _CUT[wood] if told[name] is None]
    missing = [] if told["from_party_id"] or told["from_whom"] else ["from"]
    missing += ["area_id"] if told["area_id"] is None else []
    missing += [name for name in ("their_reference", "health_paper", "tree_as_told") if not told[name]]
    if told["cut_on_guessed"]:
        missing.append("cut_on")
    if not told["cultivar_id"] and not told["name_as_told"]:
        missing.append("name")
    return missing
