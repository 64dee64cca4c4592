"""Loggers' files: those that wait, with what they hold, and those that were taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.lib.errors import Problem
from service.lib.logger_files import FileForm
from service.lib.logger_guess import guess_form, several_loggers
from service.lib.paging import Page, Paging, page_of
from service.lib.plain_csv import PlainTable, read_table
from service.lib.readings import merge, no_readings
from service.lib.schemas import FaultyRow
from service.lib.sent_files import Prepared
from service.lib.turns import FILES
from service.storage.queries.loggers import find_logger
from service.storage.queries.readings import kept_days
from service.storage.rules import (
    MOST_NAMED,
    FileState,
    FileTold,
    FormMissing,
    NoSuchFile,
    instant_of,
    notes_of,
    summary_of,
    tell_file,
    unpack_file,
)
from service.storage.rules.reading_files import doubt_of
from service.storage.schemas import FileFormRead, FilePreview, FileRead, FileSummary, Stretch
from service.storage.tables import Logger, ReadingFile


@dataclass(frozen=True)
class FileLooked:
    """A file as a person looks at it, and its readings where it could be read."""

    file: FileRead
    told: FileTold | None = None


def file_summary(file: ReadingFile) -> FileSummary:
    return FileSummary.model_validate({**file.model_dump(exclude={"content"}), "told": file.told or []})


def find_file(session: Session, file_id: UUID, *, lock: bool = False) -> ReadingFile:
    """One file's row; one statement. Raises `NoSuchFile`."""
    statement = select(ReadingFile).where(col(ReadingFile.id) == file_id)
    if lock:
        statement = statement.with_for_update().execution_options(populate_existing=True)
    file = session.execute(statement).scalar_one_or_none()
    if file is None:
        raise NoSuchFile("There is no file under this id.")
    return file


def list_files(session: Session, logger_id: UUID, paging: Paging) -> Page[FileSummary]:
    """The files of a logger, the latest first; three statements. Raises `NoSuchLogger`."""
    find_logger(session, logger_id)
    columns = [
        column for column in ReadingFile.__table__.c if column.name != "content"  # type: ignore[attr-defined]
    ]  # fmt: skip
    statement = select(*columns).where(
        col(ReadingFile.logger_id) == logger_id, col(ReadingFile.state) != FileState.DROPPED
    )
    return page_of(session, statement, [(col(ReadingFile.seq), True)], paging, _listed)


def _listed(row: Any) -> FileSummary:
    names = (name for name in FileSummary.model_fields if name != "told")
    return FileSummary(**{name: getattr(row, name) for name in names}, told=row.told or [])


def look_at_file(session: Session, file_id: UUID, now: datetime, zone: str) -> FileLooked:
    """A file with its columns, the form it is read by, and what it would bring; at most three statements."""
    row = find_file(session, file_id)
    summary = file_summary(row)
    if row.state != FileState.WAITING or row.content is None:
        return FileLooked(FileRead(**summary.model_dump()))
    with FILES.turn():
        raw = unpack_file(row.content)
        try:
            table = read_table(raw)
        except Problem as problem:
            return FileLooked(
                FileRead(**summary.model_dump(), problem=f"{problem.detail} {problem.todo}".strip())
            )
        form, told, why = _read(session, row, raw, table, now)
        guess = form or guess_form(table, zone)
        several = several_loggers(table, guess)
    looked = FileRead(
        **summary.model_dump(), columns=list(table.heading), first_rows=table.rows[:5], form=FileFormRead(**guess.to_json()),
        is_guess=form is None, several=several[1] if several else [], several_column=several[0] if several else "",
        preview=_preview(session, row.logger_id, told) if told else None, problem=why,
    )  # fmt: skip
    return FileLooked(looked, told)


def _read(
    session: Session, row: ReadingFile, raw: bytes, table: PlainTable, now: datetime
) -> tuple[FileForm | None, FileTold | None, str]:
    """By the form that was told for this file, or else for this logger where it fits."""
    form = FileForm(**row.form) if row.form else remembered_form(session, row.logger_id, table)
    if form is None:
        return None, None, ""
    try:
        return form, tell_file(raw, form, now, table), ""
    except Problem as problem:
        return form, None, problem.detail


