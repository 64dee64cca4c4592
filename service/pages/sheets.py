"""Sheets and rolls of labels: what can be printed on, as a picture, and those that the club measured itself."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, read_form, submitted
from service.pages.pictures.sheets import geometry, preview
from service.pages.render import render
from service.tags import actions, queries
from service.tags.rules.sheets import MEASURES, Sheet
from service.tags.schemas import SheetSize, SheetSizeCreate

router = APIRouter(route_class=PageRoute)
Labeller = Annotated[Asker, may(May.LABELS)]


@router.get("/labels/sheets")
def get_sheets(request: Request, session: Read, asker: Labeller) -> Response:
    """Every sheet and roll there is, each as a picture to scale."""
    return _page(request, session, asker, Form(page_w_mm=210, page_h_mm=297, columns=3, rows=7))


def _page(request: Request, session: Session, asker: Asker, form: Form) -> Response:
    sizes = queries.list_sheet_sizes(session, retired=True)
    drawn = [(size, geometry(_sheet(size))) for size in sizes if not size.is_retired]
    return render(
        request, "labels/sheets.html", asker=asker, form=form, drawn=drawn, retired=[size for size in sizes if size.is_retired]
    )  # fmt: skip


def _sheet(size: SheetSize) -> Sheet:
    return Sheet(name=size.name, **{name: getattr(size, name) for name in MEASURES})


@router.post("/labels/sheets")
async def post_sheets(request: Request, session: Read, asker: Labeller) -> Response:
    """A sheet as it was measured."""
    form = await read_form(request)

    async def save() -> SheetSize:
        body = form.into(SheetSizeCreate, *MEASURES, id=form.id("form_key"))
        return await form.write(actions.add_sheet, asker, body)

    return await submitted(
        request, form, save, lambda made: ("/labels/sheets", f"{made.title} can be printed on."),
        lambda: _page(request, session, asker, form),
    )  # fmt: skip


@router.post("/labels/sheets/{name}/retired")
async def post_retired(request: Request, session: Read, asker: Labeller, name: str) -> Response:
    """Offer it no more; what was printed on it can be had again."""
    form = await read_form(request)

    async def save() -> SheetSize:
        return await form.write(actions.retire_sheet, asker, name)

    return await submitted(
        request, form, save, lambda made: ("/labels/sheets", f"{made.title} is offered no more."),
        lambda: _page(request, session, asker, form),
    )  # fmt: skip


@router.get("/labels/{sheet_id}/preview.svg")
def get_preview(session: Read, asker: Labeller, sheet_id: UUID) -> Response:
    """The first page of a printing, as it will come out of the printer."""
    drawn = preview(queries.first_page(session, sheet_id))
    return Response(
        drawn, media_type="image/svg+xml", headers={"Cache-Control": "private, max-age=31536000, immutable"}
    )
