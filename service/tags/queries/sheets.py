"""Batches of labels that were printed, the addresses they carry, and their PDF drawn again."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Any
from uuid import UUID

from sqlalchemy import Row, func, select
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.tags.queries.paper import Compose, draw_pdf, measure_on, paper
from service.tags.rules.labels import Label, LabelWords, day_in_words
from service.tags.rules.pages import PrintedPage, compose_pages
from service.tags.rules.sheets import MEASURES, SHEETS, PrintChoice, Sheet, get_sheet
from service.tags.rules.words import Placement
from service.tags.schemas import LabelSheetRead, PublicAddressRead, SheetSize
from service.tags.tables import LabelBatch, OwnSheet, PrintedLabel, PublicAddress

_BATCH = (
    col(LabelBatch.id), col(LabelBatch.sheet), col(PublicAddress.host), col(LabelBatch.labels), col(LabelBatch.pages),
    col(LabelBatch.first_label), col(LabelBatch.copies), col(LabelBatch.nudge_x_mm), col(LabelBatch.nudge_y_mm),
    col(LabelBatch.made_at), col(LabelBatch.club), col(LabelBatch.printed_on), col(LabelBatch.is_blank),
)  # fmt: skip


def list_sheet_sizes(session: Session, *, retired: bool = False) -> list[SheetSize]:
    """What can be printed on: the club's own first, then what everybody knows; those used last before others. Two statements."""
    own = session.execute(select(OwnSheet.__table__.c).order_by(col(OwnSheet.title), col(OwnSheet.name)))  # type: ignore[attr-defined]
    found = [
        SheetSize.model_validate(
            {
                **vars(_sheet(row)),
                "labels": row.columns * row.rows,
                "is_own": True,
                "is_retired": row.retired_at is not None,
            }
        )
        for row in own
        if retired or row.retired_at is None
    ]
    found += [SheetSize.model_validate(sheet) for sheet in SHEETS.values()]
    last = _last_printings(session)
    for size in found:
        if size.name in last:
            size.last_nudge_x_mm, size.last_nudge_y_mm = last[size.name][1:]
    ranks = sorted(last, key=lambda name: last[name][0], reverse=True)
    return sorted(found, key=lambda size: ranks.index(size.name) if size.name in ranks else len(ranks))


def _last_printings(session: Session) -> dict[str, tuple[datetime, float, float]]:
    """Of each sheet when it was printed on last, and how far that was moved."""
    latest = (
        select(col(LabelBatch.sheet), func.max(col(LabelBatch.made_at)).label("made_at"))
        .group_by(col(LabelBatch.sheet))
        .subquery()
    )
    rows = session.execute(
        select(
            col(LabelBatch.sheet),
            col(LabelBatch.made_at),
            col(LabelBatch.nudge_x_mm),
            col(LabelBatch.nudge_y_mm),
        ).join(
            latest, (latest.c.sheet == col(LabelBatch.sheet)) & (latest.c.made_at == col(LabelBatch.made_at))
        )
    )
    return {row.sheet: (row.made_at, row.nudge_x_mm, row.nudge_y_mm) for row in rows}


def sheet_named(session: Session, name: str) -> Sheet:
    """The sheet of this name, the club's own or one that everybody knows; at most one statement. Raises `NoSuchSheet`."""
    if name in SHEETS:
        return SHEETS[name]
    row = session.execute(select(OwnSheet.__table__.c).where(col(OwnSheet.name) == name)).first()  # type: ignore[attr-defined]
    return get_sheet(name) if row is None else _sheet(row)


def _sheet(row: Any) -> Sheet:
    return Sheet(row.name, **{name: getattr(row, name) for name in MEASURES})


def list_label_sheets(session: Session, paging: Paging) -> Page[LabelSheetRead]:
    """Printings of labels, the latest first."""
    statement = select(*_BATCH).join(PublicAddress, col(PublicAddress.id) == col(LabelBatch.address_id))
    keys = [(col(LabelBatch.made_at), True), (col(LabelBatch.id), True)]
    return page_of(session, statement, keys, paging, LabelSheetRead.model_validate)


def get_label_sheet(session: Session, batch_id: UUID) -> LabelSheetRead:
    return LabelSheetRead.model_validate(_batch(session, batch_id))


