"""A tree that is not in the record yet: entered at its foot with its name as told and whose it is, finished with warm hands."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.catalogue import queries as catalogue_queries
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May, PartyKind
from service.members.schemas import PartyCreate
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, is_id, read_form, submitted
from service.pages.render import render
from service.provenance import actions as provenance_actions
from service.provenance.schemas import TreeFinished
from service.trees import actions as tree_actions
from service.trees import queries as tree_queries
from service.trees.schemas import TreeCreate, TreeFinish, TreeRead

router = APIRouter(route_class=PageRoute)
Collector = Annotated[Asker, may(May.COLLECT)]
Planter = Annotated[Asker, may(May.TREES)]
AS_TOLD = "as_told"


# -- at its foot -----------------------------------------------------------------------------------------------------


@router.get("/cut/new-tree")
def get_met_tree(
    request: Request, session: Read, asker: Collector, site: UUID | None = None, q: str = "", tag: str = "",
) -> Response:  # fmt: skip
    """Which site, what it is called, whose it is; the rest can wait."""
    sites = choices.sites(session)
    return _met_form(
        request,
        session,
        asker,
        Form(site_id=sites[0][0] if len(sites) == 1 else site, name_as_told=q.strip()[:200], tag=tag[:200]),
    )


def _met_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request, "collecting/new_tree.html", asker=asker, form=form, sites=choices.sites(session), kinds=choices.kinds(session),
        people=choices.people(request),
    )  # fmt: skip


@router.post("/cut/new-tree")
async def post_met_tree(request: Request, session: Read, asker: Collector) -> Response:
    form = await read_form(request)

    async def save() -> UUID:
        named = _kind_and_variety(form)
        owner = id_of(form, "owner_id", choices.parties)
        new = _new_owner(form, known=bool(owner))
        body = form.into(
            TreeCreate, "site_id", "where_on_site", "name_as_told", id=form.id("form_key"), **named, **owner
        )
        return (await form.write(tree_actions.add_met_tree, asker, body, new)).id

    return await submitted(
        request, form, save, lambda tree_id: (f"/cut/{tree_id}{_under(form)}", "The tree is in the record; it waits under “to finish”."),
        lambda: _met_form(request, session, asker, form),
    )  # fmt: skip


def _under(form: Form) -> str:
    """The blank tag that the cut goes under, where one was scanned before."""
    return f"?{urlencode({'tag': form.text('tag')})}" if form.text("tag") else ""


def _new_owner(form: Form, *, known: bool) -> PartyCreate | None:
    if not form.text("owner_name"):
        return None
    if known:
        raise WrongFields({"owner_name": "choose somebody of the list, or type a new name, not both"})
    new_id = UUID(int=form.id("form_key").int ^ 1)
    return form.into(PartyCreate, id=new_id, kind=PartyKind.GUEST, name=form.text("owner_name"))


def _kind_and_variety(form: Form) -> dict[str, UUID]:
    """The kind as chosen, else as the name tells it where one kind alone has a variety of that name."""
    told = form.text("name_as_told")
    if not told:
        raise WrongFields({"name_as_told": "what people call it; “apple by the pump” will do"})
    kind = id_of(form, "taxon_id", choices.kinds)
    with form.reading() as session:
        spelled = catalogue_queries.cultivars_spelled(session, told)
    fitting = [one for one in spelled if not kind or one.taxon_id == kind["taxon_id"]]
    if len({one.taxon_id for one in fitting}) == 1 and len(fitting) == 1:
        return {"taxon_id": fitting[0].taxon_id, "cultivar_id": fitting[0].id}
    if kind:
        return kind
    kinds = ", ".join(sorted({one.kind.lower() for one in fitting}))
    raise WrongFields(
        {"taxon_id": f"which kind: {kinds}?" if kinds else "choose the kind; the name does not tell it"}
    )


# -- with warm hands -------------------------------------------------------------------------------------------------

_PLAIN = (
    "where_on_site", "site_id", "identity", "may_cut", "most_sticks", "planted_year", "stands_on", "rights_note", "note", "reason",
)  # fmt: skip


@router.get("/trees/{tree_id}/finish")
def get_finish_tree(request: Request, session: Read, asker: Planter, tree_id: UUID) -> Response:
    """What was left out: the variety, the site, what it stands on, the rights to its wood."""
    tree = tree_queries.get_tree(session, tree_id)
    told = {name: getattr(tree, name) for name in _PLAIN if name != "reason"}
    told |= {
        "version": tree.version,
        "taxon_id": tree.taxon_id,
        "owner_id": tree.owner_id,
        "rootstock_id": tree.rootstock_id,
    }
    told["variety_id"] = tree.cultivar_id or ""
    told["no_propagation_contract"] = "true" if tree.no_propagation_contract else ""
    return _finish_form(request, session, asker, tree, Form(**told))


def _finish_form(request: Request, session: Read, asker: Asker, tree: TreeRead, form: Form) -> Response:
    return render(
        request, "records/finish_tree.html", asker=asker, form=form, tree=tree, near=_near(session, tree), sites=choices.sites(session),
        kinds=choices.kinds(session), people=choices.people(request), stocks=choices.rootstocks(session),
    )  # fmt: skip


def _near(session: Read, tree: TreeRead) -> choices.Choices:
    """Varieties that the name as told may mean, the nearest first."""
    found = catalogue_queries.search_cultivars(session, tree.name_as_told, taxon_id=tree.taxon_id, limit=4)
    near: choices.Choices = [(one.id, one.page_name) for one in found]
    if tree.cultivar_id and tree.cultivar_id not in {one.id for one in found}:
        near.insert(0, (tree.cultivar_id, tree.page_name))
    return near


@router.post("/trees/{tree_id}/finish")
async def post_finish_tree(request: Request, session: Read, asker: Planter, tree_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> TreeFinished:
        kind = id_of(form, "taxon_id", choices.kinds)
        more = {
            **kind,
            **id_of(form, "owner_id", choices.parties),
            **id_of(form, "rootstock_id", choices.rootstocks),
        }
        contract = form.text("no_propagation_contract") == "true"
        body = form.into(
            TreeFinish,
            *_PLAIN,
            **more,
            **_accepted(form, kind.get("taxon_id")),
            no_propagation_contract=contract,
        )
        return await form.write(provenance_actions.finish_tree, asker, tree_id, body, form.version())

    return await submitted(
        request, form, save, lambda done: (f"/trees/{tree_id}", _done_words(done)),
        lambda: _finish_form(request, session, asker, tree_queries.get_tree(session, tree_id), form), {"cultivar_id": "variety"},
    )  # fmt: skip


def _accepted(form: Form, taxon_id: UUID | None) -> dict[str, UUID]:
    """The variety that was typed, else the one that was chosen; nothing where it stays as told."""
    typed, chosen = form.text("variety"), form.text("variety_id")
    if not typed:
        return {"cultivar_id": UUID(chosen)} if is_id(chosen) else {}
    with form.reading() as session:
        spelled = catalogue_queries.cultivars_spelled(session, typed)
        near = catalogue_queries.search_cultivars(session, typed, taxon_id=taxon_id, limit=4)
    fitting = [one for one in spelled if taxon_id is None or one.taxon_id == taxon_id]
    if len(fitting) == 1:
        return {"cultivar_id": fitting[0].id}
    listed = ", ".join(one.page_name for one in near)
    raise WrongFields(
        {
            "variety": f"which of them: {listed}?"
            if listed
            else "the catalogue knows no variety of this kind by that name"
        }
    )


def _done_words(done: TreeFinished) -> str:
    followed = (
        f" {done.bundles} of its bundles follow; their tags still say the name as told."
        if done.bundles
        else ""
    )
    return f"Finished: {done.words}.{followed}"
