"""The winter of a site in words: may wood be cut now, how long before buds move, and when cutting opens and closes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil

from service.lib.clock import day_words
from service.science.air_records import LEAST_WINTERS
from service.science.dormancy import Phase

ALIVE, FIRST, STOPPED, PLAIN = "alive", "first", "stopped", ""


@dataclass(frozen=True)
class Between:
    """Two days of this winter between which something fell in earlier ones."""

    earliest: date
    latest: date


@dataclass(frozen=True)
class KindNow:
    """A kind as the air has it today, no phase where the air says nothing of it.

    `moves`: when earlier winters brought its buds to move, where enough are known.
    """

    name: str
    phase: Phase | None
    opens: Between | None
    moves: Between | None
    kept_back: bool = False  # a stop that is open keeps it from being cut


BY_THE_EYE = (
    "Cut where leaves are down and buds tight. Of kinds that keep their leaves, cut where buds are tight."
)


def answer_then(reason: str) -> tuple[str, str]:
    """What stands over a winter that is over, and what little is known of it."""
    return ("A winter that is over, and its air is not known" if reason else "A winter that is over"), PLAIN


def answer_now(kinds: Sequence[KindNow], reason: str) -> tuple[str, str]:
    """May wood be cut here now? In few words, with how they are shown; of kinds of which the air says nothing it says nothing."""
    if kinds and all(each.kept_back for each in kinds):
        return "Nothing may be cut here now: a stop is open", STOPPED
    if not reason and not kinds:
        return "No kind stands here whose rest is reckoned", PLAIN
    if reason or all(each.phase is None for each in kinds):
        return "Whether wood may be cut here now the air does not say", PLAIN
    free = [each for each in kinds if not each.kept_back]
    ready, moving = len(_ready(kinds)), sum(each.phase is Phase.MOVING for each in free)
    others = {
        "only where buds are still tight, to be used first": moving if ready else 0,
        "it is too early": sum(each.phase is Phase.PARA for each in free),
        "a stop forbids it": len(kinds) - len(free),
    }
    if ready == len(kinds):
        return "Wood may be cut here now, where the leaves are down", ALIVE
    if ready:
        head, plain = (
            f"Wood of {ready} of {len(kinds)} kinds may be cut here now",
            ", where the leaves are down",
        )
    elif moving:
        which = "" if moving == len(kinds) else f" for {moving} of {len(kinds)} kinds"
        head, plain = (
            f"Late{which}: cut here now only where buds are still tight, and use that wood first",
            "",
        )
    elif others["it is too early"]:
        early, others["it is too early"] = others["it is too early"], 0
        which = "" if early == len(kinds) else f"{early} of {len(kinds)} kinds "
        head, plain = f"Too early to cut {which}here for the store", ""
    else:
        return "Whether wood may be cut here now the air does not say", PLAIN
    more = [f"of {count} {what}" for what, count in others.items() if count]
    is_plain = ready and not moving and len(free) == len(kinds)
    return head + (f"; {', '.join(more)}" if more else plain), ALIVE if is_plain else FIRST


def sentence_now(kinds: Sequence[KindNow], reason: str, today: date, earlier_winters: int) -> str:
    """The same with its limits, and how long before buds move."""
    kept_back = [each.name for each in kinds if each.kept_back]
    if kept_back:
        told = sentence_now([each for each in kinds if not each.kept_back], reason, today, earlier_winters)
        return cut_nothing(kept_back) + ("" if len(kept_back) == len(kinds) else f" {told}")
    if reason:
        return f"{reason} {BY_THE_EYE}"
    if not kinds:
        return BY_THE_EYE
    parts = []
    ready = _ready(kinds)
    moving = [each.name for each in kinds if each.phase is Phase.MOVING]
    early = [each.name for each in kinds if each.phase is Phase.PARA]
    if ready:
        parts.append("Cut where leaves are down and buds tight.")
    if moving:
        parts.append(f"By the air the buds could be moving already: {_listed(moving)}. {LOOK_FIRST}")
    unmet = [each.name for each in kinds if each.phase is None]
    if unmet:
        parts.append(
            f"The winter is long over and never brought the chill these need, so the air says nothing of them: {_listed(unmet)}. "
            "Look at the buds."
        )
    if early:
        parts.append(f"Not at rest yet: {_listed(early)}.")
    if ready:
        parts.append(_how_long(ready, today, earlier_winters))
    return " ".join(parts)


def cut_nothing(names: Sequence[str]) -> str:
    return f"Cut nothing of {_listed(names)} while a stop is open."


def _ready(kinds: Sequence[KindNow]) -> list[KindNow]:
    return [each for each in kinds if each.phase in {Phase.ENDO, Phase.ECO} and not each.kept_back]


def _listed(names: Sequence[str]) -> str:
    shown = list(names[:6])
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _how_long(ready: Sequence[KindNow], today: date, earlier_winters: int) -> str:
    known = sorted(
        ((each.moves, each.name) for each in ready if each.moves), key=lambda pair: pair[0].earliest
    )
    if not known:
        return f"How long before buds move is not known yet: {_short_of(earlier_winters)}."
    soonest, last = known[0], known[-1]
    when = _from_now(soonest[0].earliest, today)
    words = (
        f"In earlier winters here buds could move from {_day(soonest[0].earliest)} on ({soonest[1]}): {when}"
    )
    if last[1] != soonest[1]:
        words += f"; the latest, {last[1]}, from {_day(last[0].earliest)} to {_day(last[0].latest)}"
    return words + "."


def _from_now(day: date, today: date) -> str:
    days = (day - today).days
    if days <= 0:
        return "any day now"
    return (
        f"in about {days} {'day' if days == 1 else 'days'}"
        if days < 14
        else f"in about {ceil(days / 7)} weeks"
    )


def _short_of(earlier_winters: int) -> str:
    held = "no whole winter" if not earlier_winters else "one whole winter"
    if earlier_winters >= LEAST_WINTERS:
        return "in too few earlier winters of this record did buds move while it was measured"
    return f"the record holds {held} before this one, and {LEAST_WINTERS} are needed"


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"


def between_words(one: Between) -> str:
    if one.earliest == one.latest:
        return f"on {_day(one.earliest)}"
    return f"between {_day(one.earliest)} and {_day(one.latest)}"


OPENS_AND_CLOSES = (
    "Cutting opens when the leaves are down and the wood is ripe, and closes well before the buds swell. Chill only says when "
    "keeping time starts to run: from the end of rest on, every warm hour counts."
)

LOOK_FIRST = "Look at them first: with tight buds it may be cut and is used first, with swelling or green ones it is grafted at once."


# Common practice, no source.
OPENS_IN_LEAF = "It keeps its leaves, so no fall of leaves opens its cutting: cut ripe shoots with tight buds, before they push anew."


def when_to_cut(kinds: Sequence[KindNow], earlier_winters: int) -> str:
    """When cutting opens and closes, with the days of earlier winters of the same record."""
    if not kinds:
        return OPENS_AND_CLOSES
    opens, moves = [each.opens for each in kinds if each.opens], [each.moves for each in kinds if each.moves]
    if not opens or not moves:
        return f"{OPENS_AND_CLOSES} On which days that falls here is not known yet: {_short_of(earlier_winters)}."
    opened = Between(min(each.earliest for each in opens), max(each.latest for each in opens))
    closed = Between(min(each.earliest for each in moves), max(each.latest for each in moves))
    return (
        f"{OPENS_AND_CLOSES} In earlier winters of this record the air had the wood at rest from a day {between_words(opened)} on, "
        f"and buds could move from a day {between_words(closed)} on."
    )


def of_tree(phase: str, rest_ended_on: date | None, as_of: date, portions: float) -> str:
    """How this winter stands for one kind."""
    words = f"By {day_words(as_of)} the site’s air brought {portions:.0f} chill portions"
    ended = f"; its rest ended about {day_words(rest_ended_on)}" if rest_ended_on else ""
    state = {
        Phase.PARA: "its wood is not at rest yet",
        Phase.ENDO: "its buds rest by themselves",
        Phase.ECO: f"only the cold holds its buds{ended}",
        Phase.MOVING: f"its buds could be moving{ended}",
    }
    told = f"{words}: by that {state[Phase(phase)]}."
    return f"{told} {LOOK_FIRST}" if Phase(phase) is Phase.MOVING else told
