"""A host's home: the own fridge, read by hand, and nothing of other stores."""

from __future__ import annotations

import re

from service.members.rules import Role
from service.pages.render import STATIC
from service.storage import actions, schemas
from service.tags.actions import bind_new_tags
from service.tags.rules.words import TagKind
from tests.bad_input.desk import words_of
from tests.builders.loggers import make_logger
from tests.builders.loggers import send as send_readings
from tests.builders.members import make_asker, make_session
from tests.builders.storage import ago, make_bundles, make_ground, make_store, put
from tests.pages.desk import opened, read, send, told_next


def test_a_host_reads_the_own_fridge_and_sees_nothing_of_another(browser, as_, writer):
    ground = make_ground(writer)
    me = make_asker(writer, Role.HOST)
    host = browser(make_session(writer, me))
    assert "No store stands with you" in words_of(read(host, "/my-fridge"))
    mine = writer.write_now(
        actions.add_store, me, schemas.StoreCreate(name="Shed fridge", host_id=me.party_id)
    )
    cellar = make_store(writer, ground, "Far cellar")
    bundle, elsewhere = make_bundles(writer, ground, 2)
    put(writer, ground.host, {"bundle_id": bundle, "store_id": mine.id, "done_at": ago(days=2)})
    put(writer, ground.host, {"bundle_id": elsewhere, "store_id": cellar.id, "done_at": ago(days=2)})

    page = words_of(read(host, "/my-fridge"))
    form = opened(host, "/my-fridge", now="38")
    asked = send(host, "/my-fridge", form)
    told = told_next(host, send(host, "/my-fridge", {**form, "now": "3.5"}))

    assert "Shed fridge" in page
    assert "Far cellar" not in page
    assert "Came 1 bundle, 0 boxes Went 0 bundles, 0 boxes" in " ".join(page.split())
    assert asked.status_code == 422
    assert "is it in °F, or mistyped?" in words_of(asked)
    assert "The reading is written down." in told
    assert "3.5 °C" in told


def test_where_a_logger_writes_by_itself_nobody_is_asked_to_read_a_thermometer(browser, writer):
    ground, me = make_ground(writer), make_asker(writer, Role.HOST)
    told = schemas.StoreCreate(name="Shed fridge", host_id=me.party_id)
    store, host = writer.write_now(actions.add_store, me, told), browser(make_session(writer, me))
    logger = make_logger(writer, ground, "Grey logger")
    body = schemas.LoggerMoveCreate(store_id=store.id, from_at=ago(days=9))
    writer.write_now(actions.hang_logger, ground.host, logger.id, body)
    assert "Nobody has read it yet." in words_of(read(host, "/my-fridge"))

    send_readings(writer, ground, logger.id, [(ago(hours=2), "3.4")])

    told = words_of(read(host, "/my-fridge"))
    assert "Grey logger writes by itself" in told and "nobody need read anything here." in told
    assert "Nobody has read it yet." not in told


def test_whoever_scans_the_door_of_a_fridge_reads_its_thermometer(browser, as_, writer):
    ground = make_ground(writer)
    store = make_store(writer, ground, "Far cellar")
    code = writer.write_now(bind_new_tags, ground.host, TagKind.STORE, [store.id])[store.id]
    steward = as_(Role.STEWARD)

    scanned = read(steward, f"/T/{code}")
    address = f"/my-fridge?store={store.id}"
    told = told_next(steward, send(steward, "/my-fridge", opened(steward, address, now="3.5")))

    assert f'href="{address}"' in scanned.text and "Read the thermometer" in scanned.text
    assert "Far cellar" in told and "3.5 °C" in told
    assert "Read the thermometer" not in read(browser(), f"/T/{code}").text


def test_bullets_of_an_error_and_numbers_of_steps_have_room_inside_their_box():
    """Outside markers of a browser reach about 1.2 em to the left; `p, ul, ol` have no padding of their own here."""
    style = (STATIC / "style.css").read_text(encoding="utf-8")

    rules = re.findall(r"([^{}]+) \{ padding-inline-start: ([\d.]+)rem; \}", style)
    room = {name.strip(): float(told) for names, told in rules for name in names.split(",")}
    assert room[".notice ul"] >= 1.2
    assert room[".steps"] >= 1.2
