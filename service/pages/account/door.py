"""Coming in: signing in and out, the first start, and accepting an invitation."""

from __future__ import annotations

from functools import partial

from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from service.lib.errors import Problem
from service.lib.request import Read, status_of
from service.lib.routing import PageRoute
from service.members import actions, queries
from service.members.rules import InvitationFacts, May, may_of
from service.members.schemas import InvitationAccept, SessionCreate, SignedInNow
from service.members.signin import (
    AtBrowser,
    MaybeSignedIn,
    accept_invitation,
    clear_session_cookie,
    find_open_invitation,
    read_form,
    set_session_cookie,
    sign_in,
)
from service.pages.account.typed import note, own_path, secret
from service.pages.account.words import say_rights
from service.pages.forms import Form
from service.pages.render import render, tell

router = APIRouter(route_class=PageRoute)


async def _typed(request: Request) -> Form:
    return Form(await read_form(request))


def _again(request: Request, template: str, form: Form, problem: Problem, **context: object) -> Response:
    note(form, problem)
    return render(request, template, status=status_of(problem), form=form, **context)


def _come_in(request: Request, signed_in: SignedInNow, address: str, words: str = "") -> Response:
    answer = RedirectResponse(address, status_code=303)
    set_session_cookie(request, answer, signed_in)
    tell(request, answer, words)
    return answer


# -- signing in and out ------------------------------------------------------------------------------------------


@router.get("/sign-in")
def sign_in_page(request: Request, asker: MaybeSignedIn, read: Read, then: str = "/") -> Response:
    if asker is not None:
        return RedirectResponse(own_path(then), status_code=303)
    if not queries.any_account(read):
        return RedirectResponse("/start", status_code=303)
    ended = getattr(request.state, "sign_in_ended", False)
    return render(request, "account/sign_in.html", form=Form(), then=own_path(then), ended=ended)


@router.post("/sign-in")
async def post_sign_in(request: Request) -> Response:
    form = await _typed(request)
    then = own_path(form.text("then", "/"))
    try:
        body = form.into(SessionCreate, "name", password=secret(form))
        return _come_in(request, await sign_in(request, body), then)
    except Problem as problem:
        return _again(request, "account/sign_in.html", form, problem, then=then, ended=False)


@router.post("/sign-out")
async def post_sign_out(request: Request, asker: AtBrowser) -> Response:
    await request.app.state.writer.write(actions.end_sign_in, asker, asker.credential_id)
    answer = RedirectResponse("/sign-in", status_code=303)
    clear_session_cookie(request, answer)
    tell(request, answer, "You are signed out.")
    return answer


@router.get("/start")
def start_page(request: Request, read: Read) -> Response:
    if queries.any_account(read):
        return RedirectResponse("/sign-in", status_code=303)
    return render(request, "account/start.html")


# -- accepting an invitation -------------------------------------------------------------------------------------


def _join(request: Request, form: Form, invitation: InvitationFacts) -> partial[Response]:
    return partial(  # type: ignore[return-value]
        render, request, "account/join.html", form=form, invitation=invitation,
        rights_of=say_rights(may_of(invitation.roles)), sets_password=invitation.account_id is not None,
    )  # fmt: skip


@router.get("/J/{token}")
async def join_page(request: Request, token: str) -> Response:
    invitation = await find_open_invitation(request, token)
    return _join(request, Form(), invitation)()


@router.post("/J/{token}")
async def post_join(request: Request, token: str) -> Response:
    form = await _typed(request)
    invitation = await find_open_invitation(request, token)
    names = ("name", "contact", "keep_contact_for_recall", "sign_in_name")
    try:
        body = form.into(InvitationAccept, *names, token=token, password=secret(form))
        signed_in = await accept_invitation(request, body)
    except Problem as problem:
        note(form, problem)
        return _join(request, form, invitation)(status=status_of(problem))
    if May.ADMINISTER in may_of(invitation.roles) and invitation.is_first:
        return _come_in(request, signed_in, "/club", "You are the first administrator. Name your club.")
    return _come_in(request, signed_in, "/account", "Welcome. This is your account.")
