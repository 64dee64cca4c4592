"""Tags printed ahead: made, printed, tied on, given up, and every one accounted for."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any
from uuid import UUID, uuid4

import pypdfium2
import pytest
import zxingcpp
from pydantic import ValidationError
from sqlmodel import col, func, select

from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import AlreadyKnown
from service.lib.paging import Paging
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.rules.blanks import AlreadyBound, GivenUp, NamedTwice, NoLongerBlank
from service.tags.rules.sheets import NoSuchLabel
from service.tags.rules.words import (
    AlreadyTagged,
    MistypedCode,
    NoPublicAddress,
    NoSecondTag,
    NothingToTag,
    Placement,
    TagNotInUse,
    TagState,
    UnknownTag,
)
from service.tags.schemas import (
    BlankBatchCreate,
    LabelSheetCreate,
)
from service.tags.tables import LabelBatch, Tag
from service.trees.tables import SourceTree
from tests.builders.blanks import bind, cut_under, give_up, kept, left_of, print_blanks
from tests.builders.tags import Yard, make_bundles, make_codes, make_yard, tag_bundles
from tests.infra.statements import Statements


def _pdf(database: Database, batch_id: UUID) -> bytes:
    with database.reading() as session:
        return queries.draw_sheet(session, batch_id)


# -- printed ahead -------------------------------------------------------------------------------------------------


def test_no_blank_is_printed_until_an_address_is_confirmed(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)

    with pytest.raises(NoPublicAddress):
        print_blanks(writer, yard)
    with database.reading() as session:
        assert [session.exec(select(func.count()).select_from(t)).one() for t in (Tag, LabelBatch)] == [0, 0]


@pytest.mark.parametrize("sheet", ["a4-3x7", "letter-3x10"])
def test_every_blank_is_read_back_from_its_sheet_and_has_room_to_write(
    database: Database, writer: Writer, yard: Yard, sheet: str
) -> None:
    batch = print_blanks(writer, yard, 25, sheet=sheet, first_label=3)
    pdf = _pdf(database, batch.id)
    pages = [page.render(scale=203 / 72, grayscale=True).to_pil() for page in pypdfium2.PdfDocument(pdf)]
    decoded = [
        found.text
        for page in pages
        for found in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
    ]
    said = " ".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf))

    codes = left_of(database, batch.id)
    assert sorted(decoded) == [f"HTTPS://TAGS.MARSH-END.EXAMPLE/T/{code}" for code in codes]
    assert (len(codes), len(set(codes))) == (25, 25)
    for word in ("variety", "cut on", "tree", "sticks", "Marsh End Grafters", "scan for its state today"):
        assert said.count(word) == 25, word
    assert all(code[:4] in said and code[4:] in said for code in codes)


def test_a_sheet_of_blanks_drawn_again_is_the_same_to_the_byte_whatever_became_of_them(
    database: Database, writer: Writer, yard: Yard, clock: FixedClock
) -> None:
    batch = print_blanks(writer, yard)
    first = _pdf(database, batch.id)
    code, torn, _ = left_of(database, batch.id)
    bind(writer, yard, code, yard.tree_id, "tree")
    give_up(writer, yard, torn)
    clock.move(timedelta(days=300))

    assert _pdf(database, batch.id) == first


def test_printing_a_thousand_takes_the_statements_of_one(
    writer: Writer, yard: Yard, statements: Statements
) -> None:
    statements.clear()
    print_blanks(writer, yard, 1)
    for_one = len(statements)
    with statements.at_most(for_one):
        made = print_blanks(writer, yard, 1000)

    assert (made.printed, made.left) == (1000, 1000)


@pytest.mark.parametrize("blanks", [0, -1, 1001])
def test_a_batch_is_of_one_to_a_thousand(blanks: int) -> None:
    with pytest.raises(ValidationError):
        BlankBatchCreate(blanks=blanks)


def test_a_label_the_sheet_does_not_have_is_refused(writer: Writer, yard: Yard) -> None:
    with pytest.raises(NoSuchLabel):
        print_blanks(writer, yard, first_label=22)


def test_a_batch_asked_twice_is_one(database: Database, writer: Writer, yard: Yard) -> None:
    body = BlankBatchCreate(blanks=5)
    first = writer.write_now(actions.print_blanks, yard.member, body, key="the roll")

    assert writer.write_now(actions.print_blanks, yard.member, body, key="the roll") == first
    with pytest.raises(AlreadyKnown):
        writer.write_now(actions.print_blanks, yard.member, body, key="another key")
    assert len(left_of(database, body.id)) == 5


def test_a_blank_waits_for_no_label_and_is_not_printed_as_one(
    database: Database, writer: Writer, yard: Yard, clock: FixedClock, blanks: list[str]
) -> None:
    with database.reading() as session:
        assert queries.list_waiting_labels(session, Paging(limit=10), now=clock.now()).items == []

    with pytest.raises(TagNotInUse, match="not bound"):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=blanks[:1]))
    with pytest.raises(TagNotInUse):
        writer.write_now(actions.replace_tag, yard.member, blanks[0])


# -- tied on -------------------------------------------------------------------------------------------------------


def test_a_bundle_without_a_tag_goes_by_the_blank_that_was_tied_to_it(
    database: Database, writer: Writer, yard: Yard, clock: FixedClock, blanks: list[str]
) -> None:
    (bundle,) = make_bundles(writer, yard)
    clock.move(timedelta(days=3))
    typed = f"https://tags.marsh-end.example/t/{blanks[0].lower()}"
    tag = bind(writer, yard, typed, bundle)

    row = kept(database, Tag, blanks[0])
    assert (tag.code, tag.state, tag.thing_id, tag.made_at) == (
        blanks[0], TagState.BOUND, bundle, clock.now(),
    )  # fmt: skip
    assert (row.state, row.kind, row.thing_id, row.made_at) == ("bound", "bundle", bundle, clock.now())
    assert row.printed_at == clock.now() - timedelta(days=3)
    assert kept(database, Bundle, bundle).code == blanks[0]


def test_a_tree_is_hung_with_a_blank_and_goes_by_it(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    bind(writer, yard, blanks[1], yard.tree_id, "tree")

    assert kept(database, SourceTree, yard.tree_id).code == blanks[1]


def test_a_blank_may_be_the_second_tag_of_a_bundle_on_the_wood(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    (bundle,) = make_bundles(writer, yard)
    (on_bag,) = tag_bundles(writer, yard, bundle)
    tag = bind(writer, yard, blanks[0], bundle, placement=Placement.WOOD)

    assert tag.placement is Placement.WOOD
    assert kept(database, Bundle, bundle).code == on_bag.code
    with pytest.raises(AlreadyTagged):
        bind(writer, yard, blanks[1], bundle, placement=Placement.BAG)
    with pytest.raises(NoSecondTag):
        bind(writer, yard, blanks[1], yard.tree_id, "tree", placement=Placement.WOOD)
    with pytest.raises(NothingToTag):
        bind(writer, yard, blanks[1], uuid4())
    assert kept(database, Tag, blanks[1]).state == "blank"


def test_a_bound_tag_is_not_bound_again_and_says_what_it_hangs_on(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    (bundle,) = make_bundles(writer, yard)
    bind(writer, yard, blanks[0], bundle)

    with pytest.raises(AlreadyBound, match="the bundle ‘Ashmead’s Kernel’, cut 14 Jan 2026"):
        bind(writer, yard, blanks[0], yard.tree_id, "tree")
    assert kept(database, Tag, blanks[0]).thing_id == bundle


def test_a_bound_tag_that_was_lost_is_not_bound_again_either(
    writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    bind(writer, yard, blanks[0], yard.tree_id, "tree")
    writer.write_now(actions.replace_tag, yard.member, blanks[0])

    with pytest.raises(AlreadyBound, match="was lost, and hung on the tree"):
        bind(writer, yard, blanks[0], make_bundles(writer, yard)[0])


@pytest.mark.parametrize("state", list(GivenUp))
def test_a_blank_that_was_given_up_never_binds(
    database: Database, writer: Writer, yard: Yard, blanks: list[str], clock: FixedClock, state: GivenUp
) -> None:
    (told,) = give_up(writer, yard, blanks[0], state=state)
    row = kept(database, Tag, blanks[0])

    assert (told.state, told.ended_at) == (TagState(state.value), clock.now())
    assert (row.state, row.ended_at, row.ended_by_id) == (state, clock.now(), yard.member.party_id)
    with pytest.raises(NoLongerBlank, match=state.value):
        bind(writer, yard, blanks[0], yard.tree_id, "tree")
    with pytest.raises(NoLongerBlank):
        give_up(writer, yard, blanks[0])
    assert kept(database, Tag, blanks[0]).thing_id is None


def test_one_code_that_cannot_be_given_up_leaves_all_as_they_were(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    bind(writer, yard, blanks[0], yard.tree_id, "tree")
    unknown = make_codes(1, seed=77)[0]

    for codes, refusal in (
        ((blanks[1], blanks[0]), AlreadyBound),
        ((blanks[1], unknown), UnknownTag),
        ((blanks[1], blanks[2][:7]), MistypedCode),
        ((blanks[1], blanks[1].lower()), NamedTwice),
    ):
        with pytest.raises(refusal):
            give_up(writer, yard, *codes)
    assert kept(database, Tag, blanks[1]).state == "blank"


def _at_once(hands: int, do: Callable[[int], Any], *refusals: type[Exception]) -> list[Any]:
    ready = Barrier(hands)

    def one(n: int) -> Any:
        ready.wait(30)
        try:
            return do(n)
        except refusals as problem:
            return problem

    with ThreadPoolExecutor(hands) as pool:
        return list(pool.map(one, range(hands)))


def test_of_eight_who_tie_the_same_blank_at_once_one_does(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    bundles = make_bundles(writer, yard, 8)

    answers = _at_once(8, lambda n: bind(writer, yard, blanks[0], bundles[n]), AlreadyBound)

    won = [answer for answer in answers if not isinstance(answer, AlreadyBound)]
    assert len(won) == 1
    assert kept(database, Tag, blanks[0]).thing_id == won[0].thing_id
    coded = [bundle for bundle in bundles if kept(database, Bundle, bundle).code]
    assert coded == [won[0].thing_id]


def test_of_four_who_cut_with_the_same_blank_at_once_one_cut_is_written(
    database: Database, writer: Writer, yard: Yard, blanks: list[str]
) -> None:
    def cut(_: int) -> Any:
        return writer.write_now(actions.collect_and_label, yard.member, [cut_under(yard, blanks[0])])

    answers = _at_once(4, cut, AlreadyBound)

    assert sum(isinstance(answer, AlreadyBound) for answer in answers) == 3
    with database.reading() as session:
        coded = session.exec(select(Bundle.id).where(col(Bundle.code) == blanks[0])).all()
        assert (
            session.exec(select(func.count()).select_from(Collection)).one() == 2
        )  # the yard's own, and this
    assert coded == [kept(database, Tag, blanks[0]).thing_id]
