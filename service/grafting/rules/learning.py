"""Which takes say something of the wood."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.grafting.rules.takes import TakeLook, standing_take


class LeftOut(StrEnum):
    """Why unions say nothing of how wood ages."""

    NOT_JUDGED = "not_judged"
    TOO_EARLY = "too_early"
    DOUBTFUL = "doubtful"
    OTHER_CAUSE = "other_cause"
    SEVERAL_WOODS = "several_woods"
    NO_FORECAST = "no_forecast"
    NOT_WRITTEN = "not_written"


LEFT_OUT_WORDS: Mapping[LeftOut, str] = {
    LeftOut.NOT_JUDGED: "nobody has given a verdict yet",
    LeftOut.TOO_EARLY: "judged before the day from which their method is judged: look again at those that live on that day or later; "
    "those found dead count from it on by themselves",
    LeftOut.DOUBTFUL: "alive or dead could not be told",
    LeftOut.OTHER_CAUSE: "lost to something that says nothing of the wood",
    LeftOut.SEVERAL_WOODS: "made of several woods: which of them failed cannot be told",
    LeftOut.NO_FORECAST: "summer budwood, or a kind of which nothing is reckoned",
    LeftOut.NOT_WRITTEN: "where the wood lay, or how cold, is not written down",
}


@dataclass(frozen=True)
class Judged:
    """What counts of one graft: how many unions, how many of them took, and how many do not count, by why."""

    grafted: int
    taken: int
    left_out: Mapping[LeftOut, int]


def judge_graft(
    grafts: int, woods: int, verdict_from_on: date, looks: Iterable[TakeLook], today: date
) -> Judged:
    """Of so many unions made of so many woods: looks from the day on from which their method is judged.

    What was told dead before that day counts from it on: dead is final, and nobody looks again. Not so where mates at the same
    graft were not judged since: their deaths alone would say that none of them took.
    """
    told = list(looks)
    counting = [look for look in told if _counts(look, told, verdict_from_on, today)]
    take = standing_take(counting)
    if take is not None and take.looked_at < grafts:
        take = standing_take(look for look in counting if look.seen_on >= verdict_from_on)
    if woods > 1:
        return _none(grafts, LeftOut.SEVERAL_WOODS)
    if take is None or not take.is_verdict:
        is_early = any(look.is_verdict for look in told)
        return _none(grafts, LeftOut.TOO_EARLY if is_early else LeftOut.NOT_JUDGED)
    out = {
        LeftOut.NOT_JUDGED: grafts - take.looked_at, LeftOut.DOUBTFUL: take.doubtful, LeftOut.OTHER_CAUSE: take.other_cause,
    }  # fmt: skip
    counted = take.looked_at - take.doubtful - take.other_cause
    return Judged(counted, take.alive, {why: many for why, many in out.items() if many > 0})


def _counts(look: TakeLook, told: Sequence[TakeLook], verdict_from_on: date, today: date) -> bool:
    """Whether it was seen on the day or later, or told dead before it, and nobody found life there since."""
    if look.seen_on >= verdict_from_on:
        return True
    found_alive = any(
        later.order > look.order and not later.is_dead and look.plant_id in (None, later.plant_id)
        for later in told
    )
    return look.is_verdict and look.is_dead and today >= verdict_from_on and not found_alive


def _none(grafts: int, why: LeftOut) -> Judged:
    return Judged(0, 0, {why: grafts})
