"""Rounds past the trees of a site, and looks that are taken back or get their picture later."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID, uuid4

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from service.trees import actions, queries, schemas
from service.trees.rules import HasPicture, LookTakenBack, NotYourLook
from tests.builders.trees import Orchard, change, look, make_site, make_tree, read_tree, stop
from tests.infra.cast import Cast
from tests.infra.statements import Statements

DAY = date(2026, 2, 14)
PICTURE = "ab" * 32


def walk(database: Database, site_id: UUID, day: date = DAY) -> schemas.SiteRound:
    with database.reading() as session:
        return queries.site_round(session, site_id, day)


def test_a_round_meets_the_standing_trees_of_its_site_in_walking_order(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard
) -> None:
    steward = cast.steward
    last = make_tree(writer, steward, orchard)
    third = make_tree(writer, steward, orchard, where_on_site="row 10, first")
    first = make_tree(writer, steward, orchard, where_on_site="row 2, first")
    second = make_tree(writer, steward, orchard, where_on_site="row 2, second", taxon_id=orchard.pear_id)
    gone = make_tree(writer, steward, orchard, where_on_site="row 1")
    change(writer, steward, gone, felled_on=DAY - timedelta(days=1))
    elsewhere = make_site(writer, steward, orchard.area_id)
    make_tree(writer, steward, orchard, site_id=elsewhere.id)

    met = walk(database, orchard.site_id).trees

    assert [tree.id for tree in met] == [first.id, second.id, third.id, last.id]
    assert met[1].genus == "Pyrus"


def test_a_round_shows_the_newest_look_of_its_season_and_no_other(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    for kind, result, seen_on in (
        ("leaf", "healthy", "2025-07-01"), ("leaf", "healthy", "2026-01-10"), ("leaf", "symptom", "2026-01-09"),
        ("leaf", "not_seen", "2026-02-01"), ("fruit", "true", "2025-08-01"),
    ):  # fmt: skip
        look(writer, cast.steward, tree.id, kind, result, seen_on=seen_on)

    (met,) = walk(database, orchard.site_id).trees

    assert met.leaf is not None
    assert (met.leaf.result, met.leaf.seen_on) == ("not_seen", date(2026, 2, 1))
    assert met.fruit is None
    assert met.last_leaf_check is not None and met.last_leaf_check.seen_on == date(2026, 1, 10)


def test_a_round_tells_what_binds_its_trees(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    stop(writer, cast.health_steward, tree.id, agent="fire-blight")

    (met,) = walk(database, orchard.site_id).trees

    assert met.stops[0].agent_code == "ERWIAM"  # EPPO Global Database


def test_a_round_costs_the_same_for_many_trees_and_so_does_writing_it_down(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    counts = []
    for more in (2, 30):
        trees = [make_tree(writer, cast.steward, orchard) for _ in range(more)]
        body = [
            schemas.TreeCheckCreate(tree_id=tree.id, kind="leaf", result="symptom", agent="fire blight")
            for tree in trees
        ]
        statements.clear()
        writer.write_now(actions.record_tree_checks, cast.host, body)
        written = len(statements)
        statements.clear()
        walk(database, orchard.site_id)
        counts.append((written, len(statements)))

    assert counts[0] == counts[1]
    assert counts[1][1] <= 3


# -- taking back -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("who", "may"),
    [
        ("host", True),
        ("collector", False),
        ("steward", False),
        ("health_steward", True),
        ("administrator", True),
    ],
)
def test_a_look_is_taken_back_by_who_wrote_it_or_who_may_release(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard, who: str, may: bool
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    look(writer, cast.steward, tree.id, seen_on="2025-07-01")
    made = look(writer, cast.host, tree.id, result="symptom", seen_on="2026-02-01")
    asker = cast.asker(who)
    assert asker is not None

    if may:
        told = writer.write_now(actions.take_back_look, asker, made.id)
        assert (told.taken_back_at, told.taken_back_by_party_id) == (writer.clock.now(), asker.party_id)
    else:
        with pytest.raises(NotYourLook):
            writer.write_now(actions.take_back_look, asker, made.id)

    last = read_tree(database, tree.id).last_leaf_check
    assert last is not None and (last.result == "healthy") is may
    assert (walk(database, orchard.site_id).trees[0].leaf is None) is may


def test_a_look_is_taken_back_once_and_stays_in_the_record(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    made = look(writer, cast.host, tree.id)
    writer.write_now(actions.take_back_look, cast.host, made.id)

    with pytest.raises(LookTakenBack):
        writer.write_now(actions.take_back_look, cast.host, made.id)
    with pytest.raises(LookTakenBack):
        writer.write_now(actions.add_picture, cast.host, made.id, schemas.LookPicture(picture=PICTURE))
    with database.reading() as session:
        kept = queries.get_look(session, made.id)
    assert (kept.result, kept.picture) == ("healthy", None)


def test_a_look_gets_one_picture_later(
    writer: Writer, database: Database, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    made = look(writer, cast.host, tree.id, result="symptom")
    body = schemas.LookPicture(picture=PICTURE)

    told = writer.write_now(actions.add_picture, cast.collector, made.id, body)

    assert told.picture == PICTURE
    assert walk(database, orchard.site_id).trees[0].leaf.picture == PICTURE
    with pytest.raises(HasPicture):
        writer.write_now(actions.add_picture, cast.collector, made.id, body)


def test_a_look_nobody_made_cannot_be_changed(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    with pytest.raises(queries.NoSuchLook):
        writer.write_now(actions.take_back_look, cast.administrator, uuid4())
