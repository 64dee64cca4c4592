"""Grafts, in lists and one by one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.rules import Verdict
from service.catalogue.tables import Cultivar, GraftingMethod, Rootstock, Taxon
from service.collection.tables import Collection
from service.grafting.queries.bench import variety_of
from service.grafting.queries.plants import plants_of_grafts
from service.grafting.queries.takes import takes_of
from service.grafting.rules import CAUTIONS, NoSuchGraft, Part, PlantState, Take, check_may_see, plan_judging
from service.grafting.schemas import GraftRead, GraftSummary, GraftWoodRead, TakeCheckRead, TakeRead
from service.grafting.tables import Graft, GraftOnPlant, GraftTakenBack, GraftWood, Plant, TakeCheck
from service.lib.clock import local_day
from service.lib.paging import Page, Paging, page_of
from service.members.queries import club
from service.trees.tables import SourceTree

_OnPlant = aliased(Plant, name="on_plant")
_BACKWARDS: list[tuple[Any, bool]] = [(col(Graft.done_at), True), (col(Graft.number), True)]


def _grafts() -> Any:
    return (
        select(
            Graft, GraftingMethod, col(Rootstock.name).label("rootstock"), col(SourceTree.number).label("tree_number"),
            col(GraftOnPlant.plant_id).label("on_plant_id"), col(_OnPlant.number).label("plant_number"),
        )
        .outerjoin(GraftingMethod, col(GraftingMethod.slug) == col(Graft.method))
        .outerjoin(Rootstock, col(Rootstock.id) == col(Graft.rootstock_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Graft.stock_tree_id))
        .outerjoin(GraftOnPlant, col(GraftOnPlant.graft_id) == col(Graft.id))
        .outerjoin(_OnPlant, col(_OnPlant.id) == col(GraftOnPlant.plant_id))
    )  # fmt: skip


def woods_of(session: Session, graft_ids: Iterable[UUID]) -> dict[UUID, list[GraftWoodRead]]:
    """The woods of grafts, scions first; one statement."""
    statement = (
        select(
            GraftWood, col(Bundle.code), col(Collection.name_as_told), col(Taxon.kind), col(Cultivar.epithet),
            col(Cultivar.trade_designation),
        )
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .where(col(GraftWood.graft_id).in_(list(graft_ids)))
        .order_by(col(GraftWood.part).desc(), col(Collection.number), col(Bundle.id))
    )  # fmt: skip
    found: dict[UUID, list[GraftWoodRead]] = {}
    for row in session.execute(statement):
        wood = row.GraftWood
        found.setdefault(wood.graft_id, []).append(
            GraftWoodRead(
                bundle_id=wood.bundle_id, code=row.code, kind=row.kind, variety=variety_of(row), part=Part(wood.part), sticks=wood.sticks,
                scions=wood.scions,
            )
        )  # fmt: skip
    return found


def stock_words(row: Any) -> str:
    """What a graft stands on, in words."""
    if row.rootstock is not None:
        return str(row.rootstock)
    if row.plant_number is not None:
        return f"plant {row.plant_number}"
    return f"tree {row.tree_number}" if row.tree_number is not None else str(row.Graft.stock_as_told)


def _summary(row: Any, woods: Sequence[GraftWoodRead], take: Take | None) -> dict[str, Any]:
    graft = row.Graft
    return {
        **graft.model_dump(exclude={"stock_as_told"}), "verdict": Verdict(graft.verdict), "stock": stock_words(row), "woods": woods,
        "method_name": row.GraftingMethod.name if row.GraftingMethod else "", "on_plant_id": row.on_plant_id,
        "take": TakeRead.model_validate(take) if take else None,
    }  # fmt: skip


def _summaries(session: Session, rows: Sequence[Any]) -> list[GraftSummary]:
    ids = [row.Graft.id for row in rows]
    if not ids:
        return []
    woods, takes = woods_of(session, ids), takes_of(session, ids)
    return [
        GraftSummary(**_summary(row, woods.get(row.Graft.id, []), takes.get(row.Graft.id))) for row in rows
    ]


def _page(
    session: Session, statement: Any, keys: list[tuple[Any, bool]], paging: Paging
) -> Page[GraftSummary]:
    page = page_of(session, statement, keys, paging, lambda row: row)
    return Page(items=_summaries(session, page.items), next=page.next, count=page.count)


def _seen(statement: Any, only_for: UUID | None) -> Any:
    """Other people's grafts are left out, but for those whose plants this party holds."""
    if only_for is None:
        return statement
    held = select(col(Plant.graft_id)).where(col(Plant.holder_id) == only_for)
    return statement.where(or_(col(Graft.for_party_id) == only_for, col(Graft.id).in_(held)))


