"""Stops and recalls: what may not be used, whom to tell, what else to consider."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import queries as bundle_queries
from service.catalogue import queries as catalogue_queries
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May, names_only
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.render import frame, plural, render
from service.provenance import actions, queries
from service.provenance.rules.stops import Why
from service.provenance.schemas import (
    BoundRead,
    RecallCreate,
    RecallRead,
    StopBind,
    StopOnWoodRead,
    StopOpen,
    StopRelease,
    ToldCreate,
)
from service.trees import queries as tree_queries
from service.trees.schemas import StopCandidate, StopRead, StopStepCreate

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]
Stopper = Annotated[Asker, may(May.STOP)]
Releaser = Annotated[Asker, may(May.RELEASE)]
Recaller = Annotated[Asker, may(May.RECALL)]
BOUND_AS = {
    Why.SAME_SITE: "stands on the same site",
    Why.SAME_ROUND: "cut later on the same round",
    Why.BOX_MATE: "lay in one box with it",
    Why.EARLIER_WINTER: "cut of an earlier winter",
    Why.LATE_ENTRY: "written down when its tree was stopped",
    Why.PROPOSED: "bound by decision",
}


@router.get("/stops")
def get_stops(request: Request, session: Read, asker: Reader, cursor: str | None = None) -> Response:
    return render(
        request, "stopping/stops.html", asker=asker, page=tree_queries.list_stops(session, Paging(cursor, 50))
    )


@router.get("/stops/new")
def get_new_stop(
    request: Request, session: Read, asker: Stopper, tree: UUID | None = None, bundle: UUID | None = None, reason: str = "health",
    agent: str = "",
) -> Response:  # fmt: skip
    return _stop_form(
        request, session, asker, Form(tree_id=tree, bundle_id=bundle, reason=reason, agent=agent[:200])
    )


def _stop_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    tree = tree_queries.get_tree(session, form.id("tree_id")) if form.text("tree_id") else None
    bundle = bundle_queries.get_bundle(session, form.id("bundle_id")) if form.text("bundle_id") else None
    genus = catalogue_queries.get_taxon(session, tree.taxon_id).genus if tree else None
    return render(
        request,
        "stopping/new.html",
        asker=asker,
        form=form,
        tree=tree,
        bundle=bundle,
        agents=choices.agents(session, genus),
    )


@router.post("/stops/new")
async def post_new_stop(request: Request, session: Read, asker: Stopper) -> Response:
    form = await read_form(request)

    async def save() -> StopOnWoodRead:
        body = form.into(
            StopOpen,
            "tree_id",
            "bundle_id",
            "reason",
            "agent",
            "note",
            id=form.id("form_key"),
        )
        return await form.write(actions.open_stop, asker, body)

    return await submitted(
        request, form, save,
        lambda made: (f"/stops/{made.stop.id}", f"Stopped. Bound: {_bound_words(made.bound)}."),
        lambda: _stop_form(request, session, asker, form),
    )  # fmt: skip


@router.get("/stops/{stop_id}")
def get_stop(
    request: Request, session: Read, asker: Reader, stop_id: UUID, cursor: str | None = None
) -> Response:
    return _stop_page(request, session, asker, stop_id, Form(), cursor)


def _stop_page(
    request: Request, session: Read, asker: Asker, stop_id: UUID, form: Form, cursor: str | None = None
) -> Response:
    few = Paging(limit=50, counted=False)
    tells = May.RECALL in asker.may
    recall = queries.find_recall_of(session, stop_id) if tells else None
    wood = queries.get_stop_on_wood(session, stop_id)
    return render(
        request, "stopping/stop.html", asker=asker, form=form, wood=wood, tells=tells, consider=_by_tree(wood.proposals.trees),
        recall=queries.get_recall(session, recall, frame(request).today) if recall else None,
        bundles=queries.list_bound_bundles(session, stop_id, Paging(cursor, 200, counted=False), name_only=names_only(asker)),
        plants=queries.list_bound_plants(session, stop_id, few).items if May.STICKS in asker.may else [],
        released=queries.list_released(session, stop_id, few), why=BOUND_AS,
    )  # fmt: skip


def _by_tree(found: list[StopCandidate]) -> list[tuple[StopCandidate, list[str]]]:
    """Each tree to consider once, with every reason to."""
    trees: dict[UUID, tuple[StopCandidate, list[str]]] = {}
    for each in found:
        trees.setdefault(each.tree_id, (each, []))[1].append(each.words)
    return list(trees.values())


@router.post("/stops/{stop_id}/bind")
async def post_bind(request: Request, session: Read, asker: Stopper, stop_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> StopOnWoodRead:
        body = form.into(StopBind, tree_ids=form.all("tree_ids"), bundle_ids=form.all("bundle_ids"))
        return await form.write(actions.bind_also, asker, stop_id, body)

    return await submitted(
        request, form, save, lambda made: (f"/stops/{stop_id}", f"Bound now: {_bound_words(made.bound)}."),
        lambda: _stop_page(request, session, asker, stop_id, form),
    )  # fmt: skip


@router.post("/stops/{stop_id}/step")
async def post_step(request: Request, session: Read, asker: Releaser, stop_id: UUID) -> Response:
    """Confirm it, or clear it and let everything go."""
    form = await read_form(request)

    async def save() -> StopRead:
        act = actions.clear_stop if form.text("step") == "clear" else actions.confirm_stop
        return await form.write(act, asker, stop_id, form.into(StopStepCreate, "note"))

    return await submitted(
        request, form, save, lambda made: (f"/stops/{stop_id}", f"The stop is {made.state}."),
        lambda: _stop_page(request, session, asker, stop_id, form),
    )  # fmt: skip


@router.post("/stops/{stop_id}/release")
async def post_release(request: Request, session: Read, asker: Releaser, stop_id: UUID) -> Response:
    """Let go what was bound in error; the stop goes on for the rest."""
    form = await read_form(request)

    async def save() -> StopOnWoodRead:
        if not form.all("bundle_ids"):
            raise WrongFields({"bundle_ids": "tick at least one bundle"})
        body = form.into(StopRelease, "reason", bundle_ids=form.all("bundle_ids"))
        return await form.write(actions.release_from_stop, asker, stop_id, body)

    return await submitted(
        request, form, save, lambda made: (f"/stops/{stop_id}", f"Released. Still bound: {_bound_words(made.bound)}."),
        lambda: _stop_page(request, session, asker, stop_id, form),
    )  # fmt: skip


def _bound_words(bound: BoundRead) -> str:
    told = [
        plural(count, thing)
        for count, thing in ((bound.bundles, "bundle"), (bound.plants, "plant"), (bound.trees, "tree"))
        if count
    ]
    return ", ".join(told) or "nothing"


@router.post("/stops/{stop_id}/recall")
async def post_recall(request: Request, session: Read, asker: Recaller, stop_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> RecallRead:
        return await form.write(
            actions.start_recall, asker, RecallCreate(id=form.id("form_key"), stop_id=stop_id)
        )

    return await submitted(
        request, form, save, lambda made: (f"/stops/{stop_id}", f"{made.parties} to be told."),
        lambda: _stop_page(request, session, asker, stop_id, form),
    )  # fmt: skip


@router.post("/stops/{stop_id}/told/{recall_id}")
async def post_told(
    request: Request, session: Read, asker: Recaller, stop_id: UUID, recall_id: UUID
) -> Response:
    form = await read_form(request)

    async def save() -> RecallRead:
        return await form.write(actions.mark_told, asker, recall_id, form.into(ToldCreate, "party_id", "how"))

    return await submitted(
        request, form, save, lambda made: (f"/stops/{stop_id}", f"{made.not_told} still to be told."),
        lambda: _stop_page(request, session, asker, stop_id, form),
    )  # fmt: skip
