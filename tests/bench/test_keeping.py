"""A new batch of readings for one store with ten thousand bundles in it: how they keep, reckoned anew and written."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer, insert_rows
from service.storage.actions.dosing import record_keeping
from service.storage.tables import BundleKeeping, Place, Stay
from tests.bench.figures import Figures, by_turns, ms
from tests.builders.garage import Garage
from tests.builders.storage import make_bundles

BUNDLES, PUT_AWAY_AT = 10_000, 60  # so many times, two hours apart
BEGINS = datetime(2026, 1, 10, 12, tzinfo=UTC)  # the cut of the ground
MOST = 3.0


class FullStore(Garage):
    """A store with a winter of hourly readings, and wood that was put into it over five days."""

    def __init__(self, database: Database, writer: Writer, clock: FixedClock, days: int) -> None:
        super().__init__(database, writer, clock)
        self.clock.at = BEGINS + timedelta(days=days)
        with database.reading() as session:
            place = session.exec(select(Place.id).where(Place.store_id == self.store.id)).first()
        bundles = make_bundles(writer, self.ground, BUNDLES)
        rows = [
            Stay(bundle_id=one, place_id=place, from_at=BEGINS + timedelta(hours=2 * (n % PUT_AWAY_AT))).model_dump(exclude={"id"})
            for n, one in enumerate(bundles)
        ]  # fmt: skip
        writer.write_now(insert_rows, None, Stay, rows)
        self.sensor = self.logger()
        self.batch(BEGINS - timedelta(days=60), 24 * (60 + days))

    def batch(self, begin: datetime, hours: int) -> None:
        told = [(begin + timedelta(hours=n), round(3 + (n % 24) / 12, 1)) for n in range(hours)]
        for part in range(0, len(told), 1000):
            self.send(self.sensor, told[part : part + 1000])

    def next_batch(self) -> float:
        begin = self.clock.at
        self.clock.at = begin + timedelta(hours=6)
        started = time.perf_counter()
        self.batch(begin, 6)
        return time.perf_counter() - started

    def rewritten(self) -> float:
        started = time.perf_counter()
        with self.database.reading() as session:
            rows = [row.model_dump() for row in session.exec(select(BundleKeeping)).all()]
        with self.database.writing_session() as session:
            record_keeping(session, rows)
            session.commit()
        assert len(rows) >= BUNDLES
        return time.perf_counter() - started


@pytest.mark.heavy
def test_a_batch_for_a_full_store_is_reckoned_and_written_nearly_as_quickly_as_its_rows(
    database: Database, writer: Writer, clock: FixedClock, figures: Figures, database_kind: str
) -> None:
    """Saving six readings, the store's hours, the share, band, dates and curve of every bundle in it, and writing them.

    Ceiling: reading those rows and writing them as they are.
    """
    store = FullStore(database, writer, clock, days=40)

    found = by_turns(3, {"batch": store.next_batch, "rows": store.rewritten})

    ratio = found["batch"] / found["rows"]
    figures.add(
        f"a batch for a store of {BUNDLES} bundles, {database_kind}", ms(found["batch"]), ms(found["rows"]), ratio, f"{MOST:.1f}"
    )  # fmt: skip
    assert ratio <= MOST
