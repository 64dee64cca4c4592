"""A stop with all that it binds, whom to tell, and what else to consider."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.bundles.rules import MoveKind
from service.bundles.schemas import MissingRead
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.lib.clock import local_day
from service.lib.errors import Unusable
from service.lib.given import dialect_of, these
from service.members.queries import club
from service.provenance.queries.proposals import count_bound, proposals_for
from service.provenance.queries.recalls import taker_read, to_tell_read
from service.provenance.queries.telling import parties_to_tell, unknown_takers
from service.provenance.rules.lineage import NoSuchThing
from service.provenance.rules.stops import bound_since, winters_to_bind
from service.provenance.schemas import StopOnWoodRead
from service.trees.queries import get_stop
from service.trees.schemas import StopRead


def stop_on_wood(session: Session, stop: StopRead, since: date | None) -> StopOnWoodRead:
    return StopOnWoodRead(
        stop=stop, bound=count_bound(session, stop.id, since),
        to_tell=[to_tell_read(one) for one in parties_to_tell(session, stop.id)],
        unknown_takers=[taker_read(one) for one in unknown_takers(session, stop.id)],
        proposals=proposals_for(session, stop, since=since), missing=missing_since(session, stop.id),
    )  # fmt: skip


def missing_since(session: Session, stop_id: UUID) -> list[MissingRead]:
    """Bundles of which fewer sticks were counted since the stop binds them; one statement."""
    fewer = (-func.sum(col(StickMove.sticks))).label("sticks")
    rows = session.execute(
        select(col(Bundle.id).label("bundle_id"), col(Bundle.code), fewer)
        .join(BundleStop, col(BundleStop.bundle_id) == col(Bundle.id))
        .join(StickMove, col(StickMove.bundle_id) == col(Bundle.id))
        .where(
            col(BundleStop.stop_id) == stop_id, col(BundleStop.lifted_at).is_(None),
            col(StickMove.kind) == MoveKind.CORRECTED.value, col(StickMove.recorded_at) >= col(BundleStop.placed_at),
        )
        .group_by(col(Bundle.id), col(Bundle.code))
        .having(func.sum(col(StickMove.sticks)) < 0)
        .order_by(col(Bundle.code))
    )  # fmt: skip
    return [MissingRead.model_validate(row) for row in rows]


def get_stop_on_wood(session: Session, stop_id: UUID) -> StopOnWoodRead:
    """A stop as it stands now, with the look-back it would have had by the club's habit."""
    stop = get_stop(session, stop_id)
    home = club(session)
    winters = winters_to_bind(stop.reason, None, home.recall_look_back_winters)
    return stop_on_wood(session, stop, bound_since(local_day(stop.opened_at, home.zone), winters))


def get_bundle_to_stop(session: Session, bundle_id: UUID) -> UUID:
    """Raises `NoSuchThing`."""
    if session.execute(select(col(Bundle.id)).where(col(Bundle.id) == bundle_id)).first() is None:
        raise NoSuchThing("There is no bundle with this id.", id=str(bundle_id))
    return bundle_id


def check_bundles_stand(session: Session, bundle_ids: Collection[UUID]) -> None:
    """Raises `Unusable` where one of them is not in the record."""
    wanted = set(bundle_ids)
    found = session.execute(
        select(func.count()).where(col(Bundle.id).in_(these(session, wanted)))
    ).scalar_one()
    if found != len(wanted):
        raise Unusable("One of these bundles is not in the record.", field="bundle_ids")


def writes_alone(session: Session) -> bool:
    """Whether nobody else can write until this is saved: SQLite has one writer."""
    return dialect_of(session) == "sqlite"
