"""What was left out, told later."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy import event, select
from sqlmodel import Session

from service.collection import actions, queries
from service.collection.rules import (
    CutAfterItCame,
    NotOnThisTree,
)
from service.collection.tables import Collection
from service.lib.database import Database, new_id
from service.lib.errors import Stale, Unusable
from service.lib.paging import Paging
from service.lib.write import Asking, Writer, insert_rows
from service.members.rules import CrossesArea
from tests.builders.collection import (
    TODAY,
    cut,
    finish,
    receive,
    set_area,
    words,
)
from tests.builders.trees import Orchard, make_tree, stop
from tests.infra.cast import Cast


def test_a_cut_leaves_the_list_when_nothing_is_missing_any_more(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)

    half = finish(writer, cast.collector, made, stage="01", disinfected=True)
    whole = finish(writer, cast.collector, made, leaves_down=False)

    assert (half.unfinished, half.missing, half.version) == (True, ["leaves_down"], 2)
    assert (whole.unfinished, whole.version) == (False, 3) and words(whole) == {
        "stage_use_first",
        "leaves_still_on",
    }
    with database.reading() as session:
        assert queries.list_to_finish(session, Paging()).items == []


def test_what_nobody_can_tell_any_more_leaves_the_list_too(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)

    settled = finish(writer, cast.collector, made, nothing_more=True)

    assert (settled.unfinished, settled.missing) == (False, ["stage", "leaves_down", "disinfected"])


def test_a_stale_finish_is_refused(writer: Writer, cast: Cast, orchard: Orchard) -> None:
    from service.collection.schemas import CollectionUpdate

    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)
    finish(writer, cast.collector, made, stage="00")

    with pytest.raises(Stale):
        writer.write_now(
            actions.finish_collection, cast.collector, made.id, CollectionUpdate(stage="01"), made.version
        )


def test_what_belongs_to_a_receipt_is_not_told_of_a_cut_nor_the_other_way(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)
    made, received = (
        cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id),
        receive(writer, cast.collector, orchard),
    )

    for one, told in (
        (made, {"health_paper": "x"}),
        (made, {"cut_on": TODAY}),
        (received, {"leaves_down": True}),
        (made, {"stage": "02"}),
    ):
        with pytest.raises(Unusable):
            finish(writer, cast.collector, one, **told)
    with pytest.raises(NotOnThisTree):
        finish(writer, cast.collector, made, cultivar_id=orchard.bramley_id)


def test_a_receipt_is_put_right_and_its_area_is_checked_again(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)
    made = receive(writer, cast.collector, orchard)

    told = finish(
        writer,
        cast.collector,
        made,
        cut_on=date(2026, 1, 5),
        from_whom="Ida Brandt",
        cultivar_id=orchard.bramley_id,
    )

    assert (told.cut_on, told.cut_on_guessed, told.from_whom, told.page_name) == (
        date(2026, 1, 5),
        False,
        "Ida Brandt",
        "‘Bramley’",
    )
    with pytest.raises(CrossesArea):
        finish(writer, cast.collector, made, area_id=orchard.other_area_id)
    with pytest.raises(CutAfterItCame):
        finish(writer, cast.collector, made, cut_on=date(2026, 2, 15))


def test_a_cut_of_a_tree_stopped_since_can_still_be_finished(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    made = cut(writer, cast.collector, tree.id)
    stop(writer, cast.host, tree.id)

    assert finish(writer, cast.collector, made, disinfected=False).disinfected is False


def test_the_list_tells_in_words_what_waits(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    tree = make_tree(writer, cast.steward, orchard)
    set_area(writer, cast.steward.party_id, orchard.area_id)
    cut(writer, cast.collector, tree.id, 6, stage="00", disinfected=True)
    receive(
        writer,
        cast.steward,
        orchard,
        4,
        from_whom="Ida Brandt",
        their_reference="7",
        health_paper="none",
        tree_as_told="x",
    )

    with database.reading() as session:
        both = queries.list_to_finish(session, Paging()).items
        (mine,) = queries.list_to_finish(session, Paging(), party_id=cast.collector.party_id).items

    assert [one.words for one in both] == [
        "Apple ‘Gala’, 4 sticks from Ida Brandt",
        "Apple ‘Gala’, 6 sticks cut on tree 1",
    ]
    assert mine.missing_words == ["whether the tree's leaves were down"]


def test_few_that_wait_are_found_among_many_by_their_own_index(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    made = cut(writer, cast.collector, make_tree(writer, cast.steward, orchard).id)

    def add_finished(session: Session, _member: Asking) -> None:
        alike = {column.name: column for column in Collection.__table__.c}  # type: ignore[attr-defined]
        row = dict(session.execute(select(*alike.values()).where(alike["id"] == made.id)).one()._mapping)
        many = ({**row, "id": new_id(), "number": 1000 + place, "unfinished": False} for place in range(3000))
        insert_rows(session, Collection, list(many))

    writer.write_now(add_finished, cast.collector)
    with database.writer.begin() as connection:
        connection.exec_driver_sql("ANALYZE")
    sent: list[tuple[str, Any]] = []
    with database.reading() as session:
        event.listen(database.reader, "before_cursor_execute", lambda *told: sent.append((told[2], told[3])))
        assert [wood.id for wood in queries.list_to_finish(session, Paging(limit=5)).items] == [made.id]
        explain = "EXPLAIN QUERY PLAN" if database.is_sqlite else "EXPLAIN"
        plans = [
            str(session.connection().exec_driver_sql(f"{explain} {text}", told).all())
            for text, told in list(sent)
            if "FROM collection" in text
        ]

    assert len(plans) == 2 and all("ix_collection_to_finish" in plan for plan in plans), plans
