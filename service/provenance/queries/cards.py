"""All that answer cards are made of: seven statements for one bundle and for five thousand, nine after the catalogue changed."""

from __future__ import annotations

from collections.abc import Collection as Many
from collections.abc import Iterable, Mapping
from datetime import date
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import Row, Select, case, exists, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.catalogue.tables import Cultivar, Taxon
from service.collection.rules import CollectionKind
from service.collection.tables import Collection, NameCorrection, TreeCorrection
from service.lib.clock import local_day
from service.lib.given import as_given, dialect_of, given, these
from service.members.queries import club
from service.members.tables import Area
from service.provenance.queries.advice import stocks_for_woods
from service.provenance.rules.card import (
    CardFacts,
    LookFacts,
    NameCorrected,
    NameFacts,
    TreeCorrected,
)
from service.provenance.rules.stops import StopOnWood
from service.storage.tables import BundleCheck, Stay
from service.tags.rules.words import TagState
from service.tags.tables import Tag
from service.trees.rules import CheckKind, CheckResult, Identity, StopReason, StopState
from service.trees.tables import Site, SourceTree, Stop, TreeCheck

_Parent = aliased(Bundle, name="parent")
_Was, _Is = aliased(SourceTree, name="tree_before"), aliased(SourceTree, name="tree_after")
_LABELLED_WITH = case((col(Bundle.is_flag), col(Bundle.parent_id)))  # a stick flag copies its bundle's tag


def facts_for_cards(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, CardFacts]:
    """What the cards of these bundles say."""
    asked = {"ids": as_given(session, bundle_ids)}
    dialect = dialect_of(session)
    zone = club(session).zone
    rows = session.execute(_woods(dialect), asked).all()
    looks = {row.bundle_id: _look(row, zone) for row in session.execute(_last_looks(dialect), asked)}
    stops = _open_stops(session, asked, zone) if any(row.open_stops for row in rows) else {}
    checks = _tree_checks(session, {row.tree_id for row in rows if row.tree_id})
    stocks = stocks_for_woods(session, {(row.botanical_name, row.cultivar_id) for row in rows})
    renamed = _corrections(session, [row for row in rows if row.renamed], zone)
    moved = _tree_corrections(session, [row for row in rows if row.moved], zone)
    return {
        row.id: _facts(row, looks.get(row.id), stops.get(row.id, ()), checks.get(row.tree_id, ()), stocks[row.botanical_name, row.cultivar_id], renamed.get(row.id, ()), moved.get(row.id, ()))  # noqa: E501
        for row in rows
    }  # fmt: skip


def name_columns() -> tuple[Any, ...]:
    """The columns of a name, beside `Taxon` and `Cultivar` in a statement."""
    return (
        col(Taxon.kind), col(Taxon.botanical_name), func.coalesce(col(Cultivar.epithet), "").label("epithet"),
        func.coalesce(col(Cultivar.group_name), "").label("group_name"),
        func.coalesce(col(Cultivar.trade_designation), "").label("trade_designation"),
        func.coalesce(col(Cultivar.provisional), False).label("provisional"),
        func.coalesce(col(Cultivar.protection), "").label("protection"), col(Cultivar.protected_until),
    )  # fmt: skip


def name_facts(row: Any) -> NameFacts:
    identity = Identity(row.identity) if row.identity else None
    return NameFacts(
        row.kind, row.botanical_name, row.epithet, row.group_name, row.trade_designation, row.name_as_told or "", identity,
        bool(row.provisional),
    )  # fmt: skip


