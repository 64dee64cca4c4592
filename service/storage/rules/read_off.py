"""The share of a bundle read off its weekly curve when it is shown: what was reckoned days ago is told as of now."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Protocol

A_WEEK = timedelta(days=7)


class Curve(Protocol):
    """Of a hundred, week by week from an instant on."""

    @property
    def begins_at(self) -> datetime: ...
    @property
    def past(self) -> int: ...
    @property
    def expected(self) -> list[int]: ...
    @property
    def low(self) -> list[int]: ...
    @property
    def high(self) -> list[int]: ...


Share = tuple[float, float, float]  # expected, low, high, of one
Moments = list[tuple[datetime, Share]]


def behind(curve: Curve, as_of: datetime, share: Share) -> Moments:
    """The weeks that lie behind, and how it stood as it was reckoned."""
    weeks = [one for one in _weeks(curve)[: curve.past] if one[0] < as_of]
    return [*weeks, (as_of, share)]


def ahead(curve: Curve, as_of: datetime, share: Share) -> Moments:
    """From how it stood as it was reckoned, the weeks that follow if its store stays as it was."""
    return [(as_of, share), *(one for one in _weeks(curve)[curve.past :] if one[0] > as_of)]


def share_at(curve: Curve, as_of: datetime, share: Share, at: datetime) -> Share | None:
    """The share at an instant from its reckoning on, straight between weeks; none beyond the last of them."""
    told = ahead(curve, as_of, share)
    if at <= as_of:
        return share
    for (begin, before), (end, after) in itertools.pairwise(told):
        if at <= end:
            part = (at - begin) / (end - begin)
            expected, low, high = (a + (b - a) * part for a, b in zip(before, after, strict=True))
            return expected, low, high
    return None


def _weeks(curve: Curve) -> Moments:
    rows: Sequence[tuple[int, int, int]] = list(zip(curve.expected, curve.low, curve.high, strict=True))
    return [
        (curve.begins_at + A_WEEK * place, (expected / 100, low / 100, high / 100))
        for place, (expected, low, high) in enumerate(rows)
    ]
