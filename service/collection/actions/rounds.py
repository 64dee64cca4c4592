"""Cutting rounds: the trees one person cuts on one site in one day, with the same tools."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.collection import queries
from service.collection.schemas import RoundCreate, RoundRead, RoundUpdate
from service.collection.tables import CuttingRound
from service.lib.clock import check_done_at, local_day
from service.lib.database import new_id
from service.lib.errors import Unusable
from service.lib.write import insert_rows, recorded_at
from service.members.actions.versions import change_row
from service.members.rules import Member
from service.trees import queries as trees

A_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Stand:
    """Where and when a tree was cut, and in which round if somebody said so."""

    site_id: UUID
    cut_on: date
    done_at: datetime
    round_id: UUID | None = None


def start_round(session: Session, member: Member, body: RoundCreate) -> RoundRead:
    """Begin a round by hand, to say with which tools, or to begin a second one on the same day."""
    if not trees.sites_by_id(session, [body.site_id]):
        raise Unusable("There is no site with this id.", field="site_id", id=str(body.site_id))
    at = check_done_at(body.started_at, recorded_at(session))
    insert_rows(
        session,
        CuttingRound,
        [_row(body.id, body.site_id, at, member.acting_for_id, body.tools, body.disinfected)],
    )
    return queries.get_round(session, body.id)


def change_round(
    session: Session, member: Member, round_id: UUID, body: RoundUpdate, version: int
) -> RoundRead:
    """Say more of a round's tools."""
    change_row(session, CuttingRound, round_id, version, body.model_dump(exclude_unset=True))
    return queries.get_round(session, round_id)


def rounds_for(session: Session, cutter_id: UUID, stands: Sequence[Stand], zone: str) -> list[UUID]:
    """The round of each cut: the one told, or the cutter's own of that day and site, begun where there is none yet.

    Two statements at most, however many cuts.
    """
    at = [stand.done_at for stand in stands]
    asked = {stand.round_id for stand in stands if stand.round_id}
    sites = {stand.site_id for stand in stands}
    known = queries.rounds_about(session, cutter_id, sites, min(at) - A_DAY, max(at) + A_DAY, asked)
    by_id = {one.id: one for one in known}
    of_day: dict[tuple[UUID, date], list[CuttingRound]] = {}
    for one in known:
        if one.by_party_id == cutter_id:
            of_day.setdefault((one.site_id, local_day(one.started_at, zone)), []).append(one)
    new: dict[tuple[UUID, date], dict[str, Any]] = {}
    found = []
    for stand in stands:
        key = (stand.site_id, stand.cut_on)
        if stand.round_id is not None:
            found.append(_told(stand, by_id).id)
        elif key in of_day:
            found.append(_running(of_day[key], stand.done_at).id)
        else:
            row = new.setdefault(key, _row(new_id(), stand.site_id, stand.done_at, cutter_id))
            row["started_at"] = min(row["started_at"], stand.done_at)
            found.append(row["id"])
    insert_rows(session, CuttingRound, list(new.values()))
    return found


def _told(stand: Stand, by_id: dict[UUID, CuttingRound]) -> CuttingRound:
    one = by_id.get(stand.round_id) if stand.round_id else None
    if one is None:
        raise Unusable("There is no cutting round with this id.", field="round_id", id=str(stand.round_id))
    if one.site_id != stand.site_id:
        raise Unusable(
            "This cutting round is on another site than the tree.", field="round_id", id=str(one.id)
        )
    return one


def _running(of_day: Iterable[CuttingRound], done_at: datetime) -> CuttingRound:
    """The one begun last before the cut; for a cut told too early, the day's first."""
    in_order = sorted(of_day, key=lambda one: one.started_at)
    begun = [one for one in in_order if one.started_at <= done_at]
    return begun[-1] if begun else in_order[0]


def _row(
    round_id: UUID, site_id: UUID, at: datetime, cutter_id: UUID, tools: str = "", disinfected: str = ""
) -> dict[str, Any]:
    return {
        "id": round_id, "site_id": site_id, "started_at": at, "tools": tools, "disinfected": disinfected,
        "by_party_id": cutter_id, "version": 1,
    }  # fmt: skip
