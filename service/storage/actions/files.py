"""Loggers' files: sent, told how to read them, taken whole or not at all, and taken back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import minute_words
from service.lib.counted import counted
from service.lib.plain_csv import check_rows, may_be_too_long
from service.lib.readings import merge, no_readings, without_source
from service.lib.sent_files import Prepared
from service.lib.told_files import left_out
from service.lib.turns import FILES
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.loggers import leave_out_rows
from service.storage.actions.reading import Planned, take_readings, write_days
from service.storage.actions.ringing import ask_for_logger
from service.storage.queries.files import (
    file_summary,
    file_taken_before,
    find_file,
    later_files_with_same,
)
from service.storage.rules import (
    WAITS_DAYS,
    FileQuestions,
    FileSettled,
    FileState,
    FileTold,
    LoggerRetired,
    NothingToTake,
    WhereDiffering,
    check_answers,
    check_can_step,
    digest_of_file,
    instant_of,
    looks_like_two,
    notes_of,
    number_of,
    pack_file,
    summary_of,
)
from service.storage.rules.reading_files import doubt_of
from service.storage.schemas import FileFormSet, FileSend, FileSummary, FileTake, IfStuck, LeftOutCreate
from service.storage.tables import LeftOut, Logger, ReadingFile


def check_rows_of(sent: bytes | str) -> None:
    """Whether a file is short enough to be read, before anything of it is kept. Raises `TooManyLines`."""
    raw = sent.encode() if isinstance(sent, str) else sent
    if may_be_too_long(raw):
        with FILES.turn():
            check_rows(raw)


def send_file(
    session: Session, member: Member, logger_id: UUID, file_id: UUID, name: str, raw: bytes
) -> FileSummary:
    """Keep a file until somebody has looked at it; nothing of it is in the record yet. Old ones that nobody settled go."""
    logger = queries.lock_logger(session, logger_id)
    if logger.retired_at is not None:
        raise LoggerRetired(f"{logger.name} is no longer used.")
    at, digest = recorded_at(session), digest_of_file(raw)
    before = file_taken_before(session, logger_id, digest)
    told = [f"The very same file was taken on {minute_words(before)}."] if before else []
    session.execute(
        update(ReadingFile)
        .where(
            col(ReadingFile.state) == FileState.WAITING, col(ReadingFile.sent_at) < at - timedelta(days=WAITS_DAYS)
        )
        .values(state=FileState.DROPPED, content=None, settled_at=at)
        .execution_options(synchronize_session=False)
    )  # fmt: skip
    row: dict[str, Any] = {
        **ReadingFile(logger_id=logger_id, sha256=digest, state=FileState.WAITING, sent_at=at, by_party_id=member.party_id,
                      for_party_id=member.acting_for_id).model_dump(exclude={"seq"}),
        "id": file_id, "name": name, "content": pack_file(raw), "told": told,
    }  # fmt: skip
    insert_rows(session, ReadingFile, [row])
    return file_summary(find_file(session, file_id))


def send_text(session: Session, member: Member, logger_id: UUID, body: FileSend) -> FileSummary:
    """The same for a file that comes as text."""
    return send_file(session, member, logger_id, body.id, body.name, body.text.encode())


def set_file_form(session: Session, member: Member, file_id: UUID, body: FileFormSet) -> FileSummary:
    """Say which column is what; it is remembered for the next file of this logger."""
    file = find_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.TAKEN)
    form = body.model_dump(mode="json")
    file.form = form
    logger = queries.lock_logger(session, file.logger_id)
    logger.file_form = form
    session.flush()
    return file_summary(file)


def take_file(
    session: Session, member: Member, file_id: UUID, body: FileTake, prepared: Prepared[FileTold | None]
) -> FileSummary:
    """Take a file's readings into the record, whole or not at all. What stands already stays and counts as the same."""
    logger_id = find_file(session, file_id).logger_id
    logger = queries.lock_logger(session, logger_id)
    file = find_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.TAKEN)
    told = prepared.told
    if (
        told is None
        or file.sha256 != told.sha256
        or (file.form is not None and file.form != told.form.to_json())
    ):
        raise FileSettled("Somebody else told another form for it meanwhile.")
    _check_answers(session, logger, told, body)
    if not len(told.readings):
        raise NothingToTake("No row of it has a time and a temperature that can be used.")
    import numpy as np

    readings = replace(told.readings, source=np.full(len(told.readings), file.seq, np.int64))
    taken = take_readings(session, logger, readings, body.where_differing)
    file.form = logger.file_form = told.form.to_json()
    file.readings, file.added, file.same = len(readings), taken.added, taken.same + told.same_within
    file.replaced, file.passed_over = taken.replaced, taken.passed_over + len(told.differing_within)
    span = summary_of(readings)
    file.first_at, file.last_at = span["first_at"], span["last_at"]
    file.told = [*notes_of(told), *_left(told, body)]
    _settle(session, file, member, FileState.TAKEN)
    if body.stuck is IfStuck.LEAVE_OUT:
        leave_out_rows(session, member, logger_id, _stuck(told), file_id)
    if body.copied is IfStuck.LEAVE_OUT:
        leave_out_rows(session, member, logger_id, _copied(told), file_id)
    session.flush()
    return file_summary(file)


