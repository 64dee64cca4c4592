"""Lists that were sent: each with what it would bring, what it asks, and a report of its rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any
from uuid import UUID

from pydantic import ValidationError
from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.clock import local_day
from service.lib.errors import Problem
from service.lib.paging import Page, Paging, page_of
from service.lib.sent_files import Prepared
from service.lib.tabular import Choice, Row, Table, read_table
from service.lib.turns import Turns
from service.lists.queries.boxes import read_boxes
from service.lists.queries.grafts import read_graft
from service.lists.queries.known import Known, read_known, read_spellings, read_wood_known
from service.lists.queries.matching import LONG_ID, Matcher
from service.lists.queries.notices import area_notices, table_notices
from service.lists.queries.people import read_person
from service.lists.queries.planning import Around, Columns, Plan, RowReader, Told, add_new, read_rows
from service.lists.queries.trees import read_tree
from service.lists.queries.wood import read_wood
from service.lists.rules import (
    STAYS_IN_THE_LEDGER,
    DayOrder,
    ListSort,
    ListState,
    NoSuchList,
    check_columns,
    fields_of,
    guess_columns,
    order_of,
    unpack_list,
)
from service.lists.schemas import ListColumn, ListFileRead, ListFileSummary, ListFormSet
from service.lists.tables import ListFile
from service.members import queries as members
from service.members.rules import Member

A_LIST = "a list"  # by which words a repeated request knows what was read for it
MOST_SHOWN = 40  # names
MOST_LOOKED_AT = 20  # lists of former times
# A file of twenty megabytes is many times that once it is open.
_TURNS = Turns(at_once=2, most_waiting=8, words="Too many lists are being read at this moment.")
READERS: Mapping[ListSort, RowReader] = {
    ListSort.TREES: read_tree,
    ListSort.PEOPLE: read_person,
    ListSort.WOOD: read_wood,
    ListSort.GRAFTS: read_graft,
}


@dataclass(frozen=True)
class ListPrepared:
    """A list read as it is to be taken: at which version, what it would bring, and how much it still asks."""

    version: int
    plan: Plan | None = None  # of one that waits
    open_questions: int = 0


@dataclass(frozen=True)
class ListCounted:
    """A list read once through as a form says, before that is written down."""

    version: int
    rows: int


def count_rows(raw: bytes) -> tuple[int, list[str]]:
    """How many rows a file has, and its headings. Raises what is wrong with it."""
    with _TURNS.turn():
        table = read_table(raw)
        return sum(1 for _ in table.rows), list(table.header)


@dataclass(frozen=True)
class ReadBefore:
    """How a list of the same headings was read, tried on another file: what was told of it, and the rows it has so."""

    name: str
    sent_at: datetime
    form: dict[str, Any] | None
    answers: dict[str, str]
    rows: int


def read_before(session: Session, sort: ListSort, raw: bytes, header: Sequence[str]) -> ReadBefore | None:
    """The newest list of the same sort and headings that was told how to read it, or answered, where this file can be
    read so too; one statement.
    """
    like = _read_like(session, sort, header)
    if like is None:
        return None
    try:
        with _TURNS.turn():
            table, _ = table_of(sort, raw, ListFormSet.model_validate(like.form or {}))
            rows = sum(1 for _ in table.rows)
    except (Problem, ValidationError):
        return None  # another sheet, say, which this file has not
    return ReadBefore(like.name, like.sent_at, like.form, like.answers or {}, rows)


def _read_like(session: Session, sort: ListSort, header: Sequence[str]) -> Any:
    columns = (ListFile.name, ListFile.sent_at, ListFile.form, ListFile.answers, ListFile.header)
    told = col(ListFile.form).is_not(None) | col(ListFile.answers).is_not(None)
    rows = session.execute(
        select(*columns)  # type: ignore[call-overload]
        .where(col(ListFile.sort) == sort.value, col(ListFile.header).is_not(None), told)
        .order_by(col(ListFile.sent_at).desc(), col(ListFile.id))
        .limit(MOST_LOOKED_AT)
    )
    return next((row for row in rows if row.header == list(header)), None)


def _still(form: ListFormSet, known: Known) -> ListFormSet:
    """A form without what is not in the record any more."""
    gone = {
        name: None
        for name, of in (("kind_id", known.kinds), ("site_id", known.words), ("area_id", known.words))
        if getattr(form, name) not in (None, *of)
    }
    return form.model_copy(update=gone)


def _still_there(answers: Mapping[str, str], known: Known) -> dict[str, str]:
    """Answers but those that name what is not in the record any more."""
    there = {str(one) for one in (*known.words, *known.cultivars)}
    return {
        key: reply
        for key, reply in answers.items()
        if reply and (len(reply) != LONG_ID or key.startswith(("name:", "site:")) or reply in there)
    }


def read_form(session: Session, list_id: UUID, form: ListFormSet) -> Prepared[ListCounted]:
    """A waiting list read as a form says. Raises what is wrong with the file or with its columns; one statement."""
    row = find_list(session, list_id)
    if row.state != ListState.WAITING:
        return Prepared(ListCounted(row.version, 0), A_LIST)
    with _TURNS.turn():
        rows = sum(1 for _ in open_table(row, form)[0].rows)
    return Prepared(ListCounted(row.version, rows), A_LIST)


def list_summary(row: ListFile) -> ListFileSummary:
    return ListFileSummary.model_validate({**row.model_dump(exclude={"content"}), "told": row.told or []})


def find_list(session: Session, list_id: UUID, *, lock: bool = False) -> ListFile:
    """One list's row; one statement. Raises `NoSuchList`."""
    statement = select(ListFile).where(col(ListFile.id) == list_id)
    if lock:
        statement = statement.with_for_update().execution_options(populate_existing=True)
    row = session.execute(statement).scalar_one_or_none()
    if row is None:
        raise NoSuchList("There is no list under this id.")
    return row


