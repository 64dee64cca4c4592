"""What a tag says, what happened to a bundle, and where wood came from and went."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Path, Query, Request, Response
from sqlmodel import Session

from service.lib.etags import tagged
from service.lib.request import READ_PROBLEMS, Read, StrictRoute, problems
from service.members.rules import May, sees_people
from service.members.signin import Asker, MaybeSignedIn, may
from service.provenance import queries
from service.provenance.routes.answers import dumped, read_now
from service.provenance.rules.lineage import Direction, Thing
from service.provenance.schemas import ScanAnswer, TimelineRead, TraceRead

router = APIRouter(prefix="/api", tags=["answers and traces"], route_class=StrictRoute)

Reader = Annotated[Asker, may(May.READ)]
Code = Annotated[
    str,
    Path(
        max_length=200, description="as printed or typed: spaces, hyphens, case and look-alikes are forgiven"
    ),
]
SCAN_ANSWERS: dict[int | str, dict[str, Any]] = {304: {"description": "you have this answer already"}}


@router.get(
    "/tags/{code}/answer",
    response_model=ScanAnswer,
    responses={**SCAN_ANSWERS, **problems(*READ_PROBLEMS)},
)
async def get_answer(code: Code, request: Request, asker: MaybeSignedIn) -> Response:
    """What a scan of this tag says to whoever asks: stranger, member or volunteer. An unknown code is 404, a mistyped one 422."""
    told = await read_now(
        request, partial(queries.answer_for, typed=code, asker=asker, now=request.app.state.clock.now())
    )
    return tagged(request, told.model_dump_json().encode())


@router.get("/bundles/{bundle_id}/timeline", responses=problems(*READ_PROBLEMS))
def get_timeline(bundle_id: UUID, session: Read, member: Reader) -> TimelineRead:
    """Everything that happened to a bundle, in the order in which it was done; people only for who handles their wood."""
    return queries.get_timeline(session, bundle_id, with_names=sees_people(member.may))


@router.get("/trace/{kind}/{thing_id}", response_model=TraceRead, responses=problems(*READ_PROBLEMS))
def get_trace(
    kind: Thing, thing_id: UUID, session: Read, member: Reader, direction: Direction = Direction.FORWARD,
    around: Annotated[bool, Query(description="also box-mates, the same round, open tables and every hand it was in")] = False,
) -> Response:  # fmt: skip
    """All that a thing came from, or all that came of it, with every step between."""
    return Response(
        _trace(session, kind, thing_id, direction, around, sees_people(member.may)),
        media_type="application/json",
    )


def _trace(
    session: Session, kind: Thing, thing_id: UUID, direction: Direction, around: bool, with_names: bool
) -> bytes:
    trace = queries.trace_of(session, kind, thing_id, direction, with_names=with_names)
    answer = trace.as_answer()
    near = (
        queries.trace_around(session, trace, with_names=with_names).model_dump(mode="json")
        if around
        else None
    )
    return dumped({**answer, "around": near})
