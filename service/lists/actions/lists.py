"""Lists: sent, told how to read them, answered, taken whole or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import minute_words
from service.lib.sent_files import Prepared
from service.lib.write import insert_rows, recorded_at
from service.lists import queries
from service.lists.actions.grafts import take_grafts
from service.lists.actions.wood import Brought, take_wood
from service.lists.rules import (
    WAITS_DAYS,
    ListChanged,
    ListSort,
    ListState,
    check_can_step,
    check_can_take,
    check_ready,
    digest_of_list,
    pack_list,
    words_of_row,
)
from service.lists.schemas import ListAnswersSet, ListFileSummary, ListFormSet, ListTake
from service.lists.tables import ListFile, ListThing
from service.members.actions import add_areas, add_parties
from service.members.rules import Member
from service.trees.actions import add_sites, enter_trees

MOST_TOLD = 100  # rows that stayed out, in words


@dataclass(frozen=True)
class SentList:
    """A file as it came, read once through; where one like it was read before, as that was read, if it can be."""

    name: str
    raw: bytes
    sha256: str
    rows: int
    header: list[str]
    like: queries.ReadBefore | None


def read_sent(session: Session, sort: ListSort, name: str, raw: bytes) -> Prepared[SentList]:
    """A file before anything of it is kept. Raises what is wrong with it as a table."""
    (rows, header), digest = queries.count_rows(raw), digest_of_list(raw)
    like = queries.read_before(session, sort, raw, header)
    return Prepared(SentList(name, raw, digest, rows, header, like), f"{name} {digest}")


def send_list(
    session: Session, member: Member, list_id: UUID, sort: ListSort, read: Prepared[SentList]
) -> ListFileSummary:
    """Keep a list until somebody has looked at it; nothing of it is in the record yet. The same file twice is told."""
    at, sent = recorded_at(session), read.told
    before = queries.taken_before(session, sent.sha256)
    session.execute(
        update(ListFile)
        .where(
            col(ListFile.state) == ListState.WAITING, col(ListFile.sent_at) < at - timedelta(days=WAITS_DAYS)
        )
        .values(state=ListState.DROPPED, content=None, settled_at=at)
        .execution_options(synchronize_session=False)
    )
    row = ListFile(
        id=list_id, sort=sort.value, name=sent.name, sha256=sent.sha256, content=pack_list(sent.raw), state=ListState.WAITING,
        rows=sent.rows, header=sent.header,
        told=[f"The very same file was taken on {minute_words(before)}."] if before else [], sent_at=at,
        by_party_id=member.party_id, for_party_id=member.acting_for_id,
    )  # fmt: skip
    _read_like_before(row, sent)
    session.add(row)
    session.flush()
    return queries.list_summary(row)


def _read_like_before(row: ListFile, sent: SentList) -> None:
    """A mended file need not be told again what was told of the one before."""
    like = sent.like
    if like is None:
        return
    # Who a person of a list is, was asked of one line of that file.
    answers = {key: reply for key, reply in like.answers.items() if reply and not key.startswith("name:")}
    row.form, row.answers, row.rows = like.form, answers or None, like.rows
    name, when = like.name or "one sent", minute_words(like.sent_at)
    words = (
        f"Read as the list {name} of {when} was; its answers stand where they still fit, and can be changed."
    )
    row.told = [*(row.told or []), words]


def _waiting(session: Session, list_id: UUID, to: ListState) -> ListFile:
    row = queries.find_list(session, list_id, lock=True)
    check_can_step(ListState(row.state), to)
    return row


def set_list_form(
    session: Session, member: Member, list_id: UUID, body: ListFormSet, read: Prepared[queries.ListCounted]
) -> ListFileSummary:
    """Say which sheet and which column tells what; `read` is the file read so."""
    row = _waiting(session, list_id, ListState.TAKEN)
    if read.told.version != row.version:
        raise ListChanged("Somebody read it otherwise just now.")
    row.form, row.rows, row.version = body.model_dump(mode="json"), read.told.rows, row.version + 1
    session.flush()
    return queries.list_summary(row)


def answer_list(session: Session, member: Member, list_id: UUID, body: ListAnswersSet) -> ListFileSummary:
    """Answer what the list asks; other answers stay."""
    row = _waiting(session, list_id, ListState.TAKEN)
    row.answers, row.version = {**(row.answers or {}), **body.answers}, row.version + 1
    session.flush()
    return queries.list_summary(row)


def take_list(
    session: Session, member: Member, list_id: UUID, body: ListTake, prepared: Prepared[queries.ListPrepared]
) -> ListFileSummary:
    """Take a list into the record, whole or not at all."""
    row = _waiting(session, list_id, ListState.TAKEN)
    check_can_take(member.may, ListSort(row.sort))
    told = prepared.told
    plan = told.plan
    if plan is None or told.version != row.version:
        raise ListChanged("Its columns or its answers were changed.")
    counts = plan.counts
    check_ready(told.open_questions, counts.refused, counts.taken, leave_refused=body.leave_refused)
    brought = _bring(session, member, plan, leave_refused=body.leave_refused)
    refused, late = brought.refused, brought.late
    things = [
        {"list_id": list_id, "kind": kind, "thing_id": thing, "line": line}
        for kind, thing, line in brought.made
    ]
    insert_rows(session, ListThing, things)
    row.rows, row.brought, row.left_out = (
        counts.rows,
        counts.taken - len(refused) + len(late),
        counts.refused + len(refused) - len(late),
    )
    out = [f"Line {line} stayed out: {words_of_row(problem)}" for line, problem in sorted(refused.items())]
    out += [
        f"Line {line} was taken after all: the row above that it went against stayed out." for line in late
    ]
    row.told = [*(row.told or []), *plan.remarks, *out[:MOST_TOLD]]
    _settle(session, row, member, ListState.TAKEN)
    return queries.list_summary(row)


def _bring(session: Session, member: Member, plan: queries.Plan, *, leave_refused: bool) -> Brought:
    """Write what a list brings."""
    if plan.wood:
        return take_wood(session, member, plan, leave_refused=leave_refused)
    if plan.grafts:
        return take_grafts(session, member, plan, leave_refused=leave_refused)
    if plan.areas:
        add_areas(session, member, plan.areas)
    if plan.people:
        add_parties(session, member, plan.people)
    if plan.sites:
        add_sites(session, member, plan.sites)
    if plan.trees:
        enter_trees(session, member, plan.trees)
    return Brought(plan.made, {})


def drop_list(session: Session, member: Member, list_id: UUID) -> ListFileSummary:
    """Throw a waiting list away; nothing of it was in the record."""
    row = _waiting(session, list_id, ListState.DROPPED)
    _settle(session, row, member, ListState.DROPPED)
    return queries.list_summary(row)


def _settle(session: Session, row: ListFile, member: Member, state: ListState) -> None:
    row.state, row.content, row.version = state, None, row.version + 1
    row.settled_at, row.settled_by_party_id = recorded_at(session), member.party_id
    session.flush()
