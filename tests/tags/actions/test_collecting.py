"""A cut, its bundles and their tags in one call."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest
from sqlmodel import col, func, select

from service.bundles.tables import Bundle, StickMove
from service.collection.schemas import CollectionCreate, ReceiptCreate
from service.collection.tables import Collection
from service.lib.codes import is_code
from service.lib.database import Database
from service.lib.errors import Problem
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.rules.words import SticksDoNotAddUp, TagKind
from service.tags.schemas import BundlePart, LabelledCutCreate, LabelledReceiptCreate
from service.tags.tables import Tag
from tests.builders.tags import Yard, make_yard
from tests.infra.statements import Statements


def _cut(yard: Yard, *parts: int, sticks: int | None = None) -> LabelledCutCreate:
    cut = CollectionCreate(tree_id=yard.tree_id, sticks=sticks or sum(parts))
    return LabelledCutCreate(cut=cut, bundles=[BundlePart(sticks=n) for n in parts])


def test_a_cut_is_recorded_tied_and_tagged_at_once(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (made,) = writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, 5, 7)])
    with database.reading() as session:
        tags = [queries.find_tag(session, str(bundle.code)) for bundle in made.bundles]
        ledger = session.exec(select(StickMove).order_by(col(StickMove.seq))).all()

    assert [bundle.on_hand for bundle in made.bundles] == [5, 7]
    assert all(bundle.code and is_code(bundle.code) for bundle in made.bundles)
    assert [(tag.kind, tag.thing_id) for tag in tags if tag] == [
        (TagKind.BUNDLE, bundle.id) for bundle in made.bundles
    ]
    assert {bundle.collection_id for bundle in made.bundles} == {made.collection.id}
    assert sorted(move.sticks for move in ledger) == [5, 7]


def test_without_bundles_all_sticks_go_into_one(writer: Writer) -> None:
    yard = make_yard(writer)
    (made,) = writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, sticks=12)])

    assert [bundle.on_hand for bundle in made.bundles] == [12]


def test_bundles_that_do_not_add_up_are_refused_and_nothing_is_written(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer)

    with pytest.raises(SticksDoNotAddUp):
        writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, 5), _cut(yard, 5, 6, sticks=12)])
    with database.reading() as session:
        assert [
            session.exec(select(func.count()).select_from(table)).one() for table in (Collection, Bundle, Tag)
        ] == [1, 0, 0]


def test_a_refusal_of_any_stage_leaves_no_tag_behind(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    unknown = LabelledCutCreate(cut=CollectionCreate(tree_id=uuid4(), sticks=3))

    with pytest.raises(Problem):
        writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, 5), unknown])
    with database.reading() as session:
        assert [
            session.exec(select(func.count()).select_from(table)).one() for table in (Collection, Bundle, Tag)
        ] == [1, 0, 0]


def test_labelling_twenty_bundles_costs_no_more_statements_than_one(
    writer: Writer, statements: Statements
) -> None:
    yard = make_yard(writer)
    statements.clear()
    writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, 3)])
    for_one = len(statements)
    with statements.at_most(for_one):
        writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, *[2] * 20)])


def test_twenty_cuts_cost_no_more_statements_than_one(writer: Writer, statements: Statements) -> None:
    yard = make_yard(writer)
    statements.clear()
    writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, 3)])
    for_one = len(statements)
    with statements.at_most(for_one):
        writer.write_now(actions.collect_and_label, yard.member, [_cut(yard, 3) for _ in range(20)])


def test_the_same_call_sent_twice_is_done_once(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    body = [_cut(yard, 5, 7)]
    first = writer.write_now(actions.collect_and_label, yard.member, body, key="at-the-old-tree")
    again = writer.write_now(actions.collect_and_label, yard.member, body, key="at-the-old-tree")

    assert again == first
    with database.reading() as session:
        assert session.exec(select(func.count()).select_from(Tag)).one() == 2


def test_wood_from_outside_is_received_and_tagged_the_same_way(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    receipt = ReceiptCreate(
        taxon_id=yard.taxon_id, cultivar_id=yard.cultivar_id, sticks=4, from_whom="Hollow Lane Fruit Group", tree_as_told="by the gate",
        cut_on=date(2026, 2, 1),
    )  # fmt: skip
    body = [LabelledReceiptCreate(receipt=receipt)]
    (made,) = writer.write_now(actions.receive_and_label, yard.member, body)
    with database.reading() as session:
        words = queries.label_words(session, [(TagKind.BUNDLE, made.bundles[0].id)], today=date(2026, 2, 14))

    said = words[made.bundles[0].id]
    assert said.details == ("4 sticks when received", "tree by the gate")
    assert said.large == "1 Feb 2026"
    assert "Hollow Lane" not in repr(said)
