"""How wood keeps, reckoned anew and written: of a full store with each batch of its readings, and of every store of a large club."""

from __future__ import annotations

import gc
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any, Self
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import select

from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer, insert_rows
from service.members.tables import Club
from service.storage.actions.dosing import ask_for_store, record_keeping
from service.storage.queries.use_first import MOST_SHOWN, use_first
from service.storage.tables import BundleKeeping, Place, Stay, StoreDay
from tests.bench.figures import Figures, by_turns, ms
from tests.bench.memory import resident_kb
from tests.builders.garage import Garage
from tests.builders.storage import Ground, make_bundles, make_store

BUNDLES = 10_000
MOST = 3.0
# Bundles of one cut that were put away together lie alike; of a store a thousand cuts and ways are a large club's winter.
HISTORIES = 1_000
CUT_WITHIN, PUT_AWAY_WITHIN = 50, 50  # hours before and after
BEGINS = datetime(2026, 1, 10, 12, tzinfo=UTC)  # the cut of the ground
LONGER = 10  # times the history
MOST_FOR_LONGER = 1.3
STORES, IN_EACH, DAYS = 50, 2_000, 365
MOST_GROWTH_MB = 300
MOST_OF_A_LIST = 1.3  # as long as of one store


def rewritten(database: Database) -> float:
    """Seconds for reading every row of how wood keeps and writing it as it is, store by store."""
    started = time.perf_counter()
    with database.reading() as session:
        stores = list(session.exec(select(BundleKeeping.store_id).distinct()).all())
    for store_id in stores:
        with database.reading() as session:
            of_it = select(BundleKeeping).where(BundleKeeping.store_id == store_id)
            rows = [row.model_dump() for row in session.exec(of_it).all()]
        with database.writing_session() as session:
            record_keeping(session, rows)
            session.commit()
    return time.perf_counter() - started


class Cuts:
    """So many histories of wood: hours of cutting and of putting away, and beyond those the thickness of the sticks."""

    def __init__(self, database: Database, writer: Writer, ground: Ground) -> None:
        self.writer, self.ground = writer, ground
        with database.reading() as session:
            one = session.get_one(Collection, ground.collection_id)
            zone = ZoneInfo(session.exec(select(Club.zone)).one())
            told = [BEGINS - timedelta(hours=n) for n in range(CUT_WITHIN)]
            rows = [
                {
                    **one.model_dump(), "id": uuid4(), "number": 100 + n, "done_at": at, "cut_on": at.astimezone(zone).date(),
                }
                for n, at in enumerate(told)
            ]  # fmt: skip
        writer.write_now(insert_rows, None, Collection, rows)
        self.collections = [row["id"] for row in rows]

    def put_away(self, bundles: int, histories: int, place_id: UUID | None) -> None:
        """Bundles into a place, each with the next of the histories, as rows."""
        (one,) = make_bundles(self.writer, self.ground)
        with self.writer.database.reading() as session:
            told = session.get_one(Bundle, one).model_dump()
        rows, stays = list[dict[str, Any]](), list[dict[str, Any]]()
        for n in range(bundles):
            rest, cut = divmod(n % histories, CUT_WITHIN)
            thick, hour = divmod(rest, PUT_AWAY_WITHIN)
            bundle_id, at = uuid4(), BEGINS + timedelta(hours=hour)
            rows.append(
                {**told, "id": bundle_id, "collection_id": self.collections[cut], "diameter_mm": 5.0 + thick}
            )
            stays.append(Stay(bundle_id=bundle_id, place_id=place_id, from_at=at).model_dump(exclude={"id"}))
        self.writer.write_now(insert_rows, None, Bundle, rows)
        self.writer.write_now(insert_rows, None, Stay, stays)


def place_of(database: Database, store_id: UUID) -> UUID | None:
    with database.reading() as session:
        return session.exec(select(Place.id).where(Place.store_id == store_id)).first()


class FullStore(Garage):
    """A store with hourly readings since its wood was put into it, over five days."""

    def __init__(
        self, database: Database, writer: Writer, clock: FixedClock, days: int, bundles: int = BUNDLES, histories: int = HISTORIES
    ) -> None:  # fmt: skip
        super().__init__(database, writer, clock)
        self.clock.at = BEGINS + timedelta(days=days)
        self.cuts = Cuts(database, writer, self.ground)
        self.cuts.put_away(bundles, histories, place_of(database, self.store.id))
        gc.freeze()  # as a serving process does once it has started
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
        return rewritten(self.database)


class LargeClub(FullStore):
    """Many stores with the same year of readings, each with as much wood."""

    def __init__(self, database: Database, writer: Writer, clock: FixedClock) -> None:
        super().__init__(database, writer, clock, DAYS, IN_EACH - 1)
        self.stores = [self.store.id]
        with database.reading() as session:
            days = [row.model_dump() for row in session.exec(select(StoreDay)).all()]
        for n in range(1, STORES):
            store_id = make_store(writer, self.ground, name=f"Store {n}").id
            self.stores.append(store_id)
            writer.write_now(insert_rows, None, StoreDay, [{**row, "store_id": store_id} for row in days])
            self.cuts.put_away(IN_EACH, HISTORIES, place_of(database, store_id))

    def renewed(self) -> float:
        self.clock.at += timedelta(hours=1)

        def ask(session: object) -> None:
            for store_id in self.stores:
                ask_for_store(session, store_id)  # type: ignore[arg-type]

        self.writer.write_now(ask, None)
        started = time.perf_counter()
        done = self.work()
        assert done >= STORES
        return time.perf_counter() - started


