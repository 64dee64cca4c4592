"""Putting right what was written wrong: a graft that was never made, the name of a tree, the time of a cut."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from service.catalogue import queries as catalogue_queries
from service.collection import queries as collection_queries
from service.collection.schemas import CollectionRead, CutNameSet, CutTreeSet, TimeSet
from service.grafting import actions as grafting_actions
from service.grafting import queries as grafting_queries
from service.grafting.rules import can_take_back, check_can_take_back, check_may_see, sees_only
from service.grafting.schemas import GraftRead, GraftSummary, GraftUndo
from service.lib.errors import Problem
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import found, id_of
from service.pages.forms import Form, WrongFields, is_id, read_form, submitted
from service.pages.render import for_field, frame, plural, render
from service.provenance import actions as provenance_actions
from service.provenance import queries as provenance_queries
from service.provenance.rules.correcting import deed_words
from service.provenance.schemas import CutMoved, CutRenamed, Renamed, TreeRenamed
from service.trees import queries as tree_queries
from service.trees.rules import Identity, NameChange
from service.trees.schemas import TreeNameSet

router = APIRouter(route_class=PageRoute)
Grafter = Annotated[Asker, may(May.GRAFT)]
Planter = Annotated[Asker, may(May.TREES)]
Collector = Annotated[Asker, may(May.COLLECT)]
NEAR = 6
NONE_OF_THESE = "none"
IDENTITIES = (
    (Identity.FRUIT_COMPARED.value, "compared in fruit"),
    (Identity.DOCUMENTED.value, "documented"),
    (Identity.AS_TOLD.value, "as told"),
    (Identity.UNKNOWN.value, "nobody knows its name"),
)


# -- a graft that was recorded by mistake --------------------------------------------------------------------------


def may_take_back(session: Read, asker: Asker, graft: GraftSummary) -> bool:
    """Whether this person may take a graft back now: the same rules that the action asks."""
    own = sees_only(asker) in (None, graft.for_party_id)
    if not own or graft.take or graft.taken_back_at:
        return False
    facts = grafting_queries.graft_to_take_back(session, graft, lock=False)
    return can_take_back(facts, may_release=May.RELEASE in asker.may)


@router.get("/grafts/{graft_id}/taken-back")
def get_taken_back(request: Request, session: Read, asker: Grafter, graft_id: UUID) -> Response:
    return _back_page(request, session, asker, graft_id, Form())


def _back_page(request: Request, session: Read, asker: Asker, graft_id: UUID, form: Form) -> Response:
    graft = grafting_queries.get_graft(session, graft_id, only_for=sees_only(asker))
    check_may_see(sees_only(asker), graft.for_party_id)
    facts = grafting_queries.graft_to_take_back(session, graft, lock=False)
    why_not: Problem | None = None
    try:
        check_can_take_back(facts, may_release=May.RELEASE in asker.may)
    except Problem as problem:
        why_not = problem
    return render(request, "correcting/taken_back.html", asker=asker, form=form, graft=graft, why_not=why_not)


@router.post("/grafts/{graft_id}/taken-back")
async def post_taken_back(request: Request, session: Read, asker: Grafter, graft_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> GraftRead:
        body = form.into(GraftUndo, "reason")
        return await form.write(grafting_actions.take_back_graft, asker, graft_id, body)

    return await submitted(
        request, form, save, lambda made: (f"/grafts/{graft_id}", _told_back(made)),
        lambda: _back_page(request, session, asker, graft_id, form),
    )  # fmt: skip


def _told_back(made: GraftRead) -> str:
    sticks = sum(wood.sticks for wood in made.woods)
    tags = [f"plant {plant.number}" for plant in made.plants if plant.code]
    back = f"Taken back: {plural(sticks, 'stick')} returned." if sticks else "Taken back."
    return f"{back} Take the tags of {', '.join(tags)} off." if tags else back


# -- the name of a tree --------------------------------------------------------------------------------------------


@router.get("/trees/{tree_id}/name")
def get_name(
    request: Request, session: Read, asker: Planter, tree_id: UUID, what: NameChange = NameChange.WRONG
) -> Response:
    return _name_page(request, session, asker, tree_id, Form(what=what.value))


def _name_page(request: Request, session: Read, asker: Asker, tree_id: UUID, form: Form) -> Response:
    tree = tree_queries.get_tree(session, tree_id)
    if form.data is None:
        form.defaults |= {"taxon_id": tree.taxon_id}
    what = form.text("what")
    return render(
        request, "correcting/name.html", asker=asker, form=form, version=form.opened_on(tree.version), tree=tree,
        kinds=choices.kinds(session), identities=IDENTITIES,
        topworked=what == NameChange.TOPWORKED, which=_near(session, form, form.text("taxon_id")),
        reach=None if what == NameChange.TOPWORKED else provenance_queries.name_reach(session, tree_id),
    )  # fmt: skip


def _near(session: Read, form: Form, taxon: str) -> choices.Choices:
    """Varieties that come near what was typed, once it was asked which of them is meant."""
    if "which" not in form.wrong and not form.text("which"):
        return []
    kind = UUID(taxon) if is_id(taxon) else None
    found = catalogue_queries.search_cultivars(session, form.text("name_as_told"), taxon_id=kind, limit=NEAR)
    return [(each.id, f"{each.page_name} · {each.kind}") for each in found]


@router.post("/trees/{tree_id}/name")
async def post_name(request: Request, session: Read, asker: Planter, tree_id: UUID) -> Response:
    """The right name, and all that follows it; of a topworked tree only what is cut from then on."""
    form = await read_form(request)

    async def save() -> TreeRenamed:
        version = form.version()
        names = ("what", "name_as_told", "identity", "on_day", "reason")
        body = form.into(TreeNameSet, *names, keep_old=form.text("keep_old") == "true", **_named(form))
        return await form.write(provenance_actions.set_tree_name, asker, tree_id, body, version)

    return await submitted(
        request, form, save, lambda made: (f"/trees/{tree_id}", _told_name(made)),
        lambda: _name_page(request, session, asker, tree_id, form), at={"cultivar_id": "name_as_told"},
    )  # fmt: skip


def _named(form: Form) -> dict[str, UUID]:
    """The kind, and the variety where the catalogue knows it. Raises `WrongFields`, asking which where several come near."""
    kind = id_of(form, "taxon_id", choices.kinds)
    told, which = form.text("name_as_told"), form.text("which")
    if not kind:
        raise WrongFields({"taxon_id": "choose the kind"})
    if not told:
        if form.text("identity") == Identity.UNKNOWN:
            return kind
        raise WrongFields({"name_as_told": "its right name; where nobody knows it, say so below"})
    if which and form.text("looked_for") == told:
        return kind if which == NONE_OF_THESE else {**kind, "cultivar_id": form.id("which")}
    with form.reading() as session:
        found = catalogue_queries.find_cultivar(session, kind["taxon_id"], told)
        near = found or catalogue_queries.search_cultivars(session, told, taxon_id=kind["taxon_id"], limit=1)
    if found:
        return {**kind, "cultivar_id": found.id}
    if near:
        raise WrongFields({"which": "the catalogue knows no such spelling: is it one of these?"})
    return kind


def _told_name(made: TreeRenamed) -> str:
    if made.what is NameChange.TOPWORKED:
        return f"It bears {made.words} now; what was cut before keeps its name."
    return _followed(made)


def _followed(made: Renamed) -> str:
    followed = [
        plural(count, thing)
        for count, thing in ((made.cuts, "cut"), (made.bundles, "bundle"), (made.plants, "plant"), (made.trees, "other tree"))
        if count
    ]  # fmt: skip
    return f"It is called {made.words} now." + (f" So are {', '.join(followed)}." if followed else "")


# -- the name of one cut or receipt --------------------------------------------------------------------------------


@router.get("/collections/{collection_id}/name")
def get_cut_name(request: Request, session: Read, asker: Planter, collection_id: UUID) -> Response:
    """For wood from outside, and for a cut from another branch of a tree that bears several varieties."""
    wood = collection_queries.get_collection(session, collection_id)
    if wood.tree_id and len(_borne(session, wood.tree_id)) < 2:
        return RedirectResponse(f"/trees/{wood.tree_id}/name", status_code=303)
    return _cut_name_page(request, session, asker, collection_id, Form())


def _borne(session: Read, tree_id: UUID) -> choices.Choices:
    """The varieties a tree bears."""
    tree = tree_queries.get_tree(session, tree_id)
    main: choices.Choices = [(tree.cultivar_id, tree.page_name)] if tree.cultivar_id else []
    return [*main, *((one.cultivar_id, one.name) for one in tree.varieties)]


def _cut_name_page(
    request: Request, session: Read, asker: Asker, collection_id: UUID, form: Form
) -> Response:
    wood = collection_queries.get_collection(session, collection_id)
    if form.data is None:
        form.defaults = {"taxon_id": wood.taxon_id}
    return render(
        request, "correcting/cut_name.html", asker=asker, form=form, version=form.opened_on(wood.version), wood=wood,
        borne=_borne(session, wood.tree_id) if wood.tree_id else [], kinds=choices.kinds(session),
        which=[] if wood.tree_id else _near(session, form, form.text("taxon_id")),
    )  # fmt: skip


@router.post("/collections/{collection_id}/name")
async def post_cut_name(request: Request, session: Read, asker: Planter, collection_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> CutRenamed:
        version = form.version()
        with form.reading() as apart:
            of_tree = collection_queries.get_collection(apart, collection_id).tree_id is not None
        named = {"cultivar_id": form.id("cultivar_id")} if of_tree else _named(form)
        told = ("on_day", "reason") if of_tree else ("on_day", "reason", "name_as_told")
        body = form.into(CutNameSet, *told, **named)
        return await form.write(provenance_actions.set_cut_name, asker, collection_id, body, version)

    return await submitted(
        request, form, save, lambda made: (f"/collections/{collection_id}", _followed(made)),
        lambda: _cut_name_page(request, session, asker, collection_id, form),
    )  # fmt: skip


# -- the tree a cut came from ------------------------------------------------------------------------------------------


@router.get("/collections/{collection_id}/tree")
def get_cut_tree(request: Request, session: Read, asker: Planter, collection_id: UUID) -> Response:
    return _cut_tree_page(request, session, asker, collection_id, Form())


def _cut_tree_page(
    request: Request, session: Read, asker: Asker, collection_id: UUID, form: Form
) -> Response:
    wood = collection_queries.get_collection(session, collection_id)
    listed = choices.trees(session)
    chosen = ""
    if form.data is not None:
        with suppress(WrongFields):
            chosen = found(form, "tree_id", lambda _: listed)
    return render(
        request, "correcting/cut_tree.html", asker=asker, form=form, version=form.opened_on(wood.version), wood=wood, chosen=chosen,
        trees=[one for one in listed if one[0] != wood.tree_id], borne=_borne(session, UUID(chosen)) if chosen else [],
    )  # fmt: skip


@router.post("/collections/{collection_id}/tree")
async def post_cut_tree(request: Request, session: Read, asker: Planter, collection_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> CutMoved:
        version = form.version()
        tree = id_of(form, "tree_id", choices.trees)
        if not tree:
            raise WrongFields({"tree_id": "choose the tree it was really cut from"})
        with form.reading() as apart:
            borne = _borne(apart, tree["tree_id"])
        told = form.text("cultivar_id") and form.text("looked_at") == str(tree["tree_id"])
        if len(borne) > 1 and not told:
            raise WrongFields({"cultivar_id": "this tree bears several varieties: of which was it?"})
        which = {"cultivar_id": form.id("cultivar_id")} if len(borne) > 1 else {}
        body = form.into(CutTreeSet, "reason", **tree, **which)
        return await form.write(provenance_actions.set_cut_tree, asker, collection_id, body, version)

    return await submitted(
        request, form, save, lambda made: (f"/collections/{collection_id}", _told_moved(made)),
        lambda: _cut_tree_page(request, session, asker, collection_id, form),
    )  # fmt: skip


def _told_moved(made: CutMoved) -> str:
    told = [f"It stands at tree {made.tree_number} now."]
    if made.cuts:
        told.append(_followed(made))
    if made.stays_stopped:
        bound = "is" if made.stays_stopped == 1 else "are"
        told.append(
            f"{plural(made.stays_stopped, 'bundle')} {bound} still stopped with tree {made.from_tree_number}: "
            "the health steward lets go of them."
        )
    if made.stopped_now:
        bound = "is" if made.stopped_now == 1 else "are"
        told.append(
            f"{plural(made.stopped_now, 'bundle')} {bound} stopped with tree {made.tree_number} from now on."
        )
    if made.elsewhere:
        told.append(
            f"{plural(made.elsewhere, 'holder')} of its wood live in another plant-health area, or in none that is known: "
            "ask the authority."
        )
    return " ".join(told)


# -- the time of a cut ---------------------------------------------------------------------------------------------


@router.get("/collections/{collection_id}/time")
def get_time(request: Request, session: Read, asker: Collector, collection_id: UUID) -> Response:
    return _time_page(request, session, asker, collection_id, Form())


def _time_page(request: Request, session: Read, asker: Asker, collection_id: UUID, form: Form) -> Response:
    wood = collection_queries.get_collection(session, collection_id)
    if form.data is None:
        form.defaults = {"done_at": for_field(wood.done_at, frame(request).zone)}
    return render(
        request, "correcting/time.html", asker=asker, form=form, version=form.opened_on(wood.version), wood=wood,
        first=provenance_queries.first_after_cut(session, collection_id), deed_words=deed_words,
        tree=tree_queries.get_tree(session, wood.tree_id) if wood.tree_id else None,
    )  # fmt: skip


@router.post("/collections/{collection_id}/time")
async def post_time(request: Request, session: Read, asker: Collector, collection_id: UUID) -> Response:
    form = await read_form(request)
    zone = frame(request).zone

    async def save() -> CollectionRead:
        version, at = form.version(), form.at("done_at", zone)
        if at is None:
            raise WrongFields({"done_at": "this is needed"})
        with form.reading() as apart:
            before = collection_queries.get_collection(apart, collection_id).done_at
        # A field holds no seconds: what was left as it was is no change.
        done_at = before if for_field(before, zone) == for_field(at, zone) else at
        body = form.into(TimeSet, "reason", done_at=done_at)
        return await form.write(provenance_actions.set_cut_time, asker, collection_id, body, version)

    def then(made: CollectionRead) -> tuple[str, str]:
        with form.reading() as now:
            told = collection_queries.get_collection_with_warnings(now, collection_id).warnings
        mind = next((each.text for each in told if each.word == "before_planting"), "")
        return f"/collections/{collection_id}", "The time is put right." + (f" Mind: {mind}" if mind else "")

    return await submitted(
        request, form, save, then, lambda: _time_page(request, session, asker, collection_id, form),
        at={"cut_on": "done_at"},
    )  # fmt: skip
