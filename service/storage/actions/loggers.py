"""Setting up loggers, hanging them somewhere, comparing them, and leaving stretches of their readings out."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import check_done_at
from service.lib.database import new_id
from service.lib.errors import check_version
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.ringing import ask_for_logger, follows_loggers
from service.storage.rules import (
    NameInUse,
    NoSuchBox,
    NoSuchPlace,
    NoSuchStore,
    NoSuchStretch,
    StoreClosed,
    check_span,
)
from service.storage.schemas import (
    LeftOutCreate,
    LoggerCreate,
    LoggerMoveCreate,
    LoggerOffsetCreate,
    LoggerRead,
    LoggerUpdate,
    Spot,
)
from service.storage.tables import LeftOut, Logger, LoggerMove, LoggerOffset


def add_logger(session: Session, member: Member, body: LoggerCreate) -> LoggerRead:
    """A logger, hung in its place at once where one is told."""
    if queries.find_names_in_use(session, Logger, [body.name]):
        raise NameInUse(f"There is a logger called {body.name} already.", field="name")
    rows = [
        {"id": body.id, "name": body.name, "serial": body.serial, "note": body.note, "file_form": None, "version": 1}
    ]  # fmt: skip
    insert_rows(session, Logger, rows)
    if body.spots():
        spot = LoggerMoveCreate(
            store_id=body.store_id, place_id=body.place_id, box_id=body.box_id, sensor=body.sensor, from_at=body.from_at
        )  # fmt: skip
        insert_rows(session, LoggerMove, [_move(session, member, body.id, spot)])
        ask_for_logger(session, body.id)
    return queries.get_logger(session, body.id)


def change_logger(
    session: Session, member: Member, logger_id: UUID, version: int, body: LoggerUpdate
) -> LoggerRead:
    """Rename a logger, correct what is known of it, take it out of use or into it again."""
    logger = queries.lock_logger(session, logger_id)
    check_version(logger.version, version)
    told = body.told()
    if (
        body.name is not None
        and body.name != logger.name
        and queries.find_names_in_use(session, Logger, [body.name])
    ):
        raise NameInUse(f"There is a logger called {body.name} already.", field="name")
    retired = told.pop("retired", None)
    if retired is not None:
        logger.retired_at = (logger.retired_at or recorded_at(session)) if retired else None
    for name, value in told.items():
        setattr(logger, name, value)
    logger.version += 1
    session.flush()
    return queries.get_logger(session, logger_id)


def hang_logger(session: Session, member: Member, logger_id: UUID, body: LoggerMoveCreate) -> LoggerRead:
    """Hang a logger somewhere from an instant on, or take it out; its readings follow, also those that stand already."""
    queries.lock_logger(session, logger_id)
    row = _move(session, member, logger_id, body)
    with follows_loggers(session, [logger_id]):
        insert_rows(session, LoggerMove, [row])
    return queries.get_logger(session, logger_id)


def _move(session: Session, member: Member, logger_id: UUID, body: LoggerMoveCreate) -> dict[str, Any]:
    at = recorded_at(session)
    box_id, place_id = _spot(session, body) if not body.out else (None, None)
    return {
        "id": body.id, "logger_id": logger_id, "box_id": box_id, "place_id": place_id, "sensor": body.sensor,
        "from_at": check_done_at(body.from_at, at), "recorded_at": at, "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id, "note": body.note,
    }  # fmt: skip


def _spot(session: Session, body: Spot) -> tuple[UUID | None, UUID | None]:
    """The box or the place it hangs in; one statement."""
    if body.box_id is not None:
        if body.box_id not in queries.lock_boxes(session, [body.box_id]):
            raise NoSuchBox("There is no box under this id.", field="box_id")
        return body.box_id, None
    places, anywhere = queries.targets_of(
        session, [body.place_id] if body.place_id else [], [body.store_id] if body.store_id else []
    )
    if body.place_id is not None and body.place_id not in places:
        raise NoSuchPlace("There is no place under this id.", field="place_id")
    if body.store_id is not None and body.store_id not in anywhere:
        raise NoSuchStore("There is no store under this id.", field="store_id")
    target = places[body.place_id] if body.place_id else anywhere[body.store_id] if body.store_id else None
    if target is None:
        return None, None
    if target.closed:
        raise StoreClosed(f"{target.store_name} is closed.", store=target.store_name)
    return None, target.place_id


def set_offset(session: Session, member: Member, logger_id: UUID, body: LoggerOffsetCreate) -> LoggerRead:
    """Write down what a comparison found; told again for the same instant, it puts the first right."""
    queries.lock_logger(session, logger_id)
    at = recorded_at(session)
    row = {
        "id": body.id, "logger_id": logger_id, "offset_c": body.offset_c, "from_at": check_done_at(body.from_at, at), "how": body.how,
        "recorded_at": at, "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, LoggerOffset, [row])
    ask_for_logger(session, logger_id)
    return queries.get_logger(session, logger_id)


def leave_out(session: Session, member: Member, logger_id: UUID, body: LeftOutCreate) -> LoggerRead:
    """Let a stretch of readings count for nothing: it lay on the bench, or its sensor was stuck. They are kept."""
    queries.lock_logger(session, logger_id)
    check_span(body.from_at, body.until_at)
    leave_out_rows(session, member, logger_id, [body])
    ask_for_logger(session, logger_id)
    return queries.get_logger(session, logger_id)


def leave_out_rows(
    session: Session,
    member: Member,
    logger_id: UUID,
    stretches: list[LeftOutCreate],
    file_id: UUID | None = None,
) -> None:
    """One statement; none for none."""
    told = {
        "logger_id": logger_id, "recorded_at": recorded_at(session), "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
        "file_id": file_id, "ended_at": None, "ended_by_party_id": None,
    }  # fmt: skip
    insert_rows(session, LeftOut, [{**told, **each.model_dump()} for each in stretches])


def take_in_again(session: Session, member: Member, stretch_id: UUID) -> LoggerRead:
    """Let a stretch that was left out count again."""
    logger_id = session.execute(
        update(LeftOut)
        .where(col(LeftOut.id) == stretch_id, col(LeftOut.ended_at).is_(None))
        .values(ended_at=recorded_at(session), ended_by_party_id=member.party_id)
        .returning(col(LeftOut.logger_id))
        .execution_options(synchronize_session=False)
    ).scalar_one_or_none()
    if logger_id is None:
        raise NoSuchStretch("There is no stretch under this id that is left out now.")
    ask_for_logger(session, logger_id)
    return queries.get_logger(session, logger_id)


def new_stretch(from_at: Any, until_at: Any, why: str) -> LeftOutCreate:
    return LeftOutCreate(id=new_id(), from_at=from_at, until_at=until_at, why=why)
