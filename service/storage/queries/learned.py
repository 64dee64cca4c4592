"""What was learned of how wood ages, as it stands and as it stood."""

from __future__ import annotations

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.storage.schemas.learned import AgeingRead, GroupLearned, MethodLearned
from service.storage.tables import AgeingLearned, AgeingVersion


def learned_ageing(session: Session, version: int | None = None) -> AgeingRead | None:
    """The newest version, or one by its number; two statements. None where there is none."""
    newest = select(func.max(col(AgeingVersion.version))).scalar_subquery()
    found = session.execute(
        select(AgeingVersion).where(col(AgeingVersion.version) == (newest if version is None else version))
    ).scalar_one_or_none()
    if found is None:
        return None
    rows = session.execute(
        select(AgeingLearned)
        .where(col(AgeingLearned.version) == found.version)
        .order_by(col(AgeingLearned.species_group))
    ).scalars()
    return AgeingRead(**found.model_dump(), groups=[_group(row) for row in rows])


def _group(row: AgeingLearned) -> GroupLearned:
    methods = [MethodLearned(method=name, **told) for name, told in sorted(row.by_method.items())]
    return GroupLearned(**row.model_dump(exclude={"version", "by_method"}), methods=methods)


def newest_version(session: Session) -> int:
    """The number of the newest version, 0 where there is none; one statement."""
    return session.execute(select(func.max(col(AgeingVersion.version)))).scalar() or 0
