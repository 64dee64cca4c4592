"""Blank tags hung on something at last, or given up: of two who take the same one, one has it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from sqlalchemy import Uuid, case, literal, update
from sqlmodel import Session, col

from service.lib.write import recorded_at, touch_bundles
from service.members.rules import Member
from service.tags import queries
from service.tags.actions.tags import tags_in_use, tell_things
from service.tags.queries import TagFacts
from service.tags.rules.blanks import check_can_bind, check_can_give_up, check_named_once
from service.tags.rules.words import (
    NothingToTag,
    Placement,
    TagKind,
    TagState,
    check_can_tag,
    names_thing,
)
from service.tags.schemas import BlanksGivenUp, TagBinding, TagRead
from service.tags.tables import Tag


@dataclass(frozen=True)
class Hung:
    """A blank as somebody read it, and what it was hung on."""

    typed: str
    thing_id: UUID


def bind_blank(session: Session, member: Member, code: str, body: TagBinding) -> TagRead:
    """Hang a blank on a thing, for good; on a bundle it may be a second tag, on the bag or on the wood."""
    things = [(body.kind, body.thing_id)]
    if body.thing_id not in queries.label_words(session, things, today=recorded_at(session).date()):
        raise NothingToTag(
            f"There is no {body.kind} with this id.", field="thing_id", thing_id=str(body.thing_id)
        )
    there = tags_in_use(queries.facts_for_things(session, [body.thing_id])).get(body.thing_id, [])
    blank = queries.get_typed_tag(session, code)
    _check_blank(session, [blank])
    check_can_tag(body.kind, body.placement, there)
    _hang(session, member, body.kind, body.placement, {blank.code: body.thing_id})
    if names_thing(body.placement, there):
        tell_things(session, body.kind, {body.thing_id: blank.code})
    return replace(
        blank, kind=body.kind, thing_id=body.thing_id, state=TagState.BOUND, placement=body.placement, made_at=recorded_at(session),
    ).read()  # fmt: skip


def bind_blanks_to_new(
    session: Session, member: Member, kind: TagKind, hung: Sequence[Hung]
) -> dict[UUID, str]:
    """Blanks that were tied to new things; the caller writes each code into its thing. Two statements, however many."""
    if not hung:
        return {}
    blanks = queries.get_typed_tags(session, [each.typed for each in hung], field="code")
    check_named_once([blank.code for blank in blanks])
    _check_blank(session, blanks)
    bound = {each.thing_id: blank.code for each, blank in zip(hung, blanks, strict=True)}
    _hang(session, member, kind, Placement.BAG, {code: thing_id for thing_id, code in bound.items()})
    return bound


def give_up_blanks(session: Session, member: Member, body: BlanksGivenUp) -> list[TagRead]:
    """Blanks that will never be hung on anything, with who says so and when."""
    blanks = queries.get_typed_tags(session, body.codes, field="codes")
    check_named_once([blank.code for blank in blanks])
    hangs = _hangs_on(session, blanks)
    for blank in blanks:
        check_can_give_up(blank.code, blank.state, hangs.get(blank.code, ""))
    state = TagState(body.state.value)
    at = recorded_at(session)
    codes = [blank.code for blank in blanks]
    _change_blanks(session, codes, {"state": state.value, "ended_at": at, "ended_by_id": member.party_id})
    return [replace(blank, state=state, ended_at=at).read() for blank in blanks]


def _hang(
    session: Session, member: Member, kind: TagKind, placement: Placement, bound: dict[str, UUID]
) -> None:
    """Only what is blank still is bound: the database has the last word between two who take the same tag."""
    thing = case(
        *((col(Tag.code) == code, literal(thing_id, Uuid())) for code, thing_id in bound.items()), else_=None
    )
    _change_blanks(
        session,
        list(bound),
        {
            "state": TagState.BOUND.value, "kind": kind.value, "thing_id": thing, "placement": placement.value,
            "made_at": recorded_at(session), "by_party_id": member.party_id,
        },
    )  # fmt: skip
    if kind is TagKind.BUNDLE:
        touch_bundles(session, list(bound.values()))


def _change_blanks(session: Session, codes: Sequence[str], values: dict[str, Any]) -> None:
    changed = session.execute(
        update(Tag)
        .where(col(Tag.code).in_(codes), col(Tag.state) == TagState.BLANK)
        .values(values)
        .returning(col(Tag.code))
        .execution_options(synchronize_session=False)
    ).all()
    if len(changed) < len(codes):
        _check_blank(session, list(queries.facts_for_codes(session, sorted(codes)).values()), but=changed)
        raise AssertionError("a blank that could not be changed")


def _check_blank(session: Session, tags: Sequence[TagFacts], *, but: Sequence[Any] = ()) -> None:
    ours = {row.code for row in but}
    hangs = _hangs_on(session, [tag for tag in tags if tag.code not in ours])
    for tag in tags:
        if tag.code not in ours:
            check_can_bind(tag.code, tag.state, hangs.get(tag.code, ""))


def _hangs_on(session: Session, tags: Sequence[TagFacts]) -> dict[str, str]:
    """What tags hang or hung on, in words, by code; blanks are missing from the answer."""
    things = {(tag.kind, tag.thing_id) for tag in tags if tag.kind and tag.thing_id}
    if not things:
        return {}
    words = queries.label_words(session, things, today=recorded_at(session).date())
    found = {}
    for tag in tags:
        if tag.kind and tag.thing_id:
            said = words.get(tag.thing_id)
            more = f", {said.lead} {said.large}" if said and said.large else ""
            found[tag.code] = f"the {tag.kind} {said.name if said else ''}".strip() + more
    return found
