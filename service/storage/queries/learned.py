"""What was learned of how wood ages, as it stands and as it stood."""

from __future__ import annotations

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.storage.rules.learned import AgeingKnown, GroupAged, NoSuchVersion
from service.storage.schemas.learned import (
    AgeingRead,
    GroupLearned,
    LearnedRead,
    MethodLearned,
    VersionSummary,
)
from service.storage.tables import AgeingLearned, AgeingVersion

_NEWEST = select(func.max(col(AgeingVersion.version))).scalar_subquery()


def learned_ageing(session: Session, version: int | None = None) -> AgeingRead | None:
    """The newest version, or one by its number; two statements. None where there is none."""
    found = session.execute(
        select(AgeingVersion).where(col(AgeingVersion.version) == (_NEWEST if version is None else version))
    ).scalar_one_or_none()
    if found is None:
        return None
    rows = session.execute(
        select(AgeingLearned)
        .where(col(AgeingLearned.version) == found.version)
        .order_by(col(AgeingLearned.species_group))
    ).scalars()
    told = {**found.model_dump(), "came_true": found.came_true or []}
    return AgeingRead(**told, groups=[_group(row) for row in rows])


def learned(session: Session) -> LearnedRead:
    """What stands as learned, and every version in short; three statements."""
    rows = session.execute(
        select(
            col(AgeingVersion.version), col(AgeingVersion.made_at), col(AgeingVersion.grafts), col(AgeingVersion.taken)
        ).order_by(col(AgeingVersion.version).desc())
    )  # fmt: skip
    versions = [VersionSummary.model_validate(row) for row in rows]
    return LearnedRead(newest=learned_ageing(session) if versions else None, versions=versions)


def get_version(session: Session, version: int) -> AgeingRead:
    """One version as it was; two statements. Raises `NoSuchVersion`."""
    found = learned_ageing(session, version)
    if found is None:
        raise NoSuchVersion(f"There is no version {version} of what was learned.", version=version)
    return found


def _group(row: AgeingLearned) -> GroupLearned:
    methods = [MethodLearned(method=name, **told) for name, told in sorted(row.by_method.items())]
    return GroupLearned(**row.model_dump(exclude={"version", "by_method"}), methods=methods)


def newest_version(session: Session) -> int:
    """The number of the newest version, 0 where there is none; one statement."""
    return session.execute(select(_NEWEST)).scalar() or 0


def ageing_known(session: Session) -> AgeingKnown:
    """What stands as learned; one statement."""
    rows = session.execute(
        select(
            col(AgeingVersion.version), col(AgeingVersion.start_mu), col(AgeingLearned.species_group), col(AgeingLearned.mu),
            col(AgeingLearned.sigma), col(AgeingLearned.grafts), col(AgeingLearned.is_told_apart),
        )
        .outerjoin(AgeingLearned, col(AgeingLearned.version) == col(AgeingVersion.version))
        .where(col(AgeingVersion.version) == _NEWEST)
    ).all()  # fmt: skip
    if not rows:
        return AgeingKnown()
    groups = {
        row.species_group: GroupAged(row.mu, row.sigma, row.grafts, row.is_told_apart)
        for row in rows
        if row.species_group
    }
    return AgeingKnown(rows[0].version, rows[0].start_mu, groups)