def taken_before(session: Session, sha256: str) -> datetime | None:
    """When the very same file was taken; None where it never was. One statement."""
    rows = session.execute(
        select(col(ListFile.settled_at))
        .where(col(ListFile.sha256) == sha256, col(ListFile.state) == ListState.TAKEN)
        .order_by(col(ListFile.settled_at).desc())
        .limit(1)
    )
    return rows.scalar_one_or_none()


def list_lists(session: Session, paging: Paging) -> Page[ListFileSummary]:
    """Lists, the latest first; two statements."""
    columns = [one for one in ListFile.__table__.c if one.name != "content"]  # type: ignore[attr-defined]
    statement = select(*columns).where(col(ListFile.state) != ListState.DROPPED)
    return page_of(
        session, statement, [(col(ListFile.sent_at), True), (col(ListFile.id), False)], paging, _listed
    )


def _listed(row: Any) -> ListFileSummary:
    return ListFileSummary.model_validate({**row._mapping, "told": row.told or []})  # noqa: SLF001


def open_table(row: ListFile, form: ListFormSet) -> tuple[Table, dict[str, str]]:
    """A waiting list's table, and which column tells what. Raises what is wrong with the file, and `NoSuchColumn`."""
    return table_of(ListSort(row.sort), unpack_list(row.content or b""), form)


def table_of(sort: ListSort, raw: bytes, form: ListFormSet) -> tuple[Table, dict[str, str]]:
    """The same of a file as it came."""
    table = read_table(raw, Choice(form.encoding, form.delimiter, form.sheet, form.header_row))
    if form.columns is None:
        return table, guess_columns(sort, table.header)
    check_columns(sort, form.columns, table.header)
    return table, dict(form.columns)


def prepare_list(
    session: Session, list_id: UUID, now: datetime, tell: Told | None = None
) -> Prepared[ListPrepared]:
    """A waiting list read as it is to be taken."""
    row = find_list(session, list_id)
    if row.state != ListState.WAITING:
        return Prepared(ListPrepared(row.version), A_LIST)
    form = ListFormSet.model_validate(row.form or {})
    with _TURNS.turn():
        table, columns = open_table(row, form)
        around = _read(session, row, form, table, columns, now, tell)
    return Prepared(ListPrepared(row.version, around.plan, len(around.match.asked)), A_LIST)


