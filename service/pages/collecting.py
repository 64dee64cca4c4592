"""At the tree: scan or choose it, say how many sticks, and the bundle has its code."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote
from uuid import UUID

from fastapi import APIRouter, Request, Response
from sqlmodel import Session
from starlette.responses import RedirectResponse

from service.bundles import queries as bundle_queries
from service.catalogue import queries as catalogue_queries
from service.collection import actions as collection_actions
from service.collection import queries as collection_queries
from service.collection.schemas import CollectionCreate, CollectionUpdate, ReceiptCreate
from service.lib.codes import group_code
from service.lib.errors import Refused, Stale
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May, names_only
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.lines import keeps_of
from service.pages.render import frame, render
from service.tags import actions as tag_actions
from service.tags import queries as tag_queries
from service.tags.rules.words import TagKind
from service.tags.schemas import BundlePart, LabelledCollection, LabelledCutCreate, LabelledReceiptCreate
from service.trees import queries as tree_queries

router = APIRouter(route_class=PageRoute)


class NoTreesTag(Refused):
    title = "This tag hangs on no tree"
    todo = "Scan the tag on the tree, or choose the tree from the list."


LAST_CUT, A_ROUND = "last_cut", 12 * 60 * 60
Collector = Annotated[Asker, may(May.COLLECT)]
Reader = Annotated[Asker, may(May.READ)]


@router.get("/cut")
def get_cut(
    request: Request,
    session: Read,
    asker: Collector,
    site: UUID | None = None,
    q: str = "",
    cursor: str | None = None,
    tag: str = "",
    code: str = "",
) -> Response:
    """Which tree? Its tag opens the form; else choose it from the list of its site."""
    if code:
        return RedirectResponse(
            f"/cut/{_tree_of(session, code)}{f'?tag={quote(tag)}' if tag else ''}", status_code=303
        )
    page = tree_queries.list_trees(
        session, Paging(cursor, 25), exact=True, site_id=site, q=q.strip()[:200], felled=False
    )
    return render(
        request,
        "collecting/which_tree.html",
        asker=asker,
        page=page,
        sites=choices.sites(session),
        site=site,
        words=q,
        tag=tag[:200],
    )


def _tree_of(session: Session, code: str) -> UUID:
    """The tree a tag hangs on. Raises `UnknownTag`, `MistypedCode`, `NoTreesTag`."""
    found = tag_queries.get_typed_tag(session, code)
    if found.kind is not TagKind.TREE or found.thing_id is None:
        raise NoTreesTag(
            f"{group_code(found.code)} is {f'the tag of a {found.kind}' if found.kind else 'a blank tag'}."
        )
    return found.thing_id


@router.get("/cut/{tree_id}")
def get_cut_tree(
    request: Request, session: Read, asker: Collector, tree_id: UUID, sticks: int = 0, stage: str = "",
    already_cut: bool = False, tag: str = "",
) -> Response:  # fmt: skip
    """The form; as many sticks are offered as were cut last. What the buds look like is asked of every tree anew."""
    last = request.cookies.get(LAST_CUT, "")
    sticks = sticks or (int(last) if last.isascii() and last.isdigit() and len(last) < 4 else 10)
    return _cut_form(
        request,
        session,
        asker,
        tree_id,
        Form(
            sticks=max(1, min(sticks, 999)),
            stage=stage,
            wood="dormant",
            bundles=1,
            already_cut="true" if already_cut else "",
            code=tag[:200],
        ),
    )


def _cut_form(request: Request, session: Read, asker: Asker, tree_id: UUID, form: Form) -> Response:
    tree = tree_queries.get_tree(session, tree_id)
    kind = catalogue_queries.get_taxon(session, tree.taxon_id)
    return render(
        request, "collecting/cut.html", asker=asker, form=form, tree=tree,
        stages=catalogue_queries.list_growth_stages(session, kind.stage_scale),
        before=collection_queries.list_collections(session, Paging(limit=3), tree_id=tree_id),
    )  # fmt: skip


@router.post("/cut/{tree_id}")
async def post_cut(request: Request, session: Read, asker: Collector, tree_id: UUID) -> Response:
    """Record the cut and tag its bundle: all of it or nothing."""
    form = await read_form(request)

    async def save() -> LabelledCollection:
        names = (
            "sticks",
            "wood",
            "stage",
            "leaves_down",
            "leaves_off",
            "disinfected",
            "owner_agreed",
            "cultivar_id",
            "already_cut",
            "note",
        )
        cut = form.into(CollectionCreate, *names, id=form.id("form_key"), tree_id=tree_id)
        part = form.into(BundlePart, "sticks", "length_mm", "diameter_mm", "code", id=_second(form))
        return (
            await form.write(
                tag_actions.collect_and_label, asker, [LabelledCutCreate(cut=cut, bundles=[part])]
            )
        )[0]

    answer = await submitted(
        request, form, save, lambda made: (f"/cut/done/{made.collection.id}?next={tree_id}&{_under(form)}", ""),
        lambda: _cut_form(request, session, asker, tree_id, form),
    )  # fmt: skip
    if form.problem is None:
        answer.set_cookie(
            LAST_CUT, form.text("sticks"), max_age=A_ROUND, httponly=True, samesite="lax", path="/cut",
            secure=request.app.state.settings.secure_cookies,
        )  # fmt: skip
    return answer


def _under(form: Form) -> str:
    """Whether a tag hangs there already."""
    return f"under={'true' if form.text('code') else 'false'}"


def _second(form: Form) -> UUID:
    """A further identity that belongs to this form, the same whenever it is sent."""
    return UUID(int=form.id("form_key").int ^ 1)


@router.get("/cut/done/{collection_id}")
def get_cut_done(
    request: Request, session: Read, asker: Collector, collection_id: UUID, next: UUID | None = None, under: bool = False,
) -> Response:  # fmt: skip
    """What to write on the label, large, and the next tree one tap away."""
    return render(
        request, "collecting/done.html", asker=asker, wood=collection_queries.get_collection_with_warnings(session, collection_id),
        bundles=bundle_queries.list_bundles(session, Paging(limit=50), collection_id=collection_id, name_only=names_only(asker)), next=next,
        dormancy=collection_queries.cut_dormancy(session, collection_id), under=under,
    )  # fmt: skip


# -- wood from outside -----------------------------------------------------------------------------------------------


@router.get("/receive")
def get_receive(request: Request, session: Read, asker: Collector, tag: str = "") -> Response:
    return _receive_form(request, session, asker, Form(sticks=5, wood="dormant", code=tag[:200]))


def _receive_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request,
        "collecting/receive.html",
        asker=asker,
        form=form,
        kinds=choices.kinds(session),
        people=choices.people(request),
        areas=choices.every_area(session),
    )


@router.post("/receive")
async def post_receive(request: Request, session: Read, asker: Collector) -> Response:
    form = await read_form(request)

    async def save() -> LabelledCollection:
        names = ("name_as_told", "sticks", "wood", "from_whom", "their_reference", "health_paper",
                 "tree_as_told", "cut_on", "note")  # fmt: skip
        form.ask_of_day("cut_on", frame(request).today)
        kind = id_of(form, "taxon_id", choices.kinds)
        if not kind:
            raise WrongFields({"taxon_id": "choose the kind"})
        with form.reading() as apart:
            variety = catalogue_queries.find_cultivar(apart, kind["taxon_id"], form.text("name_as_told"))
        more = {
            **({"cultivar_id": variety.id} if variety else {}),
            **kind,
            **id_of(form, "from_party_id", choices.parties),
            **id_of(form, "area_id", choices.every_area),
        }
        receipt = form.into(ReceiptCreate, *names, id=form.id("form_key"), **more)
        part = form.into(BundlePart, "sticks", "code", id=_second(form))
        return (
            await form.write(
                tag_actions.receive_and_label, asker, [LabelledReceiptCreate(receipt=receipt, bundles=[part])]
            )
        )[0]

    return await submitted(
        request, form, save, lambda made: (f"/cut/done/{made.collection.id}?{_under(form)}", ""),
        lambda: _receive_form(request, session, asker, form),
    )  # fmt: skip


# -- to finish -------------------------------------------------------------------------------------------------------


@router.get("/collections/{collection_id}")
def get_collection(request: Request, session: Read, asker: Reader, collection_id: UUID) -> Response:
    return _finish_form(request, session, asker, collection_id, None)


def _finish_form(
    request: Request, session: Read, asker: Asker, collection_id: UUID, form: Form | None
) -> Response:
    wood = collection_queries.get_collection_with_warnings(session, collection_id)
    kind = catalogue_queries.get_taxon(session, wood.taxon_id)
    times = collection_queries.list_time_corrections(session, collection_id)
    called = collection_queries.list_name_corrections(session, collection_id)
    moved = collection_queries.list_tree_corrections(session, collection_id)
    bundles = bundle_queries.list_bundles(
        session, Paging(limit=100, counted=False), collection_id=collection_id, name_only=names_only(asker)
    )
    told = {name: getattr(wood, name) for name in _FINISH}
    told |= {name: str(value).lower() for name, value in told.items() if isinstance(value, bool)}
    form = form or Form(**told)
    return render(
        request, "collecting/finish.html", asker=asker, form=form, version=form.opened_on(wood.version), wood=wood,
        stages=catalogue_queries.list_growth_stages(session, kind.stage_scale), times=times, called=called, moved=moved,
        dormancy=collection_queries.cut_dormancy(session, collection_id),
        bundles=bundles, kept=keeps_of(session, bundles.items),
        names=choices.names_for(session, asker, [wood, *times, *called, *moved]), stale=isinstance(form.problem, Stale),
    )  # fmt: skip


_FINISH = (
    "stage",
    "leaves_down",
    "leaves_off",
    "disinfected",
    "owner_agreed",
    "their_reference",
    "health_paper",
    "tree_as_told",
    "note",
)


@router.post("/collections/{collection_id}")
async def post_finish(request: Request, session: Read, asker: Collector, collection_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> UUID:
        body = form.into(CollectionUpdate, *_FINISH, nothing_more=form.text("nothing_more") == "true")
        version = form.version()
        return (
            await form.write(collection_actions.finish_collection, asker, collection_id, body, version)
        ).id

    return await submitted(
        request, form, save, lambda _id: ("/to-finish", "Written down."),
        lambda: _finish_form(request, session, asker, collection_id, form),
    )  # fmt: skip
