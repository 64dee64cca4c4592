"""What a scan of a bundle says to anybody: the wood and its state, never people, addresses or exact places.

Nothing here depends on the moment of the scan: dates are told, and how long ago they are is read off by whoever shows them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from service.catalogue.rules import format_cultivar_name, page_name
from service.provenance.rules.stops import StopOnWood, gravest, stop_says, stop_todo
from service.provenance.rules.words import count, day, listed, sentence
from service.trees.rules import CheckKind, CheckResult, Identity, says_kind

CARD_VERSION = 1


@dataclass(frozen=True)
class NameFacts:
    """How wood is named: its kind, its variety, and how sure that is."""

    kind: str
    botanical_name: str
    epithet: str = ""
    group_name: str = ""
    trade_designation: str = ""
    as_told: str = ""
    identity: Identity | None = None  # of the tree; none for wood from outside
    provisional: bool = False

    @property
    def short(self) -> str:
        if self.epithet:
            return page_name(self.epithet, self.trade_designation)
        return f"“{self.as_told}”" if self.as_told else "a variety without a name"

    @property
    def short_with_kind(self) -> str:
        """As a sentence says it: the kind behind the name, unless what was told of it begins with the kind."""
        told = not self.epithet and says_kind(self.as_told, self.kind)
        return self.short if told else f"{self.short}, {self.kind.lower()}"

    @property
    def full(self) -> str:
        return format_cultivar_name(
            self.botanical_name, self.epithet, self.group_name, self.trade_designation
        ).plain


@dataclass(frozen=True)
class LookFacts:
    """The last time a person looked at the bundle."""

    seen_on: date
    buds: str = ""
    wrinkled: bool | None = None
    mould: bool | None = None
    green_under_scratch: bool | None = None


@dataclass(frozen=True)
class StockFacts:
    """One stock the wood may be joined to."""

    stock: str
    kind: str
    verdict: str
    note: str
    mark: str


@dataclass(frozen=True)
class NameCorrected:
    """A name that tags still say, though it was wrong."""

    labelled_as: str
    words: str
    on: date


@dataclass(frozen=True)
class TreeCorrected:
    """A tree that tags still name, though the wood was cut from another."""

    labelled_as: int
    number: int
    on: date


@dataclass(frozen=True)
class CardFacts:
    """All that a card is made of."""

    code: str | None
    parent_code: str | None
    is_flag: bool
    name: NameFacts
    wood: str
    received: bool
    cut_on: date
    cut_on_guessed: bool
    stage: str | None
    tree_number: int | None
    region: str
    area: str
    sticks_at_start: int
    on_hand: int
    grafted: int
    discarded: int
    length_mm: int | None
    diameter_mm: float | None
    with_member: bool
    in_store: bool
    returned: bool
    unfinished: bool
    protection: str
    protected_until: date | None
    no_propagation_contract: bool
    tree_stopped: bool
    stops: tuple[StopOnWood, ...] = ()
    last_look: LookFacts | None = None
    tree_checks: tuple[tuple[CheckKind, CheckResult, date], ...] = ()
    stocks: tuple[StockFacts, ...] = ()
    corrections: tuple[NameCorrected, ...] = ()
    tree_corrections: tuple[TreeCorrected, ...] = ()


IDENTITY_WORDS = {
    Identity.DOCUMENTED: "the name is documented",
    Identity.FRUIT_COMPARED: "the name was compared with the fruit",
    Identity.AS_TOLD: "the name is as told, not compared with the fruit",
    Identity.UNKNOWN: "nobody knows how sure the name is",
    None: "the name is as told by the giver",
}


def card_of(facts: CardFacts) -> dict[str, Any]:
    """The card as it is stored."""
    return {
        "card": CARD_VERSION, "kind": "bundle", "code": facts.code or facts.parent_code, "is_flag": facts.is_flag,
        "parent_code": facts.parent_code, "answer": answer_sentence(facts), "state": state_of(facts),
        "name": {**name_of(facts.name), "corrections": corrections_of(facts.corrections)},
        "wood": facts.wood, "wood_words": wood_words(facts.wood), "origin": _origin(facts), "sticks": _sticks(facts),
        "length_mm": facts.length_mm, "diameter_mm": facts.diameter_mm, "kept": kept_words(facts), "stops": _stops(facts),
        "tree_stopped": facts.tree_stopped, "last_look": _look(facts.last_look), "tree_checks": _checks(facts),
        "rights": rights_of(facts.protection, facts.protected_until, no_propagation=facts.no_propagation_contract),
        "join_to": [
            {"stock": s.stock, "kind": s.kind, "verdict": s.verdict, "note": s.note, "mark": s.mark} for s in facts.stocks
        ],
    }  # fmt: skip


def state_of(facts: CardFacts) -> str:
    """One word for the state of the wood: stopped, used_up, or ready."""
    if facts.stops:
        return "stopped"
    return "ready" if facts.on_hand else "used_up"


def name_of(name: NameFacts) -> dict[str, Any]:
    doubt = "entered for now, not settled" if name.provisional else IDENTITY_WORDS[name.identity]
    return {
        "kind": name.kind, "botanical_name": name.botanical_name, "epithet": name.epithet, "group_name": name.group_name,
        "trade_designation": name.trade_designation, "as_told": name.as_told, "short": name.short, "full": name.full,
        "identity": name.identity, "doubt": sentence(doubt),
    }  # fmt: skip


def corrections_of(corrections: Sequence[NameCorrected]) -> list[dict[str, Any]]:
    """`Labelled as Gala, corrected to Bramley on 3 May 2026.`"""
    return [
        {
            "labelled_as": one.labelled_as, "corrected_to": one.words, "on": one.on,
            "words": sentence(f"labelled as {one.labelled_as}, corrected to {one.words} on {day(one.on)}"),
        }
        for one in corrections
    ]  # fmt: skip


def trees_corrected(corrections: Sequence[TreeCorrected]) -> list[dict[str, Any]]:
    """`Labelled as cut from tree 12, corrected to tree 14 on 3 May 2026.`"""
    return [
        {
            "labelled_as": one.labelled_as, "corrected_to": one.number, "on": one.on,
            "words": sentence(f"labelled as cut from tree {one.labelled_as}, corrected to tree {one.number} on {day(one.on)}"),
        }
        for one in corrections
    ]  # fmt: skip


def wood_words(wood: str) -> str:
    return "summer budwood" if wood == "summer" else "dormant wood"


def answer_sentence(facts: CardFacts) -> str:
    """The first thing somebody with the tag in hand must know."""
    what = facts.name.short_with_kind
    stop = gravest(facts.stops)
    if stop is not None:
        return f"Do not use this wood: {stop_says(stop)}. It is {what}."
    cut = f"cut on {day(facts.cut_on)}" if not facts.cut_on_guessed else f"received on {day(facts.cut_on)}"
    says = f"This is {what}: {wood_words(facts.wood)} {cut}."
    if not facts.on_hand:
        return f"{says} None of its sticks is left here."
    there = "is" if facts.on_hand == 1 else "are"
    return f"{says} {count(facts.on_hand, 'stick')} {there} on hand."


def kept_words(facts: CardFacts) -> str:
    """Where the wood is kept, in general."""
    if facts.with_member:
        return "handed over to somebody who holds it"
    if facts.in_store:
        return "in a cold store of the club"
    return "with the club; not recorded in a store"


def _origin(facts: CardFacts) -> dict[str, Any]:
    if facts.received:
        words = "received from outside the club"
    else:
        where = f" in {facts.region}" if facts.region else ""
        words = f"cut from tree {facts.tree_number}{where}"
    area = f", plant-health area {facts.area}" if facts.area else ""
    return {
        "received": facts.received, "cut_on": facts.cut_on, "cut_on_guessed": facts.cut_on_guessed, "stage": facts.stage,
        "tree_number": facts.tree_number, "region": facts.region, "area": facts.area, "words": sentence(words + area),
        "corrections": trees_corrected(facts.tree_corrections),
    }  # fmt: skip


def _sticks(facts: CardFacts) -> dict[str, Any]:
    told = [count(facts.on_hand, "stick") + " on hand"]
    told += [f"{facts.grafted} grafted"] if facts.grafted else []
    told += [f"{facts.discarded} thrown away"] if facts.discarded else []
    return {
        "at_start": facts.sticks_at_start, "on_hand": facts.on_hand, "grafted": facts.grafted, "discarded": facts.discarded,
        "handed_over": facts.with_member, "returned": facts.returned, "unfinished": facts.unfinished,
        "words": sentence(f"{listed(told)}, of {facts.sticks_at_start} when it was tied"),
    }  # fmt: skip


def _stops(facts: CardFacts) -> list[dict[str, Any]]:
    return [
        {
            "reason": stop.reason, "state": stop.state, "since": stop.since, "words": sentence(stop_says(stop)),
            "todo": stop_todo(stop.reason),
        }
        for stop in facts.stops
    ]  # fmt: skip


def look_words(look: LookFacts) -> str:
    """`The buds were tight, no mould, green under a scratch.`"""
    seen = [f"the buds were {look.buds}"] if look.buds else []
    if look.wrinkled is not None:
        seen.append("the bark was wrinkled" if look.wrinkled else "the bark was smooth")
    if look.mould is not None:
        seen.append("there was mould" if look.mould else "there was no mould")
    if look.green_under_scratch is not None:
        seen.append(
            "it was green under a scratch" if look.green_under_scratch else "it was not green under a scratch"
        )
    return sentence(listed(seen))


def _look(look: LookFacts | None) -> dict[str, Any] | None:
    if look is None:
        return None
    return {
        "seen_on": look.seen_on, "buds": look.buds, "wrinkled": look.wrinkled, "mould": look.mould,
        "green_under_scratch": look.green_under_scratch, "words": look_words(look),
    }  # fmt: skip


_CHECK_WORDS = {
    (CheckKind.LEAF, CheckResult.HEALTHY): "seen healthy in leaf",
    (CheckKind.LEAF, CheckResult.SYMPTOM): "a symptom was seen in leaf",
    (CheckKind.FRUIT, CheckResult.TRUE): "seen true to name in fruit",
    (CheckKind.FRUIT, CheckResult.WRONG): "seen not true to name in fruit",
}


def _checks(facts: CardFacts) -> list[dict[str, Any]]:
    if facts.received:
        return []
    found = [
        {
            "kind": kind,
            "result": result,
            "seen_on": on,
            "words": sentence(f"{_CHECK_WORDS[kind, result]} on {day(on)}"),
        }
        for kind, result, on in facts.tree_checks
    ]
    seen = {check[0] for check in facts.tree_checks}
    missing = {
        CheckKind.LEAF: "nobody recorded a look at the tree in leaf",
        CheckKind.FRUIT: "nobody recorded a look at its fruit",
    }
    return found + [
        {"kind": kind, "result": None, "seen_on": None, "words": sentence(words)}
        for kind, words in missing.items()
        if kind not in seen
    ]


def rights_of(protection: str, until: date | None, *, no_propagation: bool) -> list[str]:
    """What somebody must know before passing the wood on, in sentences."""
    told = []
    if protection == "protected":
        ends = f" until {day(until)}" if until else ""
        told.append(
            f"The variety is protected{ends}: no wood of it is passed on unless the owner of the right agreed in writing."
        )
    elif protection == "applied":
        told.append("Protection of the variety was applied for: ask the breeder before you pass it on.")
    elif protection == "permission":
        told.append("The owner of the right agreed in writing that the club shares it.")
    if no_propagation:
        told.append("The tree was bought under a contract not to propagate it.")
    return told


def blank_words(replaced_by: str | None, state: str) -> str:
    """What a scan says of a tag that is not, or no longer, in use."""
    if state == "blank":
        return "This is a tag of this club, bound to nothing yet."
    if state == "lost":
        return (
            f"This tag was reported lost; {replaced_by} replaced it."
            if replaced_by
            else "This tag was reported lost."
        )
    if state == "spoiled":
        return f"This tag was spoiled; {replaced_by} replaced it." if replaced_by else "This tag was spoiled."
    return ""


def names_of(shorts: Sequence[str], most: int = 6) -> str:
    """A list of varieties that does not run on."""
    shown = list(dict.fromkeys(shorts))
    more = len(shown) - most
    return f"{', '.join(shown[:most])} and {more} more" if more > 0 else listed(shown)