def list_grafts(
    session: Session, paging: Paging, *, only_for: UUID | None = None, party_id: UUID | None = None,
    season: tuple[datetime, datetime] | None = None, method: str | None = None,
) -> Page[GraftSummary]:  # fmt: skip
    """Grafts, the latest first; of one person, of one season, by one method. At most four statements."""
    statement = _seen(_grafts(), only_for)
    if party_id is not None:
        statement = statement.where(col(Graft.for_party_id) == party_id)
    if season is not None:
        statement = statement.where(col(Graft.done_at) >= season[0], col(Graft.done_at) < season[1])
    if method is not None:
        statement = statement.where(col(Graft.method) == method)
    return _page(session, statement, _BACKWARDS, paging)


def list_takes_due(
    session: Session, paging: Paging, today: date, *, only_for: UUID | None = None, since: date | None = None
) -> Page[GraftSummary]:
    """Grafts whose verdict is due (from a day on) and not given yet, the longest due first; at most four statements.

    A verdict on the whole graft settles it; so do verdicts on each of its plants that is still there.
    """
    whole = select(col(TakeCheck.id)).where(
        col(TakeCheck.graft_id) == col(Graft.id), col(TakeCheck.is_verdict), col(TakeCheck.plant_id).is_(None)
    )
    judged = select(col(TakeCheck.id)).where(
        col(TakeCheck.graft_id) == col(Graft.id),
        col(TakeCheck.is_verdict),
        col(TakeCheck.plant_id) == col(Plant.id),
    )
    own = select(col(Plant.id)).where(col(Plant.graft_id) == col(Graft.id))
    unjudged = own.where(col(Plant.state) != PlantState.GONE, ~judged.exists())
    on_plant = select(col(TakeCheck.id)).where(
        col(TakeCheck.graft_id) == col(Graft.id),
        col(TakeCheck.is_verdict),
        col(TakeCheck.plant_id) == col(GraftOnPlant.plant_id),
    )
    open_still = or_(unjudged.exists(), and_(~own.exists(), ~on_plant.exists()))
    due = _grafts().where(col(Graft.verdict_on) <= today, col(Graft.taken_back_at).is_(None))
    if since is not None:
        due = due.where(col(Graft.verdict_on) >= since)
    statement = _seen(due.where(~whole.exists(), open_still), only_for)
    return _page(session, statement, [(col(Graft.verdict_on), False), (col(Graft.number), False)], paging)


def takes_changed_at(session: Session, only_for: UUID) -> datetime | None:
    """When one person's grafts, or looks at them, were last written down or taken back; one statement."""
    latest = select(
        func.max(col(Graft.recorded_at)),
        func.max(col(Graft.taken_back_at)),
        func.max(col(TakeCheck.recorded_at)),
    )
    seen = _seen(latest.outerjoin(TakeCheck, col(TakeCheck.graft_id) == col(Graft.id)), only_for)
    row = session.execute(seen).one()
    return max((moment for moment in row if moment is not None), default=None)


