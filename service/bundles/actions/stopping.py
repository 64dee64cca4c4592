"""A stop binds bundles and lets them go; no stick moves."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import select, update
from sqlmodel import Session, col

from service.bundles.tables import Bundle, BundleStop
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import Member
from service.trees import actions as tree_actions

_AT_ONCE = 500  # ids in one list: below every database's limit of parameters


def bind_bundle_stop(
    session: Session, member: Member, stop_id: UUID, bundles: Iterable[tuple[UUID, str]]
) -> list[UUID]:
    """Bind bundles to a stop, each with why; gives those that it did not bind before.

    One that the stop let go before is bound anew; when it was free in between stays written down. One look, one insert,
    and per 500 bundles one update.
    """
    why = dict(bundles)
    known = _known(session, stop_id)
    new = [bundle_id for bundle_id in why if not known.get(bundle_id, False)]
    at = recorded_at(session)
    rows = [
        {
            "stop_id": stop_id,
            "bundle_id": bundle_id,
            "why": why[bundle_id],
            "placed_at": at,
            "lifted_at": None,
        }
        for bundle_id in new
        if bundle_id not in known
    ]
    insert_rows(session, BundleStop, rows)
    _bind_again(session, stop_id, {one: why[one] for one in new if one in known})
    _count(session, new, 1)
    return new


def _bind_again(session: Session, stop_id: UUID, why: dict[UUID, str]) -> None:
    for word in sorted(set(why.values())):
        ids = [one for one, because in why.items() if because == word]
        for start in range(0, len(ids), _AT_ONCE):
            session.execute(
                update(BundleStop)
                .where(
                    col(BundleStop.stop_id) == stop_id,
                    col(BundleStop.bundle_id).in_(ids[start : start + _AT_ONCE]),
                )
                .values(why=word, placed_at=recorded_at(session), lifted_at=None)
                .execution_options(synchronize_session=False)
            )


def lift_bundle_stop(session: Session, member: Member, stop_id: UUID) -> list[UUID]:
    """Let go all that this stop binds; what another stop binds too stays bound by that one."""
    return _lift(session, member, [col(BundleStop.stop_id) == stop_id], "", alone=False)


def release_bundles(
    session: Session, member: Member, stop_id: UUID, bundle_ids: Iterable[UUID], reason: str
) -> list[UUID]:
    """Let some bundles go while the stop goes on, each with the reason; gives those that were bound."""
    ids, freed = sorted(set(bundle_ids)), []
    for start in range(0, len(ids), _AT_ONCE):
        some = col(BundleStop.bundle_id).in_(ids[start : start + _AT_ONCE])
        freed += _lift(session, member, [col(BundleStop.stop_id) == stop_id, some], reason, alone=True)
    return freed


def _lift(session: Session, member: Member, which: list[Any], reason: str, *, alone: bool) -> list[UUID]:
    lifted = session.execute(
        update(BundleStop)
        .where(*which, col(BundleStop.lifted_at).is_(None))
        .values(lifted_at=recorded_at(session))
        .returning(col(BundleStop.stop_id), col(BundleStop.bundle_id), col(BundleStop.placed_at))
        .execution_options(synchronize_session=False)
    ).all()
    spans = [tree_actions.Span(row.stop_id, row.bundle_id, row.placed_at) for row in lifted]
    tree_actions.note_released(session, member, "bundle", spans, reason, alone=alone)
    freed = sorted(row.bundle_id for row in lifted)
    _count(session, freed, -1)
    return freed


def _known(session: Session, stop_id: UUID) -> dict[UUID, bool]:
    """The bundles a stop was ever put on, and whether it binds them now."""
    rows = session.execute(
        select(col(BundleStop.bundle_id), col(BundleStop.lifted_at)).where(col(BundleStop.stop_id) == stop_id)
    )
    return {row.bundle_id: row.lifted_at is None for row in rows}


def _count(session: Session, bundle_ids: list[UUID], step: int) -> None:
    for start in range(0, len(bundle_ids), _AT_ONCE):
        session.execute(
            update(Bundle)
            .where(col(Bundle.id).in_(bundle_ids[start : start + _AT_ONCE]))
            .values(open_stops=Bundle.open_stops + step, version=Bundle.version + 1)
            .execution_options(synchronize_session=False)
        )
    touch_bundles(session, bundle_ids)
