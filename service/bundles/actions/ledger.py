"""The one place where counters change: a guarded statement and its ledger rows, together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Integer, bindparam, case, update
from sqlalchemy.sql.dml import ReturningUpdate
from sqlmodel import Session, col

from service.bundles import queries
from service.bundles.queries.bundles import facts_of
from service.bundles.queries.counters import ON_HAND
from service.bundles.rules import EFFECT, BundleFacts, Counter, MoveKind, NoSuchBundle, check_can_take
from service.bundles.tables import Bundle, StickMove
from service.lib.database import new_id
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import Member

_BUNDLE = Bundle.__table__.c  # type: ignore[attr-defined]
FREE = ON_HAND - col(Bundle.promised) - col(Bundle.claimed)


@dataclass(frozen=True)
class Move:
    """One line to be: what happens to how many sticks of a bundle."""

    bundle_id: UUID
    kind: MoveKind
    sticks: int
    done_at: datetime
    id: UUID = field(default_factory=new_id)
    other_bundle_id: UUID | None = None
    party_id: UUID | None = None
    form: str = ""
    reason: str = ""


def write_moves(
    session: Session, member: Member, moves: Sequence[Move], stood: Mapping[UUID, BundleFacts]
) -> None:
    """Add ledger rows; one statement, however many. The counters are changed by whoever calls.

    `stood`: the bundles that were there before these moves; a move may be told late, but lies not before its bundle.
    """
    at = recorded_at(session)
    queries.check_deeds(
        session,
        (
            (move.bundle_id, stood[move.bundle_id].made_at, move.done_at)
            for move in moves
            if move.bundle_id in stood
        ),
    )
    rows = [_row(move, member, at) for move in moves]
    insert_rows(session, StickMove, rows)
    touch_bundles(session, {move.bundle_id for move in moves})


def _row(move: Move, member: Member, at: datetime) -> dict[str, Any]:
    counters = {counter.value: 0 for counter in Counter}
    effect = EFFECT[move.kind]
    if effect is not None:
        counters[effect[0]] = effect[1] * move.sticks
    return {
        "id": move.id, "bundle_id": move.bundle_id, "kind": move.kind.value, "sticks": move.sticks, **counters,
        "promised": 0, "claimed": 0, "other_bundle_id": move.other_bundle_id, "party_id": move.party_id, "form": move.form,
        "done_at": move.done_at, "recorded_at": at, "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
        "reason": move.reason,
    }  # fmt: skip


def check_takings(session: Session, wanted: Mapping[UUID, int]) -> dict[UUID, BundleFacts]:
    """Lock bundles and refuse, in words, what may not leave them. One statement where all is well."""
    facts = queries.facts_for_bundles(session, wanted, lock=True)
    for bundle_id, sticks in wanted.items():
        bundle = facts.get(bundle_id)
        if bundle is None:
            raise NoSuchBundle("There is no bundle with this id.", id=str(bundle_id))
        why = queries.stop_words(session, [bundle_id]).get(bundle_id, ()) if bundle.open_stops else ()
        check_can_take(bundle, sticks, why)
    return facts


def take_sticks(session: Session, counter: Counter, wanted: Mapping[UUID, int]) -> dict[UUID, BundleFacts]:
    """Add to one counter of many bundles by one guarded statement; refuse where sticks are short or stopped.

    The words come from the rule, asked before; the database has the last word, so that of two who reach for the
    last stick one is refused.
    """
    check_takings(session, wanted)
    changed = _add(session, counter, wanted, guarded=True)
    if len(changed) < len(wanted):
        missing = {bundle_id: sticks for bundle_id, sticks in wanted.items() if bundle_id not in changed}
        check_takings(session, missing)
        raise NoSuchBundle("This bundle changed while it was read; try again.")
    return changed


def add_sticks(session: Session, counter: Counter, wanted: Mapping[UUID, int]) -> dict[UUID, BundleFacts]:
    """Add to (or take back from) one counter of many bundles; the CHECKs refuse what cannot be."""
    return _add(session, counter, wanted, guarded=False)


def _add(
    session: Session, counter: Counter, wanted: Mapping[UUID, int], *, guarded: bool
) -> dict[UUID, BundleFacts]:
    told: dict[str, Any] = {"bundle_ids": list(wanted)}
    if len(amounts := set(wanted.values())) == 1:
        statement, told["sticks"] = _change_alike(counter, guarded=guarded), amounts.pop()
    else:
        statement = _change(counter, case(wanted, value=_BUNDLE.id), guarded=guarded)
    rows = session.connection().execute(statement, told)
    return {row.id: facts_of(row) for row in rows}


@cache
def _change_alike(counter: Counter, *, guarded: bool) -> ReturningUpdate[Any]:
    """The same number for every bundle, as nearly always; built once, for building it takes longer than running it."""
    return _change(counter, bindparam("sticks", type_=Integer()), guarded=guarded)


def _change(counter: Counter, sticks: ColumnElement[int], *, guarded: bool) -> ReturningUpdate[Any]:
    counted = _BUNDLE[counter.value]
    statement = update(Bundle.__table__).where(_BUNDLE.id.in_(bindparam("bundle_ids", expanding=True)))  # type: ignore[attr-defined]
    if guarded:
        statement = statement.where(sticks <= FREE, _BUNDLE.open_stops == 0)
    changed: dict[str, ColumnElement[int]] = {
        counter.value: counted + sticks,
        "version": _BUNDLE.version + 1,
    }
    return statement.values(changed).returning(*_BUNDLE)