def draw_sheet(session: Session, batch_id: UUID) -> bytes:
    """The PDF of a printing as it was, the same to the byte. At most three statements; the drawing takes its time."""
    batch, compose, said = _planned(session, batch_id)
    return draw_pdf(compose, made_at=batch.made_at, title=f"{said}, {batch.labels} labels")


def first_page(session: Session, batch_id: UUID) -> PrintedPage:
    """The first page of a printing as it was. At most three statements."""
    batch, compose, said = _planned(session, batch_id)
    with paper(batch.made_at, said) as pdf:
        return next(iter(compose(measure_on(pdf))))


def _planned(session: Session, batch_id: UUID) -> tuple[Any, Compose, str]:
    batch = _batch(session, batch_id)
    rows = session.execute(
        select(col(PrintedLabel.code), col(PrintedLabel.placement), col(PrintedLabel.words))
        .where(col(PrintedLabel.batch_id) == batch_id)
        .order_by(col(PrintedLabel.place))
    )
    labels = [Label(row.code, _words(row.words), Placement(row.placement)) for row in rows]
    choice = PrintChoice(
        sheet_named(session, batch.sheet), batch.first_label, batch.copies, batch.nudge_x_mm, batch.nudge_y_mm
    )
    said = f"{'Blank tags' if batch.is_blank else 'Labels'} of {day_in_words(batch.printed_on)}"
    return batch, partial(_compose, labels, choice, batch, said), said


def current_address(session: Session) -> PublicAddressRead | None:
    """The address confirmed last, which new labels carry."""
    row = session.execute(
        select(PublicAddress.__table__.c)  # type: ignore[attr-defined]
        .where(col(PublicAddress.confirmed_at).is_not(None))
        .order_by(col(PublicAddress.confirmed_at).desc(), col(PublicAddress.id))
        .limit(1)
    ).first()
    return None if row is None else _address(row, row.confirmed_at)


def accepted_hosts(session: Session) -> set[str]:
    """Every host that tags of this club carry or carried, in capitals."""
    return set(
        session.execute(
            select(col(PublicAddress.host)).where(col(PublicAddress.confirmed_at).is_not(None))
        ).scalars()
    )


def list_addresses(session: Session) -> list[PublicAddressRead]:
    """Every address that was ever proposed, the current one first; scans accept all of them."""
    rows = session.execute(select(PublicAddress.__table__.c)).all()  # type: ignore[attr-defined]
    latest = max((row.confirmed_at for row in rows if row.confirmed_at), default=None)
    found = [_address(row, latest) for row in rows]
    return sorted(found, key=lambda a: (not a.is_current, a.confirmed_at is None, a.host))


def get_address(session: Session, address_id: UUID) -> PublicAddressRead:
    row = session.execute(
        select(
            *(PublicAddress.__table__.c),  # type: ignore[attr-defined]
            select(func.max(col(PublicAddress.confirmed_at))).scalar_subquery().label("latest"),
        ).where(col(PublicAddress.id) == address_id)
    ).first()
    if row is None:
        raise NotFound("No such address was proposed.", field="id")
    return _address(row, row.latest)


def _address(row: Row[Any], latest: Any) -> PublicAddressRead:
    current = row.confirmed_at is not None and row.confirmed_at == latest
    return PublicAddressRead(id=row.id, host=row.host, confirmed_at=row.confirmed_at, is_current=current)


def _compose(labels: list[Label], choice: PrintChoice, batch: Row[Any], said: str, measure: Any) -> Any:
    return compose_pages(labels, choice, host=batch.host, club=batch.club, said=said, measure=measure)


def _batch(session: Session, batch_id: UUID) -> Row[Any]:
    statement = select(*_BATCH).join(PublicAddress, col(PublicAddress.id) == col(LabelBatch.address_id))
    row = session.execute(statement.where(col(LabelBatch.id) == batch_id)).first()
    if row is None:
        raise NotFound("There is no such printing of labels.", field="id")
    return row


def _words(kept: dict[str, Any]) -> LabelWords:
    lists = {name: tuple(kept.get(name, ())) for name in ("details", "pencil")}
    return LabelWords(**{**kept, **lists})
