"""In store: what lies where, what is put away by scan, and looks at bundles."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import queries as bundle_queries
from service.lib.codes import group_code
from service.lib.paging import EVERY, Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import SEE_CARE, May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, is_id, read_form, submitted
from service.pages.lines import keeps_of, lines_for_store, lying_of
from service.pages.render import boxed, frame, render
from service.storage import actions, queries
from service.storage.rules import as_box
from service.storage.rules import packing as rules
from service.storage.schemas import (
    BoxCreate,
    BoxRead,
    BundleCheckCreate,
    BundleCheckRead,
    NeighbourRead,
    PackingCreate,
    PutAwayCreate,
    PutAwayRead,
    StoreCreate,
    StoreRead,
)

SEEN = ("buds", "wrinkled", "mould", "green_under_scratch", "bag_grams")
PACKED = ("packing", "waxed", "disinfected")
PACKINGS = [(one.value, words) for one, words in rules.PACKINGS.items()]
NAMED = 3  # neighbours told by name; a notice is read at a glance
router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS)]
Carer = Annotated[Asker, may(May.BUNDLE_CHECKS, to=SEE_CARE)]


@router.get("/store")
def get_stores(request: Request, session: Read, asker: Host) -> Response:
    return render(
        request, "store/stores.html", asker=asker, stores=queries.list_stores(session, EVERY),
        people=dict(choices.people(request)), boxes=queries.list_boxes(session, EVERY),
    )  # fmt: skip


@router.get("/store/new")
def get_new_store(request: Request, session: Read, asker: Host) -> Response:
    return _store_form(request, session, asker, Form(kind="fridge", host_id=asker.party_id))


def _store_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(request, "store/new_store.html", asker=asker, form=form, people=choices.people(request))


@router.post("/store/new")
async def post_new_store(request: Request, session: Read, asker: Host) -> Response:
    form = await read_form(request)

    async def save() -> StoreRead:
        shelves = [line.strip() for line in form.text("places").splitlines() if line.strip()]
        names = ("name", "kind", "whereabouts", "fruit_inside", "note")
        host = id_of(form, "host_id", choices.parties)
        body = form.into(StoreCreate, *names, id=form.id("form_key"), places=shelves, **host)
        return await form.write(actions.add_store, asker, body)

    return await submitted(
        request, form, save, lambda made: (f"/store/{made.id}", "The store is in the record; print its tag for the door."),
        lambda: _store_form(request, session, asker, form),
    )  # fmt: skip


@router.get("/store/box")
def get_new_box(request: Request, session: Read, asker: Host) -> Response:
    return _box_form(request, session, asker, Form())


def _box_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(request, "store/new_box.html", asker=asker, form=form, places=choices.places(session))


@router.post("/store/box")
async def post_new_box(request: Request, session: Read, asker: Host) -> Response:
    form = await read_form(request)

    async def save() -> BoxRead:
        return await form.write(
            actions.add_box, asker, form.into(BoxCreate, "name", "place_id", "note", id=form.id("form_key"))
        )

    return await submitted(
        request, form, save, lambda made: (f"/store/box/{made.id}", f"{boxed(made.name)} is in the record; print its tag."),
        lambda: _box_form(request, session, asker, form),
    )  # fmt: skip


@router.get("/store/box/{box_id}")
def get_box(request: Request, session: Read, asker: Host, box_id: UUID) -> Response:
    page = queries.contents_of_box(session, box_id, EVERY)
    return render(
        request, "store/box.html", asker=asker, box=queries.get_box(session, box_id), page=page,
        form=Form(into=f"box:{box_id}"), places=choices.places(session), kept=keeps_of(session, page.items),
    )  # fmt: skip


@router.get("/store/put-away")
def get_put_away(request: Request, session: Read, asker: Host, thing: str = "", into: str = "") -> Response:
    return _put_form(request, session, asker, Form(things=thing, into=into))


def _put_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request, "store/put_away.html", asker=asker, form=form,
        targets=[(f"place:{place}", words) for place, words in choices.places(session)]
        + [(f"box:{box}", f"into {as_box(words)}") for box, words in choices.boxes(session)]
        + [("out:", "taken out of the store")],
        packings=PACKINGS,
    )  # fmt: skip


@router.post("/store/put-away")
async def post_put_away(request: Request, session: Read, asker: Host) -> Response:
    """Scanned or typed codes, one a line, go to one place; a box goes with all that lies in it."""
    form = await read_form(request)

    async def save() -> list[PutAwayRead]:
        codes = [code for code in form.text("things").replace(",", "\n").splitlines() if code.strip()]
        if not codes:
            raise WrongFields({"things": "scan or type at least one code"})
        at = form.at("done_at", frame(request).zone)
        when = {"done_at": at} if at else {}
        isolate = form.text("to_isolate") == "true"
        body = [
            form.into(
                PutAwayCreate, "note", *PACKED, code=code.strip(), id=UUID(int=form.id("form_key").int ^ (i + 1)), to_isolate=isolate,
                **_target(form), **when,
            )
            for i, code in enumerate(codes)
        ]  # fmt: skip
        return await form.write(actions.put_away, asker, body)

    def then(made: list[PutAwayRead]) -> tuple[str, str]:
        moved = sum(each.moved for each in made)
        warned = sorted({words for each in made for words in each.warnings})
        store = next((each.store_id for each in made if each.store_id), None)
        words = f"{moved} {'bundle' if moved == 1 else 'bundles'} put away." + (
            f" Mind: {warned[0]}" if warned else ""
        )
        return (f"/store/{store}" if store else "/store"), words

    return await submitted(
        request, form, save, then, lambda: _put_form(request, session, asker, form), at={"code": "things"}
    )


def _target(form: Form) -> dict[str, object]:
    kind, _, told = form.text("into").partition(":")
    match kind:
        case "place":
            return {"place_id": told}
        case "box":
            return {"into_box_id": told}
        case "out":
            return {"out": True}
    if form.text("into_code"):
        return {"into_code": form.text("into_code")}
    raise WrongFields({"into": "choose where they go, or scan the box or the store"})


@router.get("/store/look/{bundle_id}")
def get_look(
    request: Request, session: Read, asker: Looker, bundle_id: UUID, due: UUID | None = None
) -> Response:
    return _look_form(request, session, asker, bundle_id, Form(due=due or ""))


def _look_form(request: Request, session: Read, asker: Asker, bundle_id: UUID, form: Form) -> Response:
    bundle = bundle_queries.get_bundle(session, bundle_id)
    return render(
        request, "store/look.html", asker=asker, form=form, bundle=bundle, kept=keeps_of(session, [bundle]),
        looks=queries.list_checks(session, bundle_id, Paging(limit=10)), packings=PACKINGS,
        packed=queries.packings_of(session, bundle_id, request.app.state.clock.now()),
    )  # fmt: skip


@router.post("/store/look/{bundle_id}")
async def post_look(request: Request, session: Read, asker: Looker, bundle_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> BundleCheckRead | None:
        key, packed = form.id("form_key"), any(form.text(name) for name in PACKED)
        at = form.at("packed_at", frame(request).zone) if form.text("packed_at") else None
        if at and not packed:
            raise WrongFields({"packing": "say how it is packed since then"})
        if packed and not any(form.text(name) for name in ("all_well", *SEEN)):
            one = form.into(PackingCreate, *PACKED, "note", id=key, bundle_id=bundle_id, done_at=at)
            await form.write(actions.tell_packing, asker, [one])
            return None
        well = {"buds": "tight", "wrinkled": False, "mould": False} if form.text("all_well") else {}
        names = PACKED if well else (*PACKED, *SEEN)
        body = form.into(BundleCheckCreate, *names, "note", id=key, bundle_id=bundle_id, packed_at=at, **well)
        return (await form.write(actions.record_bundle_checks, asker, [body]))[0]

    def then(made: BundleCheckRead | None) -> tuple[str, str]:
        back = f"/store/{form.text('due')}/due" if is_id(form.text("due")) else f"/bundles/{bundle_id}"
        if made is None:
            return back, "How it is packed is in the record."
        if made.look_at:  # the list of the store has them all
            with form.reading() as apart:
                lies = queries.whereabouts(apart, [bundle_id]).get(bundle_id)
            back = f"/store/{lies.store_id}/due" if lies and lies.store_id else back
        return back, f"The look is in the record. {_neighbours(made.look_at)}".strip()

    return await submitted(
        request, form, save, then, lambda: _look_form(request, session, asker, bundle_id, form)
    )


def _neighbours(near: list[NeighbourRead]) -> str:
    """Who lay beside mould: how many, and the first of them by name and code; all stand on the store's list."""
    if not near:
        return ""
    told = [
        f"{each.name} ({group_code(each.code)})" if each.code else f"{each.name} (a stick flag)"
        for each in near[:NAMED]
    ]
    rest = f" and {len(near) - NAMED} more" if len(near) > NAMED else ""
    one = len(near) == 1
    return (
        f"{len(near)} {'bundle lies' if one else 'bundles lie'} beside it in {as_box(near[0].box_name)}, and "
        f"{'is' if one else 'are'} due for a look: {', '.join(told)}{rest}."
    )


@router.get("/store/{store_id}/due")
def get_due(request: Request, session: Read, asker: Carer, store_id: UUID) -> Response:
    """What should be looked at in a store, and why; one after another, and back to this list."""
    due = queries.checks_due(session, store_id, request.app.state.clock.now())
    store = queries.get_store(session, store_id)
    return render(request, "store/due.html", asker=asker, store=store, due=due)


@router.get("/store/{store_id}")
def get_store(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    page = queries.store_page(session, store_id)
    return render(
        request,
        "store/store.html",
        asker=asker,
        page=page,
        lines=lines_for_store(request, session, page),
        kept=keeps_of(session, lying_of(page)),
        people=dict(choices.people(request)),
        quiet=queries.quiet_in_store(session, store_id, request.app.state.clock.now()),
    )
