"""The server is killed in the middle of its work: what was answered is there, nothing is there twice.

Twenty deaths by SIGKILL: at named points of the writer (before the commit; after it, before the answer; in the middle
of a group) and at random moments. After each the record is audited before anybody writes, and every request of its life
is sent again under its key to the server that follows.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import httpx
import pytest
from sqlmodel import select

from service.bundles.rules import MoveKind
from service.bundles.tables import StickMove
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from tests.builders.bundles import audit_of, make_bundles, make_cutting, read_bundle, settle
from tests.builders.members import make_token
from tests.infra.cast import put_cast

ROOT = Path(__file__).resolve().parents[2]
HANDS = 5
STICKS = 10_000
RANDOM = "at random"

# Where it dies, at which arrival there; 14 deaths on SQLite and 6 on PostgreSQL, which has no groups.
DEATHS = {
    "sqlite": [
        ("before commit", 1), ("before commit", 4), ("after commit", 1), ("after commit", 5), ("in mid-group", 1), ("in mid-group", 3),
        *[(RANDOM, 0)] * 8,
    ],
    "postgres": [("before commit", 3), ("before commit", 9), ("after commit", 3), ("after commit", 9), *[(RANDOM, 0)] * 2],
}  # fmt: skip


@dataclass
class Asked:
    """A request with its key, and what was answered; None where the server died first."""

    path: str
    body: Any
    move_id: str
    key: str = field(default_factory=lambda: str(uuid4()))
    answer: Any = None


class Starter:
    """Starts servers that are ready to die."""

    def __init__(self, url: str, data_dir: Path) -> None:
        self.url, self.data_dir = url, data_dir
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.season.crashing_server"], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )  # fmt: skip
        assert self._hear() == "ready"

    def _hear(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def start(self, point: str = "", arrivals: int = 0) -> tuple[int, str]:
        assert self.process.stdin is not None
        order = {"url": self.url, "data_dir": str(self.data_dir), "point": point, "arrivals": arrivals}
        self.process.stdin.write(json.dumps(order) + "\n")
        self.process.stdin.flush()
        told = json.loads(self._hear())
        return told["pid"], f"http://127.0.0.1:{told['port']}"

    def stop(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(20)
        self.process.stdout.close()


@pytest.fixture
def starter(database_url: str, tmp_path: Path) -> Iterator[Starter]:
    data_dir = tmp_path / "data"
    data_dir.mkdir()
    made = Starter(database_url, data_dir)
    yield made
    made.stop()


def is_alive(pid: int) -> bool:
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, 0)
        return True
    return False


def wait_until_dead(pid: int) -> None:
    give_up = time.monotonic() + 20
    while is_alive(pid):
        assert time.monotonic() < give_up, "the server did not come to the point where it dies"
        time.sleep(0.005)


def new_request(chance: random.Random, bundles: list[str], receiver: str) -> Asked:
    bundle, move = chance.choice(bundles), str(uuid4())
    deed = {"id": move, "bundle_id": bundle, "sticks": chance.randint(1, 3)}
    if chance.random() < 0.5:
        return Asked("/api/discards", {**deed, "reason": "mould"}, move)
    form = chance.choice(["bundle", "flag"])
    return Asked(
        "/api/hand-overs", [{**deed, "form": form, "party_id": receiver, "child_id": str(uuid4())}], move
    )


def send(client: httpx.Client, asked: Asked) -> None:
    """Send a request; an answer is kept, a connection that breaks is none."""
    with contextlib.suppress(httpx.TransportError):
        answer = client.post(asked.path, json=asked.body, headers={"Idempotency-Key": asked.key})
        assert answer.status_code == 201, answer.text
        assert asked.answer in (None, answer.json()), "the same key was answered differently"
        asked.answer = answer.json()


@dataclass
class Life:
    """One server's life: five hands write until it dies."""

    address: str
    token: str
    bundles: list[str]
    receiver: str
    seed: int
    asked: list[Asked] = field(default_factory=list)
    wrong: list[BaseException] = field(default_factory=list)

    def live(self, pid: int, dies_after: float | None) -> None:
        threads = [threading.Thread(target=self._write, args=(n, pid)) for n in range(HANDS)]
        for thread in threads:
            thread.start()
        if dies_after is not None:
            time.sleep(dies_after)
            os.kill(pid, signal.SIGKILL)
        wait_until_dead(pid)
        for thread in threads:
            thread.join(20)
        assert not self.wrong, self.wrong

    def _write(self, hand: int, pid: int) -> None:
        chance = random.Random(self.seed * 100 + hand)
        try:
            with client_of(self.address, self.token) as client:
                while is_alive(pid):
                    asked = new_request(chance, self.bundles, self.receiver)
                    self.asked.append(asked)
                    send(client, asked)
        except (AssertionError, httpx.HTTPError, ValueError) as error:  # told by the test itself
            self.wrong.append(error)


def client_of(address: str, token: str) -> httpx.Client:
    return httpx.Client(base_url=address, headers={"Authorization": f"Bearer {token}"}, timeout=20)


def moves_by_id(database: Database) -> dict[str, StickMove]:
    with database.reading() as session:
        moves = session.exec(select(StickMove)).all()
    found = {str(move.id): move for move in moves}
    assert len(found) == len(moves)
    return found


def sticks_of(asked: Asked) -> int:
    deed = asked.body[0] if isinstance(asked.body, list) else asked.body
    return int(deed["sticks"])


def check_nothing_lost(database: Database, asked: list[Asked]) -> None:
    """Every answered movement is there; what is there counts as asked."""
    moves = moves_by_id(database)
    lost = [each.move_id for each in asked if each.answer is not None and each.move_id not in moves]
    assert lost == []
    assert all(moves[each.move_id].sticks == sticks_of(each) for each in asked if each.move_id in moves)
    assert audit_of(database).clean


def test_what_was_answered_is_there_after_every_death_and_nothing_is_there_twice(
    starter: Starter, database_kind: str, database: Database, clock: FixedClock
) -> None:
    cast, writer = put_cast(database), Writer(database, clock)
    cutting = make_cutting(writer, cast.steward)
    settle(writer, cutting.orchard.area_id, cast.guest_id)
    bundles = [str(bundle.id) for bundle in make_bundles(writer, cast.steward, cutting, 3, STICKS)]
    token = make_token(writer, cast.host).token
    chance = random.Random(20260214)
    asked: list[Asked] = []
    earlier: list[Asked] = []

    for number, (point, arrivals) in enumerate([*DEATHS[database_kind], ("", 0)]):
        pid, address = starter.start()
        with client_of(address, token) as client:
            for each in earlier:
                send(client, each)
                assert each.answer is not None
        if not point:
            break
        if point != RANDOM:
            os.kill(pid, signal.SIGKILL)
            wait_until_dead(pid)
            pid, address = starter.start(point, arrivals)
        life = Life(address, token, bundles, str(cast.guest_id), number)
        life.live(pid, chance.uniform(0.05, 0.5) if point == RANDOM else None)
        asked += life.asked
        earlier = life.asked
        check_nothing_lost(database, asked)

    os.kill(pid, signal.SIGTERM)
    check_nothing_lost(database, asked)
    moves = moves_by_id(database)
    assert {each.move_id for each in asked} <= set(moves)
    ours = [move for move in moves.values() if move.kind in (MoveKind.DISCARDED, MoveKind.HANDED_OUT)]
    assert len(ours) == len(asked)
    left = sum(read_bundle(database, UUID(bundle)).on_hand for bundle in bundles)
    assert left == 3 * STICKS - sum(map(sticks_of, asked))
