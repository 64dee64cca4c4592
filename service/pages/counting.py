"""Counting a shelf or a box: scan what lies there, one after another, then settle what differs."""

from __future__ import annotations

from functools import partial
from typing import Annotated
from uuid import UUID, uuid5

import anyio.to_thread
from fastapi import APIRouter, Request, Response

from service.lib.counted import several
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.pictures.shelf import boxes_over
from service.pages.render import render
from service.storage import actions, queries
from service.storage.rules import Found, as_box
from service.storage.schemas import (
    PutAwayCreate,
    PutAwayRead,
    ShelfCountCreate,
    ShelfCountRead,
    ShelfPhotoRead,
    ShelfScanCreate,
    ShelfScanned,
)
from service.tags import queries as tag_queries

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]


@router.get("/store/count")
def get_begin(request: Request, session: Read, asker: Host, of: str = "") -> Response:
    return _begin_page(request, session, asker, Form(of=of))


def _begin_page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    spots = [(f"place:{place}", words) for place, words in choices.places(session)]
    spots += [(f"box:{box}", as_box(words)) for box, words in choices.boxes(session)]
    return render(
        request, "store/count_begin.html", asker=asker, form=form, spots=spots, recent=queries.recent_counts(session)
    )  # fmt: skip


@router.post("/store/count")
async def post_begin(request: Request, session: Read, asker: Host) -> Response:
    form = await read_form(request)

    async def save() -> ShelfCountRead:
        kind, _, told = form.text("of").partition(":")
        if kind not in ("place", "box") or not told:
            raise WrongFields({"of": "choose the shelf or the box"})
        body = form.into(ShelfCountCreate, id=form.id("form_key"), **{f"{kind}_id": told})
        return await form.write(actions.begin_count, asker, body)

    return await submitted(
        request, form, save, lambda made: (f"/store/count/{made.id}", ""), lambda: _begin_page(request, session, asker, form)
    )  # fmt: skip


@router.get("/store/count/{count_id}")
def get_count(request: Request, session: Read, asker: Host, count_id: UUID) -> Response:
    return _count_page(request, session, asker, count_id, Form())


def _count_page(request: Request, session: Read, asker: Asker, count_id: UUID, form: Form) -> Response:
    count, photos = queries.get_count(session, count_id), queries.photos_of_count(session, count_id)
    return render(
        request, "store/count.html", asker=asker, form=form, count=count, photos=[(one, boxes_over(one)) for one in photos],
        by_id={each.bundle_id: each for each in (*count.present, *count.not_expected, *count.missing)},
        hosts=sorted(tag_queries.accepted_hosts(session)),
    )  # fmt: skip


@router.post("/store/count/{count_id}/photo")
async def post_photo(request: Request, session: Read, asker: Host, count_id: UUID) -> Response:
    """All tags of a picture at once."""
    form = await read_form(request)

    async def save() -> ShelfPhotoRead:
        return await _read_photo(request, form, asker, count_id)

    return await submitted(
        request, form, save, lambda made: (f"/store/count/{count_id}#photo", _photo_words(made)),
        lambda: _count_page(request, session, asker, count_id, form),
    )  # fmt: skip


async def _read_photo(request: Request, form: Form, asker: Asker, count_id: UUID) -> ShelfPhotoRead:
    """Read a picture, keep it, and count what it shows. Raises `WrongFields` where none was chosen."""
    sent = form.upload("picture")
    if sent is None:
        raise WrongFields({"picture": "choose a picture of all that lies there"})
    raw = await sent.read()
    with form.reading() as apart:
        actions.check_takes_photo(apart, count_id)
    see = partial(actions.see_shelf, request.app.state.settings.data_dir, raw, id=form.id("form_key"))
    body = await anyio.to_thread.run_sync(see)
    return await form.write(actions.read_shelf_photo, asker, count_id, body)


def _photo_words(photo: ShelfPhotoRead) -> str:
    """Bundles are counted once, however many tags of theirs are seen."""
    found = {one.bundle_id: one.finding for one in photo.seen if one.bundle_id}
    there, strange = (list(found.values()).count(finding) for finding in (Found.PRESENT, Found.NOT_EXPECTED))
    bundles = f"{several(there, 'bundle', 'bundles')} there as they should be"
    return f"{several(len(photo.seen), 'tag was', 'tags were')} read: {bundles}{f', {strange} not expected here' if strange else ''}."


@router.post("/store/count/{count_id}/scan")
async def post_scan(request: Request, session: Read, asker: Host, count_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> ShelfScanned:
        body = form.into(ShelfScanCreate, "code")
        return await form.write(actions.scan_on_shelf, asker, count_id, body)

    def then(found: ShelfScanned) -> tuple[str, str]:
        said = {Found.PRESENT: "there, as it should be", Found.NOT_EXPECTED: "not expected here"}[
            found.finding
        ]
        where = (
            f"; the record has it in {found.lies}"
            if found.finding is Found.NOT_EXPECTED and found.lies
            else ""
        )
        again = " It was scanned before." if found.again else ""
        return f"/store/count/{count_id}", f"{found.code}: {said}{where}.{again}"

    return await submitted(
        request, form, save, then, lambda: _count_page(request, session, asker, count_id, form)
    )  # fmt: skip


@router.post("/store/count/{count_id}/settle")
async def post_settle(request: Request, session: Read, asker: Host, count_id: UUID) -> Response:
    """What is not expected is put here; what is missing is written down as taken out."""
    form = await read_form(request)

    async def save() -> list[PutAwayRead]:
        with form.reading() as apart:
            count = queries.get_count(apart, count_id)
        spot = {"place_id": count.place_id} if count.place_id else {"into_box_id": count.box_id}
        told: dict[str, object] = (
            {"out": True, "note": "missing when counted"} if form.text("act") == "out" else dict(spot)
        )
        chosen = form.all("bundle_id")
        if (
            len(chosen) > 1 and form.text("act") == "out"
        ):  # those that were put elsewhere since stay where they are
            with form.reading() as apart:
                lying = queries.expected_in(apart, count.place_id, count.box_id)
            chosen = [one for one in chosen if one in {str(each) for each in lying}]
        if not chosen:
            raise WrongFields({"form": "none of them lies here any more"})
        body = [
            form.into(PutAwayCreate, id=uuid5(form.id("form_key"), one), bundle_id=one, **told)
            for one in chosen
        ]
        return await form.write(actions.put_away, asker, body)

    return await submitted(
        request, form, save, lambda made: (f"/store/count/{count_id}", _settled(made)),
        lambda: _count_page(request, session, asker, count_id, form),
    )  # fmt: skip


def _settled(made: list[PutAwayRead]) -> str:
    if len(made) == 1:
        return "Written down."
    return f"{len(made)} bundles are written down as {'lying here' if made[0].into_box_id or made[0].place_id else 'not in the store'}."


@router.post("/store/count/{count_id}/end")
async def post_end(request: Request, session: Read, asker: Host, count_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> ShelfCountRead:
        return await form.write(actions.end_count, asker, count_id)

    return await submitted(
        request, form, save, lambda made: (f"/store/count/{count_id}", f"Counted: {len(made.present)} there, {len(made.missing)} missing."),
        lambda: _count_page(request, session, asker, count_id, form),
    )  # fmt: skip
