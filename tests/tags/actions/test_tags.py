"""Binding, second tags, and replacing what was lost."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from sqlmodel import Session

from service.bundles.tables import Bundle
from service.lib.clock import FixedClock
from service.lib.codes import is_code
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, Unusable
from service.lib.write import Writer
from service.tags import actions, queries
from service.tags.actions import tags as binding
from service.tags.rules.words import (
    AlreadyTagged,
    MistypedCode,
    NoSecondTag,
    NothingToTag,
    Placement,
    TagKind,
    TagNotInUse,
    TagState,
)
from service.tags.schemas import TagCreate
from service.trees.tables import SourceTree
from tests.builders.tags import make_bundles, make_codes, make_yard, tag_bundles
from tests.infra.statements import Statements


def _code_of(database: Database, table: type, thing_id: object) -> str | None:
    with database.reading() as session:
        return session.get(table, thing_id).code


def test_a_bundle_gets_a_sound_code_and_goes_by_it(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (tag,) = tag_bundles(writer, yard, bundle)

    assert is_code(tag.code)
    assert (tag.kind, tag.thing_id, tag.state, tag.placement) == (
        TagKind.BUNDLE,
        bundle,
        TagState.BOUND,
        Placement.BAG,
    )
    assert _code_of(database, Bundle, bundle) == tag.code


def test_a_tree_is_tagged_too(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (tag,) = writer.write_now(
        actions.add_tags, yard.member, [TagCreate(kind=TagKind.TREE, thing_id=yard.tree_id)]
    )

    assert _code_of(database, SourceTree, yard.tree_id) == tag.code


def test_tagging_twenty_bundles_costs_no_more_statements_than_one(
    writer: Writer, statements: Statements
) -> None:
    yard = make_yard(writer)
    one, many = make_bundles(writer, yard), make_bundles(writer, yard, 20)
    with statements.at_most(5):
        tag_bundles(writer, yard, *one)
    with statements.at_most(5):
        assert len({tag.code for tag in tag_bundles(writer, yard, *many)}) == 20


def test_binding_for_another_stage_takes_two_statements(writer: Writer, statements: Statements) -> None:
    yard = make_yard(writer)
    things = [uuid4() for _ in range(40)]
    with statements.exactly(2):
        bound = writer.write_now(actions.bind_new_tags, yard.member, TagKind.BOX, things)

    assert list(bound) == things
    assert len(set(bound.values())) == 40


def test_codes_that_are_taken_are_made_anew(writer: Writer, monkeypatch: pytest.MonkeyPatch) -> None:
    yard = make_yard(writer)
    (bundle, other) = make_bundles(writer, yard, 2)
    taken, free = make_codes(2)
    monkeypatch.setattr(binding, "make_code", lambda: taken)
    tag_bundles(writer, yard, bundle)
    drawn = iter([taken, taken, free])
    monkeypatch.setattr(binding, "make_code", lambda: next(drawn))

    assert tag_bundles(writer, yard, other)[0].code == free


def test_a_bundle_may_have_a_second_tag_on_the_wood_and_both_lead_to_it(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (bag,) = tag_bundles(writer, yard, bundle)
    (wood,) = tag_bundles(writer, yard, bundle, placement=Placement.WOOD)
    with database.reading() as session:
        found = [queries.find_tag(session, code) for code in (bag.code, wood.code)]

    assert [(tag.thing_id, tag.placement) for tag in found if tag] == [
        (bundle, Placement.BAG),
        (bundle, Placement.WOOD),
    ]
    assert _code_of(database, Bundle, bundle) == bag.code


def test_both_tags_can_be_asked_for_at_once(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    both = [
        TagCreate(kind=TagKind.BUNDLE, thing_id=bundle, placement=p) for p in (Placement.WOOD, Placement.BAG)
    ]
    wood, bag = writer.write_now(actions.add_tags, yard.member, both)

    assert _code_of(database, Bundle, bundle) == bag.code != wood.code


def test_a_tag_on_the_wood_alone_names_the_bundle_until_the_bag_gets_one(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (wood,) = tag_bundles(writer, yard, bundle, placement=Placement.WOOD)
    assert _code_of(database, Bundle, bundle) == wood.code
    (bag,) = tag_bundles(writer, yard, bundle)

    assert _code_of(database, Bundle, bundle) == bag.code


@pytest.mark.parametrize("placement", Placement)
def test_a_bundle_that_has_its_tag_gets_no_other_in_the_same_place(
    writer: Writer, placement: Placement
) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (tag,) = tag_bundles(writer, yard, bundle, placement=placement)

    with pytest.raises(AlreadyTagged) as caught:
        tag_bundles(writer, yard, bundle, placement=placement)
    assert caught.value.facts == {"code": tag.code}


def test_only_a_bundle_has_a_second_tag(writer: Writer) -> None:
    yard = make_yard(writer)

    with pytest.raises(NoSecondTag):
        writer.write_now(
            actions.add_tags,
            yard.member,
            [TagCreate(kind=TagKind.TREE, thing_id=yard.tree_id, placement=Placement.WOOD)],
        )


def test_what_does_not_exist_is_not_tagged_and_nothing_is_written(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)

    with pytest.raises(NothingToTag):
        tag_bundles(writer, yard, bundle, uuid4())
    assert _code_of(database, Bundle, bundle) is None


def test_the_same_tag_twice_in_one_call_is_refused(writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)

    with pytest.raises(Unusable, match="twice"):
        tag_bundles(writer, yard, bundle, bundle)


def test_a_lost_tag_is_replaced_and_its_old_code_still_resolves_and_says_so(
    database: Database, writer: Writer
) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (old,) = tag_bundles(writer, yard, bundle)
    replaced = writer.write_now(actions.replace_tag, yard.member, old.code.lower())
    with database.reading() as session:
        found = queries.get_typed_tag(session, old.code)

    assert replaced.lost == old.code != replaced.tag.code
    assert (found.thing_id, found.state, found.replaced_by) == (bundle, TagState.LOST, replaced.tag.code)
    assert _code_of(database, Bundle, bundle) == replaced.tag.code


def test_a_tag_lost_twice_leads_straight_to_the_one_in_use(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (first,) = tag_bundles(writer, yard, bundle)
    second = writer.write_now(actions.replace_tag, yard.member, first.code)
    third = writer.write_now(actions.replace_tag, yard.member, second.tag.code)
    with database.reading() as session:
        tags = queries.facts_for_things(session, [bundle])[bundle]

    assert {tag.code: tag.replaced_by for tag in tags} == {
        first.code: third.tag.code, second.tag.code: third.tag.code, third.tag.code: None,
    }  # fmt: skip


def test_a_lost_tag_is_never_bound_or_replaced_again(writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (old,) = tag_bundles(writer, yard, bundle)
    new = writer.write_now(actions.replace_tag, yard.member, old.code)

    with pytest.raises(TagNotInUse) as caught:
        writer.write_now(actions.replace_tag, yard.member, old.code)
    assert caught.value.facts == {"code": old.code, "replaced_by": new.tag.code}


def test_replacing_the_tag_on_the_wood_leaves_the_bundle_its_name(database: Database, writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (bag,) = tag_bundles(writer, yard, bundle)
    (wood,) = tag_bundles(writer, yard, bundle, placement=Placement.WOOD)
    new = writer.write_now(actions.replace_tag, yard.member, wood.code)

    assert new.tag.placement is Placement.WOOD
    assert _code_of(database, Bundle, bundle) == bag.code


def test_a_replacement_costs_at_most_seven_statements(writer: Writer, statements: Statements) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (tag,) = tag_bundles(writer, yard, bundle)
    with statements.at_most(7):
        writer.write_now(actions.replace_tag, yard.member, tag.code)


def test_of_eight_who_replace_the_same_tag_at_once_one_does(database: Database, clock: FixedClock) -> None:
    writer = Writer(database, clock)  # not started: each caller has a transaction of its own
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    (tag,) = tag_bundles(writer, yard, bundle)

    def replace(_: int) -> str:
        try:
            return writer.write_now(actions.replace_tag, yard.member, tag.code).tag.code
        except TagNotInUse:
            return "refused"

    with ThreadPoolExecutor(8) as pool:
        answers = sorted(pool.map(replace, range(8)))
    with database.reading() as session:
        tags = queries.facts_for_things(session, [bundle])[bundle]

    assert answers.count("refused") == 7
    assert [t.code for t in tags if t.state is TagState.BOUND] == [a for a in answers if a != "refused"]
    assert len(tags) == 2


def test_of_eight_who_tag_the_same_bundle_at_once_one_does(database: Database, clock: FixedClock) -> None:
    writer = Writer(database, clock)
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)

    def tag(_: int) -> str:
        try:
            return tag_bundles(writer, yard, bundle)[0].code
        except (AlreadyTagged, AlreadyKnown):
            return "refused"

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(tag, range(8)))

    assert answers.count("refused") == 7
    assert _code_of(database, Bundle, bundle) in answers


def test_a_mistyped_code_replaces_nothing(writer: Writer) -> None:
    yard = make_yard(writer)

    with pytest.raises(MistypedCode):
        writer.write_now(actions.replace_tag, yard.member, "00000000")


def test_tagging_notes_the_bundles_whose_answer_changes(writer: Writer) -> None:
    yard = make_yard(writer)
    (bundle,) = make_bundles(writer, yard)
    noted: list[frozenset[object]] = []

    def hook(_session: Session, touched: frozenset[object]) -> None:
        noted.append(touched)

    writer.hooks.append(hook)
    (tag,) = tag_bundles(writer, yard, bundle)
    writer.write_now(actions.replace_tag, yard.member, tag.code)

    assert noted == [frozenset({bundle})] * 2
