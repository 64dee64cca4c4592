"""Scanning: the camera, a picture from the gallery, or a code that is typed; each leads to the answer of the tag."""

from __future__ import annotations

from functools import partial

import anyio.to_thread
from fastapi import APIRouter, Request, Response
from sqlmodel import Session
from starlette.responses import RedirectResponse

from service.lib.codes import group_code
from service.lib.errors import Problem, TooMany
from service.lib.request import Read, status_of
from service.lib.routing import PageRoute
from service.lib.symbols import see_symbols
from service.members.signin import Asker, MaybeSignedIn
from service.members.signin.limits import address_of, limits_of
from service.pages.forms import Form, WrongFields, read_form
from service.pages.render import render
from service.storage import queries as storage_queries
from service.storage.rules.counting import check_seen
from service.tags import queries

router = APIRouter(route_class=PageRoute)
# A stranger may send a picture too; each costs a fifth of a second of the one program that reads them.
_reading = anyio.CapacityLimiter(4)


@router.get("/scan")
def get_scan(request: Request, session: Read, asker: MaybeSignedIn) -> Response:
    """The camera, which opens at once."""
    return _page(request, session, asker, Form(), now=True)


@router.post("/scan")
async def post_scan(request: Request, session: Read, asker: MaybeSignedIn) -> Response:
    """A code that was typed, or a picture whose tags are read here, where the browser cannot."""
    form = await read_form(request)
    try:
        return await _seen(request, session, asker, form)
    except Problem as problem:
        form.problem = problem
        form.wrong = getattr(problem, "wrong", None) or (
            {problem.field: problem.detail} if problem.field in ("code", "picture") else {}
        )
        answer = _page(request, session, asker, form)
        answer.status_code = status_of(problem)
        return answer


async def _seen(request: Request, session: Session, asker: Asker | None, form: Form) -> Response:
    sent = form.upload("picture")
    if sent is None:
        if not form.text("code"):
            raise WrongFields({"code": "type the code, or choose a picture of the tag"})
        return RedirectResponse(
            f"/T/{queries.get_typed_tag(session, form.text('code')).code}", status_code=303
        )
    if _reading.available_tokens < 1:
        raise TooMany(
            "Several pictures are being read just now.",
            todo="Send it again in a few seconds, or type the code.",
        )
    if asker is None:
        limits_of(request).take_picture(address_of(request))
    see = partial(see_symbols, await sent.read(), alone=asker is None)
    picture = await anyio.to_thread.run_sync(see, limiter=_reading)
    check_seen(picture.in_all)
    texts = list(dict.fromkeys(symbol.text for symbol in picture.symbols))
    if len(texts) == 1:
        return RedirectResponse(f"/T/{queries.get_typed_tag(session, texts[0]).code}", status_code=303)
    means = storage_queries.meaning_of_seen(session, texts)
    return _page(request, session, asker, form, several=[means[text] for text in texts])


def _page(
    request: Request, session: Session, asker: Asker | None, form: Form, *, now: bool = False,
    several: list[tuple[str, object, str]] | None = None,
) -> Response:  # fmt: skip
    listed = [(group_code(code) if code else "", code, words) for code, _, words in several or []]
    return render(
        request, "scanning/scan.html", asker=asker, form=form, now=now, several=listed,
        hosts=sorted(queries.accepted_hosts(session)),
    )  # fmt: skip
