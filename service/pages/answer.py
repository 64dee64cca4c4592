"""What a scanned tag says: as a page for people, as JSON for programs, from the same answer."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service.lib.etags import VARY, digest_of, is_known
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.signin import MaybeSignedIn
from service.pages.pictures import life_line_of_card
from service.pages.render import frame, render
from service.provenance import queries
from service.tags.rules.words import TagKind

router = APIRouter(route_class=PageRoute)


@router.get("/T/{code}")
@router.get("/t/{code}")
def get_answer(request: Request, session: Read, asker: MaybeSignedIn, code: str) -> Response:
    """The answer to a scan: a page where a browser asks, JSON else. A copy that still holds gives 304."""
    answer = queries.answer_for(session, code, asker, request.app.state.clock.now())
    if "text/html" in request.headers.get("accept", ""):
        around = frame(request)
        picture = (
            life_line_of_card(answer.card, around.today, around.zone) if answer.kind == TagKind.BUNDLE else ""
        )
        page = render(request, "answer/answer.html", asker=asker, answer=answer, picture=picture)
        return _with_mark(request, page, page.body)
    body = answer.model_dump_json().encode()
    return _with_mark(request, Response(body, media_type="application/json"), body)


def _with_mark(request: Request, answer: Response, body: bytes | memoryview) -> Response:
    mark = f'"{digest_of(bytes(body))}"'
    headers = {"ETag": mark, "Vary": VARY, "Cache-Control": "no-cache"}
    if is_known(mark, request.headers.get("if-none-match", "")):
        return Response(status_code=304, headers=headers)
    answer.headers.update(headers)
    return answer
