"""Stops: which bind a tree, one with its steps and trees, lists, and who else to consider."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import case, select
from sqlmodel import Session, col

from service.catalogue import queries as catalogue
from service.catalogue.rules import page_name
from service.catalogue.schemas import HealthAgentRead
from service.catalogue.tables import Cultivar, Taxon
from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.queries import CLUB_ZONE
from service.members.tables import Party
from service.trees.rules import (
    OPEN_STATES,
    StopFacts,
    StopReason,
    StopState,
    stop_words,
    tree_name,
    what_lifts,
)
from service.trees.schemas import (
    OpenStopRead,
    StopCandidate,
    StoppedTreeRead,
    StopRead,
    StopStepRead,
    StopSummary,
)
from service.trees.tables import Site, SourceTree, Stop, StopStep, TreeStop


class NoSuchStop(NotFound):
    title = "There is no such stop"


_STOP = (
    col(Stop.id), col(Stop.reason), col(Stop.state), col(Stop.agent), col(Stop.agent_code), col(Stop.note), col(Stop.opened_at),
    col(Stop.cleared_at), col(Stop.by_party_id), col(Stop.version),
)  # fmt: skip
# Health binds hardest, then rights, then names; among these, what is confirmed.
_GRAVEST = (
    case({StopReason.HEALTH.value: 0, StopReason.RIGHTS.value: 1}, value=col(Stop.reason), else_=2),
    case({StopState.CONFIRMED.value: 0}, value=col(Stop.state), else_=1),
    col(TreeStop.placed_at),
)

# Steps said in the same instant stand in the one order they can have.
_FOLLOWING = case(
    {StopState.SUSPECTED.value: 0, StopState.CONFIRMED.value: 1}, value=col(StopStep.state), else_=2
)


def open_stops_for_trees(session: Session, tree_ids: Sequence[UUID]) -> dict[UUID, list[StopFacts]]:
    """Open stops by tree, the gravest first; one statement, none without trees."""
    if not tree_ids:
        return {}
    rows = session.execute(
        select(
            col(TreeStop.tree_id), col(Stop.id), col(Stop.reason), col(Stop.state), col(Stop.agent), col(Stop.agent_code),
            col(TreeStop.placed_at), CLUB_ZONE,
        )
        .join(Stop, col(Stop.id) == col(TreeStop.stop_id))
        .where(col(TreeStop.tree_id).in_(tree_ids), col(TreeStop.lifted_at).is_(None))
        .order_by(*_GRAVEST, col(Stop.id))
    )  # fmt: skip
    found: dict[UUID, list[StopFacts]] = {}
    for tree_id, stop_id, reason, state, agent, agent_code, placed_at, zone in rows:
        stop = StopFacts(
            stop_id, StopReason(reason), StopState(state), agent, agent_code, placed_at, zone or "UTC"
        )
        found.setdefault(tree_id, []).append(stop)
    return found


def stop_reads(stops: Iterable[StopFacts]) -> list[OpenStopRead]:
    return [
        OpenStopRead(
            id=stop.id, reason=stop.reason, state=stop.state, agent=stop.agent, agent_code=stop.agent_code, placed_at=stop.placed_at,
            words=stop_words(stop), lifted_by=what_lifts(stop.reason),
        )
        for stop in stops
    ]  # fmt: skip


def list_stops(
    session: Session, paging: Paging, *, is_open: bool | None = None, reason: StopReason | None = None, tree_id: UUID | None = None
) -> Page[StopSummary]:  # fmt: skip
    """Stops, the newest first; two statements."""
    statement: Any = select(*_STOP)
    if is_open is not None:
        states = [state.value for state in OPEN_STATES] if is_open else [StopState.CLEARED.value]
        statement = statement.where(col(Stop.state).in_(states))
    if reason is not None:
        statement = statement.where(col(Stop.reason) == reason.value)
    if tree_id is not None:
        bound = select(col(TreeStop.stop_id)).where(col(TreeStop.tree_id) == tree_id)
        statement = statement.where(col(Stop.id).in_(bound))
    keys: list[tuple[Any, bool]] = [(col(Stop.opened_at), True), (col(Stop.id), False)]
    return page_of(session, statement, keys, paging, StopSummary.model_validate)


def get_stop(session: Session, stop_id: UUID) -> StopRead:
    """A stop with its steps and trees; three statements."""
    row = session.execute(select(*_STOP).where(col(Stop.id) == stop_id)).first()
    if row is None:
        raise NoSuchStop("There is no stop with this id.", id=str(stop_id))
    steps = session.execute(
        select(
            col(StopStep.state), col(StopStep.note), col(StopStep.at), col(StopStep.by_party_id), col(Party.name).label("by_name"),
            col(StopStep.for_party_id),
        )
        .join(Party, col(Party.id) == col(StopStep.by_party_id))
        .where(col(StopStep.stop_id) == stop_id)
        .order_by(col(StopStep.at), _FOLLOWING)
    )  # fmt: skip
    return StopRead(
        **StopSummary.model_validate(row).model_dump(), lifted_by="" if row.cleared_at else what_lifts(StopReason(row.reason)),
        steps=[StopStepRead.model_validate(step) for step in steps], trees=_stopped_trees(session, stop_id),
    )  # fmt: skip


def _stopped_trees(session: Session, stop_id: UUID) -> list[StoppedTreeRead]:
    rows = session.execute(
        select(
            col(TreeStop.tree_id), col(SourceTree.number), col(SourceTree.name_as_told), col(Cultivar.epithet),
            col(Cultivar.trade_designation), col(SourceTree.site_id), col(Site.name).label("site_name"), col(TreeStop.is_origin),
            col(TreeStop.placed_at), col(TreeStop.lifted_at),
        )
        .join(SourceTree, col(SourceTree.id) == col(TreeStop.tree_id))
        .join(Site, col(Site.id) == col(SourceTree.site_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .where(col(TreeStop.stop_id) == stop_id)
        .order_by(col(SourceTree.number))
    )  # fmt: skip
    return [
        StoppedTreeRead(
            tree_id=row.tree_id, number=row.number, page_name=_page_name(row), site_id=row.site_id, site_name=row.site_name,
            is_origin=row.is_origin, placed_at=row.placed_at, lifted_at=row.lifted_at,
        )
        for row in rows
    ]  # fmt: skip


def _page_name(row: Any) -> str:
    return tree_name(page_name(row.epithet, row.trade_designation) if row.epithet else "", row.name_as_told)


def find_agent(session: Session, told: str) -> HealthAgentRead | None:
    """The catalogue's agent that is meant, by any name people use, its code, or nearly so; one statement.

    None where several go by that name: nobody's code is guessed.
    """
    meant = catalogue.meant_by(session, told)
    return meant[0] if len(meant) == 1 else None


def hosts_on_site(session: Session, tree_id: UUID, agent: str = "") -> list[StopCandidate]:
    """The other trees of that site that the agent can live on; where it is not known, those of the same genus.

    Two statements, three with an agent.
    """
    origin = session.execute(
        select(col(SourceTree.site_id), col(Taxon.genus)).join(Taxon).where(col(SourceTree.id) == tree_id)
    ).first()
    if origin is None:
        raise NotFound("There is no tree with this id.", id=str(tree_id))
    known = catalogue.meant_by(session, agent)
    genera = sorted({genus for one in known for genus in one.host_genera}) or [origin.genus]
    rows = session.execute(
        select(
            col(SourceTree.id), col(SourceTree.number), col(SourceTree.name_as_told), col(Cultivar.epithet),
            col(Cultivar.trade_designation), col(SourceTree.site_id), col(Site.name).label("site_name"), col(Taxon.genus),
            col(Taxon.kind), col(SourceTree.felled_on), col(SourceTree.open_stops),
        )
        .join(Site, col(Site.id) == col(SourceTree.site_id))
        .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
        .where(col(SourceTree.site_id) == origin.site_id, col(SourceTree.id) != tree_id, col(Taxon.genus).in_(genera))
        .order_by(col(SourceTree.number))
    )  # fmt: skip
    why = "host_on_site" if any(one.host_genera for one in known) else "same_kind_on_site"
    return [
        StopCandidate(
            tree_id=row.id, number=row.number, page_name=_page_name(row), kind=row.kind, site_id=row.site_id, site_name=row.site_name,
            why=why, words=_words(row, known), felled_on=row.felled_on, open_stops=row.open_stops,
        )
        for row in rows
    ]  # fmt: skip


def _words(row: Any, known: list[HealthAgentRead]) -> str:
    names = [one.name for one in known if row.genus in one.host_genera]
    if names:
        return f"{row.kind} on the same site; {row.genus} is a host of {' and of '.join(names)}"
    return f"{row.kind} on the same site; the agent is not known to the catalogue, so trees of the same genus are named"
