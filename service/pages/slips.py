"""A guest's slip entered by whoever sits at the desk: who took, on which day, and each code with its sticks."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID, uuid5

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.bundles.rules import HandOverForm
from service.exchange import actions
from service.exchange.schemas import HandOverCreate, HandOverRead
from service.lib.errors import Problem
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.paper.sheets import ROWS_A_SLIP
from service.pages.pencilled import when
from service.pages.receivers import receiver_of
from service.pages.render import frame, render
from service.tags import queries as tag_queries
from service.tags.rules.words import RowsRefused, TagKind

router = APIRouter(route_class=PageRoute)
Giver = Annotated[Asker, may(May.HAND_OVER)]
ROWS = range(1, ROWS_A_SLIP + 1)


@router.get("/hand-over/slip")
def get_slip(request: Request, session: Read, asker: Giver) -> Response:
    return _page(request, session, asker, Form(day=frame(request).today))


def _page(request: Request, session: Session, asker: Asker, form: Form) -> Response:
    return render(
        request, "exchange_day/slip.html", asker=asker, form=form, rows=ROWS, people=choices.people(request),
        areas=choices.areas(session),
    )  # fmt: skip


@router.post("/hand-over/slip")
async def post_slip(request: Request, session: Read, asker: Giver) -> Response:
    """All that stands on the slip passes under the codes on the sticks' flags, or nothing does."""
    form = await read_form(request)

    async def save() -> list[HandOverRead]:
        receiver, guest = receiver_of(form)
        form.ask_of_day("day", frame(request).today)
        told = _told(form, receiver, request)
        try:
            return await form.write(actions.enter_slip, asker, guest, list(told.values()))
        except RowsRefused as refused:
            refused.at_fields({each.id: f"sticks.{number}" for number, each in told.items()})
            raise

    def then(made: list[HandOverRead]) -> tuple[str, str]:
        sticks = sum(each.bundle.on_hand for each in made)
        return (
            "/hand-over/slip",
            f"The slip is in the record: {sticks} {'stick' if sticks == 1 else 'sticks'}.",
        )

    return await submitted(request, form, save, then, lambda: _page(request, session, asker, form))


def _told(form: Form, receiver: UUID, request: Request) -> dict[int, HandOverCreate]:
    """The rows with a code, by their number. Raises `WrongFields` with all that is wrong."""
    at = when(form, "slip", frame(request).zone, request.app.state.clock.now())
    key, told, wrong = form.id("form_key"), dict[int, HandOverCreate](), dict[str, str]()
    for number in ROWS:
        if not form.text(f"code.{number}"):
            if form.text(f"sticks.{number}"):
                wrong[f"code.{number}"] = "the code on the tag"
            continue
        try:
            told[number] = form.into(
                HandOverCreate, id=uuid5(key, f"slip {number}"), child_id=uuid5(key, f"slip {number} child"),
                bundle_id=_bundle_of(form, number), sticks=form.text(f"sticks.{number}"), form=HandOverForm.FLAG, party_id=receiver,
                done_at=at,
            )  # fmt: skip
        except WrongFields as error:
            wrong |= {
                name if "." in name else f"sticks.{number}": words for name, words in error.wrong.items()
            }
    if wrong:
        raise WrongFields(wrong)
    if not told:
        raise WrongFields({"code.1": "at least one code"})
    return told


def _bundle_of(form: Form, number: int) -> UUID:
    try:
        with form.reading() as apart:
            tag = tag_queries.get_typed_tag(apart, form.text(f"code.{number}"))
    except Problem as problem:
        raise WrongFields({f"code.{number}": f"{problem.detail} {problem.todo}"}) from problem
    if tag.kind != TagKind.BUNDLE or tag.thing_id is None:
        raise WrongFields({f"code.{number}": "this tag is not on a bundle"})
    return tag.thing_id
