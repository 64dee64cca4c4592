"""What forecasts and verdicts are reckoned with: read from the tables the functions themselves take their numbers from."""

from __future__ import annotations

from dataclasses import asdict
from functools import cache

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue.schemas import (
    ScienceModel,
    ScienceNeed,
    ScienceParameter,
    ScienceRead,
    StorageLimitRead,
)
from service.catalogue.tables import StorageLimit


@cache
def science() -> ScienceRead:
    """Every model, number and need; no statement."""
    from service.science.parameters import MODELS, every_parameter
    from service.science.requirements import REQUIREMENTS

    return ScienceRead(
        models=[ScienceModel.model_validate(asdict(each)) for each in MODELS.values()],
        parameters=[ScienceParameter.model_validate(asdict(each)) for each in every_parameter()],
        needs=[ScienceNeed.model_validate(asdict(each)) for each in REQUIREMENTS],
    )


def list_storage_limits(session: Session) -> list[StorageLimitRead]:
    """Of every group, by its name; one statement."""
    rows = session.execute(select(StorageLimit).order_by(col(StorageLimit.species_group))).scalars()
    return [StorageLimitRead.model_validate(row.model_dump()) for row in rows]
