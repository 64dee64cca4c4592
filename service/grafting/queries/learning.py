"""All takes, with how far their wood had aged when it was grafted."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING, Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue.tables import GraftingMethod
from service.grafting.queries.takes import looks_at
from service.grafting.rules import plan_judging
from service.grafting.rules.learning import Judged, LeftOut, judge_graft
from service.grafting.tables import Graft, GraftWood, TakeCheck
from service.lib.clock import local_day
from service.members.queries import club
from service.storage.queries.forecasts import forecasts_at_grafting
from service.storage.queries.grafted import WoodThen, wood_then
from service.storage.schemas.learned import CameTrue

if TYPE_CHECKING:
    from service.science.learning import Takes

AT_ONCE = 5_000


@dataclass(frozen=True)
class _Observed:
    graft_id: UUID
    bundle_id: UUID
    method: str
    done_at: datetime
    judged: Judged


@dataclass(frozen=True)
class AllTakes:
    """What counts, by group of species; what does not, by why; and what all that is known again by."""

    by_group: dict[str, list[Takes]]
    left_out: dict[str, int]
    came_true: list[CameTrue]
    digest: str

    @property
    def are_none(self) -> bool:
        """Nobody has given a verdict on anything yet."""
        return not self.by_group and set(self.left_out) <= {LeftOut.NOT_JUDGED.value}


def all_takes(session: Session, now: datetime) -> AllTakes:
    """Every graft that stands, by what can be judged by now; a handful of statements, and a dozen for each thousand bundles of a year."""
    from service.science.learning import Takes

    observed = list(_observed(session, now))
    left_out = Counter[str]()
    for one in observed:
        left_out.update({why.value: many for why, many in one.judged.left_out.items()})
    counted = [one for one in observed if one.judged.grafted]
    moments: dict[UUID, set[datetime]] = {}
    for one in counted:
        moments.setdefault(one.bundle_id, set()).add(one.done_at)
    then = wood_then(session, moments)
    by_group: dict[str, list[Takes]] = {}
    told = []
    for one in counted:
        wood, judged = then[one.bundle_id, one.done_at], one.judged
        if wood.traits is None or wood.doses is None:
            why = LeftOut.NOT_WRITTEN if wood.is_reckoned else LeftOut.NO_FORECAST
            left_out[why.value] += judged.grafted
            continue
        takes = Takes(one.method, judged.grafted, judged.taken, wood.traits, wood.doses)
        by_group.setdefault(wood.group, []).append(takes)
        told.append([str(one.graft_id), wood.group, one.method, judged.grafted, judged.taken, _doses(wood)])
    came_true = _came_true(session, counted, then)
    return AllTakes(by_group, dict(sorted(left_out.items())), came_true, _digest(told, left_out))


def _observed(session: Session, now: datetime) -> Iterator[_Observed]:
    zone = club(session).zone
    today = local_day(now, zone)
    rows = session.execute(_grafts()).all()
    woods = Counter(row.id for row in rows)
    unique = {row.id: row for row in rows}
    ids = list(unique)
    for part in range(0, len(ids), AT_ONCE):
        own = ids[part : part + AT_ONCE]
        looks = looks_at(session, own)
        for one in own:
            row = unique[one]
            made_on = local_day(row.done_at, zone)
            from_on = plan_judging(
                made_on, None, row.verdict_weeks_from, row.verdict_weeks_to, ""
            ).verdict_from_on
            judged = judge_graft(row.grafts, woods[one], from_on, looks.get(one, ()), today)
            yield _Observed(one, row.bundle_id, row.method, row.done_at, judged)


def _grafts() -> Any:
    return (
        select(
            col(Graft.id), col(Graft.method), col(Graft.grafts), col(Graft.done_at), col(GraftWood.bundle_id),
            col(GraftingMethod.verdict_weeks_from), col(GraftingMethod.verdict_weeks_to),
        )
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .outerjoin(GraftingMethod, col(GraftingMethod.slug) == col(Graft.method))
        .where(col(Graft.taken_back_at).is_(None))
        .order_by(col(Graft.number))
    )  # fmt: skip


def any_verdict(session: Session) -> bool:
    """Whether anything was ever judged; one statement."""
    return (
        session.execute(select(col(TakeCheck.id)).where(col(TakeCheck.is_verdict)).limit(1)).first()
        is not None
    )


def _came_true(
    session: Session, counted: Sequence[_Observed], then: Mapping[tuple[UUID, datetime], WoodThen]
) -> list[CameTrue]:
    """What was told of wood as it was grafted, against what took."""
    told = forecasts_at_grafting(session, {one.bundle_id for one in counted})
    found: dict[tuple[str, int], list[tuple[int, int, float]]] = {}
    for one in counted:
        share = told.get((one.bundle_id, one.done_at))
        if share is not None:
            key = (then[one.bundle_id, one.done_at].group, min(9, int(share * 10)))
            found.setdefault(key, []).append((one.judged.grafted, one.judged.taken, share))
    return [
        CameTrue(
            species_group=group, tenth=tenth, grafts=sum(n for n, _, _ in rows), taken=sum(y for _, y, _ in rows),
            told=round(math.fsum(n * share for n, _, share in rows) / sum(n for n, _, _ in rows), 6),
        )
        for (group, tenth), rows in sorted(found.items())
    ]  # fmt: skip


def _doses(wood: WoodThen) -> list[float]:
    five = ("reserve", "lost_pct", "mould", "bud", "ethylene", "coldest_c")
    return [round(float(getattr(wood.doses, name)), 6) for name in five]


def _digest(told: list[list[Any]], left_out: Counter[str]) -> str:
    # Grafts that wait for their verdict say nothing yet, and make no new version.
    out = [pair for pair in sorted(left_out.items()) if pair[0] != LeftOut.NOT_JUDGED]
    return sha256(json.dumps([sorted(told), out]).encode()).hexdigest()
