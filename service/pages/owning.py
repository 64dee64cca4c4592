"""What an owner says of a tree: may it be cut, and how much of it."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.account.typed import back_or
from service.pages.forms import Form, read_form, submitted
from service.pages.render import render
from service.trees import actions, queries
from service.trees.rules import can_speak_for_owner, check_speaks_for_owner
from service.trees.schemas import OwnerWordSet, TreeRead

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]


def may_say(asker: Asker, tree: TreeRead) -> bool:
    """Whether the way to this page is shown: to the owner, and to who may speak for somebody."""
    return can_speak_for_owner(asker, tree.owner_id) or May.ACT_FOR in asker.may


@router.get("/trees/{tree_id}/may-cut")
def get_may_cut(request: Request, session: Read, asker: Reader, tree_id: UUID, back: str = "") -> Response:
    tree = queries.get_tree(session, tree_id)
    told_for = None if can_speak_for_owner(asker, tree.owner_id) else tree.owner_id
    form = Form(
        may_cut=tree.may_cut, most_sticks=tree.most_sticks, version=tree.version, back=back, on_behalf_of=told_for
    )  # fmt: skip
    return _page(request, session, asker, tree, form)


def _page(request: Request, session: Session, asker: Asker, tree: TreeRead, form: Form) -> Response:
    if not may_say(asker, tree):
        check_speaks_for_owner(asker, tree.owner_id, tree.owner_name)
    said = queries.owner_words(session, tree.id)
    names = choices.names_for(session, asker, said)
    return render(
        request,
        "records/may_cut.html",
        asker=asker,
        form=form,
        tree=tree,
        said=said,
        names=names,
        version=form.opened_on(tree.version),
    )


@router.post("/trees/{tree_id}/may-cut")
async def post_may_cut(request: Request, session: Read, asker: Reader, tree_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> TreeRead:
        body = form.into(OwnerWordSet, "may_cut", "most_sticks", "words")
        return await form.write(actions.set_owner_word, asker, tree_id, body, form.version())

    return await submitted(
        request, form, save, lambda tree: (back_or(form, f"/trees/{tree.id}"), "Written down."),
        lambda: _page(request, session, asker, queries.get_tree(session, tree_id), form),
    )  # fmt: skip
