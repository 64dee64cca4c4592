"""The weekly letter: one a host, at the club's hour, of what the record holds; mailed only where it asks for something."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import select

from service.lib.jobs import Worker, enqueue
from service.lib.write import Writer
from service.members import actions as member_actions
from service.members import queries as member_queries
from service.members.rules import LetterKind, MailState, Role
from service.members.schemas import ClubUpdate, PartyUpdate
from service.members.tables import Letter
from service.storage import actions, queries, schemas
from service.storage.actions.dosing import dosing, keeping
from service.storage.queries.keeping import keeping_of
from service.storage.rules import Buds
from service.storage.schemas.limits import OwnLimitsSet
from tests.builders.garage import Garage
from tests.builders.loggers import steady
from tests.builders.members import make_asker, party_version
from tests.builders.storage import ago, make_bundles, put, stop_bundles

SUNDAY = datetime(2026, 2, 15, 18, 0, tzinfo=ZoneInfo("Europe/Berlin"))


class Week(Garage):
    def __init__(self, database, writer, clock):
        super().__init__(database, writer, clock)
        kinds = [actions.ringing(), actions.weekly_letters(), member_actions.mailing(None)]
        self.worker = Worker(database, writer, kinds, [actions.weekly_wanted])

    def work(self):
        """Readings are looked at, and the clock is not."""
        return Worker(self.database, self.writer, [actions.ringing()]).run_due()

    def letters(self):
        with self.database.reading() as session:
            return session.exec(
                select(Letter).where(Letter.kind == LetterKind.WEEKLY).order_by(Letter.made_at)
            ).all()

    def tick(self, at=None):
        if at is not None:
            self.clock.at = at
        self.worker.look_at_the_clock()
        self.worker.run_due()

    def write(self):
        """The letters as they would be written now."""
        with self.database.reading() as session:
            hosts = queries.hosts_to_write_to(session, self.clock.at)
        for host in hosts:
            ask = lambda session, host=host: enqueue(session, "weekly", {"host": str(host)})  # noqa: E731
            self.writer.write_now(ask, None)
        self.worker.run_due()

    def address(self, party_id):
        office = make_asker(self.writer, Role.ADMINISTRATOR)
        version = party_version(self.writer, party_id)
        body = PartyUpdate(email="bram@otterlea.example")
        self.writer.write_now(member_actions.change_party, office, party_id, body, version)


@pytest.fixture
def week(database, writer, clock):
    return Week(database, writer, clock)


def test_it_is_written_once_a_week_at_the_clubs_hour(week):
    """The first as well: a store that was added on a Saturday has its letter on Sunday evening."""
    numbers = []
    for at in (
        None,
        SUNDAY - timedelta(minutes=1),
        SUNDAY,
        SUNDAY + timedelta(days=6),
        SUNDAY + timedelta(days=7),
    ):
        week.tick(at)
        week.tick()
        numbers.append(len(week.letters()))

    assert numbers == [0, 0, 1, 1, 2]
    assert [one.made_at for one in week.letters()] == [SUNDAY, SUNDAY + timedelta(days=7)]


@pytest.mark.parametrize(
    "weekday, moments",
    [
        (2, {0: 0, 3: 1, 7: 1, 10: 2}),  # from Sunday to Wednesday: not on Sunday after all
        (5, {-1: 1, 0: 1, 6: 2}),  # to Saturday: that evening, and not on Sunday as well
        (6, {0: 1, 7: 2}),
    ],
)
def test_a_first_letter_follows_the_day_that_the_club_has_by_then(week, weekday, moments):
    week.tick()
    office = make_asker(week.writer, Role.ADMINISTRATOR)
    with week.database.reading() as session:
        version = member_queries.club(session).version
    body = ClubUpdate(weekly_on=weekday)
    week.writer.write_now(member_actions.change_club, office, body, version)

    numbers = {}
    for days in moments:
        week.tick(SUNDAY + timedelta(days=days, minutes=-5))
        week.tick(SUNDAY + timedelta(days=days, minutes=1))  # the clock is looked at from time to time
        numbers[days] = len(week.letters())

    assert numbers == moments


def test_two_workers_write_one(week, database, writer):
    week.tick(SUNDAY)
    other = Worker(database, writer, [actions.weekly_letters()], [actions.weekly_wanted])

    other.look_at_the_clock()
    other.run_due()

    assert len(week.letters()) == 1


def test_it_tells_what_the_record_holds(week):
    logger = week.logger()
    week.send(
        logger, steady(ago(days=6), 48, 3.0), steady(ago(days=4), 12, 6.0), steady(ago(days=3), 70, 2.0)
    )
    week.writer.write_now(
        actions.put_fruit_in, week.ground.host,
        schemas.FruitCreate(store_id=week.store.id, what="apples", from_on=date(2026, 2, 1)),
    )  # fmt: skip
    look = schemas.BundleCheckCreate(bundle_id=week.bundle, buds=Buds.SWELLING, seen_at=ago(days=8))
    week.writer.write_now(actions.record_bundle_checks, week.ground.host, [look])

    week.write()

    text = week.letters()[0].text
    # 48 hours of 3 °C, 14 of 6 °C (the last before the gap stands for three), 70 of 2 °C
    assert "Logged: from 2.0 to 6.0 °C, on average 2.8 °C, over 132 hours." in text
    assert "14 hours too warm and 0 hours too cold: between 0 and 4.4 °C suits the wood here" in text
    assert "wrote nothing from 10 February 2026, 22:00 to 11 February 2026, 11:00 (13 hours)." in text
    assert "something was found 8 days ago" in text
    assert "Ripening fruit (apples) lay in it from 1 February 2026 and still lies there" in text
    assert "The buds swell: it was kept too warm. Use it first." in text


def test_last_months_cold_is_told_first_here(week):
    week.send(week.logger(), steady(ago(days=30), 5, -8.0))

    week.tick(SUNDAY)

    assert "It froze from 15 January 2026, 11:00" in week.letters()[0].text
    assert "The readings came too late to tell you at once." in week.letters()[0].text


def test_a_quiet_week_stands_on_the_page_and_is_not_mailed(week):
    week.address(week.host.party_id)
    look = schemas.BundleCheckCreate(bundle_id=week.bundle, buds=Buds.TIGHT, seen_at=ago(days=1))
    week.writer.write_now(actions.record_bundle_checks, week.ground.host, [look])

    week.write()

    (letter,) = week.letters()
    assert (letter.subject, letter.quiet, letter.mail) == (
        "A quiet week in the cold",
        True,
        MailState.NOT_NEEDED,
    )


def test_a_week_that_asks_for_something_is_mailed(week):
    week.address(week.host.party_id)

    week.write()  # the bundle was never looked at

    (letter,) = week.letters()
    assert (letter.subject, letter.mail) == ("Your week in the cold: 1 look due", MailState.OFF)


def test_each_host_has_one_letter_of_their_own_stores(week):
    other = make_asker(week.writer, Role.HOST)
    shed = schemas.StoreCreate(name="Shed", host_id=other.party_id)
    week.writer.write_now(actions.add_store, other, shed)
    cellar = schemas.StoreCreate(name="Cellar", host_id=week.host.party_id)
    week.writer.write_now(actions.add_store, week.host, cellar)

    week.write()

    with week.database.reading() as session:
        mine = member_queries.last_letter(session, week.host.party_id, LetterKind.WEEKLY)
        theirs = member_queries.last_letter(session, other.party_id, LetterKind.WEEKLY)
    assert "Cellar" in mine.text
    assert "Shed" not in mine.text
    assert "Shed" in theirs.text
    assert "Cellar" not in theirs.text
    assert len(week.letters()) == 2


def test_who_was_forgotten_or_has_no_store_gets_none(week):
    office = make_asker(week.writer, Role.ADMINISTRATOR)
    week.writer.write_now(member_actions.erase_party, office, week.host.party_id, None)

    week.write()

    assert week.letters() == []
    with week.database.reading() as session:
        assert queries.hosts_to_write_to(session, week.clock.at) == {}


def test_a_logger_that_is_retired_or_was_hung_later_has_no_gap(week):
    made = actions.add_logger
    late = schemas.LoggerCreate(name="Late", store_id=week.store.id, from_at=ago(hours=5))
    old = schemas.LoggerCreate(name="Old", store_id=week.store.id, from_at=ago(days=40))
    logger = week.writer.write_now(made, week.ground.host, late)
    gone = week.writer.write_now(made, week.ground.host, old)
    week.writer.write_now(
        actions.change_logger, week.ground.host, gone.id, gone.version, schemas.LoggerUpdate(retired=True)
    )
    week.send(logger.id, steady(ago(hours=4), 4, 3.0))

    week.write()

    assert "wrote nothing" not in week.letters()[0].text


@pytest.mark.databases("postgres")
def test_two_services_that_are_asked_at_the_same_time_write_one_letter_and_ring_once(week, database, clock):
    """Each on its own connection, both past their reading before either has written."""
    both = threading.Barrier(2, timeout=20)
    kinds = [_after_reading(actions.weekly_letters(), both), _after_reading(actions.ringing(), both)]
    ask = [
        lambda session: enqueue(session, "weekly", {"host": str(week.host.party_id)}),
        lambda session: enqueue(session, "rings", {"store": str(week.store.id)}),
    ]
    body = schemas.DialReadingCreate(store_id=week.store.id, sure=True, now="-8")
    week.writer.write_now(actions.read_dial, week.ground.host, body)
    with database.writing_session() as session:
        session.connection().exec_driver_sql("DELETE FROM job")
        session.commit()
    for kind, wanted in zip(kinds, ask, strict=True):
        for _ in range(2):
            week.writer.write_now(wanted, None)
        threads = [
            threading.Thread(target=Worker(database, Writer(database, clock), [kind]).run_due)
            for _ in range(2)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    assert len(week.letters()) == 1
    assert len(week.rings()) == 1
    assert [who for who, _ in week.told() if who == "steward"] == ["steward"]


def _after_reading(kind, both):
    def do(task):
        ending = kind.do(task)
        both.wait()
        return ending

    return replace(kind, do=do)


def test_what_is_reckoned_to_keep_shortest_is_used_first_and_stopped_wood_is_not(week):
    """The letter says what the list of the store says; by its age alone this wood, cut on 10 January, would keep until June."""
    kept, stopped = make_bundles(week.writer, week.ground, 2)
    done_at = datetime(2026, 1, 10, 13, tzinfo=UTC)
    for bundle in (kept, stopped):
        put(
            week.writer,
            week.ground.host,
            {"bundle_id": bundle, "store_id": week.store.id, "done_at": done_at},
        )
    stop_bundles(week.writer, week.ground, [stopped])
    week.send(week.logger(), steady(done_at, 34 * 24, 14.0))
    week.worker = Worker(week.database, week.writer, [dosing(), keeping(), actions.weekly_letters()])
    Garage.work(week)
    with week.database.reading() as session:
        until = keeping_of(session, kept, week.clock.at).keeps_until

    week.write()

    text = week.letters()[0].text
    assert until <= week.clock.at.date()
    assert text.count("use it now, and look at it first: fewer than three quarters may be left") == 1
    assert "How long wood keeps is reckoned" in text


def test_a_logger_that_sent_and_is_silent_is_told_as_such_and_not_as_a_gap(week):
    look = schemas.BundleCheckCreate(bundle_id=week.bundle, buds=Buds.TIGHT, seen_at=ago(days=1))
    week.writer.write_now(actions.record_bundle_checks, week.ground.host, [look])
    week.send(week.logger(), steady(ago(days=7), 120, 3.0))

    week.write()

    letter = week.letters()[0]
    assert "used to send by itself and is silent since 12 February 2026, 10:00" in letter.text
    assert "wrote nothing" not in letter.text
    assert not letter.quiet


def test_a_week_that_was_colder_than_the_wood_likes_is_told_and_rang_nobody(week):
    week.send(
        week.logger(),
        steady(ago(days=3), 24, 2.0),
        steady(ago(days=2), 5, -1.5),
        steady(ago(hours=43), 43, 2.0),
    )

    week.write()

    assert "Colder than this wood likes from" in week.letters()[0].text
    assert "-1.5 °C at worst, 5 hours below 0 °C. Nobody was rung for it" in week.letters()[0].text
    assert week.rings() == []


def test_a_week_that_was_too_warm_and_rang_nobody_is_told_with_its_price(week):
    week.send(
        week.logger(),
        steady(ago(days=6), 60, 2.0),
        steady(ago(hours=84), 12, 9.5),
        steady(ago(days=3), 72, 2.0),
    )

    week.write()

    text = week.letters()[0].text
    assert "Warmer than this wood likes from" in text
    assert (
        "9.5 °C at worst, 12 hours above 4.4 °C. Nobody was rung for it: set the store a little colder."
        in text
    )
    assert week.rings() == []


def test_the_letter_goes_by_the_stores_own_low_warning(week):
    week.send(week.logger(), steady(ago(days=2), 48, 1.0))
    body = OwnLimitsSet(cold_c=2)
    week.writer.write_now(actions.set_limits, week.host, week.store.id, 0, body)

    week.write()

    assert "1.0 °C at worst, 48 hours below 2 °C" in week.letters()[0].text