def remembered_form(session: Session, logger_id: UUID, table: PlainTable) -> FileForm | None:
    """How this logger's files were read before, where this one has the same columns; one statement."""
    told = session.execute(
        select(col(Logger.file_form)).where(col(Logger.id) == logger_id)
    ).scalar_one_or_none()
    form = FileForm(**told) if told else None
    return form if form is not None and form.fits(table) else None


def _preview(session: Session, logger_id: UUID, told: FileTold) -> FilePreview:
    new = same = 0
    differing: list[FaultyRow] = [FaultyRow(line=line, what=what) for line, what in told.differing_within]
    days = dict(told.readings.days())
    stands = kept_days(session, logger_id, days)
    count = len(differing)
    for day, part in days.items():
        old = stands[day].readings if day in stands else no_readings()
        merged = merge(old, part)
        new, same, count = new + merged.added, same + merged.same, count + len(merged.differing)
        for place in merged.differing[: MOST_NAMED - len(differing)]:
            line = told.line_of.get(int(part.at[place]), 0)
            differing.append(FaultyRow(line=line, what="another value for this time is in the record"))
    return FilePreview(
        rows=told.report.rows, readings=len(told.readings), new=new, same=same + told.same_within, differing=differing[:MOST_NAMED],
        differing_count=count, without_value=told.report.without_value, of_others=told.report.of_others,
        faulty=[FaultyRow(line=line, what=what) for line, what in told.report.faulty[:MOST_NAMED]], faulty_count=told.report.faulty_count,
        gaps=[Stretch(from_at=instant_of(begin), until_at=instant_of(end), what="nothing was measured") for begin, end in told.gaps],
        stuck=[
            Stretch(from_at=instant_of(one.begin), until_at=instant_of(one.end), what=f"{one.readings} readings of {one.temp_c:g} °C")
            for one in told.stuck
        ],
        copied=[
            Stretch(from_at=instant_of(begin), until_at=instant_of(end), what=f"as {'a day' if days == 1 else 'a week'} before")
            for days, (begin, end) in told.copied
        ],
        notes=notes_of(told), doubt=doubt_of(told), **summary_of(told.readings),
    )  # fmt: skip


def file_taken_before(session: Session, logger_id: UUID, sha256: str) -> datetime | None:
    """When the very same file of a logger was taken; one statement."""
    return session.execute(
        select(col(ReadingFile.settled_at))
        .where(
            col(ReadingFile.logger_id) == logger_id, col(ReadingFile.sha256) == sha256, col(ReadingFile.state) == FileState.TAKEN
        )
        .order_by(col(ReadingFile.seq).desc())
        .limit(1)
    ).scalar_one_or_none()  # fmt: skip


def later_files_with_same(session: Session, file: ReadingFile) -> list[str]:
    """Names of later files that brought some of the same readings again, and so did not keep them; one statement."""
    rows = session.execute(
        select(col(ReadingFile.name), col(ReadingFile.settled_at)).where(
            col(ReadingFile.logger_id) == file.logger_id, col(ReadingFile.seq) > file.seq, col(ReadingFile.state) == FileState.TAKEN,
            col(ReadingFile.same) > 0, col(ReadingFile.first_at) <= file.last_at, col(ReadingFile.last_at) >= file.first_at,
        )
    )  # fmt: skip
    return [row.name or "a file without a name" for row in rows]


def prepare_file(session: Session, file_id: UUID, now: datetime) -> Prepared[FileTold | None]:
    """A waiting file read once more by its form; at most two statements. Raises what is wrong with it."""
    row = find_file(session, file_id)
    if row.state != FileState.WAITING:
        return Prepared(None)
    with FILES.turn():
        raw = unpack_file(row.content or b"")
        table = read_table(raw)
        form = FileForm(**row.form) if row.form else remembered_form(session, row.logger_id, table)
        if form is None:
            raise FormMissing("It is a new kind of file for this logger.", field="temp")
        return Prepared(tell_file(raw, form, now, table))
