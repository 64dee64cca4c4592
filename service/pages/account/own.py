"""One's own account: contact, password, where one is signed in, tokens, and whether a calendar reads one's dates."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request, Response
from sqlmodel import Session
from starlette.responses import RedirectResponse

from service.lib.errors import Problem
from service.lib.paging import EVERY
from service.lib.request import Read, status_of
from service.lib.routing import PageRoute
from service.members import actions, queries
from service.members.rules import May
from service.members.rules.access import BOND_NEEDS, BoundTo, unfit_scopes
from service.members.schemas import PartyUpdate, PasswordUpdate, TokenCreate
from service.members.signin import (
    Asker,
    AtBrowser,
    change_password,
    clear_session_cookie,
    set_session_cookie,
)
from service.pages import choices
from service.pages.account.typed import note, secret, version_of
from service.pages.account.words import MAY_WORDS, say_rights
from service.pages.forms import Form, WrongFields, is_id, read_form, submitted
from service.pages.render import frame, render, tell
from service.storage.queries import list_loggers

router = APIRouter(prefix="/account", route_class=PageRoute)


@router.get("")
def account_page(request: Request, asker: AtBrowser, read: Read) -> Response:
    now = request.app.state.clock.now()
    return render(
        request, "account/own.html", asker=asker, form=Form(), now=now,
        party=queries.get_party(read, asker.party_id),
        sessions=queries.list_sessions(read, asker.account_id, asker.credential_id, now),
        tokens=queries.list_tokens(read, asker.account_id), say_rights=say_rights,
        calendar_made_at=queries.calendar_made_at(read, asker.account_id),
    )  # fmt: skip


# -- contact and privacy -----------------------------------------------------------------------------------------


@router.get("/contact")
def contact_page(request: Request, asker: AtBrowser, read: Read) -> Response:
    party = queries.get_party(read, asker.party_id)
    return render(request, "account/contact.html", asker=asker, form=Form(**party.model_dump()))


def _mail_told(form: Form) -> dict[str, Any]:
    """A page that was opened before it asked for an address leaves it as it is."""
    if form.data is None or "email" not in form.data:
        return {}
    return {"email": form.text("email"), "mail_wanted": form.text("mail_wanted") == "true"}


@router.post("/contact")
async def post_contact(request: Request, asker: AtBrowser) -> Response:
    form = await read_form(request)

    async def save() -> object:
        body = form.into(
            PartyUpdate, name=form.text("name"), contact=form.text("contact"), **_mail_told(form),
            keep_contact_for_recall=form.text("keep_contact_for_recall") == "true",
        )  # fmt: skip
        return await form.write(actions.change_party, asker, asker.party_id, body, version_of(form))

    return await submitted(
        request, form, save, lambda _: ("/account", "Saved."),
        lambda: render(request, "account/contact.html", asker=asker, form=form),
    )  # fmt: skip


# -- password and sessions ---------------------------------------------------------------------------------------


@router.get("/password")
def password_page(request: Request, asker: AtBrowser) -> Response:
    return render(request, "account/password.html", asker=asker, form=Form())


@router.post("/password")
async def post_password(request: Request, asker: AtBrowser) -> Response:
    form = await read_form(request)
    try:
        body = form.into(
            PasswordUpdate, old_password=secret(form, "old_password"), password=secret(form, "password")
        )
        signed_in = await change_password(request, asker, body)
    except Problem as problem:
        note(form, problem)
        return render(request, "account/password.html", asker=asker, form=form, status=status_of(problem))
    answer = RedirectResponse("/account", status_code=303)
    set_session_cookie(request, answer, signed_in)
    tell(request, answer, "Your new password counts from now on. Every other browser is signed out.")
    return answer


@router.post("/sessions/{session_id}/end")
async def post_end_session(request: Request, asker: AtBrowser, session_id: UUID) -> Response:
    await request.app.state.writer.write(actions.end_sign_in, asker, session_id)
    answer = RedirectResponse("/account", status_code=303)
    tell(request, answer, "Signed out there.")
    return answer


@router.post("/sign-out-everywhere")
async def post_sign_out_everywhere(request: Request, asker: AtBrowser) -> Response:
    await request.app.state.writer.write(actions.end_all_sign_ins, asker)
    answer = RedirectResponse("/sign-in", status_code=303)
    clear_session_cookie(request, answer)
    tell(request, answer, "You are signed out everywhere.")
    return answer


# -- tokens ------------------------------------------------------------------------------------------------------

LENGTHS = (("30", "30 days"), ("365", "a year"), ("", "until I revoke it"))


ANYWHERE = "any"


def _token_page(request: Request, session: Session, asker: Asker, form: Form, status: int = 200) -> Response:
    rights = [(right.value, words) for right, words in MAY_WORDS.items() if right in asker.may]
    return render(
        request,
        "account/token.html",
        asker=asker,
        form=form,
        status=status,
        rights_of=rights,
        lengths=LENGTHS,
        bonds=[*_bonds(session, asker), (ANYWHERE, _every(asker))] if _SENDING & asker.may else [],
    )


_SENDING = frozenset(BOND_NEEDS.values())


def _every(asker: Asker) -> str:
    """Bound to nothing, in words: of those that whoever asks may send for."""
    kinds = [kind.value for kind, right in BOND_NEEDS.items() if right in asker.may]
    return f"every {' and '.join([', '.join(kinds[:-1]), kinds[-1]] if kinds[1:] else kinds)}"


def _bonds(session: Session, asker: Asker) -> list[tuple[str, str]]:
    """What a token may be bound to, as the form sends it and as it is read."""
    named: list[tuple[BoundTo, list[tuple[Any, str]]]] = []
    if May.READINGS in asker.may:
        loggers = [(one.id, one.name) for one in list_loggers(session, EVERY, used_only=True).items]
        named += [(BoundTo.LOGGER, loggers), (BoundTo.STORE, list(choices.stores(session)))]
    if May.TREES in asker.may:
        named.append((BoundTo.SITE, list(choices.sites(session))))
    return [(f"{kind.value}:{one}", f"{kind.value} {words}") for kind, those in named for one, words in those]


def _bond(form: Form) -> dict[str, Any]:
    """What the token is bound to. One that sends readings or air says it, if only that it is bound to nothing."""
    told, scopes = form.text("bound"), {May(one) for one in form.all("scopes") if one in set(May)}
    if told == ANYWHERE or (not told and not _SENDING & scopes):
        return {}
    kind, _, one = told.partition(":")
    if kind not in set(BoundTo) or not is_id(one):
        raise WrongFields({"bound": "choose which logger, store or site it sends for, or every one"})
    _check_fits(BoundTo(kind), scopes)
    return {"bound_kind": kind, "bound_id": one}


def _check_fits(kind: BoundTo, scopes: set[May]) -> None:
    """The rule of the record, in the words that stand at the rights on this page."""
    lacks, idle = unfit_scopes(kind, scopes)
    if lacks:
        raise WrongFields(
            {"scopes": f"choose also “{say_rights(lacks)[0]}”: a token for one {kind.value} sends by it"}
        )
    if idle:
        words = ", ".join(f"“{each}”" for each in say_rights(idle))
        raise WrongFields({"scopes": f"leave out {words}: a token for one {kind.value} could not use it"})


@router.get("/tokens/new")
def new_token_page(request: Request, asker: AtBrowser, read: Read) -> Response:
    return _token_page(request, read, asker, Form(scopes=["read"], days="365"))


@router.post("/tokens/new")
async def post_token(request: Request, asker: AtBrowser, read: Read) -> Response:
    form = await read_form(request)
    try:
        body = form.into(
            TokenCreate, "name", scopes=form.all("scopes"), expires_at=_end_of(request, form), **_bond(form)
        )
        made = await form.write(actions.make_token, asker, body)
    except Problem as problem:
        note(form, problem)
        return _token_page(request, read, asker, form, status_of(problem))
    return render(
        request,
        "account/token_made.html",
        asker=asker,
        made=made,
        rights_of=say_rights(made.scopes),
        bound=dict(_bonds(read, asker)).get(form.text("bound"), ""),
    )


def _end_of(request: Request, form: Form) -> datetime | None:
    days = form.text("days")
    if not days:
        return None
    if not days.isdecimal() or not 1 <= int(days) <= 3650:
        raise WrongFields({"days": "choose one of those offered"})
    last = frame(request).today + timedelta(days=int(days) + 1)
    return datetime.combine(last, time(), ZoneInfo(frame(request).zone))


@router.post("/tokens/{token_id}/revoke")
async def post_revoke_token(request: Request, asker: AtBrowser, token_id: UUID) -> Response:
    await request.app.state.writer.write(actions.revoke_token, asker, token_id)
    answer = RedirectResponse("/account", status_code=303)
    tell(request, answer, "The token is revoked; programs that use it are refused from now on.")
    return answer
