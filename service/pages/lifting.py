"""What lifts a refusal for rights: what a tree's seller says now, and what is known of a variety's protection."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.catalogue import actions as catalogue_actions
from service.catalogue import queries as catalogue_queries
from service.catalogue.rules import Protection
from service.catalogue.schemas import CultivarRead, ProtectionSet
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.account.typed import back_or
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.render import frame, render
from service.trees import actions, queries
from service.trees.schemas import TreeRead, TreeUpdate

router = APIRouter(route_class=PageRoute)
Steward = Annotated[Asker, may(May.PEOPLE)]
Namer = Annotated[Asker, may(May.CATALOGUE)]

PROTECTIONS = (
    (Protection.PERMISSION, "protected, and the owner of the right agreed in writing"),
    (Protection.FREE, "not protected, or no longer"),
    (Protection.PROTECTED, "protected"),
    (Protection.APPLIED, "applied for"),
    (Protection.UNKNOWN, "nobody knows"),
)


# -- a tree ----------------------------------------------------------------------------------------------------------


@router.get("/trees/{tree_id}/contract")
def get_contract(request: Request, session: Read, asker: Steward, tree_id: UUID, back: str = "") -> Response:
    tree = queries.get_tree(session, tree_id)
    form = Form(
        rights_note=tree.rights_note, version=tree.version, back=back,
        contract="true" if tree.no_propagation_contract else "",
    )  # fmt: skip
    return _contract_page(request, asker, tree, form)


def _contract_page(request: Request, asker: Asker, tree: TreeRead, form: Form) -> Response:
    return render(
        request,
        "lifting/contract.html",
        asker=asker,
        form=form,
        tree=tree,
        version=form.opened_on(tree.version),
    )


@router.post("/trees/{tree_id}/contract")
async def post_contract(request: Request, session: Read, asker: Steward, tree_id: UUID) -> Response:
    """A contract ends only with words on who agreed in writing."""
    form = await read_form(request)

    async def save() -> TreeRead:
        with form.reading() as apart:
            bound = queries.get_tree(apart, tree_id).no_propagation_contract
        contract = form.text("contract") == "true"
        if bound and not contract and not form.text("rights_note"):
            raise WrongFields({"rights_note": "who agreed in writing, and when"})
        blank = {} if form.text("rights_note") else {"rights_note": ""}
        body = form.into(
            TreeUpdate, "rights_note", no_propagation_contract=contract, **blank
        )  # fmt: skip
        return await form.write(actions.change_tree, asker, tree_id, body, form.version())

    return await submitted(
        request, form, save, lambda tree: (back_or(form, f"/trees/{tree.id}"), "Written down."),
        lambda: _contract_page(request, asker, queries.get_tree(session, tree_id), form), at={"no_propagation_contract": "contract"},
    )  # fmt: skip


# -- a variety -------------------------------------------------------------------------------------------------------


@router.get("/varieties/{cultivar_id}/rights")
def get_rights(request: Request, session: Read, asker: Namer, cultivar_id: UUID, back: str = "") -> Response:
    variety = _variety(request, session, cultivar_id)
    known = variety.rights
    form = Form(
        protection=known.protection, protected_until=known.protected_until, checked_on=frame(request).today,
        register_name=known.register_name, note=known.note, version=variety.version, back=back,
    )  # fmt: skip
    return _rights_page(request, asker, variety, form)


def _variety(request: Request, session: Session, cultivar_id: UUID) -> CultivarRead:
    return catalogue_queries.get_cultivar(session, cultivar_id, request.app.state.clock.now())


def _rights_page(request: Request, asker: Asker, variety: CultivarRead, form: Form) -> Response:
    return render(
        request, "lifting/rights.html", asker=asker, form=form, variety=variety, protections=PROTECTIONS,
        version=form.opened_on(variety.version),
    )  # fmt: skip


@router.post("/varieties/{cultivar_id}/rights")
async def post_rights(request: Request, session: Read, asker: Namer, cultivar_id: UUID) -> Response:
    """A permission is only recorded with words on who gave it; that a variety is free, with the register that says so."""
    form = await read_form(request)

    async def save() -> CultivarRead:
        wanted = form.text("protection")
        if wanted == Protection.PERMISSION and not form.text("note"):
            raise WrongFields({"note": "who agreed in writing, when, and under which number"})
        if wanted == Protection.FREE and not form.text("register_name"):
            raise WrongFields({"register_name": "the register that says so"})
        until = form.text("protected_until")
        ends = (
            {"protected_until": until}
            if until and wanted in (Protection.PROTECTED, Protection.PERMISSION)
            else {}
        )
        body = form.into(ProtectionSet, "protection", "checked_on", "register_name", "note", **ends)
        return await form.write(catalogue_actions.note_protection, asker, cultivar_id, form.version(), body)

    return await submitted(
        request, form, save, lambda _: (back_or(form, f"/varieties/{cultivar_id}/rights"), "Written down."),
        lambda: _rights_page(request, asker, _variety(request, session, cultivar_id), form),
    )  # fmt: skip
