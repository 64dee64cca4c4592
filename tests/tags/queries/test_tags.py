"""Looking codes up: known, lost, unknown and mistyped told apart; labels that wait to be printed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.lib.clock import FixedClock
from service.lib.codes import ALPHABET, is_code, suggest_codes
from service.lib.database import Database
from service.lib.paging import Paging
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.rules.words import MistypedCode, TagKind, UnknownTag
from service.tags.schemas import LabelSheetCreate
from tests.builders.tags import confirm_host, make_bundles, make_codes, make_yard, tag_bundles
from tests.infra.statements import Statements


def _wrong(code: str, place: int = 0) -> str:
    """The code with one sign changed."""
    return code[:place] + next(s for s in ALPHABET if s != code[place]) + code[place + 1 :]


def test_a_code_is_found_by_one_statement_however_it_was_typed(
    database: Database, writer: Writer, statements: Statements
) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (tag,) = tag_bundles(writer, yard, bundle)
    spelled = [
        tag.code,
        f" {tag.code[:4]}-{tag.code[4:]} ".lower(),
        f"https://tags.marsh-end.example/T/{tag.code}",
    ]
    with database.reading() as session:
        for typed in spelled:
            with statements.exactly(1):
                assert queries.get_typed_tag(session, typed).thing_id == bundle


def test_an_unknown_code_is_told_from_a_mistyped_one(
    database: Database, writer: Writer, statements: Statements
) -> None:
    make_yard(writer)
    stranger = make_codes(1)[0]
    with database.reading() as session:
        assert queries.find_tag(session, stranger) is None
        with statements.exactly(1), pytest.raises(UnknownTag):
            queries.get_typed_tag(session, stranger)
        with statements.exactly(1), pytest.raises(MistypedCode) as caught:
            queries.get_typed_tag(session, _wrong(stranger))

    assert "suggestion" not in caught.value.facts


def test_a_correction_is_offered_where_exactly_one_known_code_is_one_slip_away(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer)
    (tag,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    code = tag.code
    slips = [_wrong(code, place) for place in range(8)] + [code[:-1], code + "7", code[:2] + "*" + code[3:]]
    slips += [code[:i] + code[i + 1] + code[i] + code[i + 2 :] for i in range(7) if code[i] != code[i + 1]]
    with database.reading() as session:
        for slip in slips:
            with pytest.raises(MistypedCode) as caught:
                queries.get_typed_tag(session, slip)
            assert caught.value.facts["suggestion"] == code


def test_no_correction_is_offered_where_two_known_codes_fit(
    database: Database, writer: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    from service.tags.actions import tags as binding

    yard = make_yard(writer)
    typed = _wrong(make_codes(1)[0])
    near = iter(suggest_codes(typed)[:2])
    monkeypatch.setattr(binding, "make_code", lambda: next(near))
    for bundle in make_bundles(writer, yard, 2):
        tag_bundles(writer, yard, bundle)
    assert not is_code(typed)
    with database.reading() as session, pytest.raises(MistypedCode) as caught:
        queries.get_typed_tag(session, typed)

    assert "suggestion" not in caught.value.facts


def test_a_long_text_asks_the_database_nothing(
    database: Database, writer: Writer, statements: Statements
) -> None:
    make_yard(writer)
    with database.reading() as session, statements.exactly(0), pytest.raises(MistypedCode):
        queries.get_typed_tag(session, "Bramley's Seedling " * 500)


def test_tags_wait_until_their_labels_are_printed_the_oldest_first(
    database: Database, writer: Writer, clock: FixedClock
) -> None:
    yard = make_yard(writer)
    confirm_host(writer, yard)
    (first,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    clock.move(timedelta(hours=1))
    tree = writer.write_now(actions.bind_new_tags, yard.member, TagKind.TREE, [yard.tree_id])[yard.tree_id]
    with database.reading() as session:
        waiting = queries.list_waiting_labels(session, Paging(), now=clock.now())
        trees = queries.list_waiting_labels(session, Paging(), now=clock.now(), kind=TagKind.TREE)

    assert [(w.code, w.heading, w.name) for w in waiting.items] == [
        (first.code, "Apple · scionwood", "‘Ashmead’s Kernel’"), (tree, "Apple · source tree", "‘Ashmead’s Kernel’"),
    ]  # fmt: skip
    assert [w.code for w in trees.items] == [tree]

    writer.write_now(actions.print_labels, yard.member, LabelSheetCreate(codes=[first.code]))
    with database.reading() as session:
        assert [w.code for w in queries.list_waiting_labels(session, Paging(), now=clock.now()).items] == [
            tree
        ]


def test_a_lost_tag_waits_no_longer_and_its_replacement_does(
    database: Database, writer: Writer, clock: FixedClock
) -> None:
    yard = make_yard(writer)
    (old,) = tag_bundles(writer, yard, *make_bundles(writer, yard))
    new = writer.write_now(actions.replace_tag, yard.member, old.code)
    with database.reading() as session:
        waiting = queries.list_waiting_labels(session, Paging(), now=clock.now())

    assert [w.code for w in waiting.items] == [new.tag.code]


def test_the_waiting_list_comes_in_pages_and_keeps_to_its_budget(
    database: Database, writer: Writer, clock: FixedClock, statements: Statements
) -> None:
    yard = make_yard(writer)
    made = {tag.code for tag in tag_bundles(writer, yard, *make_bundles(writer, yard, 25))}
    seen: list[str] = []
    cursor = None
    with database.reading() as session:
        for _ in range(3):
            with statements.at_most(4):
                page = queries.list_waiting_labels(session, Paging(cursor, 10), now=clock.now())
            seen += [w.code for w in page.items]
            cursor = page.next

    assert cursor is None
    assert len(seen) == 25
    assert set(seen) == made


def test_the_tags_of_a_thing_are_listed_with_what_became_of_them(
    database: Database, writer: Writer, clock: FixedClock
) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (old,) = tag_bundles(writer, yard, bundle)
    clock.move(timedelta(days=1))
    new = writer.write_now(actions.replace_tag, yard.member, old.code)
    with database.reading() as session:
        tags = queries.list_tags_of(session, bundle)

    assert [(tag.code, tag.state, tag.replaced_by) for tag in tags] == [
        (new.tag.code, "bound", None),
        (old.code, "lost", new.tag.code),
    ]
