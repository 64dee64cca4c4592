"""One apple on a site with a latitude and days of real air, and whoever cuts there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from service.collection import queries
from service.collection.schemas import CollectionRead
from service.collection.schemas.dormancy import CutDormancy
from service.lib.write import Writer
from service.trees.schemas import AirDayTold
from tests.builders.air import seattle_days, tell_air
from tests.builders.collection import cut
from tests.builders.trees import Orchard
from tests.infra.cast import Cast

SINCE = date(2025, 8, 21)
CUT_ON = date(2026, 1, 10)


@dataclass
class Yard:
    """One apple on a site with a latitude, and whoever cuts there."""

    writer: Writer
    cast: Cast
    orchard: Orchard
    tree_id: UUID

    def air(self, first: date = date(2025, 8, 1), last: date = date(2026, 2, 13), **more: int) -> None:
        tell_air(self.writer, self.cast.steward, self.orchard.site_id, seattle_days(first, last, **more))

    def warm(self, first: date, last: date) -> None:
        """Days without any cold, from 18 to 26 °C."""
        days = [first + timedelta(days=day) for day in range((last - first).days + 1)]
        told = [AirDayTold(day=day, lowest_c=18, highest_c=26) for day in days]
        tell_air(self.writer, self.cast.steward, self.orchard.site_id, told)

    def cut(self, on: date = CUT_ON, **told: object) -> CollectionRead:
        at = datetime(on.year, on.month, on.day, 10, tzinfo=UTC)
        return cut(self.writer, self.cast.steward, self.tree_id, done_at=at, **told)

    def judged(self, made: CollectionRead) -> CutDormancy:
        with self.writer.database.reading() as session:
            return queries.cut_dormancy(session, made.id)


def value_of(told: CutDormancy, about: str) -> float:
    return float(next(each.value for each in told.evidence if each.about == about))
