"""Batches of labels that were printed, the addresses they carry, and their PDF drawn again."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from sqlalchemy import Row, func, select
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.tags.queries.paper import draw_pdf
from service.tags.rules.labels import Label, LabelWords, day_in_words
from service.tags.rules.pages import compose_pages
from service.tags.rules.sheets import SHEETS, PrintChoice, get_sheet
from service.tags.rules.words import Placement
from service.tags.schemas import LabelSheetRead, PublicAddressRead, SheetSize
from service.tags.tables import LabelBatch, PrintedLabel, PublicAddress

_BATCH = (
    col(LabelBatch.id), col(LabelBatch.sheet), col(PublicAddress.host), col(LabelBatch.labels), col(LabelBatch.pages),
    col(LabelBatch.first_label), col(LabelBatch.copies), col(LabelBatch.nudge_x_mm), col(LabelBatch.nudge_y_mm),
    col(LabelBatch.made_at), col(LabelBatch.club), col(LabelBatch.printed_on), col(LabelBatch.is_blank),
)  # fmt: skip


def list_sheet_sizes() -> list[SheetSize]:
    return [SheetSize.model_validate(sheet) for sheet in SHEETS.values()]


def list_label_sheets(session: Session, paging: Paging) -> Page[LabelSheetRead]:
    """Printings of labels, the latest first."""
    statement = select(*_BATCH).join(PublicAddress, col(PublicAddress.id) == col(LabelBatch.address_id))
    keys = [(col(LabelBatch.made_at), True), (col(LabelBatch.id), True)]
    return page_of(session, statement, keys, paging, LabelSheetRead.model_validate)


def get_label_sheet(session: Session, batch_id: UUID) -> LabelSheetRead:
    return LabelSheetRead.model_validate(_batch(session, batch_id))


def draw_sheet(session: Session, batch_id: UUID) -> bytes:
    """The PDF of a printing as it was, the same to the byte. Two statements; the drawing takes its time."""
    batch = _batch(session, batch_id)
    rows = session.execute(
        select(col(PrintedLabel.code), col(PrintedLabel.placement), col(PrintedLabel.words))
        .where(col(PrintedLabel.batch_id) == batch_id)
        .order_by(col(PrintedLabel.place))
    )
    labels = [Label(row.code, _words(row.words), Placement(row.placement)) for row in rows]
    choice = PrintChoice(
        get_sheet(batch.sheet), batch.first_label, batch.copies, batch.nudge_x_mm, batch.nudge_y_mm
    )
    said = f"{'Blank tags' if batch.is_blank else 'Labels'} of {day_in_words(batch.printed_on)}"
    compose = partial(_compose, labels, choice, batch, said)
    return draw_pdf(compose, made_at=batch.made_at, title=f"{said}, {batch.labels} labels")


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
