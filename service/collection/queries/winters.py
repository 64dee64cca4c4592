"""The winter of a site out of its days of air, the kinds that stand there, and its cuts. Nothing of it is stored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue.tables import Cultivar, Taxon
from service.collection.queries.dormancy import need_read
from service.collection.queries.site_stops import kept_back, stops_on_site
from service.collection.rules import Wood
from service.collection.rules.dormancy import Need, NoChill, need_of, why_no_chill
from service.collection.rules.winters import (
    OPENS_IN_LEAF,
    Between,
    KindNow,
    answer_now,
    answer_then,
    cut_nothing,
    of_tree,
    sentence_now,
    when_to_cut,
)
from service.collection.schemas.winters import (
    CutInWinter,
    DayRange,
    KindInWinter,
    SiteWinter,
    StopOnSite,
    VarietyNeed,
    WinterDay,
    WinterTurns,
)
from service.collection.tables import Collection
from service.science.air_records import is_enough, is_stale, is_whole, range_of
from service.science.dormancy import (
    Phase,
    days_from_midwinter,
    is_unmet,
    leaves_by_calendar,
    phase_of,
    ripe_from,
)
from service.science.seasons import days_after_midwinter, next_winter_begins, winter_begins
from service.trees import queries as trees
from service.trees.queries import NoSuchSite
from service.trees.rules import tree_name
from service.trees.rules.air_hours import DayOfAir, hours_by_day
from service.trees.rules.seeing import is_beyond_polar_circle
from service.trees.tables import Site, SourceTree

if TYPE_CHECKING:
    from service.science.winters import Course, Span

MOST_WINTERS = 6  # with the one that is shown
MOST_CUTS = 300


@dataclass(frozen=True)
class _Group:
    """Kinds of one group that stand on a site."""

    group: str
    names: tuple[str, ...]
    trees: int
    need: Need
    varieties: tuple[VarietyNeed, ...]
    kept_back: str

    @property
    def name(self) -> str:
        return ", ".join(self.names)


def site_winter(session: Session, site_id: UUID, today: date, year: int | None = None) -> SiteWinter:
    """The winter that began in `year`, else the one that today belongs to; at most five statements, seven where a stop is open.

    Raises `NoSuchSite`.
    """
    site = session.execute(
        select(col(Site.id), col(Site.name), col(Site.latitude)).where(col(Site.id) == site_id)
    ).first()
    if site is None:
        raise NoSuchSite("There is no site with this id.", id=str(site_id))
    rows = _trees_of(session, col(SourceTree.site_id) == site_id)
    stops = stops_on_site(session, rows)
    groups, not_reckoned = _kinds_of(rows, stops=stops)
    told = _winter(session, site, today, year, groups, not_reckoned)
    if told.is_over or not stops:
        return told
    names = dict.fromkeys(name for stop in stops for name in stop.kinds)
    also = f"{cut_nothing(list(names))} " if names and not told.kinds else ""
    return told.model_copy(update={"stops": stops, "sentence": f"{also}{told.sentence}"})


def tree_winter(session: Session, tree_id: UUID, today: date) -> tuple[str, str]:
    """For a tree: how this winter stands by its site's air, and when cutting opens and closes; at most five statements."""
    site = session.execute(
        select(col(Site.id), col(Site.name), col(Site.latitude), col(Taxon.kind), col(Taxon.species_group))
        .join(SourceTree, col(SourceTree.site_id) == col(Site.id))
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .where(col(SourceTree.id) == tree_id)
    ).first()
    if site is None:
        raise trees.NoSuchTree("There is no tree with this id.", id=str(tree_id))
    groups, _ = _kinds_of(_trees_of(session, col(SourceTree.id) == tree_id), of_variety=True)
    told = _winter(session, site, today, None, groups, [])
    if not groups:
        if need_of(site.species_group) is None:
            return why_no_chill(NoChill.NO_NEED, kind=site.kind), told.when_to_cut
        return why_no_chill(NoChill.NO_REST, kind=site.kind), OPENS_IN_LEAF
    kind = told.kinds[0] if told.kinds else None
    if told.reason or kind is None or told.as_of is None:
        return told.reason, told.when_to_cut
    if kind.phase is None:
        return why_no_chill(NoChill.UNMET), told.when_to_cut
    last = told.days[-1].portions
    return of_tree(kind.phase, kind.turns.rest_ended_on, told.as_of, last), told.when_to_cut


