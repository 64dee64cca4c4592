"""The club's own settings."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Request, Response

from service.lib.request import Read
from service.members import actions, queries
from service.members.rules import May
from service.members.schemas import ClubRead, ClubUpdate
from service.members.signin import Asker, may
from service.pages.account.typed import version_of
from service.pages.forms import Form, read_form, submitted
from service.pages.render import render

router = APIRouter(prefix="/club")


def _page(request: Request, asker: Asker, form: Form) -> Response:
    return render(request, "account/club.html", asker=asker, form=form)


@router.get("")
def club_page(request: Request, asker: Annotated[Asker, may(May.ADMINISTER)], read: Read) -> Response:
    return _page(request, asker, Form(**queries.club(read).model_dump()))


@router.post("")
async def post_club(request: Request, asker: Annotated[Asker, may(May.ADMINISTER)]) -> Response:
    form = await read_form(request)

    async def save() -> ClubRead:
        names = ("name", "short_name", "zone", "recall_look_back_winters")
        body = form.into(ClubUpdate, **{name: form.text(name) for name in names})
        return await form.write(actions.change_club, asker, body, version_of(form))

    return await submitted(
        request, form, save, lambda _: ("/club", "Saved."), partial(_page, request, asker, form)
    )