def get_graft(session: Session, graft_id: UUID, *, only_for: UUID | None = None) -> GraftRead:
    """One graft with its plants and looks; at most seven statements. Raises `NoSuchGraft` or `NotYourGraft`."""
    row = session.execute(_grafts().where(col(Graft.id) == graft_id)).first()
    if row is None:
        raise NoSuchGraft("There is no graft under this id.")
    plants = plants_of_grafts(session, [graft_id]).get(graft_id, [])
    check_may_see(only_for, row.Graft.for_party_id, *(plant.holder_id for plant in plants))
    looks = session.execute(
        select(TakeCheck)
        .where(col(TakeCheck.graft_id) == graft_id)
        .order_by(col(TakeCheck.seen_on), col(TakeCheck.recorded_at))
    ).scalars()
    made_on = local_day(row.Graft.done_at, club(session).zone)
    method = row.GraftingMethod
    judging = (
        plan_judging(
            made_on,
            method.first_look_weeks,
            method.verdict_weeks_from,
            method.verdict_weeks_to,
            method.verdict_mark,
        )
        if method
        else plan_judging(made_on, None, None, None, "")
    )
    return GraftRead(
        **_summary(row, woods_of(session, [graft_id]).get(graft_id, []), takes_of(session, [graft_id]).get(graft_id)),
        plants=plants, looks=[TakeCheckRead.model_validate(look) for look in looks], first_look_on=judging.first_look_on,
        verdict_from_on=judging.verdict_from_on, verdict_mark=judging.mark, tie=method.tie if method else "", cautions=list(CAUTIONS),
        taken_back_reason=reason_taken_back(session, graft_id) if row.Graft.taken_back_at else "",
    )  # fmt: skip


def reason_taken_back(session: Session, graft_id: UUID) -> str:
    statement = select(col(GraftTakenBack.reason)).where(col(GraftTakenBack.graft_id) == graft_id)
    return session.execute(statement).scalar_one_or_none() or ""


def graft_to_change(session: Session, graft_id: UUID) -> Graft:
    """A graft kept from other writers until this is saved. Raises `NoSuchGraft`."""
    graft = session.execute(
        select(Graft).where(col(Graft.id) == graft_id).with_for_update()
    ).scalar_one_or_none()
    if graft is None:
        raise NoSuchGraft("There is no graft under this id.")
    return graft


# -- for traces, timelines and the answer of a scan --------------------------------------------------------------------


def _by_link(session: Session, link: Any, thing: Any, ids: Iterable[UUID]) -> dict[UUID, list[GraftSummary]]:
    pairs = session.execute(
        select(thing.label("thing"), link.label("graft")).where(thing.in_(list(ids))).distinct()
    ).all()
    rows = session.execute(
        _grafts().where(col(Graft.id).in_({pair.graft for pair in pairs})).order_by(col(Graft.done_at))
    ).all()
    found: dict[UUID, list[GraftSummary]] = {}
    for graft in _summaries(session, rows):
        for pair in pairs:
            if pair.graft == graft.id:
                found.setdefault(pair.thing, []).append(graft)
    return found


def grafts_of_bundles(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, list[GraftSummary]]:
    """The grafts that wood of each bundle went into, the earliest first; at most four statements."""
    return _by_link(session, col(GraftWood.graft_id), col(GraftWood.bundle_id), bundle_ids)


def grafts_on_plants(session: Session, plant_ids: Iterable[UUID]) -> dict[UUID, list[GraftSummary]]:
    """The grafts made on plants that were grafted before; at most four statements."""
    return _by_link(session, col(GraftOnPlant.graft_id), col(GraftOnPlant.plant_id), plant_ids)


def grafts_on_trees(session: Session, tree_ids: Iterable[UUID]) -> dict[UUID, list[GraftSummary]]:
    """The grafts made on standing trees; at most four statements."""
    return _by_link(session, col(Graft.id), col(Graft.stock_tree_id), tree_ids)


def grafts_of_plant(session: Session, plant_id: UUID, graft_id: UUID) -> list[GraftSummary]:
    """The graft that made a plant, then those made on it; three statements."""
    on_it = select(col(GraftOnPlant.graft_id)).where(col(GraftOnPlant.plant_id) == plant_id)
    statement = _grafts().where(or_(col(Graft.id) == graft_id, col(Graft.id).in_(on_it)))
    return _summaries(
        session, session.execute(statement.order_by(col(Graft.done_at), col(Graft.number))).all()
    )