def _trees_of(session: Session, where: Any) -> Sequence[Any]:
    """What stands there, and what was felled, whose stop still counts; one statement."""
    return session.execute(
        select(
            col(SourceTree.id), col(SourceTree.number), col(SourceTree.name_as_told), col(SourceTree.open_stops),
            col(SourceTree.felled_on), col(Taxon.species_group), col(Taxon.genus), col(Taxon.kind), col(Cultivar.epithet),
            col(Cultivar.trade_designation),
        )
        .select_from(SourceTree)
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .where(where)
        .order_by(col(Taxon.kind), col(Cultivar.epithet), col(SourceTree.number))
    ).all()  # fmt: skip


def _kinds_of(
    rows: Sequence[Any], *, of_variety: bool = False, stops: Sequence[StopOnSite] = ()
) -> tuple[list[_Group], list[str]]:
    """The groups of what stands there, and the kinds whose rest is not reckoned.

    `of_variety`: of a single tree, which goes by the need of its variety where one is told.
    """
    by_group: dict[str, list[Any]] = {}
    left: dict[str, None] = {}
    for row in rows:
        if row.felled_on is not None:
            continue
        need = need_of(row.species_group)
        if need is None or not need.rests:
            left[row.kind] = None
        else:
            by_group.setdefault(row.species_group, []).append(row)
    found = [_group(group, same, stops, of_variety=of_variety) for group, same in by_group.items()]
    return sorted(found, key=lambda each: (each.need.portions_cp, each.group)), list(left)


def _group(
    group: str, rows: Sequence[Any], stops: Sequence[StopOnSite], *, of_variety: bool = False
) -> _Group:
    need = need_of(group, (rows[0].epithet or "") if of_variety else "")
    assert need is not None
    own = {
        row.epithet: told
        for row in rows
        if row.epithet and (told := need_of(group, row.epithet)) and told.is_own
    }
    return _Group(
        group, tuple(dict.fromkeys(row.kind for row in rows)), len(rows), need,
        tuple(VarietyNeed(name=name, portions=told.portions_cp) for name, told in own.items()), kept_back(stops, rows),
    )  # fmt: skip


def _winter(
    session: Session, site: Any, today: date, year: int | None, groups: list[_Group], not_reckoned: list[str]
) -> SiteWinter:
    begins = None if site.latitude is None else winter_begins(site.latitude, today)
    if begins is None:
        reason = NoChill.NO_LATITUDE if site.latitude is None else NoChill.NO_WINTER
        return _told(site, today, [], why_no_chill(reason), not_reckoned=not_reckoned)
    starts = _starts(site.latitude, begins, year)
    air = trees.air_days(session, site.id, starts[-1], min(today, _ends(site.latitude, starts[0])))
    spans = _spans(site.latitude, starts, today, air)
    span = spans[0]
    used = {told.record_id for day, told in air.items() if span.first <= day <= span.last}
    reason_words = _reason(span, today)
    around: dict[str, Any] = {
        "begins": span.first, "last": span.last, "days_measured": span.count_measured, "days_asked": span.days,
        "days_by_hour": span.count_by_hour,
        "is_counted": is_enough(span.count_measured, span.days), "is_over": span.last < today,
        "is_whole": is_whole(span.count_measured, span.days),
        "as_of": max((day for day in span.measured if span.first <= day <= span.last), default=None),
        "winters": [each.first.year for each in spans if each.count_measured], "not_reckoned": not_reckoned,
        "measured": list(dict.fromkeys(
            each.measured for each in trees.air_records(session, site.id) if each.id in used
        )),
        "cuts": _cuts(session, site.id, span.first, span.last),
    }  # fmt: skip
    if not span.count_measured:
        return _told(site, today, [], reason_words, **around)
    return _reckoned(site, today, spans, groups, reason_words, around)


