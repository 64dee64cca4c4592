"""Inviting people by a link or a printed letter, and taking invitations back."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session
from starlette.responses import RedirectResponse

from service.lib.errors import NotFound, Problem
from service.lib.qr import link_svg
from service.lib.request import Pages, Read, status_of
from service.lib.routing import PageRoute
from service.members import actions, queries
from service.members.rules import May, Role, can_give
from service.members.schemas import InvitationCreate, InvitationMade, PartyRead
from service.members.signin import Asker, may
from service.pages.account.typed import note
from service.pages.account.words import ROLE_WORDS
from service.pages.forms import Form, read_form
from service.pages.render import render, tell

router = APIRouter(prefix="/people", route_class=PageRoute)

DAYS = (("3", "3 days"), ("14", "14 days"), ("60", "60 days"))


def _party(session: Session, told: str) -> PartyRead | None:
    if not told:
        return None
    try:
        return queries.get_party(session, UUID(told))
    except ValueError:
        raise NotFound("There is no such person or club.") from None


def _page(request: Request, asker: Asker, party: PartyRead | None, form: Form, status: int = 200) -> Response:
    roles = [(role.value, words) for role, words in ROLE_WORDS.items() if can_give(asker.may, [role])]
    return render(
        request,
        "account/invite.html",
        asker=asker,
        form=form,
        status=status,
        party=party,
        roles=roles,
        days=DAYS,
    )


@router.get("/invite")
def invite_page(
    request: Request, asker: Annotated[Asker, may(May.PEOPLE)], read: Read, party: str = ""
) -> Response:
    form = Form(roles=[Role.MEMBER.value], valid_days="14", party_id=party)
    return _page(request, asker, _party(read, party), form)


@router.post("/invite")
async def post_invite(request: Request, asker: Annotated[Asker, may(May.PEOPLE)], read: Read) -> Response:
    form = await read_form(request)
    try:
        body = form.into(InvitationCreate, "party_id", "note", "valid_days", roles=form.all("roles"))
        made = await form.write(actions.make_invitation, asker, body)
    except Problem as problem:
        note(form, problem)
        return _page(request, asker, _party(read, form.text("party_id")), form, status_of(problem))
    return _letter(request, asker, made)


def _letter(request: Request, asker: Asker, made: InvitationMade) -> Response:
    address = f"{request.base_url}".rstrip("/") + made.path
    # In capitals a symbol holds the same address with fewer modules; host names do not mind.
    host, path = address[: -len(made.path)], made.path
    symbol = link_svg(host.upper() + path, text="The invitation's address")
    return render(request, "account/invited.html", asker=asker, made=made, address=address, symbol=symbol)


@router.get("/invitations")
def invitations_page(
    request: Request, asker: Annotated[Asker, may(May.PEOPLE)], read: Read, pages: Pages
) -> Response:
    page = queries.list_invitations(read, pages, request.app.state.clock.now())
    return render(request, "account/invitations.html", asker=asker, page=page, form=Form())


@router.post("/invitations/{invitation_id}/revoke")
async def post_revoke(
    request: Request, invitation_id: UUID, asker: Annotated[Asker, may(May.PEOPLE)]
) -> Response:
    await request.app.state.writer.write(actions.revoke_invitation, asker, invitation_id)
    answer = RedirectResponse("/people/invitations", status_code=303)
    tell(request, answer, "The invitation is taken back.")
    return answer