def _read(
    session: Session, row: ListFile, form: ListFormSet, table: Table, columns: dict[str, str], now: datetime,
    tell: Told | None = None,
) -> Around:  # fmt: skip
    rows = list(table.rows)
    known, answers = read_known(session), row.answers or {}
    if row.sort in STAYS_IN_THE_LEDGER:
        read_wood_known(session, known)
        read_boxes(session, known)
    place = table.header.index(columns["variety"]) if "variety" in columns else -1
    names = {str(cells[place]) for _, cells in rows if 0 <= place < len(cells) and cells[place] is not None}
    chosen = [
        UUID(reply) for key, reply in answers.items() if key.startswith("variety:") and len(reply) == LONG_ID
    ]
    read_spellings(session, known, names, chosen)
    form = _still(form, known)
    match = Matcher(session, row.id, known, _still_there(answers, known))
    zone = members.club(session).zone
    today = local_day(now, zone)
    around = Around(row.id, today, now, zone, form, columns, match, Plan())
    fields = fields_of(ListSort(row.sort))
    orders = {
        name: form.orders.get(name) or _order(match, name, heading, table.header.index(heading), rows)
        for name, heading in columns.items()
        if fields[name].kind == "day"
    }
    read_rows(
        around,
        Columns(fields, columns, table.header, orders, match.left_days),
        rows,
        READERS[ListSort(row.sort)],
        tell,
    )
    add_new(around.plan, match)
    return around


def _order(match: Matcher, name: str, heading: str, place: int, rows: list[Row]) -> DayOrder | None:
    """Whether the day or the month comes first in a column; asked once, where its days do not tell it."""
    order, doubtful = order_of(cells[place] if place < len(cells) else None for _, cells in rows)
    return match.day_order(name, heading, rows[0][0], len(rows)) if doubtful else order


def _made_new(around: Around) -> list[str]:
    people = {one for one, *_ in around.match.new.get("person", {}).values()}
    plan = around.plan
    return [
        *(one.name for one in (*plan.sites, *plan.areas)),
        *(one.name for one in plan.people if one.id in people),
    ]


def look_at_list(
    session: Session, list_id: UUID, now: datetime, tell: Told | None = None, *, looker: Member | None = None
) -> ListFileRead:
    """A list with its columns, its first rows as they are read, what it asks, and what cannot be used."""
    row = find_list(session, list_id)
    summary = list_summary(row).model_dump()
    form = ListFormSet.model_validate(row.form or {})
    if row.state != ListState.WAITING or row.content is None:
        return ListFileRead(**summary)
    with _TURNS.turn():
        try:
            table, columns = open_table(row, form)
            around = _read(session, row, form, table, columns, now, tell)
        except Problem as problem:
            return ListFileRead(**summary, form=form, problem=problem.detail, problem_todo=problem.todo)
    plan, how = around.plan, table.how
    return ListFileRead(
        **summary, form=form, sheets=list(how.sheets), sheet=how.sheet, encoding=how.encoding, delimiter=how.delimiter,
        header_row=how.header_row, header=list(table.header), preview=plan.preview, report=plan.report, counts=plan.counts,
        columns=[
            ListColumn(name=one.name, words=one.words, needed=one.needed, hint=one.hint, heading=columns.get(one.name, ""))
            for one in fields_of(ListSort(row.sort)).values()
        ],
        read_as=dict(islice(around.match.read_as.items(), MOST_SHOWN)), made_new=_made_new(around)[:MOST_SHOWN],
        unread=[heading for heading in table.header if heading not in columns.values()],
        notices=[*table_notices(how.notes), *area_notices(session, plan, looker)],
        questions=around.match.questions(), ready=not around.match.asked and plan.counts.taken > 0,
    )  # fmt: skip
