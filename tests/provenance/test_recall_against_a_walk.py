"""A recall finds exactly the people, and a stop binds exactly the wood, that a walk by hand finds."""

from __future__ import annotations

from datetime import date
from uuid import UUID, uuid4

import pytest
from sqlmodel import select

from service.bundles.tables import BundleStop
from service.grafting.tables import PlantStop
from service.lib.database import Database
from service.lib.write import Writer
from service.provenance import actions, queries
from service.provenance.rules.lineage import Thing
from service.provenance.schemas import RecallCreate, StopOpen
from service.trees.tables import TreeStop
from tests.builders.lineage_rows import put_ground, put_lineage
from tests.builders.lineage_walks import Walked, people_to_tell, sticks_at_tables, walk_on, walk_trees
from tests.builders.lineages import Lineage, make_lineage
from tests.infra.cast import Cast

LINEAGES = 200
PARTS = 4  # so that they are shared among the workers


def _bound(database: Database, table: type, column: str, stop_id: UUID) -> set[UUID]:
    with database.reading() as session:
        found = select(getattr(table, column)).where(table.stop_id == stop_id, table.lifted_at.is_(None))
        return set(session.exec(found).all())


def _origin(line: Lineage) -> UUID:
    return line.chance.choice(list(line.trees))


@pytest.mark.parametrize("part", range(PARTS))
def test_a_recall_reaches_exactly_the_people_a_walk_by_hand_finds(
    database: Database, writer: Writer, cast: Cast, part: int
) -> None:
    put_ground(writer)
    reached, forgotten, guests, replanted = 0, 0, 0, 0
    each = LINEAGES // PARTS
    for seed in range(part * each, (part + 1) * each):
        line = make_lineage(seed + 1)
        put_lineage(writer, line)
        origin, stop_id, recall_id = _origin(line), uuid4(), uuid4()
        winters = line.chance.choice([0, 1, 3, 100])
        since = date(2026 - winters - 1, 2, 14)  # the clock of the tests stands on 14 February 2026
        walked = walk_trees(line, {origin}, since)

        opened = writer.write_now(
            actions.open_stop,
            cast.health_steward,
            StopOpen(id=stop_id, tree_id=origin, reason="health", earlier_winters=winters),
        )
        recall = writer.write_now(
            actions.start_recall, cast.health_steward, RecallCreate(id=recall_id, stop_id=stop_id)
        )

        assert _bound(database, BundleStop, "bundle_id", stop_id) == walked.bundles, f"lineage {seed + 1}"
        assert _bound(database, PlantStop, "plant_id", stop_id) == walked.plants | walked.carrying_plants
        assert _bound(database, TreeStop, "tree_id", stop_id) == walked.trees | walked.carrying_trees | {
            origin
        }
        people = people_to_tell(line, walked, {origin})
        assert {one.party_id for one in recall.people} == people, f"lineage {seed + 1}"
        assert {one.party_id for one in opened.to_tell} == people
        assert all(one.name == "holder forgotten" for one in recall.people if line.parties[one.party_id][1])
        assert sum(one.sticks for one in recall.unknown_takers) == sticks_at_tables(line, walked)
        reached += len(people)
        forgotten += sum(line.parties[one][1] for one in people)
        guests += sum(line.parties[one][0] == "guest" for one in people)
        replanted += len(walked.trees)
    # The lineages must hold what they are made for.
    assert reached > each
    assert forgotten >= each // 10
    assert guests >= each // 10
    assert replanted >= each // 10


def test_a_trace_forward_finds_what_a_walk_by_hand_finds(database: Database, writer: Writer) -> None:
    put_ground(writer)
    for seed in range(1001, 1026):
        line = make_lineage(seed)
        put_lineage(writer, line)
        for tree in line.trees:
            walked = walk_on(line, Walked(trees={tree}))
            with database.reading() as session:
                trace = queries.trace_forward(session, Thing.TREE, tree)
            assert _found(trace) == _walked(walked), f"lineage {seed}"
            _check_edges(trace)
        for bundle in line.bundles:
            walked = walk_on(line, Walked(bundles={bundle}))
            with database.reading() as session:
                trace = queries.trace_forward(session, Thing.BUNDLE, bundle)
            assert _found(trace) == _walked(walked), f"lineage {seed}"


def test_a_trace_back_is_the_trace_forward_turned_round(database: Database, writer: Writer) -> None:
    put_ground(writer)
    compared = 0
    for seed in range(1101, 1121):
        line = make_lineage(seed)
        put_lineage(writer, line)
        came_of = {("collection", cut): _walked(walk_on(line, Walked(cuts={cut}))) for cut in line.cuts}
        things = [(Thing.BUNDLE, one) for one in line.bundles] + [(Thing.PLANT, one) for one in line.plants]
        for kind, one in things + [(Thing.TREE, tree) for tree in line.trees]:
            with database.reading() as session:
                trace = queries.trace_back(session, kind, one)
            wanted = {cut for (_, cut), found in came_of.items() if (kind, one) in found}
            assert {id_ for kind_, id_ in _found(trace) if kind_ == Thing.COLLECTION} == wanted, (
                f"lineage {seed}, {kind}"
            )
            _check_edges(trace)
            compared += len(wanted)
    assert compared > 500


def _found(trace: queries.Trace) -> set[tuple[Thing, UUID]]:
    return {(node["kind"], UUID(str(node["id"]))) for node in trace.nodes.values()}


def _walked(walked: Walked) -> set[tuple[Thing, UUID]]:
    kinds = {
        Thing.COLLECTION: walked.cuts, Thing.BUNDLE: walked.bundles, Thing.GRAFT: walked.grafts,
        Thing.PLANT: walked.plants | walked.carrying_plants, Thing.TREE: walked.trees | walked.carrying_trees,
    }  # fmt: skip
    return {(kind, one) for kind, ones in kinds.items() for one in ones}


def _check_edges(trace: queries.Trace) -> None:
    """Every step joins two things of the trace, and everything but where it began is reached by a step."""
    ids = {str(node["id"]) for node in trace.nodes.values()}
    ends = [(str(edge["from_id"]), str(edge["to_id"])) for edge in trace.edges]
    assert {one for pair in ends for one in pair} <= ids
    far = {pair[1] for pair in ends} if trace.direction == "forward" else {pair[0] for pair in ends}
    assert ids - far <= {str(trace.id)}
