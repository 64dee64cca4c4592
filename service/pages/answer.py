"""What a scanned tag says: as a page for people, as JSON for programs, from the same answer."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.collection import queries as collection_queries
from service.collection.schemas.dormancy import CutDormancy
from service.lib.etags import VARY, digest_of, is_known
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, MaybeSignedIn
from service.pages.pictures import life_line_of_card
from service.pages.render import frame, render
from service.provenance import queries
from service.provenance.schemas import ScanAnswer
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
        page = render(
            request, "answer/answer.html", asker=asker, answer=answer, picture=picture, dormancy=_dormancy(session, answer, asker)
        )  # fmt: skip
        return _with_mark(request, page, page.body)
    body = answer.model_dump_json().encode()
    return _with_mark(request, Response(body, media_type="application/json"), body)


def _dormancy(session: Session, answer: ScanAnswer, asker: Asker | None) -> CutDormancy | None:
    """How dormant the wood of a scanned bundle was when it was cut; of what is stopped the stop alone is told."""
    cut = answer.more.get("collection_id") if asker and May.READ in asker.may else None
    if cut is None or answer.card.get("state") == "stopped":
        return None
    return collection_queries.cut_dormancy(session, cut)


def _with_mark(request: Request, answer: Response, body: bytes | memoryview) -> Response:
    mark = f'"{digest_of(bytes(body))}"'
    headers = {"ETag": mark, "Vary": VARY, "Cache-Control": "no-cache"}
    if is_known(mark, request.headers.get("if-none-match", "")):
        return Response(status_code=304, headers=headers)
    answer.headers.update(headers)
    return answer
