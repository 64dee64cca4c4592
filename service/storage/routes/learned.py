"""What takes say of how wood ages, and forecasts as they stood."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Path

from service.catalogue.schemas import ScienceRead
from service.lib.request import READ_PROBLEMS, Read, StrictRoute, problems
from service.members.rules import SEE_CARE, May
from service.members.signin import Asker, MaybeSignedIn, may
from service.storage.queries.forecasts import get_forecasts
from service.storage.queries.learned import get_version, learned
from service.storage.queries.numbers import every_number
from service.storage.schemas.learned import AgeingRead, ForecastRead, LearnedRead

router = APIRouter(prefix="/api", tags=["storage"], route_class=StrictRoute)
reads: Any = problems(*READ_PROBLEMS)
Reader = Annotated[Asker, may(May.READ)]
Carer = Annotated[Asker, may(May.BUNDLE_CHECKS, to=SEE_CARE)]
Version = Annotated[int, Path(ge=1, le=1_000_000_000)]


@router.get("/science/learned", responses=reads)
def get_learned(session: Read, member: Reader) -> LearnedRead:
    """How fast wood of each group ages here by the club’s own judged takes, and whether forecasts came true."""
    return learned(session)


@router.get("/science/learned/{version}", responses=reads)
def get_learned_version(version: Version, session: Read, member: Reader) -> AgeingRead:
    """One version as it was. A version is never changed."""
    return get_version(session, version)


@router.get("/bundles/{bundle_id}/forecasts", responses=reads)
def get_bundle_forecasts(bundle_id: UUID, session: Read, member: Carer) -> list[ForecastRead]:
    """Forecasts kept as they stood: when wood was handed over or grafted, and where its share changed by a step."""
    return get_forecasts(session, bundle_id)


@router.get("/science/parameters", responses=reads)
def get_science(asker: MaybeSignedIn) -> ScienceRead:
    """Every model, number and need that verdicts, forecasts and stores go by, its mark and its source. For everybody."""
    return every_number()
