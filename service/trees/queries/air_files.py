"""Files with days of air: those that wait, with what they hold, and what became of the others."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.clock import day_words, minute_words
from service.lib.errors import Problem
from service.lib.plain_csv import PlainTable, read_table
from service.lib.schemas import FaultyRow
from service.lib.sent_files import FileState, FormMissing, Prepared, unpack_file
from service.lib.temperatures import WhereDiffering
from service.lib.turns import FILES
from service.trees.queries.air_hours import Beside, look_beside
from service.trees.rules.air import air_words, last_over
from service.trees.rules.air_files import AirForm, AirTold, NoSuchAirFile, doubt_of_air, guess_air, tell_air
from service.trees.schemas.air_files import AirFileRead, AirFileSummary, AirFormSet, AirPreview
from service.trees.tables import AirFile

MOST_NAMED = 20
FIRST_ROWS = 5


def find_air_file(session: Session, file_id: UUID, *, lock: bool = False) -> AirFile:
    """One file's row; one statement. Raises `NoSuchAirFile`."""
    statement = select(AirFile).where(col(AirFile.id) == file_id)
    if lock:
        statement = statement.with_for_update().execution_options(populate_existing=True)
    file = session.execute(statement).scalar_one_or_none()
    if file is None:
        raise NoSuchAirFile("There is no file under this id.")
    return file


def air_file_summary(file: AirFile) -> AirFileSummary:
    return AirFileSummary.model_validate({**file.model_dump(exclude={"content"}), "told": file.told or []})


def list_air_files(session: Session, site_id: UUID, most: int) -> list[AirFileSummary]:
    """The files of a site that wait or were taken, the latest first; one statement."""
    columns = [column for column in AirFile.__table__.c if column.name != "content"]  # type: ignore[attr-defined]
    rows = session.execute(
        select(*columns)
        .where(col(AirFile.site_id) == site_id, col(AirFile.state) != FileState.DROPPED)
        .order_by(col(AirFile.sent_at).desc())
        .limit(most)
    )
    names = [name for name in AirFileSummary.model_fields if name != "told"]
    return [
        AirFileSummary(**{name: getattr(row, name) for name in names}, told=row.told or []) for row in rows
    ]


def look_at_air_file(session: Session, file_id: UUID, now: datetime, zone: str) -> AirFileRead:
    """A file with its columns, the form it is read by, and what it would bring; at most four statements."""
    row = find_air_file(session, file_id)
    summary = air_file_summary(row)
    if row.state != FileState.WAITING or row.content is None:
        return AirFileRead(**summary.model_dump(), later=later_air_files_with_same(session, row))
    with FILES.turn():
        table = read_table(unpack_file(row.content))
        problem: Problem | None
        form, told, problem = air_form_of(session, row, table), None, None
        if form is not None:
            try:
                told = tell_air(table, form, now, zone)
            except Problem as wrong:
                problem = wrong
    return AirFileRead(
        **summary.model_dump(), columns=list(table.heading), first_rows=table.rows[:FIRST_ROWS],
        form=AirFormSet(**(form or guess_air(table)).to_json()), is_guess=form is None,
        preview=_preview(session, row.site_id, told, (last_over(now, zone), zone)) if told else None,
        problem=problem.detail if problem else "", problem_field=(problem.field or "") if problem else "",
    )  # fmt: skip


def air_form_of(session: Session, row: AirFile, table: PlainTable) -> AirForm | None:
    """By what was told for this file, or else for the last one of this site where that fits; at most one statement."""
    told = row.form
    if told is None:
        told = session.execute(
            select(col(AirFile.form))
            .where(col(AirFile.site_id) == row.site_id, col(AirFile.state) == FileState.TAKEN)
            .order_by(col(AirFile.sent_at).desc())
            .limit(1)
        ).scalar_one_or_none()
    form = AirForm(**told) if told else None
    return form if form is not None and set(form.columns()) <= set(table.heading) else None


def _preview(session: Session, site_id: UUID, told: AirTold, club_days: tuple[date, str]) -> AirPreview:
    beside = look_beside(session, site_id, told, club_days, WhereDiffering.REFUSE)
    report, days = told.report, beside.days
    air, new = days.values(), beside.new
    return AirPreview(
        rows=report.rows, days=len(days), by_hour=sum(day in beside.hours for day in days), new=new,
        same=max(0, len(days) - new - len(beside.differing)),
        differing=[
            FaultyRow(line=told.line_of.get(day, 1), what=_differing(beside, day)) for day in beside.differing[:MOST_NAMED]
        ],
        differing_count=len(beside.differing), without_value=report.without_value, of_others=report.of_others,
        faulty=[FaultyRow(line=line, what=what) for line, what in report.faulty[:MOST_NAMED]], faulty_count=report.faulty_count,
        first_on=min(days, default=None), last_on=max(days, default=None), lowest_c=min((low for low, _ in air), default=None),
        highest_c=max((high for _, high in air), default=None), is_kept=bool(days) or len(told.readings) > 0,
        notes=told.notes, unlikely=told.unlikely, doubt=doubt_of_air(told),
    )  # fmt: skip


def _differing(beside: Beside, day: date) -> str:
    if day in beside.clashing:
        return f"{day_words(day)} stands with other temperatures at the same times"
    return (
        f"{day_words(day)} stands with {air_words(beside.stood[day][:2])}, not {air_words(beside.days[day])}"
    )


def later_air_files_with_same(session: Session, file: AirFile) -> list[str]:
    """Later files in whose stretch some of a taken file's days stood already, so that they left them, in words; at most one statement."""
    if file.state != FileState.TAKEN or file.settled_at is None:
        return []
    rows = session.execute(
        select(col(AirFile.name), col(AirFile.settled_at))
        .where(
            col(AirFile.site_id) == file.site_id, col(AirFile.settled_at) > file.settled_at, col(AirFile.state) == FileState.TAKEN,
            col(AirFile.same) + col(AirFile.passed_over) > 0, col(AirFile.first_on) <= file.last_on, col(AirFile.last_on) >= file.first_on,
        )
        .order_by(col(AirFile.settled_at))
    )  # fmt: skip
    return [f"{row.name or 'a file without a name'}, taken on {minute_words(row.settled_at)}" for row in rows]


def prepare_air_file(session: Session, file_id: UUID, now: datetime, zone: str) -> Prepared[AirTold | None]:
    """A waiting file read once more by its form; at most two statements. Raises what is wrong with it."""
    row = find_air_file(session, file_id)
    if row.state != FileState.WAITING or row.content is None:
        return Prepared(None)
    with FILES.turn():
        table = read_table(unpack_file(row.content))
        form = air_form_of(session, row, table)
        if form is None:
            raise FormMissing("Nobody said yet how this file is to be read.", field="day")
        return Prepared(tell_air(table, form, now, zone))
