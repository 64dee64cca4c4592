"""Whether wood may cross from the area it grew in to the one it comes to."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from uuid import UUID

from sqlmodel import Session

from service.members import queries as members
from service.members.rules import AreaFacts, AreaPermitFacts


def permits(
    session: Session,
) -> Callable[[AreaFacts | None, AreaFacts | None, str, date], AreaPermitFacts | None]:
    """Looks up the authority's answers: one statement for each crossing and day, none within an area."""
    known: dict[tuple[UUID, UUID, str, date], AreaPermitFacts | None] = {}

    def permit(
        origin: AreaFacts | None, here: AreaFacts | None, genus: str, day: date
    ) -> AreaPermitFacts | None:
        if origin is None or here is None or origin.id == here.id:
            return None
        key = (origin.id, here.id, genus, day)
        if key not in known:
            known[key] = members.permit_for(session, *key)
        return known[key]

    return permit
