"""What the club's own takes taught of how wood keeps, and whether forecasts came true."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Request, Response

from service.grafting.rules.learning import LEFT_OUT_WORDS, LeftOut
from service.lib.counted import several
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.pictures.from_record import both_widths
from service.pages.pictures.learned import NARROW, WIDE, Outcome, Span, came_true, span_of, speeds
from service.pages.render import render
from service.storage.queries.learned import learned
from service.storage.rules.excursions import group_words
from service.storage.schemas.learned import AgeingRead, CameTrue, GroupLearned

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]


@dataclass(frozen=True)
class ShownGroup:
    """A group on the page: what was learned, in a sentence and as a picture, and what came true of it."""

    name: str
    words: str  # the name within a sentence
    told: GroupLearned
    sentence: str
    before: Span
    after: Span
    picture: str
    outcomes: list[Outcome]
    is_trusted: bool


@router.get("/science/learned")
def get_learned(request: Request, session: Read, asker: Reader) -> Response:
    """Each group before and after its takes, how many grafts it rests on, and forecasts against takes."""
    from service.science.learning import TRUSTED

    told = learned(session)
    newest, trusted = told.newest, TRUSTED
    outcomes = _outcomes(newest.came_true) if newest else []
    fresh = _fresh(newest) if newest else None
    return render(
        request, "home/learned.html", asker=asker, newest=newest, versions=told.versions, trusted=trusted, fresh=fresh, outcomes=outcomes,
        groups=[_shown(newest, each, trusted) for each in newest.groups] if newest else [],
        left_out=[(LEFT_OUT_WORDS[LeftOut(why)], many) for why, many in newest.left_out.items()] if newest else [],
        expected=round(sum(each.told * each.grafts for each in outcomes) * fresh) if fresh else None,
        judged=came_true_words(outcomes, fresh, trusted),
        picture=both_widths(*(came_true(outcomes, fresh, width=each) for each in (WIDE, NARROW))) if outcomes else "",
    )  # fmt: skip


def _shown(newest: AgeingRead, told: GroupLearned, trusted: int) -> ShownGroup:
    before, after = span_of(told.before_mu, told.before_sigma), Span(told.low, told.median, told.high)
    words = group_words(told.species_group)
    name = words[0].upper() + words[1:]
    pictures = (
        speeds(f"speed-{told.species_group}-{width:g}".replace("_", "-"), f"How fast wood ages here: {name}", before, after, width=width)
        for width in (WIDE, NARROW)
    )  # fmt: skip
    own = [each for each in newest.came_true if each.species_group == told.species_group]
    return ShownGroup(
        name,
        words,
        told,
        _sentence(after, told.grafts, trusted, is_told_apart=told.is_told_apart),
        before,
        after,
        both_widths(*pictures),
        _outcomes(own),
        told.grafts >= trusted and told.is_told_apart,
    )


def _sentence(after: Span, grafts: int, trusted: int, *, is_told_apart: bool = True) -> str:
    """How fast it ages here, no surer than it is: of too few grafts, or of wood only fresh or only aged, nothing."""
    few = f"{several(grafts, 'graft')} {'is' if grafts == 1 else 'are'} too few to say how fast it ages here"
    if not is_told_apart:
        one_sided = "Only fresh or only aged wood was grafted so far: how fast it ages, and how well grafting goes, cannot be told apart"
        short = f" {few}." if grafts < trusted else ""
        return f"{one_sided}, so nothing is claimed here.{short}"
    if grafts < trusted:
        return f"{few}, so nothing is claimed here."
    if after.low <= 1 <= after.high:
        return "About as fast as is usual, as far as these takes can tell."
    if after.middle > 1:
        return "Faster than is usual: it keeps for a shorter time here."
    return "Slower than is usual: it keeps for longer here."


SURE = 0.95  # of a range that must leave out what was to be expected, before forecasts are called wrong; judgement


def came_true_words(outcomes: Sequence[Outcome], fresh: float | None, enough: int) -> str:
    """Whether forecasts were right, too dark or too bright: only where chance alone hardly tells it so. Empty: nothing to compare."""
    grafts = sum(each.grafts for each in outcomes)
    if not grafts or fresh is None:
        return ""
    if grafts < enough:
        return f"Too few to say: {several(grafts, 'graft')}, and {enough} are asked for."
    side = _side(
        sum(each.taken for each in outcomes),
        grafts,
        sum(each.told * each.grafts for each in outcomes) / grafts * fresh,
    )
    if not side:
        return "All in all they came true, within chance."
    off = [each for each in outcomes if _side(each.taken, each.grafts, each.told * fresh) == side]
    words = f"Forecasts were too {'dark: more' if side > 0 else 'bright: less'} took than was told"
    if not off:
        return f"{words}."
    most = max(off, key=lambda each: side * (each.taken / each.grafts - each.told * fresh))
    due = round(most.told * fresh * most.grafts)
    return (
        f"{words}, most of all of wood that was told {100 * most.told:.0f} in 100 fit: {most.taken} of {most.grafts} took, where "
        f"some {due} were to be expected."
    )


def _side(taken: int, grafts: int, due: float) -> int:
    """1 where more took than was due, -1 where less, 0 where chance may tell it so."""
    from service.science.learning import take_interval

    range_ = take_interval(taken, grafts, SURE, prior=(0.5, 0.5))
    return (range_.low > due) - (range_.high < due)


def _outcomes(rows: Sequence[CameTrue]) -> list[Outcome]:
    """By tenths of what was told, of all groups in `rows` together, with the range in which four in five lie."""
    from service.science.learning import take_interval

    found = []
    for tenth in sorted({each.tenth for each in rows}):
        own = [each for each in rows if each.tenth == tenth]
        grafts, taken = sum(each.grafts for each in own), sum(each.taken for each in own)
        took = take_interval(taken, grafts, prior=(0.5, 0.5))
        told = sum(each.told * each.grafts for each in own) / grafts
        found.append(Outcome(told, Span(took.low, took.median, took.high), grafts, taken))
    return found


def _fresh(newest: AgeingRead) -> float | None:
    """How much of fresh wood takes, over all groups and methods, each by its grafts."""
    rows = [each for group in newest.groups for each in group.methods]
    grafts = sum(each.grafts for each in rows)
    return sum(each.base * each.grafts for each in rows) / grafts if grafts else None
