"""One's own dates in one's own calendar: making the address, and taking it back."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from service.lib.routing import PageRoute
from service.members import actions
from service.members.signin import AtBrowser
from service.pages.forms import read_form
from service.pages.render import render, tell

router = APIRouter(prefix="/account/calendar", route_class=PageRoute)


@router.post("")
async def post_calendar(request: Request, asker: AtBrowser) -> Response:
    """An address for one's own calendar, shown this once; the one before leads nowhere from now on."""
    form = await read_form(request)
    made = await form.write(actions.make_calendar_address, asker)
    address = f"{request.base_url}".rstrip("/") + made.path
    answer = render(request, "account/calendar_made.html", asker=asker, address=address)
    answer.headers["Cache-Control"] = "no-store"
    return answer


@router.post("/take-back")
async def post_take_back_calendar(request: Request, asker: AtBrowser) -> Response:
    """The calendar's address leads nowhere from now on."""
    await request.app.state.writer.write(actions.take_back_calendar_address, asker)
    answer = RedirectResponse("/account", status_code=303)
    tell(
        request, answer, "The address is taken back; a calendar that asks there is told nothing from now on."
    )
    return answer
