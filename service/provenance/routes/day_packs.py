"""What a phone takes along to where nothing answers."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request, Response

from service.lib.etags import tagged
from service.lib.request import READ_PROBLEMS, Read, StrictRoute, problems
from service.members.rules import May
from service.members.signin import Asker, may
from service.provenance import queries
from service.provenance.schemas import DayPack

router = APIRouter(prefix="/api", tags=["answers and traces"], route_class=StrictRoute)
Reader = Annotated[Asker, may(May.READ)]
# Beside the pack, not in it: the same pack stays the same. A phone whose clock is wrong writes by this one.
CLUB_TIME = "Club-Time"
_TIME = {
    "description": "the service’s time, for phones whose clock is wrong",
    "schema": {"type": "string", "format": "date-time"},
}
KNOWN: dict[int | str, dict[str, Any]] = {
    200: {"headers": {CLUB_TIME: _TIME}},
    304: {"description": "you have this pack already"},
}


@router.get("/day-pack", response_model=DayPack, responses={**KNOWN, **problems(*READ_PROBLEMS)})
def get_day_pack(request: Request, session: Read, member: Reader) -> Response:
    """The tags of all bundles on hand and of blanks, and the standing trees with their stops, to be kept on a phone."""
    now = request.app.state.clock.now()
    pack = queries.day_pack_for(session, member, now, exact=May.TREE_CHECKS in member.may)
    answer = tagged(request, pack.model_dump_json().encode())
    answer.headers[CLUB_TIME] = now.isoformat()
    return answer
