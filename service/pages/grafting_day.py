"""At the bench: the scanned bundle, the stock, the method; later, whether it took."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import queries as bundle_queries
from service.collection import queries as collection_queries
from service.grafting import actions, queries
from service.grafting.rules import CAUTIONS, sees_only
from service.grafting.schemas import (
    GraftCreate,
    GraftRead,
    TakeCheckCreate,
    TakeChecked,
)
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May, names_only
from service.members.signin import Asker, may
from service.pages import choices, stocks
from service.pages.correcting import may_take_back
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.lines import keeps_of
from service.pages.render import frame, render
from service.tags import queries as tag_queries
from service.tags.rules.words import TagKind

router = APIRouter(route_class=PageRoute)
Grafter = Annotated[Asker, may(May.GRAFT)]


@router.get("/bench")
def get_bench(request: Request, session: Read, asker: Grafter) -> Response:
    return _bench_page(request, session, asker, Form())


def _bench_page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    own = sees_only(asker)
    held = bundle_queries.list_bundles(
        session, Paging(limit=20), holder_id=asker.acting_for_id, on_hand=True, name_only=names_only(asker)
    )
    return render(
        request, "grafting_day/bench.html", asker=asker, form=form, held=held, kept=keeps_of(session, held.items),
        due=queries.list_takes_due(session, Paging(limit=20), frame(request).today, only_for=own),
        grafts=queries.list_grafts(session, Paging(limit=20), only_for=own),
    )  # fmt: skip


@router.post("/bench")
async def post_bench(request: Request, session: Read, asker: Grafter) -> Response:
    """A scanned or typed code goes on to its bundle or its plant."""
    form = await read_form(request)

    async def save() -> str:
        found = tag_queries.get_typed_tag(session, form.text("code"))
        if found.kind == TagKind.BUNDLE:
            return f"/bench/graft/{found.thing_id}"
        if found.kind == TagKind.PLANT:
            return f"/plants/{found.thing_id}"
        raise WrongFields({"code": "this tag is on neither a bundle nor a grafted plant"})

    return await submitted(
        request, form, save, lambda address: (address, ""), lambda: _bench_page(request, session, asker, form)
    )


@router.get("/bench/graft/{bundle_id}")
def get_graft_form(request: Request, session: Read, asker: Grafter, bundle_id: UUID) -> Response:
    return _graft_form(
        request, session, asker, bundle_id, Form(sticks=1, grafts=1, plants=1, method="whip-and-tongue")
    )


def _graft_form(request: Request, session: Read, asker: Asker, bundle_id: UUID, form: Form) -> Response:
    bundle = bundle_queries.get_bundle(session, bundle_id)
    wood = collection_queries.get_collection(session, bundle.collection_id)
    return render(
        request, "grafting_day/graft.html", asker=asker, form=form, bundle=bundle, wood=wood,
        **stocks.for_wood(session, wood.taxon_id, wood.cultivar_id), methods=choices.methods(session), cautions=CAUTIONS,
        sites=choices.sites(session), kept=keeps_of(session, [bundle]),
        stopped_by=bundle_queries.stop_words(session, [bundle_id]).get(bundle_id, []) if bundle.stopped else [],
    )  # fmt: skip


@router.post("/bench/graft/{bundle_id}")
async def post_graft(request: Request, session: Read, asker: Grafter, bundle_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> GraftRead:
        woods: list[dict[str, object]] = [{"bundle_id": bundle_id, "sticks": form.text("sticks") or 1}]
        if form.text("interstem_code"):
            woods.append(
                {
                    "code": form.text("interstem_code"),
                    "sticks": form.text("interstem_sticks") or 1,
                    "part": "interstem",
                }
            )
        names = ("method", "grafts", "plants", "stock_code", "stock_as_told", "note")
        stock = stocks.chosen(form)
        body = form.into(
            GraftCreate,
            *names,
            id=form.id("form_key"),
            woods=woods,
            **stock,
            **id_of(form, "site_id", choices.sites),
        )
        return (await form.write(actions.record_grafts, asker, [body]))[0]

    return await submitted(
        request, form, save, lambda made: (f"/grafts/{made.id}", "The graft is in the record. Label it now: scion, stock and date."),
        lambda: _graft_form(request, session, asker, bundle_id, form), at={"code": "interstem_code"},
    )  # fmt: skip


@router.get("/grafts/{graft_id}")
def get_graft(request: Request, session: Read, asker: Grafter, graft_id: UUID) -> Response:
    return _graft_page(request, session, asker, graft_id, Form(is_verdict="false"))


def _graft_page(request: Request, session: Read, asker: Asker, graft_id: UUID, form: Form) -> Response:
    graft = queries.get_graft(session, graft_id, only_for=sees_only(asker))
    names = choices.names_for(session, asker, [graft, *graft.looks])
    return render(
        request, "grafting_day/graft_page.html", asker=asker, form=form, graft=graft, names=names,
        mistaken=may_take_back(session, asker, graft),
    )  # fmt: skip


@router.post("/grafts/{graft_id}/look")
async def post_look(request: Request, session: Read, asker: Grafter, graft_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> TakeChecked:
        names = ("alive", "looked_at", "doubtful", "other_cause", "cause", "seen_on", "note")
        body = form.into(
            TakeCheckCreate,
            *names,
            id=form.id("form_key"),
            graft_id=graft_id,
            is_verdict=form.text("is_verdict") == "true",
        )
        return (await form.write(actions.record_take_checks, asker, [body]))[0]

    return await submitted(
        request, form, save, lambda made: (f"/grafts/{graft_id}", f"{made.alive} of {made.looked_at} live: written down."),
        lambda: _graft_page(request, session, asker, graft_id, form),
    )  # fmt: skip
