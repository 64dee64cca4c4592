"""What lay where and beside what, against a plain replay of random histories on both databases."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import pytest

from service.bundles.actions import use_in_graft
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.storage import queries
from service.storage.rules import Closeness
from tests.builders.storage import ago, make_box, make_bundles, make_ground, make_store, put
from tests.conftest import TODAY
from tests.infra.statements import Statements

START = TODAY - timedelta(days=40)
HOURS = 60
Where = tuple[UUID | None, UUID | None, UUID | None]  # box, place, store


class Replay:
    """The club's memory as one would keep it by hand: every act in a list, read from the start each time."""

    def __init__(self) -> None:
        self.acts: list[tuple[datetime, int, UUID, tuple[str, UUID | None]]] = []
        self.store_of: dict[UUID, UUID] = {}

    def add(self, at: datetime, thing: UUID, kind: str, target: UUID | None) -> None:
        self.acts.append((at, len(self.acts), thing, (kind, target)))

    def spot(self, thing: UUID, at: datetime) -> tuple[str, UUID | None]:
        known = [act for act in self.acts if act[2] == thing and act[0] <= at]
        return max(known)[3] if known else ("out", None)

    def where(self, bundle: UUID, at: datetime) -> Where:
        kind, target = self.spot(bundle, at)
        box = target if kind == "box" else None
        if box is not None:
            kind, target = self.spot(box, at)
        place = target if kind == "place" else None
        return box, place, self.store_of[place] if place else None

    def closeness(self, one: UUID, other: UUID, at: datetime) -> Closeness | None:
        mine, theirs = self.where(one, at), self.where(other, at)
        for closeness, a, b in zip(Closeness, mine, theirs, strict=True):
            if a is not None and a == b:
                return closeness
        return None


@pytest.fixture
def club(writer: Writer) -> Callable[..., tuple[Replay, list[UUID]]]:
    def make(seed: int, acts: int = 70) -> tuple[Replay, list[UUID]]:
        chance, replay, ground = random.Random(seed), Replay(), make_ground(writer)
        stores = [make_store(writer, ground, f"Store {n}", places=["a", "b"][: n + 1]) for n in range(2)]
        places = [place for store in stores for place in store.places]
        replay.store_of = {place.id: place.store_id for place in places}
        boxes = [make_box(writer, ground, f"Box {n}").id for n in range(4)]
        bundles = make_bundles(writer, ground, 9)
        entries: list[dict[str, Any]] = []
        for _ in range(acts):
            at = START + timedelta(
                hours=chance.randrange(HOURS)
            )  # entered in any order, often for the same hour
            moves_box = chance.random() < 0.35
            thing = chance.choice(boxes if moves_box else bundles)
            kind = chance.choice(
                ["place", "place", "out"] if moves_box else ["box", "box", "box", "place", "out"]
            )
            target = {"box": chance.choice(boxes), "place": chance.choice(places).id, "out": None}[kind]
            replay.add(at, thing, kind, target)
            goal = {"box": {"into_box_id": target}, "place": {"place_id": target}, "out": {"out": True}}[kind]
            entries.append({"box_id" if moves_box else "bundle_id": thing, "done_at": at, **goal})
        while entries:  # in bites of one to eight, as people scan
            bite, entries = entries[: (size := chance.randrange(1, 9))], entries[size:]
            put(writer, ground.host, *bite)
        return replay, bundles

    return make


def moments() -> list[datetime]:
    return [START + timedelta(minutes=30 * n) for n in range(-1, 2 * HOURS + 2)]


@pytest.mark.parametrize("seed", range(4))
def test_whereabouts_at_any_moment_are_those_of_the_replay(database: Database, club, seed: int):
    replay, bundles = club(seed)

    with database.reading() as session:
        for at in moments():
            found = queries.whereabouts(session, bundles, at)
            for bundle in bundles:
                w = found.get(bundle)
                assert ((w.box_id, w.place_id, w.store_id) if w else (None, None, None)) == replay.where(
                    bundle, at
                )
        now = queries.whereabouts(session, bundles)
        for bundle in bundles:
            w = now.get(bundle)
            assert ((w.box_id, w.place_id, w.store_id) if w else (None, None, None)) == replay.where(
                bundle, TODAY
            )