class Growth:
    """How much private memory grew at most while something ran, in MB."""

    def __enter__(self) -> Self:
        self.at_first = self.most = resident_kb("self")
        self._over = threading.Event()
        self._watch = threading.Thread(target=self._look)
        self._watch.start()
        return self

    def _look(self) -> None:
        while not self._over.wait(0.2):
            self.most = max(self.most, resident_kb("self"))

    def __exit__(self, *_told: object) -> None:
        self._over.set()
        self._watch.join()
        self.megabytes = (self.most - self.at_first) / 1024


@pytest.mark.heavy
@pytest.mark.parametrize("histories", [HISTORIES, BUNDLES])
def test_a_batch_for_a_full_store_is_reckoned_and_written_nearly_as_quickly_as_its_rows(
    database: Database,
    writer: Writer,
    clock: FixedClock,
    figures: Figures,
    database_kind: str,
    histories: int,
) -> None:
    """Saving six readings, the store's hours, the share, band, dates and curve of every bundle in it, and writing them.

    Ceiling: reading those rows and writing them as they are. Also where no two bundles lay alike, as in no store.
    """
    store = FullStore(database, writer, clock, days=40, histories=histories)

    found = by_turns(3, {"batch": store.next_batch, "rows": store.rewritten})

    ratio = found["batch"] / found["rows"]
    what = f"a batch for a store of {BUNDLES} bundles of {histories} histories, {database_kind}"
    figures.add(what, ms(found["batch"]), ms(found["rows"]), ratio, f"{MOST:.1f}")
    assert ratio <= MOST


@pytest.mark.heavy
def test_a_batch_takes_no_longer_for_a_longer_history(
    new_database_url: Callable[..., str], database_kind: str, figures: Figures
) -> None:
    """Six readings for a store whose wood lay there for a year and more. Ceiling: the same with a tenth of that time."""
    made: dict[str, FullStore] = {}
    for name, days in (("long", 400), ("short", 400 // LONGER)):
        clock = FixedClock(BEGINS + timedelta(days=days))
        database = Database(new_database_url(database_kind))
        made[name] = FullStore(database, Writer(database, clock), clock, days, BUNDLES // 2)

    found = by_turns(5, {name: store.next_batch for name, store in made.items()})

    ratio = found["long"] / found["short"]
    figures.add(
        f"a batch with {LONGER} times the history, {database_kind}", ms(found["long"]), ms(found["short"]), ratio, f"{MOST_FOR_LONGER}"
    )  # fmt: skip
    for store in made.values():
        store.database.close()
    assert ratio <= MOST_FOR_LONGER


@pytest.mark.heavy
def test_every_store_of_a_large_club_is_reckoned_nearly_as_quickly_as_its_rows_are_written(
    database: Database, writer: Writer, clock: FixedClock, figures: Figures, database_kind: str
) -> None:
    """A hundred thousand bundles in fifty stores with a year of hours each. Ceiling: reading and writing their rows as they are.

    Then what is to be used first out of all of them. Ceiling: the same out of one store, a fiftieth of them.
    """
    club = LargeClub(database, writer, clock)
    with Growth() as first:
        club.renewed()
    with Growth() as growth:
        found = by_turns(1, {"club": club.renewed, "rows": club.rewritten}, warm_up=0)

    ratio = found["club"] / found["rows"]
    what = f"{STORES * IN_EACH:,} bundles of {STORES * HISTORIES:,} histories in {STORES} stores, {database_kind}"
    figures.add(what, ms(found["club"]), ms(found["rows"]), ratio, f"{MOST:.1f}")
    for name, grown in {"in the first run of the process": first, "in the next": growth}.items():
        figures.add(
            f"… growth of private memory {name}, {database_kind}",
            f"{grown.megabytes:.0f} MB",
            f"{MOST_GROWTH_MB} MB",
        )

    def listed(store_id: UUID | None) -> float:
        started = time.perf_counter()
        with database.reading() as session:
            assert len(use_first(session, store_id)) == MOST_SHOWN
        return time.perf_counter() - started

    lists = by_turns(9, {"all": lambda: listed(None), "one": lambda: listed(club.stores[7])})
    figures.add(
        f"… use first of all, of one store, {database_kind}",
        ms(lists["all"]),
        ms(lists["one"]),
        lists["all"] / lists["one"],
    )
    assert ratio <= MOST
    assert max(first.megabytes, growth.megabytes) <= MOST_GROWTH_MB
    assert lists["all"] <= MOST_OF_A_LIST * lists["one"]