@cache
def _woods(dialect: str) -> Select[*tuple[Any, ...]]:
    returned = exists().where(
        col(StickMove.bundle_id) == col(Bundle.id), col(StickMove.kind) == MoveKind.RETURNED
    )
    renamed = exists().where(col(NameCorrection.collection_id) == col(Bundle.collection_id))
    moved = exists().where(col(TreeCorrection.collection_id) == col(Bundle.collection_id))
    labelled = (
        select(func.min(col(Tag.made_at)))
        .where(
            col(Tag.thing_id) == func.coalesce(_LABELLED_WITH, col(Bundle.id)),
            col(Tag.state) == TagState.BOUND,
        )
        .scalar_subquery()
    )
    lies = exists().where(col(Stay.bundle_id) == col(Bundle.id), col(Stay.until_at).is_(None))
    return (
        select(
            col(Bundle.id), col(Bundle.code), col(_Parent.code).label("parent_code"), col(Bundle.is_flag), *name_columns(),
            col(Collection.name_as_told), col(SourceTree.identity), col(Collection.wood), col(Collection.kind).label("collection_kind"),
            col(Collection.cut_on), col(Collection.cut_on_guessed), col(Collection.stage), col(Collection.tree_id),
            col(Collection.cultivar_id), col(SourceTree.number).label("tree_number"), col(Site.region), col(Area.name).label("area"),
            col(Bundle.sticks_at_start), ON_HAND.label("on_hand"), col(Bundle.grafted), col(Bundle.discarded), col(Bundle.length_mm),
            col(Bundle.diameter_mm), col(Bundle.holder_id), lies.label("in_store"), returned.label("returned"), col(Bundle.unfinished),
            col(Bundle.collection_id), renamed.label("renamed"), moved.label("moved"), col(Bundle.made_at), labelled.label("labelled_at"),
            col(SourceTree.no_propagation_contract), col(SourceTree.open_stops).label("tree_stops"), col(Bundle.open_stops),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Site, col(Site.id) == col(SourceTree.site_id))
        .outerjoin(Area, col(Area.id) == func.coalesce(col(Collection.area_id), col(Site.area_id)))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(col(Bundle.id).in_(given(dialect)))
    )  # fmt: skip


def _facts(
    row: Row[Any], look: LookFacts | None, stops: Any, checks: Any, stocks: Any, corrections: Any, moved: Any
) -> CardFacts:
    return CardFacts(
        code=row.code, parent_code=row.parent_code, is_flag=row.is_flag, name=name_facts(row), wood=row.wood,
        received=row.collection_kind == CollectionKind.RECEIPT, cut_on=row.cut_on, cut_on_guessed=row.cut_on_guessed, stage=row.stage,
        tree_number=row.tree_number, region=row.region or "", area=row.area or "", sticks_at_start=row.sticks_at_start,
        on_hand=row.on_hand, grafted=row.grafted, discarded=row.discarded, length_mm=row.length_mm, diameter_mm=row.diameter_mm,
        with_member=row.holder_id is not None, in_store=bool(row.in_store), returned=bool(row.returned), unfinished=row.unfinished,
        protection=row.protection, protected_until=row.protected_until, no_propagation_contract=bool(row.no_propagation_contract),
        tree_stopped=bool(row.tree_stops), stops=tuple(stops), last_look=look, tree_checks=tuple(checks), stocks=tuple(stocks),
        corrections=tuple(corrections), tree_corrections=tuple(moved),
    )  # fmt: skip


def _corrections(session: Session, rows: Many[Row[Any]], zone: str) -> dict[UUID, list[NameCorrected]]:
    """By bundle, the name that its tag still says, where it is not the right one; one statement, none where no name was put right."""
    if not rows:
        return {}
    of = NameCorrection
    statement = select(
        col(of.collection_id), col(of.from_words), col(of.words), col(of.recorded_at)
    ).order_by(col(of.seq))
    return {
        bundle_id: [NameCorrected(told[0].from_words, told[-1].words, local_day(told[-1].recorded_at, zone))]
        for bundle_id, told in _since_labelled(session, rows, statement, of).items()
        if told and told[0].from_words != told[-1].words
    }


def _tree_corrections(session: Session, rows: Many[Row[Any]], zone: str) -> dict[UUID, list[TreeCorrected]]:
    """By bundle, the tree that its tag still names, where it is not the right one; one statement, none where no cut was put right.

    A tag says what stood before the first correction; what it is, the last one says.
    """
    if not rows:
        return {}
    of = TreeCorrection
    statement = (
        select(col(of.collection_id), col(of.recorded_at), col(_Was.number).label("was"), col(_Is.number).label("number"))
        .join(_Was, col(_Was.id) == col(of.from_tree_id))
        .join(_Is, col(_Is.id) == col(of.tree_id))
        .order_by(col(of.seq))
    )  # fmt: skip
    return {
        bundle_id: [TreeCorrected(told[0].was, told[-1].number, local_day(told[-1].recorded_at, zone))]
        for bundle_id, told in _since_labelled(session, rows, statement, of).items()
        if told and told[0].was != told[-1].number
    }


