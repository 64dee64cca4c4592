"""Somebody's dates, as their own calendar reads them: without signing in, under an address only they know."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service.lib.calendars import MEDIA_TYPE, calendar_of
from service.lib.etags import digest_of, is_known
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.signin import find_calendar_reader
from service.pages.calendar_days import days_of

router = APIRouter(route_class=PageRoute)


@router.get("/calendar/{secret}.ics")
def get_calendar(request: Request, session: Read, secret: str) -> Response:
    """Somebody's dates for their own calendar, at the secret address they made; at most fourteen statements."""
    reader = find_calendar_reader(request, session, secret)
    days = days_of(session, reader, request.app.state.clock.now())
    name = f"Grafting dates, {reader.club_name}" if reader.club_name else "Grafting dates"
    body = calendar_of(name, days, f"{request.base_url}".rstrip("/"))
    headers = {"ETag": f'"{digest_of(body)}"', "Cache-Control": "private, no-cache"}
    if is_known(headers["ETag"], request.headers.get("if-none-match", "")):
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers, media_type=MEDIA_TYPE)
