"""Plant-health areas, and what the authority answered on crossing them."""

from __future__ import annotations

from functools import partial
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response
from sqlmodel import Session

from service.lib.paging import EVERY
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import actions, queries
from service.members.rules import May
from service.members.schemas import AreaCreate, AreaPermitCreate, AreaUpdate
from service.members.signin import Asker, may
from service.pages.account.typed import back_or, version_of
from service.pages.forms import Form, read_form, submitted
from service.pages.render import frame, render

router = APIRouter(prefix="/areas", route_class=PageRoute)


@router.get("")
def areas_page(request: Request, asker: Annotated[Asker, may(May.READ)], read: Read) -> Response:
    return render(
        request, "account/areas.html", asker=asker,
        areas=queries.list_areas(read, EVERY).items, permits=queries.list_permits(read, EVERY).items,
    )  # fmt: skip


# -- areas -------------------------------------------------------------------------------------------------------


def _area_page(request: Request, asker: Asker, form: Form, *, is_new: bool) -> Response:
    return render(request, "account/area.html", asker=asker, form=form, is_new=is_new)


@router.get("/new")
def new_area_page(request: Request, asker: Annotated[Asker, may(May.TREES)], back: str = "") -> Response:
    return _area_page(request, asker, Form(back=back), is_new=True)


@router.post("/new")
async def post_area(request: Request, asker: Annotated[Asker, may(May.TREES)]) -> Response:
    form = await read_form(request)

    async def save() -> object:
        body = form.into(AreaCreate, "name", "authority", "checked_on", "note", id=form.id("form_key"))
        return await form.write(actions.add_areas, asker, [body])

    return await submitted(
        request, form, save, lambda _: (back_or(form, "/areas"), "The area is recorded."),
        partial(_area_page, request, asker, form, is_new=True),
    )  # fmt: skip


@router.get("/{area_id}/edit")
def edit_area_page(
    request: Request, area_id: UUID, asker: Annotated[Asker, may(May.TREES)], read: Read
) -> Response:
    form = Form(**queries.get_area(read, area_id).model_dump())
    return _area_page(request, asker, form, is_new=False)


@router.post("/{area_id}/edit")
async def post_edit_area(
    request: Request, area_id: UUID, asker: Annotated[Asker, may(May.TREES)]
) -> Response:
    form = await read_form(request)

    async def save() -> object:
        told = {name: form.text(name) for name in ("name", "authority", "note")}
        body = form.into(AreaUpdate, **told, checked_on=form.text("checked_on") or None)
        return await form.write(actions.change_area, asker, area_id, body, version_of(form))

    return await submitted(
        request, form, save, lambda _: ("/areas", "Saved."),
        partial(_area_page, request, asker, form, is_new=False),
    )  # fmt: skip


# -- answers of the authority ------------------------------------------------------------------------------------


def _permit_page(request: Request, asker: Asker, session: Session, form: Form) -> Response:
    areas = [(area.id, area.name) for area in queries.list_areas(session, EVERY).items]
    return render(request, "account/permit.html", asker=asker, form=form, areas=areas)


@router.get("/answers/new")
def new_permit_page(
    request: Request, asker: Annotated[Asker, may(May.RELEASE)], read: Read, back: str = "",
    origin: Annotated[str, Query(alias="from")] = "", to: str = "", genus: str = "",
) -> Response:  # fmt: skip
    """Blank, or with the crossing that was refused; then nobody has said yet whether it is allowed."""
    told = Form(
        allows="" if origin else "true",
        answered_on=frame(request).today,
        from_area_id=origin,
        to_area_id=to,
        genus=genus,
        back=back,
    )
    return _permit_page(request, asker, read, told)


@router.post("/answers/new")
async def post_permit(request: Request, asker: Annotated[Asker, may(May.RELEASE)], read: Read) -> Response:
    form = await read_form(request)

    async def save() -> object:
        names = ("from_area_id", "to_area_id", "reference", "allows", "genus", "answered_on", "valid_until")
        body = form.into(AreaPermitCreate, *names, id=form.id("form_key"))
        return await form.write(actions.record_permits, asker, [body])

    return await submitted(
        request, form, save, lambda _: (back_or(form, "/areas"), "The authority’s answer is recorded."),
        partial(_permit_page, request, asker, read, form),
    )  # fmt: skip
