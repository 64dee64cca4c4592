"""In the hall: sticks pass to people, by scan, on anybody's behalf, and come back."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import queries as bundle_queries
from service.bundles.rules import HandOverForm
from service.collection import queries as collection_queries
from service.exchange import actions
from service.exchange.schemas import HandOverCreate, HandOverRead, TableBackCreate
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May, names_only
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.lines import keeps_of
from service.pages.receivers import receiver_of
from service.pages.render import render
from service.tags import queries as tag_queries
from service.tags.rules.words import TagKind

router = APIRouter(route_class=PageRoute)
Giver = Annotated[Asker, may(May.HAND_OVER)]


@router.get("/hand-over")
def get_hand_over(
    request: Request, session: Read, asker: Giver, party: UUID | None = None, cursor: str | None = None
) -> Response:
    """Which bundle? Scan its tag, type its code, or choose it here."""
    return _which_page(request, session, asker, Form(), cursor, party)


def _which_page(
    request: Request,
    session: Read,
    asker: Asker,
    form: Form,
    cursor: str | None = None,
    party: UUID | None = None,
) -> Response:
    page = bundle_queries.list_bundles(session, Paging(cursor, 25), of_club=True, on_hand=True, stopped=False)
    return render(
        request, "exchange_day/which_bundle.html", asker=asker, page=page, party=party, form=form, kept=keeps_of(session, page.items)
    )  # fmt: skip


@router.post("/hand-over")
async def post_code(request: Request, session: Read, asker: Giver) -> Response:
    """A typed code goes on to its bundle."""
    form = await read_form(request)

    async def save() -> UUID:
        scanned = tag_queries.get_typed_tag(session, form.text("code"))
        if scanned.kind != TagKind.BUNDLE or scanned.thing_id is None:
            raise WrongFields({"code": "this tag is not on a bundle"})
        return scanned.thing_id

    return await submitted(
        request, form, save, lambda bundle_id: (f"/hand-over/{bundle_id}", ""), lambda: _which_page(request, session, asker, form)
    )  # fmt: skip


@router.get("/hand-over/{bundle_id}")
def get_hand_over_bundle(
    request: Request, session: Read, asker: Giver, bundle_id: UUID, party: str = ""
) -> Response:
    return _form_page(request, session, asker, bundle_id, Form(sticks=1, form="flag", party_id=party))


def _form_page(request: Request, session: Read, asker: Asker, bundle_id: UUID, form: Form) -> Response:
    bundle = bundle_queries.get_bundle(session, bundle_id, name_only=names_only(asker))
    return render(
        request, "exchange_day/hand_over.html", asker=asker, form=form, bundle=bundle,
        wood=collection_queries.get_collection(session, bundle.collection_id), people=choices.people(request),
        areas=choices.areas(session), kept=keeps_of(session, [bundle]),
        out=bundle_queries.table_sticks_out(session, bundle_id),
        stopped_by=bundle_queries.stop_words(session, [bundle_id]).get(bundle_id, []) if bundle.stopped else [],
    )  # fmt: skip


@router.post("/hand-over/{bundle_id}")
async def post_hand_over(request: Request, session: Read, asker: Giver, bundle_id: UUID) -> Response:
    """Hand over; a guest whose name is typed is recorded with it, both or neither."""
    form = await read_form(request)

    async def save() -> HandOverRead:
        to_table = form.text("form") == HandOverForm.TABLE
        receiver, guest = (None, None) if to_table else receiver_of(form)
        fixed = {} if to_table else {"party_id": receiver}
        body = form.into(
            HandOverCreate, "sticks", "form", "reason", id=form.id("form_key"), child_id=UUID(int=form.id("form_key").int ^ 1),
            bundle_id=bundle_id, **fixed,
        )  # fmt: skip
        if guest:
            return (await form.write(actions.hand_over_to_guest, asker, guest, [body]))[0]
        return (await form.write(actions.hand_over, asker, [body]))[0]

    def then(made: HandOverRead) -> tuple[str, str]:
        if made.form is HandOverForm.BUNDLE:
            return (
                f"/bundles/{made.bundle.id}",
                f"Handed over as bundle {made.bundle.code}; print its label or write the code on it.",
            )
        if made.form is HandOverForm.FLAG:
            return (
                f"/hand-over?party={made.party_id}",
                "Handed over. Write the bundle's code on the stick's flag.",
            )
        return f"/hand-over/{bundle_id}", "Counted out to the table. Count back what is left at the end."

    return await submitted(
        request, form, save, then, lambda: _form_page(request, session, asker, bundle_id, form)
    )


@router.post("/hand-over/{bundle_id}/back")
async def post_back(request: Request, session: Read, asker: Giver, bundle_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> int:
        body = form.into(
            TableBackCreate, id=form.id("form_key"), bundle_id=bundle_id, sticks=form.text("back")
        )
        await form.write(actions.count_back, asker, body)
        return body.sticks

    return await submitted(
        request, form, save, lambda sticks: (f"/hand-over/{bundle_id}", f"{sticks} counted back."),
        lambda: _form_page(request, session, asker, bundle_id, form), at={"sticks": "back"},
    )  # fmt: skip