@pytest.mark.parametrize("seed", range(4))
def test_since_is_from_when_it_lay_exactly_there(database: Database, club, seed: int):
    replay, bundles = club(seed)

    with database.reading() as session:
        for at in moments()[::7]:
            for bundle, where in queries.whereabouts(session, bundles, at).items():
                assert replay.where(bundle, where.since) == replay.where(bundle, at)


@pytest.mark.parametrize("seed", range(5))
def test_what_lay_beside_is_what_the_replay_says(database: Database, club, seed: int, statements: Statements):
    replay, bundles = club(100 + seed)

    for bundle in bundles[:4]:
        with database.reading() as session, statements.at_most(6):
            told = queries.beside(session, bundle)
        for other in bundles:
            for at in moments():
                expected = replay.closeness(bundle, other, at) if other != bundle else None
                said = [
                    b.closeness
                    for b in told
                    if b.bundle_id == other and b.from_at <= at and (b.until_at is None or at < b.until_at)
                ]
                assert said == ([] if expected is None else [expected])


@pytest.mark.parametrize("seed", range(3))
def test_a_window_cuts_off_what_lay_beside_before_and_after(database: Database, club, seed: int):
    replay, bundles = club(200 + seed)
    begin, end = START + timedelta(hours=14), START + timedelta(hours=41)

    with database.reading() as session:
        told = queries.beside_all(session, bundles[:5], begin, end)
        boxes_only = queries.beside_all(session, bundles[:5], begin, end, at_least=Closeness.BOX)

    assert all(begin <= b.span.from_at < b.span.until_at <= end for b in told)
    assert boxes_only == [b for b in told if b.closeness is Closeness.BOX]
    for bundle in bundles[:5]:
        for other in bundles:
            for at in [m for m in moments() if begin <= m < end]:
                expected = replay.closeness(bundle, other, at) if other != bundle else None
                said = [
                    b.closeness
                    for b in told
                    if (b.bundle_id, b.other_id) == (bundle, other) and b.span.covers(at)
                ]
                assert said == ([] if expected is None else [expected])


@pytest.mark.parametrize("seed", range(3))
def test_contents_at_any_moment_are_those_of_the_replay(database: Database, club, seed: int):
    replay, bundles = club(300 + seed)

    with database.reading() as session:
        for at in moments()[::5]:
            for place in replay.store_of:
                here = {b for b in bundles if replay.where(b, at)[1] == place}
                assert {
                    c.bundle_id for c in queries.contents_of_place(session, place, Paging(), at).items
                } == here
            for store in set(replay.store_of.values()):
                inside = {b for b in bundles if replay.where(b, at)[2] == store}
                assert {
                    c.bundle_id
                    for c in queries.contents_of_store(session, store, Paging(limit=200), at).items
                } == inside


def test_asking_for_many_bundles_costs_as_much_as_for_one(database: Database, club, statements: Statements):
    _, bundles = club(7)

    with database.reading() as session:
        with statements.at_most(1):
            queries.whereabouts(session, bundles)
        with statements.at_most(4):
            queries.beside_all(session, bundles)
        with statements.at_most(3):
            queries.stays_of_all(session, bundles)


def test_a_used_up_bundle_lay_there_until_its_last_stick_left(database: Database, writer: Writer):
    ground = make_ground(writer)
    box = make_box(writer, ground)
    early, later = make_bundles(writer, ground, 2)
    put(writer, ground.host, {"bundle_id": early, "into_box_id": box.id, "done_at": ago(days=9)})
    put(writer, ground.host, {"bundle_id": later, "into_box_id": box.id, "done_at": ago(days=5)})
    writer.write_now(use_in_graft, ground.host, [(early, 4)], ago(days=6))
    with database.reading() as session:
        still = queries.beside_all(session, [later])

    writer.write_now(use_in_graft, ground.host, [(early, 6)], ago(days=3))

    with database.reading() as session:
        (gone,) = queries.beside_all(session, [later])
        stays = queries.stays_of(session, early)
    assert [(b.other_id, b.span.from_at, b.span.until_at) for b in still] == [(early, ago(days=5), None)]
    assert (gone.span.from_at, gone.span.until_at) == (ago(days=5), ago(days=3))
    assert stays[-1].until_at == ago(days=3)
