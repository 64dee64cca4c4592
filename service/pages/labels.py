"""Labels: what waits to be printed, on which sheet, and the address that tags carry."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.lib.paging import EVERY, Page, Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.render import render
from service.tags import actions, queries
from service.tags.schemas import (
    LabelSheetCreate,
    LabelSheetRead,
    PublicAddressCreate,
    PublicAddressRead,
    SheetSize,
    TagReplaced,
    WaitingLabel,
)

router = APIRouter(route_class=PageRoute)
Labeller = Annotated[Asker, may(May.LABELS)]
Administrator = Annotated[Asker, may(May.ADMINISTER)]


@router.get("/labels")
def get_labels(request: Request, session: Read, asker: Labeller) -> Response:
    return _labels_page(request, session, asker, fresh_form(queries.list_sheet_sizes(session), copies=1))


def fresh_form(sheets: list[SheetSize], **more: Any) -> Form:
    """On the sheet that was used last, moved as it was then."""
    last = sheets[0]
    return Form(
        sheet=last.name,
        first_label=1,
        nudge_x_mm=last.last_nudge_x_mm or None,
        nudge_y_mm=last.last_nudge_y_mm or None,
        **more,
    )


def _titles(sheets: list[SheetSize]) -> dict[str, str]:
    return {sheet.name: sheet.title for sheet in sheets}


def _labels_page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    now = request.app.state.clock.now()
    sheets = queries.list_sheet_sizes(session, retired=True)
    return render(
        request, "labels/labels.html", asker=asker, form=form, address=queries.current_address(session),
        waiting=_newest_first(queries.list_waiting_labels(session, EVERY, now=now)), sheets=[one for one in sheets if not one.is_retired],
        printed=queries.list_label_sheets(session, Paging(limit=10)), titles=_titles(sheets),
    )  # fmt: skip


def _newest_first(waiting: Page[WaitingLabel]) -> Page[WaitingLabel]:
    """What was tied today is what somebody comes to print."""
    by_name = sorted(waiting.items, key=lambda each: (each.name.casefold(), each.code))
    return waiting.model_copy(update={"items": sorted(by_name, key=lambda each: each.made_at, reverse=True)})


@router.post("/labels")
async def post_labels(request: Request, session: Read, asker: Labeller) -> Response:
    form = await read_form(request)

    async def save() -> LabelSheetRead:
        codes = form.all("codes")
        if not codes:
            raise WrongFields({"codes": "choose at least one label"})
        body = form.into(LabelSheetCreate, *_SHEET_FIELDS, id=form.id("form_key"), codes=codes)
        return await form.write(actions.print_labels, asker, body)

    return await submitted(
        request, form, save, lambda made: (f"/labels/{made.id}", "The sheet is ready to print."),
        lambda: _labels_page(request, session, asker, form),
    )  # fmt: skip


_SHEET_FIELDS = ("sheet", "first_label", "copies", "nudge_x_mm", "nudge_y_mm")


@router.get("/labels/address")
def get_address(request: Request, session: Read, asker: Administrator) -> Response:
    return _address_page(request, session, asker, Form())


def _address_page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request, "labels/address.html", asker=asker, form=form, addresses=queries.list_addresses(session)
    )


@router.post("/labels/address")
async def post_address(request: Request, session: Read, asker: Administrator) -> Response:
    """Propose a host name, then confirm it once a phone has opened it."""
    form = await read_form(request)

    async def save() -> PublicAddressRead:
        if form.text("confirm"):
            return await form.write(actions.confirm_address, asker, form.id("confirm"))
        return await form.write(actions.propose_address, asker, form.into(PublicAddressCreate, "host"))

    return await submitted(
        request, form, save, lambda made: ("/labels/address", f"{made.host} is noted."),
        lambda: _address_page(request, session, asker, form),
    )  # fmt: skip


@router.get("/labels/lost/{code}")
def get_lost(request: Request, session: Read, asker: Labeller, code: str) -> Response:
    return render(request, "labels/lost.html", asker=asker, form=Form(), tag=queries.get_tag(session, code))


@router.post("/labels/lost/{code}")
async def post_lost(request: Request, session: Read, asker: Labeller, code: str) -> Response:
    """A new code for what lost its tag; the old one still resolves and says so."""
    form = await read_form(request)

    async def save() -> TagReplaced:
        return await form.write(actions.replace_tag, asker, code)

    return await submitted(
        request, form, save, lambda made: ("/labels", f"{made.lost} is lost; the new code is {made.tag.code}."),
        lambda: render(request, "labels/lost.html", asker=asker, form=form, tag=queries.get_tag(session, code)),
    )  # fmt: skip


@router.get("/labels/{sheet_id}")
def get_sheet(request: Request, session: Read, asker: Labeller, sheet_id: UUID) -> Response:
    return render(
        request,
        "labels/sheet.html",
        asker=asker,
        sheet=queries.get_label_sheet(session, sheet_id),
        titles=_titles(queries.list_sheet_sizes(session, retired=True)),
    )
