"""What spells beyond good storage cost the kinds of wood in a store, by its hours as they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import isinf
from typing import TYPE_CHECKING
from uuid import UUID

from sqlmodel import Session

from service.lib.readings import HOUR_SECONDS
from service.storage.queries.doses import days_of_stores
from service.storage.queries.learned import ageing_known
from service.storage.rules import StoreLimits, second_of
from service.storage.schemas.temps import CostRead, SpellRead

if TYPE_CHECKING:
    from service.storage.rules.costs import Cost

MOST_PRICED = 6
LAST_OF_HOUR = timedelta(seconds=HOUR_SECONDS - 1)
PRICED_BEFORE, PRICED_AFTER = timedelta(weeks=4), timedelta(weeks=2)
NOTHING_KNOWN_C = 5.0


def price_spells(
    session: Session, store_id: UUID, sorts: Sequence[Sequence[SpellRead]], limits: StoreLimits, groups: Sequence[str],
    now: datetime, until: datetime,
) -> None:  # fmt: skip
    """What each of the latest spells of a sort cost these groups; two statements, none where there are none.

    Each by the weeks around it, whatever days are shown: it costs the same on every page. It is priced from where it left the
    band that is good to where it came back, and no hour is priced twice for a kind: what rang comes before what is only told.
    What a dial's memory alone tells may have lasted a minute, and has no price.
    """
    if not any(sorts) or not groups:
        return
    from service.storage.rules.costs import cost_words, costs_of, whole_spell
    from service.storage.rules.doses import run_of

    latest = [
        one
        for each in sorts
        for one in sorted(each, key=lambda one: one.began_at)[-MOST_PRICED:]
        if not one.remembered
    ]
    if not latest:
        return
    spells = [_hours(one, now, until) for one in latest]
    days = days_of_stores(
        session, [store_id], min(each[0] for each in spells), max(each[-1] for each in spells)
    ).get(store_id, {})
    if not days:
        return
    known, middle = ageing_known(session), (limits.low_c + limits.high_c) / 2
    priced: dict[tuple[bool, str], list[tuple[int, int]]] = {}
    for spell, (first, begin, end, last) in zip(latest, spells, strict=True):
        # Hours of which nothing is known are no part of a spell; what they count as is the same with it and without.
        run = run_of(days, first, last, NOTHING_KNOWN_C)
        above = spell.extreme_c > middle
        mine, good = _of_kinds(spell, limits, groups, above=above)
        begin, end = whole_spell(run, begin, end, good, above=above)
        costs = []
        for (since, until_hour), names in _not_priced(priced, begin, end, mine, above=above).items():
            costs += costs_of(run, since, until_hour, names, known, good[above])
        spell.costs = [_cost_read(one) for one in costs]
        spell.cost_words = cost_words(costs)


def _not_priced(
    priced: dict[tuple[bool, str], list[tuple[int, int]]], begin: int, end: int, groups: Sequence[str], *, above: bool
) -> dict[tuple[int, int], list[str]]:  # fmt: skip
    """The longest stretch of these hours that was not priced before, with the groups of which it is; now they are priced."""
    found: dict[tuple[int, int], list[str]] = {}
    for group in groups:
        before = priced.setdefault((above, group), [])
        left, since = [], begin
        for first, last in sorted(before):
            left.append((since, min(first, end)))
            since = max(since, last)
        since, until = max([*left, (since, end)], key=lambda one: one[1] - one[0])
        if since < until:
            before.append((since, until))
            found.setdefault((since, until), []).append(group)
    return found


def _of_kinds(
    spell: SpellRead, limits: StoreLimits, groups: Sequence[str], *, above: bool
) -> tuple[tuple[str, ...], tuple[float, float]]:
    """Whose price it is, and what is good for them: of what some kinds like no more, theirs alone."""
    kinds = tuple(group for each in spell.kinds for group in each.groups)
    if not kinds:
        return tuple(groups), (limits.low_c, limits.high_c)
    edge = spell.kinds[0].limit_c
    return kinds, (min(limits.low_c, edge), edge) if above else (edge, max(limits.high_c, edge))


def _hours(spell: SpellRead, now: datetime, until: datetime) -> list[int]:
    """From when on it is reckoned, its first and last hour, and until when."""
    ended = spell.ended_at or until
    around = (
        spell.began_at - PRICED_BEFORE,
        spell.began_at,
        ended + LAST_OF_HOUR,
        max(min(now, ended + PRICED_AFTER), ended),
    )
    return [second_of(at) // HOUR_SECONDS for at in around]


def _cost_read(one: Cost) -> CostRead:
    low = None if one.low is None else round(one.low, 1)
    high = None if one.high is None or isinf(one.high) else round(one.high, 1)
    return CostRead(group=one.group, days=round(one.days, 1), more=one.more, low=low, high=high)
