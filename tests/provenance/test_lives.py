"""Life lines of lists tell the same as each bundle's own timeline, for the price of one statement."""

from __future__ import annotations

from uuid import uuid4

from service.provenance import queries
from service.provenance.rules.timeline import EventKind
from tests.builders.provenance import Yard
from tests.infra.statements import Statements
from tests.provenance.test_timelines_and_traces import _live_a_life

DRAWN = {EventKind.MOVE, EventKind.PLACE, EventKind.LOOK, EventKind.STOP}


def test_lives_tell_what_timelines_tell(yard: Yard):
    full = _live_a_life(yard)
    other = yard.cut(3)[0]
    ids = [full.id, other.id]
    with yard.database.reading() as session:
        lives = queries.lives_of(session, ids)
        timelines = {one: queries.get_timeline(session, one).events for one in ids}

    for one in ids:
        told = [
            (event.kind, event.act, event.done_at, event.sticks)
            for event in lives[one]
            if event.kind in DRAWN
        ]
        assert told == [
            (event.kind, event.act, event.done_at, event.sticks)
            for event in timelines[one]
            if event.kind in DRAWN
        ]
    assert {EventKind.MOVE, EventKind.PLACE, EventKind.LOOK} <= {event.kind for event in lives[ids[0]]}


def test_many_lives_cost_one_statement(yard: Yard, statements: Statements):
    ids = [yard.cut(2)[0].id for _ in range(4)]
    with yard.database.reading() as session, statements.at_most(1):
        lives = queries.lives_of(session, [*ids, uuid4()])

    assert [len(lives[one]) for one in ids] == [1, 1, 1, 1]


def test_no_bundles_cost_nothing(yard: Yard, statements: Statements):
    with yard.database.reading() as session, statements.at_most(0):
        assert queries.lives_of(session, []) == {}
