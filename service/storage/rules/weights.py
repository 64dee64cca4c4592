"""The bag on a scale: what the wood lost between weighings, with what was taken out of the bag left aside.

A stick loses water through its bark, so the loss of fresh mass is what a scale can tell of how wood was kept. How much it
may lose and still take is published for no grafting wood; what is said of it here is judgement.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.lib.errors import NotFound, Refused, Unusable
from service.storage.rules.dials import AreYouSure
from service.storage.rules.looks import Call, Finding

# A kitchen scale rounds to the gram, so each reading may be off by half of one. Judgement.
HALF_STEP_TENTHS = 5
# Sticks written down within so long of a pair of weighings are those that were taken between the two. Judgement.
PAIR_REACHES = timedelta(hours=12)
HEAVIEST_USUAL_TENTHS, LIGHTEST_USUAL_TENTHS = 50_000, 50
HEAVIER_PCT, LIGHTER_PCT, LEAST_STEP_TENTHS = 3.0, 30.0, 20
# From the lower end of what is judged to halve the take of the species, 10 to 25 % of the fresh mass; half of it warns.
LOSS_WARNS_PCT, LOSS_MINDED_PCT = 10.0, 5.0
LOSS_MARK = "judgement: no figure is published for grafting wood"


class Moment(StrEnum):
    """Why a bag was weighed: by itself, or before or after sticks were taken out of it or put in."""

    WEIGHED = "weighed"
    BEFORE = "before"
    AFTER = "after"


class NoSuchWeighing(NotFound):
    title = "There is no such weighing"


class WeighingTakenBack(Refused):
    title = "This weighing was taken back before"
    todo = "Weigh the bag again, or type the right weight as a new one with its own time."


class BagOutweighs(Unusable):
    title = "The empty bag cannot weigh as much as the full one"
    todo = "Weigh the empty bag again, or leave it out."


@dataclass(frozen=True)
class Weighed:
    """One weight of a bag with its wood, in tenths of a gram."""

    at: datetime
    tenths: int
    moment: Moment = Moment.WEIGHED
    empty_tenths: int | None = None


@dataclass(frozen=True)
class Loss:
    """What wood lost of its fresh mass over the stretches that could be compared; masses in grams.

    `at_least`: the empty bag was never weighed, so its mass counts as wood and the share is a lower limit.
    `unclear`: stretches in which sticks came or went that nobody weighed; they count for nothing.
    """

    from_at: datetime
    until_at: datetime
    lost_grams: float
    plus_minus_grams: float
    lost_pct: float
    at_least: bool
    removed_grams: float
    compared: int
    unclear: int


def loss_of(weighings: Iterable[Weighed], changes: Iterable[datetime] = ()) -> Loss | None:
    """The loss from consecutive weighings; None where no two of them can be compared.

    `changes`: when sticks came or went by the ledger. Between a weighing before and one after, the difference is what was
    taken out. What changed elsewhere and was not weighed makes its stretch unclear.
    """
    told = sorted(weighings, key=lambda one: (one.at, list(Moment).index(one.moment)))
    steps = list(itertools.pairwise(told))
    pairs = [step for step in steps if _is_pair(*step)]
    loose = [at for at in changes if not any(_explains(pair, at) for pair in pairs)]
    empty = next((one.empty_tenths for one in reversed(told) if one.empty_tenths is not None), None)
    removed, lost, left, compared, unclear = 0, 0, 1.0, 0, 0
    for first, second in steps:
        if _is_pair(first, second):
            removed += first.tenths - second.tenths
        elif second.moment is Moment.AFTER or any(first.at < at <= second.at for at in loose):
            unclear += 1
        else:
            compared += 1
            lost += first.tenths - second.tenths
            left *= _share(first, second, empty)
    if not compared:
        return None
    return Loss(
        told[0].at, told[-1].at, lost / 10, compared * 2 * HALF_STEP_TENTHS / 10, (1 - left) * 100, empty is None, removed / 10,
        compared, unclear,
    )  # fmt: skip


def _is_pair(first: Weighed, second: Weighed) -> bool:
    return first.moment is Moment.BEFORE and second.moment is Moment.AFTER


def _explains(pair: tuple[Weighed, Weighed], at: datetime) -> bool:
    return pair[0].at - PAIR_REACHES <= at <= pair[1].at + PAIR_REACHES


def _share(first: Weighed, second: Weighed, empty: int | None) -> float:
    """What is left of the mass of wood, of 1; with the bag counted as wood where it was not weighed or cannot be right."""
    bag = empty if empty is not None and empty < min(first.tenths, second.tenths) else 0
    return (second.tenths - bag) / (first.tenths - bag)


def judge_loss(loss: Loss) -> Finding:
    """What a loss says. It warns and sorts; a look decides."""
    if loss.lost_grams <= loss.plus_minus_grams:
        return Finding(Call.FINE, "No loss that the scale can tell.", LOSS_MARK)
    if loss.lost_pct >= LOSS_WARNS_PCT:
        words = "It dried far: a fresh cut, a day in water, a scratch, and use it first."
        return Finding(Call.WARNING, words, LOSS_MARK)
    if loss.lost_pct >= LOSS_MINDED_PCT:
        words = "It is drying: close the bag, look at the bark, use it before other wood."
        return Finding(Call.USE_FIRST, words, LOSS_MARK)
    return Finding(Call.FINE, "It keeps its water well.", LOSS_MARK)


def loss_words(loss: Loss) -> str:
    """`Lost 6 g (± 2 g), 1.5 % of its fresh mass or more, over 2 comparisons; 80 g taken out are left aside.`"""
    if loss.lost_grams < 0:
        first = f"It weighs {-loss.lost_grams:g} g (± {loss.plus_minus_grams:g} g) more than before"
    else:
        share = f"{loss.lost_pct:.1f} % of its fresh mass{' or more' if loss.at_least else ''}"
        first = f"Lost {loss.lost_grams:g} g (± {loss.plus_minus_grams:g} g), {share}"
    parts = [f"{first}, over {loss.compared} {'comparison' if loss.compared == 1 else 'comparisons'}"]
    if loss.removed_grams:
        parts.append(f"{loss.removed_grams:g} g taken out are left aside")
    if loss.unclear:
        parts.append("what came or went unweighed is not counted")
    return "; ".join(parts) + "."


def check_weight(now: Weighed, before: Weighed | None, *, sure: bool) -> None:
    """Refuse what cannot be; ask about what hardly is. Raises `BagOutweighs`, `AreYouSure`."""
    if now.empty_tenths is not None and now.empty_tenths >= now.tenths:
        raise BagOutweighs(
            f"The empty bag is said to weigh {now.empty_tenths / 10:g} g, with the wood {now.tenths / 10:g} g.", field="empty_grams",
        )  # fmt: skip
    doubts = doubts_of_weight(now, before)
    if doubts and not sure:
        raise AreYouSure(doubts[0], field="grams", doubts=doubts)


def can_weigh(now: Weighed, before: Weighed | None, *, sure: bool) -> bool:
    try:
        check_weight(now, before, sure=sure)
    except (BagOutweighs, AreYouSure):
        return False
    return True


def doubts_of_weight(now: Weighed, before: Weighed | None) -> Sequence[str]:
    """Weights that are possible and hardly likely: each with the question to ask."""
    told = f"{now.tenths / 10:g} g"
    found = []
    if not LIGHTEST_USUAL_TENTHS <= now.tenths <= HEAVIEST_USUAL_TENTHS:
        found.append(f"{told} is hardly a bag of scions: is the decimal point right, and is it in grams?")
    if before is not None and now.moment is not Moment.AFTER:
        step = now.tenths - before.tenths
        last = f"{before.tenths / 10:g} g"
        if step > max(LEAST_STEP_TENTHS, before.tenths * HEAVIER_PCT / 100):
            found.append(
                f"{told}, but {last} the time before: is the bag wet, another one, or was it mistyped?"
            )
        elif -step > max(LEAST_STEP_TENTHS, before.tenths * LIGHTER_PCT / 100):
            found.append(f"{told}, but {last} the time before: were sticks taken out, or was it mistyped?")
    return found