def _reckoned(
    site: Any, today: date, spans: list[Span], groups: list[_Group], reason: str, around: dict[str, Any]
) -> SiteWinter:
    from service.science.winters import Kind, courses, days_without_sunrise

    needs = [Kind(each.need.portions_cp, each.need.forcing_days or 1) for each in groups]
    found = courses(spans, site.latitude, needs)
    now, span = found[0], spans[0]
    kinds = [
        _kind(place, group, spans, found, site.latitude, known=not reason)
        for place, group in enumerate(groups)
    ]
    days = [
        WinterDay(day=day, portions=round(float(portions), 2), measured=day in span.measured)
        for day, portions in zip(_days(span), now.portions_cp, strict=True)
    ]
    if around["is_over"]:  # a stop of today says nothing of a winter that is over
        kinds = [each.model_copy(update={"kept_back": ""}) for each in kinds]
    # Nothing is said of days after the last that was measured, and nothing at all of turns where too few were.
    until = (around["as_of"] - span.first).days + 1
    if around["is_counted"]:
        kinds = [each.model_copy(update={"warmth": each.warmth[:until]}) for each in kinds]
    else:
        none = {"warmth": [], "turns": WinterTurns(begins=span.first)}
        kinds = [each.model_copy(update=none) for each in kinds]
    earlier = sum(is_whole(each.count_measured, each.days) for each in spans[1:])
    return _told(
        site, today, kinds, reason, earlier_winters=earlier, days=days[:until],
        without_sunrise=days_without_sunrise(span, site.latitude), **around
    )  # fmt: skip


def _kind(
    place: int, group: _Group, spans: list[Span], found: list[Course], latitude: float, *, known: bool
) -> KindInWinter:  # fmt: skip
    turns = [_turns(span, course, place, group.need) for span, course in zip(spans, found, strict=True)]
    earlier = [
        turn
        for span, turn in zip(spans[1:], turns[1:], strict=True)
        if is_whole(span.count_measured, span.days)
    ]
    last = found[0].facts(place, -1)
    day, need = spans[0].last, group.need.portions_cp
    known = known and not is_unmet(last, need, days_after_midwinter(latitude, day))
    down = leaves_by_calendar(days_from_midwinter(latitude, day.timetuple().tm_yday))
    phase = phase_of(last.portions_cp, need, last.bud_dose, leaves_down=down) if known else None
    return KindInWinter(
        group=group.group, name=group.name, trees=group.trees, need=need_read(group.need), varieties=list(group.varieties),
        phase=phase, turns=turns[0], warmth=[round(float(each), 4) for each in found[0].warmth(place)], earlier=earlier,
        opens=_range(spans[0].first, earlier, "ripe_on"), rest_ends=_range(spans[0].first, earlier, "rest_ended_on"),
        moves=_range(spans[0].first, earlier, "moving_on"), kept_back=group.kept_back,
    )  # fmt: skip


def _turns(span: Span, course: Course, place: int, need: Need) -> WinterTurns:
    reached = {
        "ripe_on": course.portions_cp >= ripe_from(need.portions_cp),
        "rest_ended_on": course.portions_cp >= need.portions_cp,
        "moving_on": course.warmth(place) >= 1,
    }
    told = {
        name: span.first + timedelta(days=int(row.argmax())) for name, row in reached.items() if row.any()
    }
    return WinterTurns(begins=span.first, **told)


def _range(begins: date, earlier: Iterable[WinterTurns], name: str) -> DayRange | None:
    """Of enough winters: the earliest and the latest, by how long after the winter's beginning."""
    after = [(day - each.begins).days for each in earlier if (day := getattr(each, name))]
    told = range_of(after)
    if told is None:
        return None
    first, last = (begins + timedelta(days=days) for days in told)
    return DayRange(earliest=first, latest=last, winters=len(after))


