"""How wood keeps in a few words, wherever a bundle is shown: the last look, its usual time, what is reckoned, never a bare number."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Protocol
from uuid import UUID

from service.lib.clock import day_words
from service.storage.rules.keeping_words import FEW, NO_SUMMER, band_words, range_words

HAZARD_NOUNS = {
    "reserve": "its age", "drying": "drying", "mould": "mould", "budbreak": "its buds", "ethylene": "fruit beside it", "freezing": "frost",
}  # fmt: skip
KNOWN_WORDS = {"by hand": "hand-read"}


class Share(Protocol):
    """The part of a bundle that is reckoned fit to graft, with its band."""

    @property
    def expected(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...


class Input(Protocol):
    """What a reckoning rests on, and how it is known."""

    @property
    def what(self) -> str: ...
    @property
    def how(self) -> str: ...


class Kept(Protocol):
    """What of a stored reckoning the short words want."""

    @property
    def cut_on(self) -> date | None: ...
    @property
    def usual_weeks(self) -> tuple[int, int] | None: ...
    @property
    def look_words(self) -> str: ...
    @property
    def found_on(self) -> date | None: ...
    @property
    def found_words(self) -> str: ...
    @property
    def share(self) -> Share | None: ...
    @property
    def inputs(self) -> Sequence[Input]: ...
    @property
    def hazard(self) -> str: ...
    @property
    def share_words(self) -> str: ...
    @property
    def share_first(self) -> bool: ...
    @property
    def store_id(self) -> UUID | None: ...
    @property
    def keeps_until(self) -> date | None: ...
    @property
    def keeps_from(self) -> date | None: ...
    @property
    def keeps_to(self) -> date | None: ...
    @property
    def limits_then(self) -> str: ...


def short_words(
    kept: Kept | None, today: date, *, stopped: bool = False, on_hand: int | None = None
) -> tuple[str, ...]:
    """How wood keeps, in the few words of a list: never one date alone, and of stopped wood nothing beside the stop.

    Until enough grafts of its kind were judged here, the last look and its usual time stand before what is reckoned;
    so they do where that look asks for its use.
    """
    if stopped or on_hand == 0:
        return ()
    if kept is None:
        return ("how it keeps is not reckoned yet",)
    if kept.share_words == NO_SUMMER:
        return (kept.look_words, NO_SUMMER)
    told = (kept.look_words, _short_usual(kept, today), f"{_short_share(kept)}{_short_left(kept, today)}")
    return told[::-1] if kept.share_first and kept.found_on is None else told


def one_line(kept: Kept, today: date) -> tuple[str, ...]:
    """What decides when wood is used, for one line of a long list: what a look found, else its age against the usual weeks and
    the days between which three quarters are left; the rest stands on its own page.
    """
    if kept.found_on is not None:
        return (f"{kept.found_words.partition(':')[0].rstrip('.')}, seen {day_words(kept.found_on)}",)
    if kept.share_words == NO_SUMMER:
        return ("summer budwood: use within days",)
    told = [words for words in (_age_in_weeks(kept, today), _days_left(kept, today)) if words]
    return tuple(told[::-1] if kept.share_first else told)


def _age_in_weeks(kept: Kept, today: date) -> str:
    if kept.cut_on is None:
        return ""
    age = (today - kept.cut_on).days // 7
    if kept.usual_weeks is None:
        return f"week {age}, usual time not known"
    return f"week {age} of {kept.usual_weeks[0]}–{kept.usual_weeks[1]}"


def _days_left(kept: Kept, today: date) -> str:
    until, first, last = kept.keeps_until, kept.keeps_from, kept.keeps_to
    if kept.share is None:
        return ""
    if until is not None and until <= today:
        return "use now, look first"
    if until is None and kept.store_id is None:
        return "in no store"
    if first is None and last is None:
        return "over two years"
    return _from_to(first, last, today)


def _from_to(first: date | None, last: date | None, today: date) -> str:
    early = day_words(first) if first is not None and first > today else "now"
    return f"{early} – {day_words(last) if last else 'over two years'}"


def looked_words(kept: Kept) -> str:
    """When it was last looked at, in two words."""
    day = kept.look_words.partition(":")[0]
    return day.replace("Looked at on", "looked") if day.startswith("Looked at on") else "no look yet"


def _short_usual(kept: Kept, today: date) -> str:
    if kept.usual_weeks is None or kept.cut_on is None:
        return "how long its kind is usually kept is not known here"
    first, last = (kept.cut_on + timedelta(weeks=weeks) for weeks in kept.usual_weeks)
    past = ", which is past" if last < today else ""
    return f"usually kept until {day_words(first)} – {day_words(last)}{past}"


def _short_share(kept: Kept) -> str:
    """`some 80 (61–88) of 100 fit so far (partly measured temperatures; mould), `: never without its band."""
    share = kept.share
    if share is None:
        return ""
    expected, low, high = (round(100 * each) for each in (share.expected, share.low, share.high))
    told = f"{expected} (within one)" if FEW <= low == high else band_words(expected, low, high)
    how = next((one.how for one in kept.inputs if one.what == "temperature"), "assumed")
    first = how.partition(" for ")[0]
    known = f"{'partly ' if ' for ' in how else ''}{KNOWN_WORDS.get(first, first)} temperatures"
    most = f"; {HAZARD_NOUNS[kept.hazard]}" if kept.hazard else ""
    return f"{'some ' if told[0].isdigit() else ''}{told} of 100 fit so far ({known}{most}), "


def _short_left(kept: Kept, today: date) -> str:
    until, first, last = kept.keeps_until, kept.keeps_from, kept.keeps_to
    if kept.share is None:
        return "too little is known of its way to reckon how long it keeps"
    if until is not None and until <= today:
        why = f": {kept.limits_then}" if kept.limits_then else ""
        return f"use it now, and look at it first: fewer than three quarters may be left (reckoned {range_words(first, last)}{why})"
    then = f": {kept.limits_then}" if kept.limits_then else ""
    if until is not None:
        return f"below three quarters {_from_to(first, last, today)}{then}"
    if kept.store_id is None:
        return "it lies in no store, so how long it keeps is not reckoned"
    if first is not None:
        return f"three quarters are left until {day_words(first)} at the earliest, likely for over two years"
    return "keeps for over two years as its store is now"
