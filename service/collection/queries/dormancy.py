"""The dormancy verdict of a cut, out of its site's air, its kind's need, and what was seen. Nothing of it is stored."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue.rules import wood_use
from service.catalogue.tables import Cultivar, Taxon
from service.collection.queries.collections import NoSuchCollection
from service.collection.rules import Wood
from service.collection.rules.dormancy import (
    LABELS,
    SUMMER_LABEL,
    SUMMER_WORDS,
    Need,
    NoChill,
    changes_of,
    evidence_words,
    need_of,
    seen_of,
    sentence_of,
    why_no_chill,
)
from service.collection.schemas.dormancy import ChillNeed, CutDormancy, DormancyChange, DormancyEvidence
from service.collection.tables import Collection
from service.science.air_records import is_enough, is_stale
from service.science.dormancy import (
    About,
    AirFacts,
    Evidence,
    Judged,
    days_from_midwinter,
    is_unmet,
    judge_dormancy,
)
from service.science.seasons import days_after_midwinter, winter_begins
from service.trees import queries as trees
from service.trees.rules.air_hours import DayOfAir, hours_by_day
from service.trees.tables import Site, SourceTree

_UNKNOWN_NEED = 50.0  # never shown: with no air the table only asks whether there is a rest at all


def cut_dormancy(session: Session, collection_id: UUID) -> CutDormancy:
    """What may be done with the wood of a cut; at most three statements. Raises `NoSuchCollection`."""
    row = session.execute(_cuts().where(col(Collection.id) == collection_id)).first()
    if row is None:
        raise NoSuchCollection("There is no cut or receipt with this id.", id=str(collection_id))
    if row.wood == Wood.SUMMER:
        return CutDormancy(
            collection_id=row.id, on_day=row.cut_on, verdict=None, label=SUMMER_LABEL, sentence=SUMMER_WORDS
        )  # fmt: skip
    return _judged(session, row)


def _cuts() -> Any:
    return (
        select(
            col(Collection.id), col(Collection.wood), col(Collection.stage), col(Collection.leaves_down), col(Collection.cut_on),
            col(Taxon.species_group), col(Taxon.stage_scale), col(Taxon.kind), col(Cultivar.epithet),
            col(SourceTree.site_id), col(Site.latitude),
        )
        .select_from(Collection)
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Site, col(Site.id) == col(SourceTree.site_id))
    )  # fmt: skip


def _judged(session: Session, row: Any) -> CutDormancy:
    need = need_of(row.species_group, row.epithet or "")
    around, air, reason = _air_of(session, row, need)
    seen = seen_of(wood_use(row.stage_scale, row.stage) if row.stage else None)
    near = None if row.latitude is None else days_from_midwinter(row.latitude, row.cut_on.timetuple().tm_yday)
    after = None if row.latitude is None else days_after_midwinter(row.latitude, row.cut_on)
    judged = judge_dormancy(
        seen, _UNKNOWN_NEED if need is None else need.portions_cp, air, leaves_down=row.leaves_down, days_from_midwinter=near,
        days_after_midwinter=after,
        spread=0.0 if need is None else need.spread, is_own=need is not None and need.is_own,
    )  # fmt: skip
    return CutDormancy(
        collection_id=row.id, on_day=row.cut_on, verdict=judged.verdict, label=LABELS[judged.verdict],
        sentence=sentence_of(judged, seen, reason), phase=judged.phase, could_be=[str(each) for each in judged.could_be],
        evidence=_evidence(judged, need, around), would_change=[
            DormancyChange(word=word, text=text) for word, text in changes_of(judged, reason)
        ],
        no_chill_because="" if reason is None else why_no_chill(
            reason, kind=row.kind, measured=around.get("days_measured") or 0, asked=around.get("days_asked") or 0,
            begins=around.get("counted_from"), last=around.get("last_measured"),
        ),
        need=None if need is None or not need.rests else need_read(need), **around,
    )  # fmt: skip


def need_read(need: Need) -> ChillNeed:
    return ChillNeed(
        value=need.portions_cp, least=need.least, most=need.most, is_own=need.is_own, mark=need.mark, source=need.source,
        spread=need.spread,
    )  # fmt: skip


def _air_of(
    session: Session, row: Any, need: Need | None
) -> tuple[dict[str, Any], AirFacts | None, NoChill | None]:
    """What there is of the site's air up to the day of the cut, what it says, and why it says nothing."""
    if need is not None and not need.rests:
        return {}, None, NoChill.NO_REST
    if row.site_id is None:
        return {}, None, NoChill.NO_SITE
    if row.latitude is None:
        return {}, None, NoChill.NO_LATITUDE
    begins = winter_begins(row.latitude, row.cut_on)
    if begins is None:
        return {}, None, NoChill.NO_WINTER
    days = trees.air_days(session, row.site_id, begins, row.cut_on)
    asked, used = (row.cut_on - begins).days + 1, {told.record_id for told in days.values()}
    around = {
        "counted_from": begins, "days_measured": len(days), "days_by_hour": len(hours_by_day(days)),
        "days_asked": asked, "last_measured": max(days, default=None),
        "measured": list(dict.fromkeys(
            each.measured for each in trees.air_records(session, row.site_id) if each.id in used
        )),
    }  # fmt: skip
    if not days:
        return around, None, NoChill.NO_AIR
    if not is_enough(len(days), asked):
        return around, None, NoChill.TOO_FEW_DAYS
    if is_stale(max(days), row.cut_on):
        return around, None, NoChill.STALE
    if need is None:
        return around, None, NoChill.NO_NEED
    air = _facts(row, begins, days, need)
    if is_unmet(air, need.portions_cp, days_after_midwinter(row.latitude, row.cut_on)):
        return around, None, NoChill.UNMET
    return around, air, None


def _facts(row: Any, begins: date, days: dict[date, DayOfAir], need: Need) -> AirFacts:
    from service.science.winters import Kind, Span, courses

    assert need.forcing_days is not None
    span = Span(begins, row.cut_on, {day: told[:2] for day, told in days.items()}, hours_by_day(days))
    course = courses([span], row.latitude, [Kind(need.portions_cp, need.forcing_days)])[0]
    return course.facts(0, -1)


def _evidence(judged: Judged, need: Need | None, around: dict[str, Any]) -> list[DormancyEvidence]:
    begins = around.get("counted_from")

    def read(one: Evidence) -> DormancyEvidence:
        own = one.about is About.NEED and need is not None
        return DormancyEvidence(
            about=one.about, words=evidence_words(one, begins=begins, need=need),
            value=one.value if isinstance(one.value, str) else round(one.value, 3), unit=one.unit,
            mark=need.mark if own and need else one.mark, source=need.source if own and need else "",
        )  # fmt: skip

    return [read(one) for one in judged.evidence]