def _starts(latitude: float, begins: date, year: int | None) -> list[date]:
    """When the shown winter began, which is this one or an earlier one, and those before it; the newest first."""
    shown = begins if year is None else winter_begins(latitude, date(year, 12, 31))
    starts = [min(begins, shown or begins)]
    while len(starts) < MOST_WINTERS:
        before = winter_begins(latitude, starts[-1] - timedelta(days=1))
        assert before is not None
        starts.append(before)
    return starts


def _spans(latitude: float, starts: list[date], today: date, air: Mapping[date, DayOfAir]) -> list[Span]:
    """The shown winter, then those before it; earlier ones without any air are left out."""
    from service.science.winters import Span

    ends = [min(today, _ends(latitude, starts[0])), *(later - timedelta(days=1) for later in starts)]
    measured, hours = {day: told[:2] for day, told in air.items()}, hours_by_day(air)
    spans = [Span(first, last, measured, hours) for first, last in zip(starts, ends, strict=False)]
    return [spans[0], *(each for each in spans[1:] if each.count_measured)]


def _ends(latitude: float, begins: date) -> date:
    return next_winter_begins(latitude, begins) - timedelta(days=1)


def _days(span: Span) -> list[date]:
    return [span.first + timedelta(days=day) for day in range(span.days)]


def _reason(span: Span, today: date) -> str:
    """Why the air says nothing of the last day; of a winter that is over nothing is asked that a record's end would spoil."""
    if not span.count_measured:
        return why_no_chill(NoChill.NO_AIR, begins=span.first)
    if not is_enough(span.count_measured, span.days):
        return why_no_chill(
            NoChill.TOO_FEW_DAYS, measured=span.count_measured, asked=span.days, begins=span.first
        )
    last = max(day for day in span.measured if span.first <= day <= span.last)
    if span.last == today and is_stale(last, today):
        return why_no_chill(NoChill.STALE, last=last)
    return ""


def _now(kind: KindInWinter) -> KindNow:
    def between(one: DayRange | None) -> Between | None:
        return None if one is None else Between(one.earliest, one.latest)

    return KindNow(
        kind.name,
        None if kind.phase is None else Phase(kind.phase),
        between(kind.opens),
        between(kind.moves),
        bool(kind.kept_back),
    )


def _told(site: Any, today: date, kinds: list[KindInWinter], reason: str, **around: Any) -> SiteWinter:
    now = [_now(each) for each in kinds]
    earlier = around.get("earlier_winters", 0)
    is_over = around.get("is_over", False)
    answer, tone = answer_then(reason) if is_over else answer_now(now, reason)
    sentence = "" if is_over else sentence_now(now, reason, today, earlier)
    return SiteWinter(
        site_id=site.id, site_name=site.name, answer=answer, tone=tone, sentence=sentence, reason=reason, kinds=kinds,
        when_to_cut=when_to_cut(now, earlier), beyond_polar_circle=is_beyond_polar_circle(site.latitude), **around,
    )  # fmt: skip


def _cuts(session: Session, site_id: UUID, first: date, last: date) -> list[CutInWinter]:
    """Cuts of dormant wood in those days, the oldest first; one statement."""
    rows = session.execute(
        select(
            col(Collection.id), col(Collection.number), col(Collection.cut_on), col(Taxon.species_group), col(Taxon.kind),
            col(Cultivar.epithet), col(Collection.name_as_told), col(Collection.sticks),
        )
        .join(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .where(
            col(SourceTree.site_id) == site_id, col(Collection.wood) == Wood.DORMANT, col(Collection.cut_on).between(first, last),
        )
        .order_by(col(Collection.cut_on), col(Collection.number))
        .limit(MOST_CUTS)
    )  # fmt: skip
    return [
        CutInWinter(
            collection_id=row.id, number=row.number, cut_on=row.cut_on, group=row.species_group,
            name=tree_name(row.epithet or "", row.name_as_told) or row.kind, sticks=row.sticks,
        )
        for row in rows
    ]  # fmt: skip
