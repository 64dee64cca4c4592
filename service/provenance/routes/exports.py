"""Everything of the record in one file."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse

from service.lib.request import READ_PROBLEMS, StrictRoute, problems
from service.lib.sending import send_made
from service.members.rules import May
from service.members.signin import Asker, may
from service.provenance import queries
from service.provenance.rules.taking_away import MEDIA_TYPES, TakenAs, name_of_file

router = APIRouter(prefix="/api", tags=["exports"], route_class=StrictRoute)
_FILES: dict[int | str, dict[str, Any]] = {200: {"content": {kind: {} for kind in MEDIA_TYPES.values()}}}


@router.get("/everything", response_class=FileResponse, responses={**problems(*READ_PROBLEMS), **_FILES})
async def get_everything(
    request: Request, member: Annotated[Asker, may(May.ADMINISTER)], form: TakenAs = TakenAs.ZIP
) -> FileResponse:
    """Every table of the record as plain CSV in a ZIP, or as a workbook; without what lets people sign in."""
    state = request.app.state
    now = state.clock.now()
    make = partial(queries.write_everything, state.database, form=form, made_at=now)
    return await send_made(make, name_of_file(form, now.date()), MEDIA_TYPES[form])
