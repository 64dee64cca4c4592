"""What a scan of a tree, a box, a store or a plant says to anybody."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from service.provenance.rules.card import (
    IDENTITY_WORDS,
    NameCorrected,
    NameFacts,
    corrections_of,
    name_of,
    names_of,
)
from service.provenance.rules.stops import StopOnWood, gravest, stop_says, stop_todo
from service.provenance.rules.words import count, day, sentence
from service.storage.rules import as_box
from service.trees.rules import CheckKind, CheckResult, not_seen_words


def stop_part(stops: Sequence[StopOnWood]) -> list[dict[str, Any]]:
    return [
        {
            "reason": s.reason,
            "state": s.state,
            "since": s.since,
            "words": sentence(stop_says(s)),
            "todo": stop_todo(s.reason),
        }
        for s in stops
    ]


@dataclass(frozen=True)
class TreeScan:
    name: NameFacts
    number: int
    region: str
    area: str
    planted_year: int | None
    felled_on: date | None
    provisional: bool
    stops: tuple[StopOnWood, ...]
    checks: tuple[tuple[CheckKind, CheckResult, date], ...]


def tree_card(tree: TreeScan) -> tuple[str, dict[str, Any]]:
    """The first sentence and the rest: no owner, no exact place."""
    what = tree.name.short_with_kind
    stop = gravest(tree.stops)
    if tree.felled_on:
        answer = f"This was tree {tree.number}: {what}. It was felled on {day(tree.felled_on)}."
    elif stop:
        answer = f"Cut no wood from this tree: {stop_says(stop)}. It is {what}."
    else:
        answer = f"This is tree {tree.number}: {what}. Ask the club before you cut wood from it."
    words = {
        CheckResult.HEALTHY: "seen healthy in leaf", CheckResult.SYMPTOM: "a symptom was seen in leaf",
        CheckResult.TRUE: "seen true to name in fruit", CheckResult.WRONG: "seen not true to name in fruit",
    }  # fmt: skip
    return answer, {
        "kind": "tree", "answer": answer, "name": name_of(tree.name), "number": tree.number, "region": tree.region, "area": tree.area,
        "planted_year": tree.planted_year, "felled_on": tree.felled_on, "doubt": sentence(IDENTITY_WORDS[tree.name.identity]),
        "stops": stop_part(tree.stops), "state": "stopped" if stop else "felled" if tree.felled_on else "standing",
        "tree_checks": [
            {"kind": kind, "result": result, "seen_on": on, "words": sentence(f"{words[result]} on {day(on)}")}
            for kind, result, on in tree.checks
        ],
    }  # fmt: skip


def not_seen_now(card: Mapping[str, Any], day: date) -> str:
    """Read off the stored dates at the moment of the scan: that the tree was not seen in leaf for a year, or never."""
    ours = card.get("state") != "felled" and not card.get("origin", {}).get("received", False)
    if "tree_checks" not in card or not ours:
        return ""
    looks = [
        check["seen_on"]
        for check in card["tree_checks"]
        if check["kind"] == CheckKind.LEAF and check["seen_on"]
    ]
    seen_on = max((date.fromisoformat(str(on)) for on in looks), default=None)
    words = not_seen_words(seen_on, day)
    return (
        sentence(
            f"{'the tree' if card['kind'] == 'tree' else 'its tree'} was {words}; ask before you use its wood"
        )
        if words
        else ""
    )


@dataclass(frozen=True)
class Lying:
    """A bundle in a box, as far as anybody may know."""

    code: str | None
    name: str
    on_hand: int
    stopped: bool


def box_card(name: str, contents: Sequence[Lying]) -> tuple[str, dict[str, Any]]:
    stopped = [one for one in contents if one.stopped]
    named = as_box(name) if as_box(name) == name else f"the box {name}"
    if not contents:
        answer = f"This is {named}. Nothing is recorded in it."
    else:
        answer = f"This is {named}, with {count(len(contents), 'bundle')}: {names_of([one.name for one in contents])}."
    if stopped:
        answer = (
            f"Take nothing out of this box: {count(len(stopped), 'bundle')} in it {'is' if len(stopped) == 1 else 'are'} stopped. "
            + answer
        )
    return answer, {
        "kind": "box", "answer": answer, "name": name, "state": "stopped" if stopped else "ready",
        "contents": [{"code": one.code, "name": one.name, "on_hand": one.on_hand, "stopped": one.stopped} for one in contents],
    }  # fmt: skip


def store_card(kind: str, *, closed: bool, boxes: int, bundles: int) -> tuple[str, dict[str, Any]]:
    """For anybody: that it is the club's, and how much lies in it; not whose house it stands in."""
    words = kind.replace("_", " ")
    if closed:
        answer = f"This {words} was a cold store of the club; it is no longer used."
    else:
        answer = f"This {words} is a cold store of the club. {count(bundles, 'bundle').capitalize()} and {count(boxes, 'box', 'boxes')} are in it."  # noqa: E501
    return answer, {
        "kind": "store", "answer": answer, "store_kind": kind, "state": "closed" if closed else "open", "boxes": boxes, "bundles": bundles,
    }  # fmt: skip


@dataclass(frozen=True)
class PlantScan:
    number: int
    names: tuple[NameFacts, ...]  # what it carries, the first on top
    stock: str
    method: str
    grafted_on: date
    state: str
    became_tree: int | None
    stops: tuple[StopOnWood, ...]
    corrections: tuple[NameCorrected, ...] = ()
    taken_back_on: date | None = None


_PLANT_STATES = {
    "waiting": "nobody has judged yet whether it took",
    "took": "it took",
    "failed": "it did not take",
    "gone": "it is no longer there",
    "void": "it was recorded by mistake",
}


def plant_card(plant: PlantScan) -> tuple[str, dict[str, Any]]:
    top = plant.names[0] if plant.names else None
    what = top.short_with_kind if top else "a grafted plant"
    on = f" on {plant.stock}" if plant.stock else ""
    stop = gravest(plant.stops)
    if plant.taken_back_on:
        answer = (
            f"There is no such plant: plant {plant.number} was recorded by mistake, taken back on {day(plant.taken_back_on)}. "
            "Take this tag off, and ask the club which plant it hangs on."
        )
    elif stop:
        answer = f"Leave this plant where it is: {stop_says(stop)}. It is {what}{on}."
    else:
        answer = f"This is plant {plant.number}: {what}{on}, grafted on {day(plant.grafted_on)}; {_PLANT_STATES[plant.state]}."
    return answer, {
        "kind": "plant", "answer": answer, "number": plant.number, "names": [name_of(one) for one in plant.names], "stock": plant.stock,
        "method": plant.method, "grafted_on": plant.grafted_on, "take": plant.state, "take_words": sentence(_PLANT_STATES[plant.state]),
        "became_tree": plant.became_tree, "taken_back_on": plant.taken_back_on,
        "corrections": corrections_of(plant.corrections),
        "stops": stop_part(plant.stops), "state": "stopped" if stop else plant.state,
    }  # fmt: skip