def _since_labelled(
    session: Session, rows: Many[Row[Any]], statement: Any, of: type[NameCorrection | TreeCorrection]
) -> dict[UUID, list[Any]]:
    """What was put right of each bundle's cut since it was labelled.

    What was labelled after a correction says the right thing. A blank printed long ahead was written on when it was tied.
    """
    wanted = statement.where(col(of.collection_id).in_(these(session, {row.collection_id for row in rows})))
    by_cut: dict[UUID, list[Any]] = {}
    for one in session.execute(wanted):
        by_cut.setdefault(one.collection_id, []).append(one)
    return {
        row.id: [
            one
            for one in by_cut.get(row.collection_id, ())
            if one.recorded_at >= max(row.labelled_at or row.made_at, row.made_at)
        ]
        for row in rows
    }


def _latest_first(partition: Any, *order: Any) -> Any:
    """A column that is 1 on the latest row of each."""
    return func.row_number().over(partition_by=partition, order_by=order).label("place")


@cache
def _last_looks(dialect: str) -> Select[*tuple[Any, ...]]:
    place = _latest_first(
        col(BundleCheck.bundle_id), col(BundleCheck.seen_at).desc(), col(BundleCheck.id).desc()
    )
    looks = (
        select(
            col(BundleCheck.bundle_id), col(BundleCheck.seen_at), col(BundleCheck.buds), col(BundleCheck.wrinkled),
            col(BundleCheck.mould), col(BundleCheck.green_under_scratch), place,
        )
        .where(col(BundleCheck.bundle_id).in_(given(dialect)))
        .subquery()
    )  # fmt: skip
    return select(looks).where(looks.c.place == 1)


def _look(row: Any, zone: str) -> LookFacts:
    return LookFacts(local_day(row.seen_at, zone), row.buds, row.wrinkled, row.mould, row.green_under_scratch)


@cache
def _stops_on(dialect: str) -> Select[*tuple[Any, ...]]:
    return (
        select(col(BundleStop.bundle_id), col(Stop.reason), col(Stop.state), col(BundleStop.placed_at))
        .join(Stop, col(Stop.id) == col(BundleStop.stop_id))
        .where(col(BundleStop.bundle_id).in_(given(dialect)), col(BundleStop.lifted_at).is_(None))
        .order_by(col(BundleStop.placed_at), col(Stop.id))
    )


def _open_stops(session: Session, asked: dict[str, Any], zone: str) -> dict[UUID, list[StopOnWood]]:
    found: dict[UUID, list[StopOnWood]] = {}
    for row in session.execute(_stops_on(dialect_of(session)), asked):
        stop = StopOnWood(StopReason(row.reason), StopState(row.state), local_day(row.placed_at, zone))
        found.setdefault(row.bundle_id, []).append(stop)
    return found


@cache
def _last_checks(dialect: str) -> Select[*tuple[Any, ...]]:
    newest = col(TreeCheck.seen_on).desc(), col(TreeCheck.recorded_at).desc(), col(TreeCheck.id).desc()
    place = _latest_first((col(TreeCheck.tree_id), col(TreeCheck.kind)), *newest)
    checks = (
        select(
            col(TreeCheck.tree_id), col(TreeCheck.kind), col(TreeCheck.result), col(TreeCheck.seen_on), place
        )
        .where(
            col(TreeCheck.tree_id).in_(given(dialect)),
            col(TreeCheck.result) != CheckResult.NOT_SEEN,
            col(TreeCheck.taken_back_at).is_(None),
        )
        .subquery()
    )
    return select(checks).where(checks.c.place == 1).order_by(checks.c.kind.desc())


def _tree_checks(
    session: Session, tree_ids: Many[UUID]
) -> Mapping[UUID, list[tuple[CheckKind, CheckResult, date]]]:
    found: dict[UUID, list[tuple[CheckKind, CheckResult, date]]] = {}
    if tree_ids:
        for row in session.execute(_last_checks(dialect_of(session)), {"ids": as_given(session, tree_ids)}):
            found.setdefault(row.tree_id, []).append(
                (CheckKind(row.kind), CheckResult(row.result), row.seen_on)
            )
    return found


def bundles_of_cultivars(session: Session, cultivar_ids: Iterable[UUID]) -> list[UUID]:
    """Every bundle of these varieties: their answers rest on how the variety is named. One statement."""
    cut = select(col(Collection.id)).where(col(Collection.cultivar_id).in_(list(cultivar_ids)))
    return list(session.execute(select(col(Bundle.id)).where(col(Bundle.collection_id).in_(cut))).scalars())


def all_bundles(session: Session) -> list[UUID]:
    return list(session.execute(select(col(Bundle.id))).scalars())
