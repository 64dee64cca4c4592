"""A fridge in a garage for tests: wood in it, a host, a steward, and whoever does the jobs."""

from __future__ import annotations

from sqlalchemy import update
from sqlmodel import select

from service.catalogue.tables import StorageLimit, Taxon
from service.lib.jobs import Job, Worker
from service.members.rules import Role
from service.members.tables import Letter
from service.storage import actions, schemas
from service.storage.actions.dosing import dosing, keeping
from service.storage.tables import StoreRing
from tests.builders.loggers import make_logger, send
from tests.builders.members import make_asker
from tests.builders.storage import ago, make_bundles, make_ground, put


def _of_apple(session, taxon_id):
    """The row of apple in the reference's storage limits: a tenth of the buds killed at -9.4 °C, so it rings at -6.4 °C."""
    session.add(
        StorageLimit(
            species_group="apple", wood="deciduous", store_temp_min_c=0, store_temp_max_c=4.4, store_temp_mark="published",
            store_temp_source="Auer", humidity_rh_min_pct=90, humidity_mark="common practice, no source", packing="", keep_weeks_min=8,
            keep_weeks_max=24, keep_conditions="", keep_mark="common practice, no source", keep_source="", freeze_kill10_c=-9.4,
            examples="Malus", freeze_stage="silver tip", freeze_mark="published (swelling buds)", freeze_source="Penn State Extension",
            ethylene="high",
        )
    )  # fmt: skip
    session.flush()
    session.execute(update(Taxon).where(Taxon.id == taxon_id).values(species_group="apple"))


class Garage:
    """A fridge with wood in it, its host and a steward, and whoever does the jobs."""

    def __init__(self, database, writer, clock):
        self.database, self.writer, self.clock = database, writer, clock
        self.ground = make_ground(writer)
        writer.write_now(_of_apple, None, self.ground.taxon_id)
        self.host = make_asker(writer, Role.MEMBER, Role.HOST, name="Bram Oosterlaan")
        self.store = writer.write_now(
            actions.add_store,
            self.host,
            schemas.StoreCreate(name="Garage fridge", host_id=self.host.party_id),
        )
        self.steward = make_asker(writer, Role.STEWARD)
        self.worker = Worker(database, writer, [actions.ringing(), dosing(), keeping()])
        (self.bundle,) = make_bundles(writer, self.ground)
        put(
            writer,
            self.ground.host,
            {"bundle_id": self.bundle, "store_id": self.store.id, "done_at": ago(days=20)},
        )

    def logger(self):
        return make_logger(self.writer, self.ground, store_id=self.store.id, from_at=ago(days=90)).id

    def send(self, logger_id, *readings, **given):
        send(self.writer, self.ground, logger_id, [one for part in readings for one in part], **given)
        self.work()

    def dial(self, **told):
        body = schemas.DialReadingCreate(store_id=self.store.id, sure=True, **told)
        made = self.writer.write_now(actions.read_dial, self.ground.host, body)
        self.work()
        return made

    def work(self):
        """All that waits, done: also what waits for company, as if its time had come. How many jobs."""
        done = self.at_once()
        self.writer.write_now(
            lambda session: session.execute(update(Job).values(due_at=self.clock.at)) and None, None
        )
        return done + self.at_once()

    def at_once(self):
        return self.worker.run_due()

    def rings(self):
        with self.database.reading() as session:
            return list(session.exec(select(StoreRing).order_by(StoreRing.began_at)).all())

    def told(self):
        """To whom, by whose letter: `host` or `steward`, with its subject."""
        names = {self.host.party_id: "host", self.steward.party_id: "steward"}
        with self.database.reading() as session:
            letters = session.exec(select(Letter).order_by(Letter.made_at, Letter.path.desc())).all()
        return [(names[one.party_id], one.subject.partition(":")[0]) for one in letters]