def _check_answers(session: Session, logger: Logger, told: FileTold, body: FileTake) -> None:
    days = dict(told.readings.days())
    stands = queries.kept_days(session, logger.id, days)
    differing = len(told.differing_within) + sum(
        len(merge(stands[day].readings if day in stands else no_readings(), part).differing)
        for day, part in days.items()
    )
    asked = FileQuestions(
        told.report.faulty_count, len(told.stuck), differing, looks_like_two(told), doubt_of(told),
        copied=len(told.copied),
    )  # fmt: skip
    check_answers(
        asked, leave_faulty=body.leave_faulty, stuck_told=body.stuck is not None, copied_told=body.copied is not None,
        differing_told=body.where_differing is not WhereDiffering.REFUSE, sure=body.sure,
        told=[f"line {line}: {what}" for line, what in (*told.report.faulty, *told.differing_within)][:20],
    )  # fmt: skip


def _left(told: FileTold, body: FileTake) -> list[str]:
    notes = []
    if told.report.faulty_count:
        notes.append(left_out(told.report.faulty_count))
    if told.stuck:
        right = body.stuck is IfStuck.RIGHT
        notes.append(
            f"{len(told.stuck)} stretches in which nothing moved {'are right' if right else 'count for nothing'}."
        )
    if told.copied:
        right = body.copied is IfStuck.RIGHT
        notes.append(f"What was said before is {'right' if right else 'left out and counts for nothing'}.")
    return notes


def _copied(told: FileTold) -> list[LeftOutCreate]:
    return [
        LeftOutCreate(
            from_at=instant_of(begin), until_at=instant_of(end),
            why=f"it says again what was said a {'day' if days == 1 else 'week'} before: copied",
        )
        for days, (begin, end) in told.copied
    ]  # fmt: skip


def _stuck(told: FileTold) -> list[LeftOutCreate]:
    return [
        LeftOutCreate(
            from_at=instant_of(one.begin), until_at=instant_of(one.end), why=f"it said {one.temp_c:g} °C all the time: stuck"
        )
        for one in told.stuck
    ]  # fmt: skip


def _settle(session: Session, file: ReadingFile, member: Member, state: FileState) -> None:
    file.state, file.content = state, None
    file.settled_at, file.settled_by_party_id = recorded_at(session), member.party_id


def drop_file(session: Session, member: Member, file_id: UUID) -> FileSummary:
    """Throw a waiting file away; nothing of it was in the record."""
    file = find_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.DROPPED)
    _settle(session, file, member, FileState.DROPPED)
    session.flush()
    return file_summary(file)


def take_file_back(session: Session, member: Member, file_id: UUID) -> FileSummary:
    """Take out of the record what a file brought, and nothing else. What it replaced does not come back."""
    logger = queries.lock_logger(session, find_file(session, file_id).logger_id)
    file = find_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.TAKEN_BACK)
    gone = 0
    if file.first_at is not None and file.last_at is not None and file.seq is not None:
        days = range(number_of(file.first_at.date()), number_of(file.last_at.date()) + 1)
        planned = []
        for day, kept in queries.kept_days(session, logger.id, days).items():
            left = without_source(kept.readings, file.seq)
            if len(left) < len(kept.readings):
                gone += len(kept.readings) - len(left)
                planned.append(Planned(day, left, kept.version + 1))
        write_days(session, logger.id, planned)
        ask_for_logger(session, logger.id)
    _take_in_again(session, member, file_id)
    later = later_files_with_same(session, file)
    file.told = [*(file.told or []), *_gone(file, gone, later)]
    file.state = FileState.TAKEN_BACK
    file.taken_back_at, file.taken_back_by_party_id = recorded_at(session), member.party_id
    session.flush()
    return file_summary(file)


def _gone(file: ReadingFile, gone: int, later: list[str]) -> list[str]:
    words = [counted(gone, "One reading was taken out again.", "readings were taken out again.")]
    if file.replaced:
        words.append(
            counted(
                file.replaced, "One reading that it had replaced does not come back: send its file again.",
                "readings that it had replaced do not come back: send their file again.",
            )
        )  # fmt: skip
    if later:
        words.append(
            f"Some of them came again with {', '.join(later)}: send that file again to have them back."
        )
    return words


def _take_in_again(session: Session, member: Member, file_id: UUID) -> None:
    session.execute(
        update(LeftOut)
        .where(col(LeftOut.file_id) == file_id, col(LeftOut.ended_at).is_(None))
        .values(ended_at=recorded_at(session), ended_by_party_id=member.party_id)
        .execution_options(synchronize_session=False)
    )
