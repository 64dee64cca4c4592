"""One file of everything, written from one state of the record however long it takes and whoever writes meanwhile."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from datetime import datetime
from itertools import chain
from pathlib import Path

from sqlmodel import Session

from service.lib.copies import snapshot
from service.lib.database import Database
from service.lib.program import program_version
from service.lib.tabular import csv_pieces, write_workbook, write_zip
from service.members.queries import club
from service.provenance.queries.everything import TakenTable, tables_to_take_away
from service.provenance.rules.taking_away import NoRoomToWrite, TakenAs, readme


def write_everything(database: Database, path: Path, form: TakenAs, made_at: datetime) -> int:
    """Write the file; gives how many tables it holds. A file that is not whole does not stay. Raises `NoRoomToWrite`."""
    tables = tables_to_take_away()
    try:
        with snapshot(database) as connection, Session(bind=connection) as session:
            if form is TakenAs.ZIP:
                write_zip(path, _files(session, tables, made_at), made_at)
            else:
                sheets = ((table.name, table.header, table.rows(session)) for table in tables)
                write_workbook(path, chain([_front(session, tables, made_at)], sheets))
    except BaseException as error:
        path.unlink(missing_ok=True)
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoRoomToWrite(error.strerror or "") from error
        raise
    return len(tables)


def _readme(session: Session, tables: list[TakenTable], made_at: datetime, form: TakenAs) -> str:
    told = {table.name: table.words for table in tables}
    return readme(club(session).name, made_at.isoformat(timespec="minutes"), program_version(), told, form)


def _files(
    session: Session, tables: list[TakenTable], made_at: datetime
) -> Iterator[tuple[str, Iterator[bytes]]]:
    yield "README.txt", iter([_readme(session, tables, made_at, TakenAs.ZIP).encode()])
    for table in tables:
        yield f"{table.name}.csv", csv_pieces(chain([table.header], table.rows(session)), mark=True)


def _front(
    session: Session, tables: list[TakenTable], made_at: datetime
) -> tuple[str, tuple[str], list[list[str]]]:
    lines = _readme(session, tables, made_at, TakenAs.XLSX).splitlines()
    return "about", (lines[0],), [[line] for line in lines[1:]]
