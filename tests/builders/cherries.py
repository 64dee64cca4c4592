"""Sweet cherry in a fridge at a constant 4 °C, grafted bit by bit, and what took of it: the worked example of learning."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import update

from service.catalogue.tables import Taxon
from service.grafting.actions.learning import learning
from service.lib.jobs import Job, Worker
from service.storage.actions import ringing
from service.storage.actions.dosing import dosing
from service.storage.queries.learned import learned_ageing
from tests.builders.grafting import M9, graft, look, make_bench, make_wood
from tests.builders.loggers import make_logger, send, steady
from tests.builders.storage import make_store, put

CUT = datetime(2026, 1, 10, 12, tzinfo=UTC)  # of the wood of `make_wood`
METHOD = "whip-and-tongue"  # judged from six to eight weeks on
WEEKS = timedelta(weeks=8)
# Days in store, grafted, taken; what follows for ln th, mean and spread (computed beforehand by another program).
FASTER = [(14, 10, 9), (35, 10, 8), (49, 10, 2)], 0.065, 0.083
SLOWER = [(14, 10, 9), (35, 10, 9), (49, 10, 9), (56, 10, 8)], -0.444, 0.142


class Cherries:
    """A club whose kind is reckoned as sweet cherry, a fridge at 4 °C, and a bundle in it since it was cut."""

    def __init__(self, database, writer, clock, group="cherry_sweet"):
        self.database, self.writer, self.clock = database, writer, clock
        self.ground = make_bench(writer)
        self.host = self.ground.host
        self.call(self.ground.taxon_id, group)
        self.clock.at = CUT
        self.store = make_store(writer, self.ground)
        self.worker = Worker(database, writer, [ringing(), dosing(), learning()])
        self.sensor = make_logger(
            writer, self.ground, store_id=self.store.id, from_at=CUT - timedelta(days=1)
        ).id
        self.bundle = self.wood()
        self.clock.at = CUT + timedelta(days=180)
        for part in range(3):
            begin = CUT + timedelta(days=30 * part)
            send(writer, self.ground, self.sensor, steady(begin, 24 * 30, "4.0"))
        self.work()

    def call(self, taxon_id, group):
        self.writer.write_now(
            lambda session: session.execute(update(Taxon).where(Taxon.id == taxon_id).values(species_group=group)) and None, None
        )  # fmt: skip

    def wood(self, sticks=60, taxon=None, away=False) -> UUID:
        """Put away as it is cut; `away`: nobody knows where."""
        bundle = make_wood(self.writer, self.ground, taxon or self.ground.taxon_id, None, sticks)
        if not away:
            put(
                self.writer,
                self.host,
                {"bundle_id": bundle, "store_id": self.store.id, "done_at": CUT},
            )
        return bundle

    def graft(self, days, grafts, bundle=None, method=METHOD, **given: Any) -> Any:
        woods = given.pop("woods", None) or [{"bundle_id": bundle or self.bundle, "sticks": 1}]
        at = CUT + timedelta(days=days)
        entry = {"woods": woods, "grafts": grafts, "rootstock_id": M9, "method": method, "done_at": at}
        return graft(self.writer, self.host, {**entry, **given})[0]

    def judge(self, made, alive, seen_on=None, **given: Any) -> None:
        day = seen_on or (made.done_at + WEEKS + timedelta(days=3)).date()
        told = {"looked_at": made.grafts, "is_verdict": True, "seen_on": day, **given}
        look(self.writer, self.host, {"graft_id": made.id, "alive": alive, **told})

    def season(self, rows, bundle=None, method=METHOD) -> None:
        for days, grafted, taken in rows:
            self.judge(self.graft(days, grafted, bundle, method), taken)

    def work(self) -> None:
        """All that waits, done, as if its time had come."""
        self.worker.run_due()
        self.writer.write_now(
            lambda session: session.execute(update(Job).values(due_at=self.clock.at)) and None, None
        )
        self.worker.run_due()

    def learned(self, version=None):
        with self.database.reading() as session:
            return learned_ageing(session, version)
