"""Files with days of air: sent, told how to read them, taken whole or not at all, and taken back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from sqlalchemy import delete, func, select, update
from sqlmodel import Session, col

from service.lib.clock import minute_words
from service.lib.counted import counted
from service.lib.plain_csv import read_table
from service.lib.plain_sheets import as_plain
from service.lib.sent_files import (
    WAITS_DAYS,
    FileQuestions,
    FileSettled,
    FileState,
    NothingToTake,
    Prepared,
    check_answers,
    check_can_step,
    digest_of_file,
    pack_file,
)
from service.lib.temperatures import WhereDiffering
from service.lib.told_files import left_out
from service.lib.turns import FILES
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.rules import Member
from service.trees import queries
from service.trees.actions.air import keep_air
from service.trees.actions.air_hours import keep_readings, take_readings_out
from service.trees.queries.air_files import (
    air_file_summary,
    find_air_file,
    later_air_files_with_same,
)
from service.trees.queries.air_hours import look_beside
from service.trees.rules.air import AirDays, last_over, plan_air
from service.trees.rules.air_files import AirTold, doubt_of_air
from service.trees.rules.air_hours import days_in
from service.trees.schemas.air_files import AirFileSummary, AirFileTake, AirFormSet
from service.trees.tables import AirDay, AirFile


@dataclass(frozen=True)
class SentAir:
    """A file that holds a table, as plain text, packed."""

    name: str
    sha256: str
    content: bytes


def read_sent_air(name: str, raw: bytes) -> Prepared[SentAir]:
    """A file before anything of it is kept. Raises what is wrong with it as a table."""
    with FILES.turn():
        plain = as_plain(raw)
        read_table(plain)
    sent = SentAir(name, digest_of_file(plain), pack_file(plain))
    return Prepared(sent, f"{sent.name} {sent.sha256}")


def send_air_file(
    session: Session, member: Member, site_id: UUID, file_id: UUID, measured: str, read: Prepared[SentAir]
) -> AirFileSummary:
    """Keep a file until somebody has looked at it; nothing of it is in the record yet. Old ones that nobody settled go."""
    queries.get_site(session, site_id)
    at, sent = recorded_at(session), read.told
    before = session.execute(
        select(func.max(col(AirFile.settled_at))).where(
            col(AirFile.site_id) == site_id, col(AirFile.sha256) == sent.sha256, col(AirFile.state) == FileState.TAKEN
        )
    ).scalar_one_or_none()  # fmt: skip
    session.execute(
        update(AirFile)
        .where(col(AirFile.state) == FileState.WAITING, col(AirFile.sent_at) < at - timedelta(days=WAITS_DAYS))
        .values(state=FileState.DROPPED, content=None, settled_at=at)
        .execution_options(synchronize_session=False)
    )  # fmt: skip
    file = AirFile(
        id=file_id, site_id=site_id, name=sent.name, measured=measured, sha256=sent.sha256, content=sent.content,
        state=FileState.WAITING, sent_at=at, by_party_id=member.party_id, for_party_id=member.acting_for_id,
        told=[f"The very same file was taken on {minute_words(before)}."] if before else [],
    )  # fmt: skip
    insert_rows(session, AirFile, [file.model_dump()])
    return air_file_summary(file)


def set_air_form(session: Session, member: Member, file_id: UUID, body: AirFormSet) -> AirFileSummary:
    """Say which column is what. It is tried when the file is looked at, and remembered once it was taken."""
    file = find_air_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.TAKEN)
    file.form = body.model_dump(mode="json")
    session.flush()
    return air_file_summary(file)


def take_air_file(
    session: Session, member: Member, file_id: UUID, body: AirFileTake, prepared: Prepared[AirTold | None]
) -> AirFileSummary:
    """Take a file's days into the record, whole or not at all. Days that stand are replaced only where that is said."""
    file = find_air_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.TAKEN)
    told = prepared.told
    if told is None or (file.form is not None and file.form != told.form.to_json()):
        raise FileSettled("Somebody else told another form for it meanwhile.")
    zone = members.club(session).zone
    queries.lock_site(session, file.site_id)
    beside = look_beside(
        session, file.site_id, told, (last_over(recorded_at(session), zone), zone), body.where_differing
    )
    _check_answers(told, len(beside.differing), body)
    if not beside.days and not len(told.readings):
        raise NothingToTake("No row of it has a day with a lowest and a highest that can be used.")
    days: AirDays = dict(sorted(beside.days.items()))
    plan = plan_air(days, beside.values(), body.where_differing)
    keep_air(session, member, file.site_id, (file.id, file.measured), days, plan, beside.hours)
    keep_readings(session, file, beside, plan)
    file.form = told.form.to_json()
    file.added, file.same, file.replaced, file.passed_over = (
        len(plan.new),
        plan.same,
        len(plan.changed),
        plan.kept + (0 if beside.out else len(beside.clashing)),
    )
    told_of = [*days, *days_in(told.readings, zone)]
    file.first_on, file.last_on = min(told_of), max(told_of)
    left = told.report.faulty_count
    file.told = [
        *told.notes,
        *told.unlikely,
        *([left_out(left)] if left else []),
    ]
    _settle(session, file, member, FileState.TAKEN)
    return air_file_summary(file)


def _check_answers(told: AirTold, differing: int, body: AirFileTake) -> None:
    asked = FileQuestions(
        told.report.faulty_count,
        len(told.unlikely),
        differing,
        doubt=doubt_of_air(told),
        rows="days",
        odd="days that are unlikely",
    )
    check_answers(
        asked, leave_faulty=body.leave_faulty, stuck_told=body.stuck, sure=body.sure,
        differing_told=body.where_differing is not WhereDiffering.REFUSE,
        told=[f"line {line}: {what}" for line, what in told.report.faulty][:20],
    )  # fmt: skip


def _settle(session: Session, file: AirFile, member: Member, state: FileState) -> None:
    file.state, file.content = state, None
    file.settled_at, file.settled_by_party_id = recorded_at(session), member.party_id
    session.flush()


def drop_air_file(session: Session, member: Member, file_id: UUID) -> AirFileSummary:
    """Throw a waiting file away; nothing of it was in the record."""
    file = find_air_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.DROPPED)
    _settle(session, file, member, FileState.DROPPED)
    return air_file_summary(file)


def take_air_file_back(session: Session, member: Member, file_id: UUID) -> AirFileSummary:
    """Take out of the record the days a file brought that still stand by it. What it replaced does not come back."""
    file = find_air_file(session, file_id, lock=True)
    check_can_step(FileState(file.state), FileState.TAKEN_BACK)
    later = later_air_files_with_same(session, file)
    gone = session.execute(
        delete(AirDay).where(col(AirDay.record_id) == file_id).execution_options(synchronize_session=False)
    ).rowcount  # type: ignore[attr-defined]
    gone -= take_readings_out(session, file)
    words = [counted(max(0, gone), "One day was taken out again.", "days were taken out again.")]
    if file.replaced:
        words.append(
            counted(
                file.replaced, "One day that it had replaced does not come back: enter it again.",
                "days that it had replaced do not come back: enter them again.",
            )
        )  # fmt: skip
    if later and gone > 0:
        words.append(
            f"Some of them may have come again with {'; '.join(later)}: send that file again to have them back."
        )
    file.told = [*(file.told or []), *words]
    file.state, file.taken_back_at, file.taken_back_by_party_id = (
        FileState.TAKEN_BACK, recorded_at(session), member.party_id,
    )  # fmt: skip
    session.flush()
    return air_file_summary(file)
