"""The winter of a site: may wood be cut now, how long before buds move, and what that rests on."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from service.collection import queries
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.pictures import NARROW, both_widths
from service.pages.pictures.winter import MOST_ROWS, months_of_winter, winter_over
from service.pages.render import frame, render

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]


@router.get("/sites/{site_id}/winter")
def get_winter(
    request: Request, session: Read, asker: Reader, site_id: UUID,
    year: Annotated[int | None, Query(ge=1900, le=2200)] = None,
) -> Response:  # fmt: skip
    """Chill, rest and warmth of one winter as a picture and as tables, its cuts, and the answer on top."""
    told = queries.site_winter(session, site_id, frame(request).today, year)
    wide, narrow = winter_over(told), winter_over(told, width=NARROW)
    return render(
        request, "sites/winter.html", asker=asker, winter=told, months=months_of_winter(told.days), most_rows=MOST_ROWS,
        picture=both_widths(wide, narrow) if wide else "",
    )  # fmt: skip
