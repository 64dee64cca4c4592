"""What a scan says of how wood keeps: dates and a weekly curve are stored, and the share is read off as of now."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from service.members.rules import Role
from service.provenance import actions, queries
from service.provenance.rules.keeping import keeps_now
from service.provenance.schemas import StopOpen
from service.provenance.tables import AnswerCard
from service.storage.queries.keeping import kept_keeping
from service.storage.tables import BundleKeeping
from service.tags import actions as tags
from service.tags.schemas import TagCreate
from tests.bad_input.desk import words_of
from tests.builders.collection import set_zone
from tests.builders.members import make_asker
from tests.pages.desk import read
from tests.storage.test_keeping import CUT, Shelf


class Tagged(Shelf):
    """The shelf, and the tag of its bundle."""

    def __init__(self, database, writer, clock):
        if actions.renew_cards not in writer.hooks:
            actions.follow_changes(writer)
        super().__init__(database, writer, clock)
        wanted = [TagCreate(kind="bundle", thing_id=self.bundle)]
        (tag,) = writer.write_now(tags.add_tags, self.steward, wanted)
        self.code = tag.code

    def scan(self, at=None):
        with self.database.reading() as session:
            return queries.answer_for(session, self.code, None, at or self.clock.at)

    def kept(self):
        with self.database.reading() as session:
            return kept_keeping(session, self.bundle)


@pytest.fixture
def tagged(database, writer, clock):
    found = Tagged(database, writer, clock)
    found.until(24 * 60).hourly([4.0] * 24 * 60)
    return found


def test_usual_time_and_last_look_stand_first_and_the_share_after_them(tagged):
    says = tagged.scan().keeping.says

    assert says[0].startswith("Wood of this kind is usually kept for 8 to 24 weeks")
    assert says[1] == "Nobody has looked at it since it was cut."
    assert says[2].startswith(
        "By its way so far some 92 in 100 sticks should be fit to graft; four times in five"
    )
    assert says[3].startswith(
        "If the store stays as in the last week, it is expected to fall below three quarters on "
    )
    assert len(says) == 4


def test_after_enough_judged_grafts_the_share_stands_first(tagged):
    told = tagged.kept().as_kept() | {"share_first": True}

    says = keeps_now(told, {"state": "ready", "sticks": {"on_hand": 3}}, tagged.clock.at, "UTC").says

    assert says[0].startswith("By its way so far")
    assert says[2].startswith("Wood of this kind")


def test_the_share_is_read_off_on_the_day_of_the_scan_and_nothing_is_written_for_it(tagged):
    """Apple at 4 °C: 0.92 after 60 days, 0.76 after 90 (computed with a first version of the model)."""
    with tagged.database.reading() as session:
        before = session.exec(select(AnswerCard.body).where(AnswerCard.bundle_id == tagged.bundle)).one()
        as_of = session.exec(
            select(BundleKeeping.as_of).where(BundleKeeping.bundle_id == tagged.bundle)
        ).one()

    today, later = (tagged.scan(CUT + timedelta(days=days)).keeping for days in (60, 90))

    assert today.share.expected == pytest.approx(0.92, abs=0.006)
    assert later.share.expected == pytest.approx(0.76, abs=0.01)
    assert later.as_of == today.as_of == as_of
    assert "cut 12 weeks ago" in later.says[0]
    with tagged.database.reading() as session:
        assert (
            session.exec(select(AnswerCard.body).where(AnswerCard.bundle_id == tagged.bundle)).one() == before
        )


def test_all_day_long_a_scan_gives_the_same_and_a_phone_that_has_it_is_told_so(tagged, client):
    phone, path = client("stranger"), f"/api/tags/{tagged.code}/answer"
    tagged.clock.at = CUT.replace(hour=0, minute=5) + timedelta(days=75)
    first = phone.get(path)
    marks = [{"If-None-Match": first.headers["ETag"]}] * 4

    told = []
    for step, mark in zip((1, 6 * 3600, 16 * 3600, 3600), marks, strict=True):
        tagged.clock.move(timedelta(seconds=step))
        told.append(phone.get(path, headers=mark).status_code)

    assert told == [304, 304, 304, 200]  # the last on the next day of the club, which is in Berlin
    share = first.json()["keeping"]["share"]
    assert set(share) == {"expected", "low", "high", "word"}
    assert all(share[end] == round(share[end], 2) for end in ("expected", "low", "high") if share[end])


def test_the_day_of_the_scan_is_the_clubs(tagged):
    """Auckland is thirteen hours ahead in March (IANA time zone database): there it is nine weeks since the cut already."""
    at = CUT.replace(hour=13) + timedelta(days=62)
    before = tagged.scan(at).keeping
    set_zone(tagged.writer, "Pacific/Auckland")

    there = tagged.scan(at).keeping

    assert "cut 8 weeks ago" in before.says[0]
    assert "cut 9 weeks ago" in there.says[0]


def test_when_the_curve_has_ended_only_age_and_look_are_told(tagged):
    keeping = tagged.scan(CUT + timedelta(days=500)).keeping

    assert keeping.share is None
    assert keeping.keeps_until is None
    assert [one.split(" ")[0] for one in keeping.says] == ["Wood", "Nobody"]
    assert "longer than that: look at it first" in keeping.says[0]


def test_a_card_and_what_is_kept_hold_no_number_of_days_left(tagged):
    with tagged.database.reading() as session:
        card = session.exec(select(AnswerCard.body).where(AnswerCard.bundle_id == tagged.bundle)).one()
        told = session.exec(select(BundleKeeping.told).where(BundleKeeping.bundle_id == tagged.bundle)).one()

    assert "days" not in card.replace("days at 20", "")
    assert [name for name in told if "days" in name or "left" in name] == []
    assert told["curve"]["past"] == 9
    assert told["keeps_until"].startswith("2026-")


def test_few_of_a_hundred_are_never_told_as_none(tagged):
    told = tagged.kept().as_kept()
    told |= {"share": {"expected": 0.0, "low": 0.0, "high": 0.02}, "keeps_until": "2026-02-01"}

    says = " ".join(
        keeps_now(told, {"state": "ready", "sticks": {"on_hand": 3}}, tagged.clock.at, "UTC").says
    )

    assert "only a few in 100 sticks" in says
    assert "That is a reckoning and no look: wood like this often still grows, so scratch a stick" in says
    assert "dead" not in says
    assert "0 in 100" not in says.replace("100 in 100", "")


def test_a_tag_of_stopped_wood_says_nothing_of_keeping(tagged, client):
    health = make_asker(tagged.writer, Role.HEALTH_STEWARD)
    tagged.writer.write_now(actions.open_stop, health, StopOpen(reason="health", bundle_id=tagged.bundle))

    page = read(client("stranger"), f"/T/{tagged.code}")

    assert tagged.scan().keeping is None
    assert "Will it live" not in words_of(page)
    assert "in 100 sticks" not in page.text


def test_everybody_who_scans_reads_it_below_what_the_wood_is(tagged, client):
    told = words_of(read(client("stranger"), f"/T/{tagged.code}"))

    assert told.index("What it is") < told.index("Will it live?") < told.index("usually kept")
    assert "only a look decides" in told
    assert "Garage fridge" not in told


def test_no_statement_is_spent_on_it(tagged, statements):
    with (
        tagged.database.reading() as session,
        statements.at_most(2),
    ):  # the tag; its card with what is kept of it
        keeping = queries.answer_for(session, tagged.code, None, tagged.clock.at).keeping

    assert keeping is not None
