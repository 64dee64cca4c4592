"""Wood cut or received under blanks, and every blank of a batch accounted for."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID

import pytest
from sqlmodel import Session, func, select

from service.bundles.tables import Bundle
from service.collection.schemas import ReceiptCreate
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.rules.blanks import AlreadyBound, GivenUp, NamedTwice, NoLongerBlank
from service.tags.rules.words import (
    MistypedCode,
)
from service.tags.schemas import (
    BlankBatchRead,
    BundlePart,
    LabelledReceiptCreate,
    LabelSheetCreate,
)
from service.tags.tables import Tag
from tests.builders.blanks import bind, cut_under, give_up, kept, left_of, print_blanks
from tests.builders.tags import Yard, make_bundles
from tests.infra.statements import Statements


def _batch(database: Database, batch_id: UUID) -> BlankBatchRead:
    with database.reading() as session:
        return queries.get_blank_batch(session, batch_id)


# -- named when cutting --------------------------------------------------------------------------------------------


def test_a_bundle_cut_with_a_blank_has_that_tag_and_no_new_one_is_made(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    (made,) = writer.write_now(
        actions.collect_and_label, yard.member, [cut_under(yard, blanks[2], "", blanks[0])]
    )
    with database.reading() as session:
        tags = session.exec(select(func.count()).select_from(Tag)).one()
        of_first = queries.list_tags_of(session, made.bundles[0].id)

    assert [bundle.code for bundle in made.bundles][::2] == [blanks[2], blanks[0]]
    assert made.bundles[1].code not in blanks
    assert tags == len(blanks) + 1
    assert [(tag.code, tag.state, tag.placement) for tag in of_first] == [(blanks[2], "bound", "bag")]


def test_wood_from_outside_may_come_under_a_blank_too(writer: Writer, yard: Yard, blanks: list[str]) -> None:
    receipt = ReceiptCreate(
        taxon_id=yard.taxon_id, cultivar_id=yard.cultivar_id, sticks=4, from_whom="Hollow Lane Fruit Group",
        cut_on=date(2026, 2, 1),
    )  # fmt: skip
    body = [LabelledReceiptCreate(receipt=receipt, bundles=[BundlePart(sticks=4, code=blanks[0])])]
    (made,) = writer.write_now(actions.receive_and_label, yard.member, body)

    assert made.bundles[0].code == blanks[0]


def test_a_cut_whose_tag_hangs_elsewhere_is_not_written(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    bind(writer, yard, blanks[0], yard.tree_id, "tree")
    give_up(writer, yard, blanks[1])

    for codes, refusal in (
        ((blanks[0],), AlreadyBound),
        ((blanks[1],), NoLongerBlank),
        ((blanks[2], blanks[2]), NamedTwice),
        ((blanks[2], blanks[3][::-1][:5]), MistypedCode),
    ):
        with pytest.raises(refusal):
            writer.write_now(actions.collect_and_label, yard.member, [cut_under(yard, *codes)])
    with database.reading() as session:
        assert session.exec(select(func.count()).select_from(Bundle)).one() == 0
    assert kept(database, Tag, blanks[2]).state == "blank"


def test_twenty_bundles_under_blanks_cost_no_more_statements_than_one(
    database: Database, writer: Writer, yard: Yard, statements: Statements
) -> None:
    one, *many = left_of(database, print_blanks(writer, yard, 21).id)
    statements.clear()
    writer.write_now(actions.collect_and_label, yard.member, [cut_under(yard, one)])
    for_one = len(statements)
    with statements.at_most(for_one):
        writer.write_now(actions.collect_and_label, yard.member, [cut_under(yard, *many)])


def test_tying_on_notes_the_bundle_whose_answer_changes(
    writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    (bundle,) = make_bundles(writer, yard)
    noted: list[frozenset[object]] = []

    def hook(_session: Session, touched: frozenset[object]) -> None:
        noted.append(touched)

    writer.hooks.append(hook)
    bind(writer, yard, blanks[0], bundle)

    assert noted == [frozenset({bundle})]


# -- accounted for -------------------------------------------------------------------------------------------------


def test_every_blank_of_every_batch_is_accounted_for_the_newest_first(
    database: Database, writer: Writer, yard: Yard, clock: FixedClock, statements: Statements
) -> None:
    old = print_blanks(writer, yard, 6)
    clock.move(timedelta(days=1))
    new = print_blanks(writer, yard, 2)
    hung, replaced, torn, gone, *rest = left_of(database, old.id)
    bundle, other = make_bundles(writer, yard, 2)
    bind(writer, yard, hung, bundle)
    bind(writer, yard, replaced, other)
    writer.write_now(actions.replace_tag, yard.member, replaced)
    writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[hung]))
    give_up(writer, yard, torn)
    give_up(writer, yard, gone, state=GivenUp.LOST)
    with database.reading() as session, statements.at_most(3):
        page = queries.list_blank_batches(session, Paging(limit=10))

    assert [batch.id for batch in page.items] == [new.id, old.id]
    counts = [(b.printed, b.bound, b.spoiled, b.lost, b.left) for b in page.items]
    assert counts == [(2, 0, 0, 0, 2), (6, 2, 1, 1, 2)]
    assert left_of(database, old.id) == rest
    assert _batch(database, old.id) == page.items[1]
