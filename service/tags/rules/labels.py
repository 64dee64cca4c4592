"""What a label says: facts that stay true as long as the tag hangs there, never what goes stale."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from service.catalogue.rules.names import quote_epithet, typographic
from service.catalogue.rules.rights import Protection
from service.tags.rules.words import Placement

SCAN_WORDS = "scan for its state today"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class LabelWords:
    """The words of one label, before they are fitted to its size.

    `heading` says what sort of thing it is, `name` is the largest, `second` stands under it, `lead` and `large`
    are a small word and what follows it in large type, `details` are short facts, `rights` a mark that must be seen.
    `pencil` names what is written by hand on lines of its own, where the tag is printed ahead and says nothing else.
    """

    heading: str
    name: str
    second: str = ""
    lead: str = ""
    large: str = ""
    details: tuple[str, ...] = ()
    rights: str = ""
    pencil: tuple[str, ...] = ()


@dataclass(frozen=True)
class Label:
    """One label to print: its code, where it goes, and its words."""

    code: str
    words: LabelWords
    placement: Placement = Placement.BAG


@dataclass(frozen=True)
class WoodName:
    """A kind and a variety, the variety already in its proper form, and whatever rights rest on it."""

    kind: str
    variety: str
    trade_designation: str = ""
    protection: str = Protection.UNKNOWN
    protected_until: date | None = None


def day_in_words(day: date) -> str:
    """A day that nobody can read the wrong way round: `14 Jan 2026`."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def rights_mark(name: WoodName, *, today: date, no_propagation: bool = False) -> str:
    """The mark that a label must carry; empty where propagation is free or nothing is known."""
    marks = []
    if no_propagation:
        marks.append("No propagation: contract")
    over = name.protected_until is not None and name.protected_until < today
    until = f" until {day_in_words(name.protected_until)}" if name.protected_until else ""
    if name.protection == Protection.PROTECTED and not over:
        marks.append(f"Protected{until}")
    elif name.protection == Protection.APPLIED:
        marks.append("Protection applied for")
    elif name.protection == Protection.PERMISSION and not over:
        marks.append(f"Protected{until}: club has permission")
    return " · ".join(marks)


def wood_name(
    kind: str,
    *,
    epithet: str,
    trade_designation: str,
    as_told: str,
    protection: str | None,
    protected_until: date | None,
) -> WoodName:
    """The name as it is printed: the epithet in its quotation marks, the trade designation apart; else what was told."""
    if not epithet:
        return WoodName(kind, f"{as_told} (as told)" if as_told else "variety not known")
    return WoodName(
        kind,
        quote_epithet(epithet),
        typographic(trade_designation).upper(),
        protection or Protection.UNKNOWN,
        protected_until,
    )


def bundle_words(
    name: WoodName, *, cut_on: date, sticks: int, tree: str, today: date, summer: bool = False, received: bool = False,
    shared: bool = False, no_propagation: bool = False, stopped: bool = False,
) -> LabelWords:  # fmt: skip
    """A stop is told with its day, which stays true after it is lifted; a scan says what holds."""
    stop = f"Stopped {day_in_words(today)}: scan before use" if stopped else ""
    rights = rights_mark(name, today=today, no_propagation=no_propagation)
    counted = "shared out" if shared else "received" if received else "cut"
    return LabelWords(
        heading=f"{name.kind} · {'summer budwood' if summer else 'scionwood'}",
        name=name.variety,
        second=name.trade_designation,
        lead="cut",
        large=day_in_words(cut_on),
        details=(f"{sticks} {'stick' if sticks == 1 else 'sticks'} when {counted}", tree),
        rights=" · ".join(part for part in (stop, rights) if part),
    )


def tree_words(
    name: WoodName,
    *,
    number: int,
    planted_year: int | None,
    today: date,
    stands_on: str = "",
    no_propagation: bool = False,
) -> LabelWords:
    details = [f"planted about {planted_year}"] if planted_year else []
    if stands_on:
        details.append(f"on {stands_on}")
    return LabelWords(
        heading=f"{name.kind} · source tree",
        name=name.variety,
        second=name.trade_designation,
        lead="tree",
        large=str(number),
        details=tuple(details),
        rights=rights_mark(name, today=today, no_propagation=no_propagation),
    )


def blank_label_words() -> LabelWords:
    """A tag printed ahead: nothing is known of it yet, so a pencil says it, as long as there is no reception."""
    return LabelWords(heading="", name="", pencil=("variety", "cut on", "tree", "sticks"))


def box_words(name: str) -> LabelWords:
    return LabelWords(heading="Box", name=name, details=("moves whole with all inside",))


def store_words(name: str, *, kind: str) -> LabelWords:
    return LabelWords(
        heading=f"Store · {kind}" if kind else "Store", name=name, details=("scan when wood goes in or out",)
    )


def plant_words(
    name: WoodName, *, stock: str, grafted_on: date, number: int, today: date, no_propagation: bool = False
) -> LabelWords:
    return LabelWords(
        heading=f"{name.kind} · grafted plant",
        name=name.variety,
        second=f"{name.trade_designation} on {stock}" if name.trade_designation else f"on {stock}",
        lead="grafted",
        large=day_in_words(grafted_on),
        details=(f"plant {number}",),
        rights=rights_mark(name, today=today, no_propagation=no_propagation),
    )
