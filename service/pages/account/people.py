"""Everybody in the record: the list, one person or club, their roles, and forgetting them."""

from __future__ import annotations

from functools import partial
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response
from sqlmodel import Session
from starlette.responses import RedirectResponse

from service.lib.paging import EVERY
from service.lib.request import Pages, Read
from service.lib.routing import PageRoute
from service.members import actions, queries
from service.members.rules import May, PartyKind, can_add_party, check_may_see_party
from service.members.schemas import PartyCreate, PartyRead, PartyUpdate, RolesUpdate
from service.members.signin import Asker, SignedIn, may
from service.pages.account.typed import back_or, version_of
from service.pages.account.words import KIND_WORDS, ROLE_WORDS
from service.pages.forms import Form, read_form, submitted
from service.pages.render import render
from service.provenance.actions import forget_member

router = APIRouter(prefix="/people", route_class=PageRoute)


def _areas(session: Session) -> list[tuple[UUID, str]]:
    return [(area.id, area.name) for area in queries.list_areas(session, EVERY).items]


@router.get("")
def people_page(
    request: Request,
    asker: Annotated[Asker, may(May.PEOPLE)],
    read: Read,
    pages: Pages,
    q: Annotated[str, Query(max_length=100)] = "",
    kind: str = "",
) -> Response:
    wanted = PartyKind(kind) if kind in set(PartyKind) else None
    page = queries.list_parties(read, pages, search=q, kind=wanted)
    return render(
        request, "account/people.html", asker=asker, page=page, search=q, kind=wanted or "", kinds=KIND_WORDS
    )


# -- adding ------------------------------------------------------------------------------------------------------


def _new_page(request: Request, asker: Asker, session: Session, form: Form) -> Response:
    kinds = [(kind.value, words) for kind, words in KIND_WORDS.items() if can_add_party(asker.may, kind)]
    return render(
        request, "account/person_new.html", asker=asker, form=form, kinds=kinds, areas=_areas(session)
    )


@router.get("/new")
def new_person_page(request: Request, asker: Annotated[Asker, may(May.HAND_OVER)], read: Read) -> Response:
    first = PartyKind.MEMBER if May.PEOPLE in asker.may else PartyKind.GUEST
    return _new_page(request, asker, read, Form(kind=first.value))


@router.post("/new")
async def post_new_person(
    request: Request, asker: Annotated[Asker, may(May.HAND_OVER)], read: Read
) -> Response:
    form = await read_form(request)

    async def save() -> list[PartyRead]:
        names = ("kind", "name", "contact", "email", "area_id", "keep_contact_for_recall", "note")
        body = form.into(PartyCreate, *names, id=form.id("form_key"))
        return await form.write(actions.add_parties, asker, [body])

    def then(made: list[PartyRead]) -> tuple[str, str]:
        address = f"/people/{made[0].id}" if May.PEOPLE in asker.may else "/people/new"
        return address, f"{made[0].name} is in the record."

    return await submitted(request, form, save, then, partial(_new_page, request, asker, read, form))


# -- one person or club ------------------------------------------------------------------------------------------


@router.get("/{party_id}")
def person_page(request: Request, party_id: UUID, asker: SignedIn, read: Read) -> Response:
    if party_id == asker.party_id and May.PEOPLE not in asker.may:
        return RedirectResponse("/account", status_code=303)
    check_may_see_party(asker.may, own=False)
    party = queries.get_party(read, party_id)
    return render(
        request, "account/person.html", asker=asker, party=party, kinds=KIND_WORDS, roles=ROLE_WORDS
    )


def _edit_page(request: Request, asker: Asker, session: Session, party_id: UUID, form: Form) -> Response:
    party = queries.get_party(session, party_id)
    if form.data is None:
        form.defaults = {**form.defaults, **party.model_dump(mode="json")}
    kinds = [(kind.value, words) for kind, words in KIND_WORDS.items()]
    return render(
        request, "account/person_edit.html", asker=asker, form=form, party=party, kinds=kinds,
        areas=_areas(session),
    )  # fmt: skip


@router.get("/{party_id}/edit")
def edit_person_page(
    request: Request, party_id: UUID, asker: Annotated[Asker, may(May.PEOPLE)], read: Read, back: str = ""
) -> Response:
    return _edit_page(request, asker, read, party_id, Form(back=back))


@router.post("/{party_id}/edit")
async def post_edit_person(
    request: Request, party_id: UUID, asker: Annotated[Asker, may(May.PEOPLE)], read: Read
) -> Response:
    form = await read_form(request)

    async def save() -> PartyRead:
        told = form.data is not None and "email" in form.data
        email = {"email": form.text("email")} if told else {}
        body = form.into(
            PartyUpdate, "kind", name=form.text("name"), contact=form.text("contact"), **email, note=form.text("note"),
            area_id=form.text("area_id") or None,
            keep_contact_for_recall=form.text("keep_contact_for_recall") == "true",
        )  # fmt: skip
        return await form.write(actions.change_party, asker, party_id, body, version_of(form))

    return await submitted(
        request, form, save, lambda _: (back_or(form, f"/people/{party_id}"), "Saved."),
        partial(_edit_page, request, asker, read, party_id, form),
    )  # fmt: skip


def _roles_page(request: Request, asker: Asker, session: Session, party_id: UUID, form: Form) -> Response:
    party = queries.get_party(session, party_id)
    if form.data is None:
        form.defaults = {"roles": party.roles, "version": party.version}
    return render(
        request, "account/roles.html", asker=asker, form=form, party=party,
        roles=[(role.value, words) for role, words in ROLE_WORDS.items()],
    )  # fmt: skip


@router.get("/{party_id}/roles")
def roles_page(
    request: Request, party_id: UUID, asker: Annotated[Asker, may(May.ADMINISTER)], read: Read
) -> Response:
    return _roles_page(request, asker, read, party_id, Form())


@router.post("/{party_id}/roles")
async def post_roles(
    request: Request, party_id: UUID, asker: Annotated[Asker, may(May.ADMINISTER)], read: Read
) -> Response:
    form = await read_form(request)

    async def save() -> object:
        body = form.into(RolesUpdate, roles=form.all("roles"))
        return await form.write(actions.set_roles, asker, party_id, body, version_of(form))

    return await submitted(
        request, form, save, lambda _: (f"/people/{party_id}", "The roles count from now on."),
        partial(_roles_page, request, asker, read, party_id, form),
    )  # fmt: skip


# -- forgetting --------------------------------------------------------------------------------------------------


def _forget_page(request: Request, asker: Asker, session: Session, party_id: UUID, form: Form) -> Response:
    party = queries.get_party(session, party_id)
    return render(request, "account/forget.html", asker=asker, form=form, party=party)


@router.get("/{party_id}/forget")
def forget_page(
    request: Request, party_id: UUID, asker: Annotated[Asker, may(May.PEOPLE)], read: Read
) -> Response:
    return _forget_page(request, asker, read, party_id, Form())


@router.post("/{party_id}/forget")
async def post_forget(
    request: Request, party_id: UUID, asker: Annotated[Asker, may(May.PEOPLE)], read: Read
) -> Response:
    form = await read_form(request)

    async def save() -> object:
        return await form.write(forget_member, asker, party_id)

    return await submitted(
        request, form, save, lambda _: ("/people", "They are forgotten; the wood they held stays in the record."),
        partial(_forget_page, request, asker, read, party_id, form),
    )  # fmt: skip
