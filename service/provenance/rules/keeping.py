"""How a scanned bundle keeps, in words of now: what was reckoned when its way was last followed is read off on the day of the scan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from service.lib.clock import local_day, start_of_day
from service.provenance.rules.words import day
from service.storage.rules import keeping_words as words
from service.storage.rules.read_off import Share, share_at

# A day's share is that of its noon, so that a scan says the same all day.
NOON = timedelta(hours=12)


@dataclass(frozen=True)
class KeepsNow:
    """The sentences in the order in which they are told, and the numbers behind them."""

    says: list[str]
    as_of: datetime
    share: Share | None
    keeps_until: date | None
    keeps_from: date | None
    keeps_to: date | None
    limits: str = ""
    rests_on: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Curve:
    begins_at: datetime
    past: int
    expected: list[int]
    low: list[int]
    high: list[int]


def keeps_now(
    told: Mapping[str, Any] | None, card: Mapping[str, Any], now: datetime, zone: str, *, known: bool = False
) -> KeepsNow | None:
    """Of wood that is there and not stopped; none where nothing was ever reckoned.

    Until enough grafts of its kind were judged here, its usual time and the last look stand before the share. `known`: also on
    what it rests, for members.
    """
    if told is None or card.get("state") == "stopped" or not card["sticks"]["on_hand"]:
        return None
    today, as_of = local_day(now, zone), datetime.fromisoformat(told["as_of"])
    share = _share(told, as_of, start_of_day(today, zone) + NOON)
    ends = [_day(told.get(name)) for name in ("keeps_until", "keeps_from", "keeps_to")]
    before = [_usual(told, today), _look(card)]
    after = [] if share is None else [words.share_words(*share)]
    if share is not None and told.get("store_id"):
        after.append(words.keeps_words(ends[0], ends[1], ends[2], today))
    ordered = [*after, *before] if told.get("share_first") else [*before, *after]
    says = [one for one in ordered if one]
    if share is None:
        return KeepsNow(says, as_of, None, None, None, None)
    rests_on = [f"{one['what']} {one['how']}" for one in told["inputs"]] if known else []
    return KeepsNow(
        says,
        as_of,
        share,
        ends[0],
        ends[1],
        ends[2],
        words.limits_words(told["limits_now"], told["limits_then"]),
        rests_on,
    )


def _share(told: Mapping[str, Any], as_of: datetime, at: datetime) -> Share | None:
    """Read off the weekly curve, of a hundred; none where its way was not followed for so long that the curve has ended."""
    share, curve = told.get("share"), told.get("curve")
    if share is None or curve is None:
        return None
    begins = _Curve(**{**curve, "begins_at": datetime.fromisoformat(curve["begins_at"])})
    found = share_at(begins, as_of, (share["expected"], share["low"], share["high"]), at)
    if found is None:
        return None
    expected, low, high = (round(each, 2) for each in found)
    return expected, low, high


def _usual(told: Mapping[str, Any], today: date) -> str:
    cut_on, weeks = _day(told.get("cut_on")), told.get("usual_weeks")
    if cut_on is None:
        return str(told["usual_words"])
    return words.usual_words(cut_on, today, (weeks[0], weeks[1]) if weeks else None, told["usual_mark"])


def _look(card: Mapping[str, Any]) -> str:
    look = card.get("last_look")
    return (
        f"Last looked at on {day(date.fromisoformat(look['seen_on']))}: {look['words']}"
        if look
        else "Nobody has looked at it since it was cut."
    )


def _day(told: str | None) -> date | None:
    return None if told is None else date.fromisoformat(told)
