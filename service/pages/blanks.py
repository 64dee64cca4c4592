"""Blank tags: printed ahead, tied to something else than a fresh cut, and every one accounted for."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from service.lib.codes import group_code, parse_code
from service.lib.errors import Problem
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import found
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.labels import fresh_form
from service.pages.render import render
from service.tags import actions, queries
from service.tags.rules.addresses import split_scanned
from service.tags.rules.blanks import GivenUp
from service.tags.rules.layout import has_pencil_room
from service.tags.rules.words import Placement, TagKind, TagState
from service.tags.schemas import BlankBatchCreate, BlankBatchRead, BlanksGivenUp, TagBinding, TagRead

router = APIRouter(route_class=PageRoute)
Labeller = Annotated[Asker, may(May.LABELS)]
_SHEET_FIELDS = ("blanks", "sheet", "first_label", "nudge_x_mm", "nudge_y_mm")
# What goes by a name or a number too; a bundle or a plant is known by its code alone.
_NAMED = {TagKind.TREE: choices.trees, TagKind.BOX: choices.boxes, TagKind.STORE: choices.stores}


@router.get("/labels/blank")
def get_blanks(request: Request, session: Read, asker: Labeller, cursor: str | None = None) -> Response:
    """How many to print ahead, and what became of those printed before."""
    return _blanks_page(request, session, asker, cursor=cursor)


def _blanks_page(
    request: Request, session: Read, asker: Asker, *, making: Form | None = None, given: Form | None = None,
    cursor: str | None = None,
) -> Response:  # fmt: skip
    sheets = [
        sheet
        for sheet in queries.list_sheet_sizes(session)
        if has_pencil_room(sheet.label_w_mm - sheet.tail_mm, sheet.label_h_mm)
    ]
    return render(
        request, "labels/blank.html", asker=asker, form=making or given, sheets=sheets, address=queries.current_address(session),
        making=making or fresh_form(sheets, blanks=sheets[0].labels),
        given=given or Form(state=GivenUp.SPOILED.value), batches=queries.list_blank_batches(session, Paging(cursor, 10)),
    )  # fmt: skip


@router.post("/labels/blank")
async def post_blanks(request: Request, session: Read, asker: Labeller) -> Response:
    """Print blank tags ahead, each with a new code of its own."""
    form = await read_form(request)

    async def save() -> BlankBatchRead:
        body = form.into(BlankBatchCreate, *_SHEET_FIELDS, id=form.id("form_key"))
        return await form.write(actions.print_blanks, asker, body)

    return await submitted(
        request, form, save, lambda made: (f"/labels/{made.id}", "The blank tags are ready to print."),
        lambda: _blanks_page(request, session, asker, making=form),
    )  # fmt: skip


@router.post("/labels/blank/given-up")
async def post_given_up(request: Request, session: Read, asker: Labeller) -> Response:
    """Scanned or typed codes, one a line, that will never be tied to anything."""
    form = await read_form(request)

    async def save() -> list[TagRead]:
        codes = [code.strip() for code in form.text("codes").replace(",", "\n").splitlines() if code.strip()]
        if not codes:
            raise WrongFields({"codes": "scan or type at least one code"})
        return await form.write(actions.give_up_blanks, asker, form.into(BlanksGivenUp, "state", codes=codes))

    return await submitted(
        request, form, save, lambda made: ("/labels/blank", _given_up_words(made)),
        lambda: _blanks_page(request, session, asker, given=form),
    )  # fmt: skip


def _given_up_words(made: list[TagRead]) -> str:
    tags = "1 blank tag is" if len(made) == 1 else f"{len(made)} blank tags are"
    return f"{tags} written down as {made[0].state}."


@router.get("/labels/tie/{code}")
def get_tie(request: Request, session: Read, asker: Labeller, code: str) -> Response:
    """What this blank tag hangs on, where it is no fresh cut."""
    tag = queries.get_tag(session, code)
    if tag.state is not TagState.BLANK:
        return RedirectResponse(f"/T/{tag.code}", status_code=303)
    return _tie_form(request, asker, tag.code, Form(placement=Placement.WOOD.value))


def _tie_form(request: Request, asker: Asker, code: str, form: Form) -> Response:
    return render(request, "labels/tie.html", asker=asker, form=form, code=code)


@router.post("/labels/tie/{code}")
async def post_tie(request: Request, asker: Labeller, code: str) -> Response:
    """Bind it, for good."""
    form = await read_form(request)

    async def save() -> TagRead:
        kind = next((kind for kind in TagKind if kind == form.text("kind")), None)
        if kind is None:
            raise WrongFields({"kind": "choose what it hangs on"})
        where = {"placement": form.text("placement")} if kind is TagKind.BUNDLE else {}
        body = form.into(TagBinding, kind=kind, thing_id=_thing(form, kind), **where)
        return await form.write(actions.bind_blank, asker, code, body)

    return await submitted(
        request, form, save, lambda made: (f"/T/{made.code}", f"{group_code(made.code)} is tied on."),
        lambda: _tie_form(request, asker, code, form),
    )  # fmt: skip


def _thing(form: Form, kind: TagKind) -> UUID:
    """The thing behind a code that hangs on it already, or behind its number or name. Raises `WrongFields`."""
    typed = form.text("thing")
    if not typed:
        raise WrongFields({"thing": "type its code, number or name"})
    if kind in _NAMED and parse_code(split_scanned(typed)[1]).code is None:
        return UUID(found(form, "thing", _NAMED[kind]))
    try:
        with form.reading() as session:
            tag = queries.get_typed_tag(session, typed)
    except Problem as problem:
        raise WrongFields({"thing": problem.detail}) from problem
    if tag.kind is not kind or tag.thing_id is None:
        hangs = f"hangs on a {tag.kind}" if tag.kind else "hangs on nothing yet"
        raise WrongFields({"thing": f"the tag {group_code(tag.code)} {hangs}"})
    return tag.thing_id
