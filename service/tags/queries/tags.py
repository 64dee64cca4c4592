"""Which tag is which: a code looked up, a mistyped one told from an unknown one, labels still to be printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Row, select
from sqlmodel import Session, col

from service.lib.clock import local_day
from service.lib.codes import group_code, parse_code
from service.lib.paging import Page, Paging, page_of
from service.tags.queries.sheets import accepted_hosts
from service.tags.queries.words import club_on_labels, label_words
from service.tags.rules.addresses import split_scanned
from service.tags.rules.labels import LabelWords
from service.tags.rules.words import ForeignTag, Placement, TagKind, TagState, UnknownTag, explain_typed
from service.tags.schemas import TagRead, WaitingLabel
from service.tags.tables import Tag

_COLUMNS = (
    col(Tag.code), col(Tag.kind), col(Tag.thing_id), col(Tag.state), col(Tag.placement), col(Tag.replaced_by),
    col(Tag.printed_at), col(Tag.made_at), col(Tag.ended_at),
)  # fmt: skip


@dataclass(frozen=True)
class TagFacts:
    """A tag as other stages need it. `replaced_by` names the tag in use where this one was lost."""

    code: str
    kind: TagKind | None
    thing_id: UUID | None
    state: TagState
    placement: Placement
    replaced_by: str | None
    printed_at: datetime | None
    made_at: datetime
    ended_at: datetime | None = None

    def read(self) -> TagRead:
        return TagRead.model_validate(self)


def find_tag(session: Session, code: str) -> TagFacts | None:
    """The tag with exactly this code. One statement."""
    row = session.execute(select(*_COLUMNS).where(col(Tag.code) == code)).first()
    return None if row is None else _facts(row)


def get_typed_tag(session: Session, typed: str) -> TagFacts:
    """The tag behind a typed or scanned text, host and all.

    One statement for a tag of the club. Raises `MistypedCode`, with a correction where exactly one known code is
    one slip away, or `UnknownTag`.
    """
    typed_code = parse_code(split_scanned(typed)[1])
    if typed_code.code is None:
        if is_foreign(session, typed):
            raise unknown_tag(session, typed, typed_code.signs, field="code")
        raise explain_typed(typed_code, match_known(session, typed_code.suggestions()))
    found = find_tag(session, typed_code.code)
    if found is None:
        raise unknown_tag(session, typed, typed_code.code, field="code")
    return found


def is_foreign(session: Session, typed: str) -> bool:
    """Whether what was scanned names an address that is none of this club's. At most one statement."""
    host = split_scanned(typed)[0]
    return bool(host) and host not in accepted_hosts(session)


def unknown_tag(session: Session, typed: str, code: str, *, field: str) -> UnknownTag:
    """What to say where no tag carries a code: whose it is, where what was scanned names another address. At most one statement."""
    if is_foreign(session, typed):
        host = split_scanned(typed)[0]
        return ForeignTag(
            f"It leads to {host.lower()}, which is no address of this club.",
            field=field,
            code=code,
            host=host,
        )
    return UnknownTag(f"No tag carries the code {group_code(code)}.", field=field, code=code)


def get_typed_tags(session: Session, typed: Sequence[str], *, field: str) -> list[TagFacts]:
    """The tags behind several typed or scanned texts, in their order. One statement, one more for a mistyped one."""
    read = [parse_code(split_scanned(text)[1]) for text in typed]
    for text, one in zip(typed, read, strict=True):
        if one.code is None:
            known = match_known(session, one.suggestions())
            raise explain_typed(one, known, field=field, which=text if len(typed) > 1 else "")
    found = facts_for_codes(session, sorted({one.signs for one in read}))
    for text, one in zip(typed, read, strict=True):
        if one.signs not in found:
            raise unknown_tag(session, text, one.signs, field=field)
    return [found[one.signs] for one in read]


def get_tag(session: Session, typed: str) -> TagRead:
    return get_typed_tag(session, typed).read()


def match_known(session: Session, codes: Sequence[str]) -> list[str]:
    """Those of the codes that tags of this club carry."""
    if not codes:
        return []
    return list(
        session.execute(
            select(col(Tag.code)).where(col(Tag.code).in_(codes)).order_by(col(Tag.code))
        ).scalars()
    )


def facts_for_codes(session: Session, codes: Sequence[str]) -> dict[str, TagFacts]:
    if not codes:
        return {}
    rows = session.execute(select(*_COLUMNS).where(col(Tag.code).in_(codes)))
    return {row.code: _facts(row) for row in rows}


def facts_for_things(session: Session, thing_ids: Sequence[UUID]) -> dict[UUID, list[TagFacts]]:
    """All tags that things have or had, the latest first."""
    if not thing_ids:
        return {}
    rows = session.execute(
        select(*_COLUMNS)
        .where(col(Tag.thing_id).in_(thing_ids))
        .order_by(col(Tag.made_at).desc(), col(Tag.code))
    )
    found: dict[UUID, list[TagFacts]] = {}
    for row in rows:
        found.setdefault(row.thing_id, []).append(_facts(row))
    return found


def list_tags_of(session: Session, thing_id: UUID) -> list[TagRead]:
    """The tags one thing has or had, the latest first."""
    return [facts.read() for facts in facts_for_things(session, [thing_id]).get(thing_id, [])]


def list_waiting_labels(
    session: Session, paging: Paging, *, now: datetime, kind: TagKind | None = None
) -> Page[WaitingLabel]:
    """Tags in use whose labels were never printed, the oldest first. Three statements and one for each kind among them."""
    today = local_day(now, club_on_labels(session).zone)
    statement = select(*_COLUMNS).where(col(Tag.state) == TagState.BOUND, col(Tag.printed_at).is_(None))
    if kind is not None:
        statement = statement.where(col(Tag.kind) == kind)
    page = page_of(session, statement, [(col(Tag.made_at), False), (col(Tag.code), False)], paging, _facts)
    words = label_words(
        session, [(f.kind, f.thing_id) for f in page.items if f.kind and f.thing_id], today=today
    )
    return Page(items=[_waiting(facts, words) for facts in page.items], next=page.next, count=page.count)


def _waiting(facts: TagFacts, words: dict[UUID, LabelWords]) -> WaitingLabel:
    assert facts.kind is not None
    assert facts.thing_id is not None
    said = words.get(facts.thing_id) or LabelWords(heading=facts.kind.capitalize(), name="")
    return WaitingLabel(
        code=facts.code, kind=facts.kind, thing_id=facts.thing_id, placement=facts.placement,
        heading=said.heading, name=said.name, made_at=facts.made_at,
    )  # fmt: skip


def _facts(row: Row[Any]) -> TagFacts:
    return TagFacts(
        row.code, TagKind(row.kind) if row.kind else None, row.thing_id, TagState(row.state), Placement(row.placement),
        row.replaced_by, row.printed_at, row.made_at, row.ended_at,
    )  # fmt: skip
