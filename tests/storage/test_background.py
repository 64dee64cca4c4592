"""The whole service with its background thread, on a real server: a dial that is typed rings by itself, and it stops cleanly."""

from __future__ import annotations

import threading
import time
from uuid import uuid4

import httpx

from service.app import create_app
from service.lib.settings import Settings
from tests.builders.garage import Garage
from tests.builders.members import make_session
from tests.infra.web import live


def running() -> set[str]:
    return {thread.name for thread in threading.enumerate()}


def test_a_dial_typed_over_http_rings_without_anybody_asking(database, writer, clock, data_dir):
    garage = Garage(database, writer, clock)
    signed_in = make_session(writer, garage.steward)
    writer.stop()  # the service has its own
    app = create_app(
        Settings(data_dir=data_dir, database_url=database.url),
        database=database,
        clock=clock,
        background=True,
    )
    app.state.jobs._poll = 0.05
    with live(app) as address:
        headers = {"X-CSRF-Token": signed_in.csrf_token, "Origin": address, "Idempotency-Key": str(uuid4())}
        with httpx.Client(
            base_url=address, headers=headers, cookies={"club_session": signed_in.token}
        ) as browser:
            body = {"store_id": str(garage.store.id), "now": "-8", "sure": True}
            answer = browser.post("/api/dial-readings", json=body)
            until = time.monotonic() + 20
            while not (rings := browser.get("/api/store-rings").json()) and time.monotonic() < until:
                time.sleep(0.05)
            letters = browser.get("/api/letters").json()["items"]
        assert "jobs" in running()

    assert answer.status_code == 201
    assert [(ring["kind"], ring["by_hand"]) for ring in rings] == [("freezing", True)]
    assert [letter["kind"] for letter in letters] == ["warning"]
    assert "jobs" not in running()


def test_without_being_asked_to_the_service_does_nothing_in_the_background(app):
    assert "jobs" not in running()
