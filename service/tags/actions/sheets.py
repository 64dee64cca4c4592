"""Sheets and rolls of labels that somebody of the club measured."""

from __future__ import annotations

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.tags import queries
from service.tags.rules.layout import check_label_size
from service.tags.rules.sheets import SHEETS, NoSuchSheet, Sheet, check_sheet
from service.tags.schemas import SheetSize, SheetSizeCreate
from service.tags.tables import OwnSheet


def add_sheet(session: Session, member: Member, body: SheetSizeCreate) -> SheetSize:
    """Write down a sheet as it was measured. Raises `SheetDoesNotFit` where its labels do not lie on its page, or hold no tag."""
    told = body.model_dump(exclude={"id"})
    sheet = Sheet(name=f"own-{body.id.hex[:12]}", **told)
    check_sheet(sheet)
    check_label_size(sheet.face_w_mm, sheet.label_h_mm)
    row = {**vars(sheet), "made_at": recorded_at(session), "by_party_id": member.party_id, "retired_at": None}
    insert_rows(session, OwnSheet, [row])
    return SheetSize.model_validate({**vars(sheet), "labels": sheet.labels, "is_own": True})


def retire_sheet(session: Session, _member: Member, name: str) -> SheetSize:
    """Offer a sheet no more. What was printed on it can be drawn again. Raises `NoSuchSheet`."""
    if name in SHEETS:
        raise NoSuchSheet(
            f"“{SHEETS[name].title}” comes with the service and stays.",
            todo="Retire only what the club measured itself.",
        )
    sheet = queries.sheet_named(session, name)
    session.execute(
        update(OwnSheet)
        .where(col(OwnSheet.name) == name, col(OwnSheet.retired_at).is_(None))
        .values(retired_at=recorded_at(session))
        .execution_options(synchronize_session=False)
    )
    return SheetSize.model_validate(
        {**vars(sheet), "labels": sheet.labels, "is_own": True, "is_retired": True}
    )
