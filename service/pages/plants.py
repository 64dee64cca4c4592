"""Grafted plants: what they carry, from hand to hand, and planted out."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.grafting import actions, queries
from service.grafting.rules import (
    NotYourGraft,
    PlantInHand,
    PlantMoveKind,
    PlantState,
    any_wood,
    check_can_pass_on,
    check_may_pass_on,
    sees_only,
    ways_to_pass_on,
)
from service.grafting.schemas import (
    PlantAsTree,
    PlantedTree,
    PlantMoveCreate,
    PlantRead,
    PlantUpdate,
)
from service.lib.errors import Problem
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import May
from service.members.schemas import PartyCreate
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.correcting import may_take_back
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.receivers import receiver_of
from service.pages.render import frame, render

router = APIRouter(route_class=PageRoute)
Grafter = Annotated[Asker, may(May.GRAFT)]
Planter = Annotated[Asker, may(May.TREES)]
THERE = "there"
WORDS = {
    PlantMoveKind.HANDED_OVER.value: "somebody gets it",
    PlantMoveKind.GIVEN_OUTSIDE.value: "it leaves the club",
    PlantMoveKind.RETURNED.value: "it comes back to the club",
    PlantMoveKind.DIED.value: "it died",
    THERE: "it is there after all",
}


@router.get("/plants/{plant_id}")
def get_plant(request: Request, session: Read, asker: Grafter, plant_id: UUID) -> Response:
    return _plant_page(request, session, asker, plant_id, Form(may_cut="ask"))


def _plant_page(request: Request, session: Read, asker: Asker, plant_id: UUID, form: Form) -> Response:
    plant = queries.get_plant(session, plant_id, only_for=sees_only(asker))
    moves = queries.list_plant_moves(
        session, plant_id, Paging(limit=200, counted=False), with_names=any_wood(asker)
    ).items
    return render(
        request, "plants/plant.html", asker=asker, form=form, plant=plant, sites=choices.sites(session),
        moves=moves, names=choices.names_for(session, asker, moves), holder=_holder(session, asker, plant),
        mistaken=may_take_back(session, asker, plant.grafts[0]),
        ways=_ways(asker, queries.plants_to_pass(session, [plant_id], lock=False)[plant_id].plant),
    )  # fmt: skip


def _holder(session: Read, asker: Asker, plant: PlantRead) -> str:
    if plant.state in (PlantState.GONE, PlantState.VOID):
        return ""
    if plant.holder_id is None:
        return "the club"
    if plant.holder_id == asker.party_id:
        return "you"
    if not any_wood(asker):
        return "a member"
    known = member_queries.facts_for_parties(session, [plant.holder_id])[plant.holder_id]
    return "somebody forgotten" if known.forgotten else known.name


def _ways(asker: Asker, hand: PlantInHand) -> list[str]:
    """What this person may write down of a plant now, by the rules that the actions ask."""
    if not any_wood(asker) and hand.holder_id != asker.party_id:
        return []
    lists = May.HAND_OVER in asker.may
    ways = [way.value for way in ways_to_pass_on(hand) if lists or way is not PlantMoveKind.HANDED_OVER]
    died = hand.state is PlantState.GONE and not hand.went_outside and hand.source_tree_id is None
    return [*ways, THERE] if died else ways


@router.post("/plants/{plant_id}/source-tree")
async def post_source_tree(request: Request, session: Read, asker: Planter, plant_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> PlantedTree:
        body = form.into(
            PlantAsTree, "where_on_site", "may_cut", "planted_year", id=form.id("form_key"), **id_of(form, "site_id", choices.sites)
        )  # fmt: skip
        return await form.write(actions.plant_as_tree, asker, plant_id, body)

    return await submitted(
        request, form, save, lambda made: (f"/trees/{made.tree_id}", f"The plant is tree {made.tree_number} now."),
        lambda: _plant_page(request, session, asker, plant_id, form),
    )  # fmt: skip


# -- from hand to hand ---------------------------------------------------------------------------------------------


@router.get("/plants/{plant_id}/pass-on")
def get_pass_on(request: Request, session: Read, asker: Grafter, plant_id: UUID) -> Response:
    return _pass_page(request, session, asker, plant_id, Form())


def _pass_page(request: Request, session: Read, asker: Asker, plant_id: UUID, form: Form) -> Response:
    plant = queries.get_plant(session, plant_id, only_for=sees_only(asker))
    hand = queries.plants_to_pass(session, [plant_id], lock=False)[plant_id].plant
    check_may_pass_on(hand, party_id=asker.party_id, any_plant=any_wood(asker))
    ways, lists = _ways(asker, hand), May.HAND_OVER in asker.may
    if form.data is None and ways:
        form.defaults = {"kind": ways[0]}
    return render(
        request, "plants/pass_on.html", asker=asker, form=form, plant=plant, holder=_holder(session, asker, plant),
        version=form.opened_on(plant.version), ways=[(way, WORDS[way]) for way in ways], why_not=_why_not(hand),
        people=choices.people(request) if lists else [], areas=choices.areas(session) if lists else [],
    )  # fmt: skip


def _why_not(hand: PlantInHand) -> Problem | None:
    """Why nobody gets the plant now, where that is so."""
    try:
        check_can_pass_on(hand, PlantMoveKind.HANDED_OVER, UUID(int=0))
    except Problem as problem:
        return problem
    return None


@router.post("/plants/{plant_id}/pass-on")
async def post_pass_on(request: Request, session: Read, asker: Grafter, plant_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> str:
        if form.text("kind") == THERE:
            await form.write(actions.change_plant, asker, plant_id, form.version(), PlantUpdate(gone=False))
            return "It is there after all: written down."
        body, guest = _move(request, asker, plant_id, form)
        if guest is not None:
            return (await form.write(actions.pass_on_to_guest, asker, guest, [body]))[0].words
        return (await form.write(actions.pass_on_plants, asker, [body]))[0].words

    def then(words: str) -> tuple[str, str]:
        with form.reading() as now:
            try:
                plant = queries.get_plant(now, plant_id, only_for=sees_only(asker))
            except NotYourGraft:
                return "/bench", words
        return f"/plants/{plant.id}", words

    return await submitted(
        request, form, save, then, lambda: _pass_page(request, session, asker, plant_id, form)
    )


def _move(
    request: Request, asker: Asker, plant_id: UUID, form: Form
) -> tuple[PlantMoveCreate, PartyCreate | None]:
    """What was typed; only who has the list of people may choose by name. Raises `WrongFields`."""
    more: dict[str, Any] = {"id": form.id("form_key"), "plant_id": plant_id}
    guest = None
    if form.text("kind") == PlantMoveKind.HANDED_OVER:
        if May.HAND_OVER in asker.may:
            more["party_id"], guest = receiver_of(form)
        else:
            more["party_id"] = form.id("party_id")
    if form.text("kind") == PlantMoveKind.GIVEN_OUTSIDE:
        more["to_whom"] = form.text("to_whom")
    if (done_at := form.at("done_at", frame(request).zone)) is not None:
        more["done_at"] = done_at
    if form.text("kind") not in set(PlantMoveKind):
        raise WrongFields({"kind": "choose what becomes of it"})
    return form.into(PlantMoveCreate, "kind", "reason", **more), guest
