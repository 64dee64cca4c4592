"""Binding codes to things, a second tag for a bundle, and replacing what was lost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from uuid import UUID

from sqlalchemy import or_, update
from sqlmodel import Session, col

from service.bundles import actions as bundle_actions
from service.lib.codes import group_code, make_code
from service.lib.errors import Unusable
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import Member
from service.tags import queries
from service.tags.queries import TagFacts
from service.tags.queries.words import WordsFor
from service.tags.rules.words import (
    NothingToTag,
    Placement,
    TagInUse,
    TagKind,
    TagNotInUse,
    TagState,
    check_can_tag,
    check_in_use,
    names_thing,
)
from service.tags.schemas import TagCreate, TagRead, TagReplaced
from service.tags.tables import Tag
from service.trees import actions as tree_actions

SetCodes = Callable[[Session, dict[UUID, str]], None]


def supply_kind(kind: TagKind, *, words: WordsFor, set_codes: SetCodes) -> None:
    """At start-up: how a later stage's things get the words of their labels, and are told the code they go by."""
    queries.supply_words(kind, words)
    _SET_CODES[kind] = set_codes


def bind_new_tags(
    session: Session,
    member: Member,
    kind: TagKind,
    thing_ids: Sequence[UUID],
    placement: Placement = Placement.BAG,
) -> dict[UUID, str]:
    """New codes bound to new things; the caller writes each into its thing. Two statements, however many."""
    codes = new_codes(session, len(thing_ids))
    bound = dict(zip(thing_ids, codes, strict=True))
    _bind(session, member, [(code, kind, thing_id, placement) for thing_id, code in bound.items()])
    return bound


def add_tags(session: Session, member: Member, body: list[TagCreate]) -> list[TagRead]:
    """Tags for things that have none, and second tags for bundles."""
    wanted = {(item.thing_id, item.placement): item for item in body}
    if len(wanted) != len(body):
        raise Unusable("The same tag is asked for twice.", field="thing_id")
    in_use = tags_in_use(queries.facts_for_things(session, list({item.thing_id for item in body})))
    known = queries.label_words(
        session, [(item.kind, item.thing_id) for item in body], today=recorded_at(session).date()
    )
    for item in body:
        if item.thing_id not in known:
            raise NothingToTag(
                f"There is no {item.kind} with this id.", field="thing_id", thing_id=str(item.thing_id)
            )
        check_can_tag(item.kind, item.placement, in_use.get(item.thing_id, []))
    codes = new_codes(session, len(body))
    _bind(
        session,
        member,
        [(code, item.kind, item.thing_id, item.placement) for code, item in zip(codes, body, strict=True)],
    )
    asked = {item.thing_id for item in body if item.placement is Placement.BAG}
    for kind in TagKind:
        naming = {
            item.thing_id: code
            for code, item in zip(codes, body, strict=True)
            if item.kind is kind
            and names_thing(item.placement, in_use.get(item.thing_id, []))
            and (item.placement is Placement.BAG or item.thing_id not in asked)
        }
        tell_things(session, kind, naming)
    at = recorded_at(session)
    return [
        TagRead(
            code=code, kind=item.kind, thing_id=item.thing_id, state=TagState.BOUND, placement=item.placement, made_at=at,
        )
        for code, item in zip(codes, body, strict=True)
    ]  # fmt: skip


def replace_tag(session: Session, member: Member, code: str) -> TagReplaced:
    """A new tag for what a lost one named. The old code still resolves and says which replaced it."""
    lost = queries.get_typed_tag(session, code)
    check_in_use(lost.code, lost.state, lost.replaced_by)
    assert lost.kind is not None
    assert lost.thing_id is not None
    others = [
        t
        for t in tags_in_use(queries.facts_for_things(session, [lost.thing_id]))[lost.thing_id]
        if t.code != lost.code
    ]
    (new,) = new_codes(session, 1)
    _mark_lost(session, member, lost.code)
    _bind(session, member, [(new, lost.kind, lost.thing_id, lost.placement)])
    _point_to(session, lost.code, new)
    if names_thing(lost.placement, others):
        tell_things(session, lost.kind, {lost.thing_id: new})
    read = TagRead(
        code=new,
        kind=lost.kind,
        thing_id=lost.thing_id,
        state=TagState.BOUND,
        placement=lost.placement,
        made_at=recorded_at(session),
    )
    return TagReplaced(lost=lost.code, tag=read)


def _mark_lost(session: Session, member: Member, code: str) -> None:
    marked = session.execute(
        update(Tag)
        .where(col(Tag.code) == code, col(Tag.state) == TagState.BOUND)
        .values(state=TagState.LOST, ended_at=recorded_at(session), ended_by_id=member.party_id)
        .returning(col(Tag.code))
        .execution_options(synchronize_session=False)
    ).first()
    if marked is None:
        raise TagNotInUse(f"The tag {group_code(code)} was replaced by somebody else just now.", code=code)


def _point_to(session: Session, lost: str, new: str) -> None:
    """The lost tag, and those lost before it, name the one in use now."""
    session.execute(
        update(Tag)
        .where(or_(col(Tag.code) == lost, col(Tag.replaced_by) == lost))
        .values(replaced_by=new)
        .execution_options(synchronize_session=False)
    )


def tags_in_use(facts: dict[UUID, list[TagFacts]]) -> dict[UUID, list[TagInUse]]:
    return {
        thing_id: [TagInUse(tag.code, tag.placement) for tag in tags if tag.state is TagState.BOUND]
        for thing_id, tags in facts.items()
    }


def new_codes(session: Session, count: int) -> list[str]:
    """Codes that no tag carries."""
    codes: set[str] = set()
    while len(codes) < count:
        made = {make_code() for _ in range(count - len(codes))}
        codes |= made - set(queries.match_known(session, sorted(made)))
    return sorted(codes)


def _bind(session: Session, member: Member, tags: Sequence[tuple[str, TagKind, UUID, Placement]]) -> None:
    at = recorded_at(session)
    rows = [
        {
            "code": code, "kind": kind.value, "thing_id": thing_id, "state": TagState.BOUND.value, "placement": placement.value,
            "made_at": at, "by_party_id": member.party_id,
        }
        for code, kind, thing_id, placement in tags
    ]  # fmt: skip
    insert_rows(session, Tag, rows)
    touch_bundles(session, [thing_id for _, kind, thing_id, _ in tags if kind is TagKind.BUNDLE])


def tell_things(session: Session, kind: TagKind, codes: dict[UUID, str]) -> None:
    if codes and kind in _SET_CODES:
        _SET_CODES[kind](session, codes)


_SET_CODES: dict[TagKind, SetCodes] = {
    TagKind.BUNDLE: bundle_actions.set_codes,
    TagKind.TREE: tree_actions.set_codes,
}
