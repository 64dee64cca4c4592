"""The address on tags, and printing their labels."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid4

import pypdfium2
import pytest
import zxingcpp
from sqlmodel import Session, select

from service.catalogue.tables import Cultivar
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, NotFound
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.rules.addresses import AddressCannotBePrinted
from service.tags.rules.labels import LabelWords, box_words
from service.tags.rules.sheets import NoSuchLabel, NoSuchSheet
from service.tags.rules.words import (
    MistypedCode,
    NoPublicAddress,
    Placement,
    TagKind,
    TagNotInUse,
    UnknownTag,
)
from service.tags.schemas import LabelSheetCreate, PublicAddressCreate
from service.tags.tables import LabelBatch, Tag
from tests.builders.tags import confirm_host, make_bundles, make_codes, make_yard, tag_bundles
from tests.infra.statements import Statements


def _pdf(database: Database, batch_id: UUID) -> bytes:
    with database.reading() as session:
        return queries.draw_sheet(session, batch_id)


def _decoded(pdf: bytes) -> list[str]:
    pages = (page.render(scale=203 / 72, grayscale=True).to_pil() for page in pypdfium2.PdfDocument(pdf))
    return [
        found.text
        for page in pages
        for found in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
    ]


def _text(pdf: bytes) -> str:
    return " ".join(pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_bounded().split())


# -- the address ---------------------------------------------------------------------------------------------------


def test_nothing_is_printed_until_an_address_is_confirmed(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    writer.write_now(actions.propose_address, yard.member, PublicAddressCreate(host="tags.marsh-end.example"))

    with pytest.raises(NoPublicAddress):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))
    with database.reading() as session:
        assert session.exec(select(LabelBatch)).all() == []
        assert queries.current_address(session) is None


def test_a_host_that_cannot_be_printed_is_refused(writer: Writer) -> None:
    yard = make_yard(writer)

    with pytest.raises(AddressCannotBePrinted):
        writer.write_now(
            actions.propose_address, yard.member, PublicAddressCreate(host="a" * 40 + ".example")
        )


def test_the_same_host_is_proposed_once(writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard, "tags.marsh-end.example")

    with pytest.raises(AlreadyKnown):
        writer.write_now(
            actions.propose_address, yard.member, PublicAddressCreate(host="TAGS.marsh-end.EXAMPLE")
        )


def test_an_address_nobody_proposed_is_not_confirmed(writer: Writer) -> None:
    yard = make_yard(writer)

    with pytest.raises(NotFound):
        writer.write_now(actions.confirm_address, yard.member, uuid4())


def test_labels_carry_the_address_confirmed_last_and_old_sheets_keep_theirs(
    database: Database, writer: Writer, clock: FixedClock
) -> None:
    yard = make_yard(writer)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    confirm_host(writer, yard, "old.example")
    before = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))
    clock.move(timedelta(days=400))
    confirm_host(writer, yard, "new.example")
    after = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))

    assert _decoded(_pdf(database, before.id)) == [f"HTTPS://OLD.EXAMPLE/T/{tag.code}"]
    assert _decoded(_pdf(database, after.id)) == [f"HTTPS://NEW.EXAMPLE/T/{tag.code}"]
    with database.reading() as session:
        known = queries.list_addresses(session)
    assert [(a.host, a.is_current) for a in known] == [("NEW.EXAMPLE", True), ("OLD.EXAMPLE", False)]
    assert all(a.confirmed_at for a in known)


# -- printing ------------------------------------------------------------------------------------------------------


def test_a_printed_sheet_holds_every_tag_that_was_asked_for(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    tags = tag_bundles(writer, yard, *make_bundles(writer, yard, 25))
    body = LabelSheetCreate(codes=[tag.code for tag in tags], first_label=20)
    batch = writer.write_now(actions.print_labels, yard.member, body)

    assert (batch.labels, batch.pages, batch.host) == (25, 3, "TAGS.MARSH-END.EXAMPLE")
    assert sorted(_decoded(_pdf(database, batch.id))) == sorted(
        f"HTTPS://TAGS.MARSH-END.EXAMPLE/T/{t.code}" for t in tags
    )


@pytest.mark.parametrize("sheet", ["a4-3x7", "letter-3x10"])
def test_a_label_says_the_bundles_facts_on_every_sheet(
    database: Database, writer: Writer, sheet: str
) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    batch = writer.write_now(
        actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code], sheet=sheet)
    )
    text = _text(_pdf(database, batch.id))

    facts = (
        "Apple · scionwood",
        "‘Ashmead’s Kernel’",
        "14 Jan 2026",
        "12 sticks when cut",
        "tree 7",
        "Marsh End Grafters",
    )
    assert [fact for fact in (*facts, tag.code[:4], tag.code[4:]) if fact not in text] == []


def test_the_day_on_the_sheet_is_the_clubs_own(database: Database, writer: Writer, clock: FixedClock) -> None:
    clock.at = datetime(2026, 2, 14, 20, 0, tzinfo=UTC)  # the next day in Auckland, 13 hours ahead in summer
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))

    assert "Labels of 15 Feb 2026" in _text(_pdf(database, batch.id))


def test_a_sheet_drawn_again_is_the_same_to_the_byte_whatever_changed_since(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))
    first = _pdf(database, batch.id)

    def rename(session: Session) -> None:
        variety = session.get_one(Cultivar, yard.cultivar_id)
        variety.epithet, variety.protection, variety.protected_until = (
            "Other Name",
            "protected",
            date(2031, 3, 1),
        )

    writer.write_now(rename, None)
    again = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))

    assert _pdf(database, batch.id) == first
    assert "‘Other Name’" in _text(_pdf(database, again.id))
    assert "Protected until 1 Mar 2031" in _text(_pdf(database, again.id))


def test_a_tree_bought_under_contract_carries_the_mark_on_its_label_and_its_woods(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer, no_propagation_contract=True, planted_year=1998)
    confirm_host(writer, yard)
    tree = writer.write_now(actions.bind_new_tags, yard.member, TagKind.TREE, [yard.tree_id])[yard.tree_id]
    (wood,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tree, wood.code]))
    text = _text(_pdf(database, batch.id))

    assert text.count("No propagation: contract") == 2
    assert "tree 7" in text and "planted about 1998" in text


def test_a_child_bundle_says_when_its_sticks_were_counted(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (parent,) = make_bundles(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard, parent_id=parent, sticks_at_start=3))
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))

    assert "3 sticks when shared out" in _text(_pdf(database, batch.id))


def test_a_later_stage_supplies_the_words_of_its_things(
    database: Database, writer: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    from service.tags.actions import tags as binding
    from service.tags.queries import words

    monkeypatch.setattr(words, "_WORDS", dict(words._WORDS))
    monkeypatch.setattr(binding, "_SET_CODES", dict(binding._SET_CODES))
    told: dict[UUID, str] = {}

    def crate(_session: Session, ids: list[UUID], _today: date) -> dict[UUID, LabelWords]:
        return {box: box_words("Blue crate 3") for box in ids}

    actions.supply_kind(TagKind.BOX, words=crate, set_codes=lambda _session, codes: told.update(codes))
    yard = make_yard(writer)
    confirm_host(writer, yard)
    box = uuid4()
    code = writer.write_now(actions.bind_new_tags, yard.member, TagKind.BOX, [box])[box]
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[code]))
    new = writer.write_now(actions.replace_tag, yard.member, code)

    assert "Blue crate 3" in _text(_pdf(database, batch.id))
    assert told == {box: new.tag.code}


def test_stick_flags_copy_their_bundles_code(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code], copies=5))

    assert _decoded(_pdf(database, batch.id)) == [f"HTTPS://TAGS.MARSH-END.EXAMPLE/T/{tag.code}"] * 5


def test_a_tag_on_the_wood_says_so(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard), placement=Placement.WOOD)
    batch = writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))

    assert "tag on the wood" in _text(_pdf(database, batch.id))


def test_printing_takes_the_same_statements_for_one_and_for_two_hundred(
    writer: Writer, statements: Statements
) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    codes = [tag.code for tag in tag_bundles(writer, yard, *make_bundles(writer, yard, 200))]
    with statements.at_most(7):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=codes[:1]))
    with statements.at_most(7):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=codes))


def test_the_same_printing_asked_twice_is_one(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    body = LabelSheetCreate(codes=[tag.code])
    first = writer.write_now(actions.print_labels, yard.member, body, key="key-of-this-printing")
    again = writer.write_now(actions.print_labels, yard.member, body, key="key-of-this-printing")

    assert again == first
    with database.reading() as session:
        assert len(session.exec(select(LabelBatch)).all()) == 1


# -- refusals ------------------------------------------------------------------------------------------------------


def test_a_tag_that_was_lost_is_not_printed(writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    writer.write_now(actions.replace_tag, yard.member, tag.code)

    with pytest.raises(TagNotInUse):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code]))


def test_one_wrong_code_leaves_everything_unprinted(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))

    with pytest.raises(UnknownTag):
        writer.write_now(
            actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code, make_codes(1)[0]])
        )
    with pytest.raises(MistypedCode):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code, "nonsense!"]))
    with database.reading() as session:
        assert session.get_one(Tag, tag.code).printed_at is None
        assert session.exec(select(LabelBatch)).all() == []


@pytest.mark.parametrize(
    ("change", "problem"), [({"sheet": "a5"}, NoSuchSheet), ({"first_label": 22}, NoSuchLabel)]
)
def test_what_the_sheet_does_not_have_is_refused(
    writer: Writer, change: dict, problem: type[Exception]
) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))

    with pytest.raises(problem):
        writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[tag.code], **change))


@pytest.mark.parametrize("change", [
    {"codes": []}, {"codes": ["X"] * 1001}, {"copies": 0}, {"copies": 51}, {"codes": ["X"] * 50, "copies": 41}, {"nudge_x_mm": 5.5},
    {"nudge_y_mm": 0.3}, {"first_label": 0}, {"colour": "red"},
])  # fmt: skip
def test_a_body_out_of_bounds_is_refused_before_anything_runs(change: dict) -> None:
    with pytest.raises(ValueError, match="validation error"):
        LabelSheetCreate(**{"codes": ["7K3P9M2A"], **change})
