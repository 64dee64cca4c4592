"""The club's own settings."""

from __future__ import annotations

from functools import lru_cache, partial
from typing import Annotated
from zoneinfo import available_timezones

from fastapi import APIRouter, Request, Response

from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import actions, queries
from service.members.rules import May
from service.members.schemas import ClubRead, ClubUpdate
from service.members.signin import Asker, may
from service.pages.account.typed import version_of
from service.pages.forms import Form, read_form, submitted
from service.pages.render import frame, render

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
WEEKDAYS = [(str(number), day) for number, day in enumerate(DAYS)]
router = APIRouter(prefix="/club", route_class=PageRoute)


@lru_cache(maxsize=1)
def _zones() -> tuple[tuple[str, str], ...]:
    """Every zone with a city, as the IANA database writes it."""
    return tuple((zone, zone) for zone in sorted(available_timezones()) if "/" in zone and zone[:4] != "Etc/")


def _zone_of(form: Form) -> str:
    """A zone by its city alone; what is none is refused by the rule, in its own words."""
    typed = form.text("zone")
    city = [
        zone for zone, _ in _zones() if zone.split("/")[-1].replace("_", " ").casefold() == typed.casefold()
    ]
    return city[0] if len(city) == 1 else typed


def _page(request: Request, asker: Asker, form: Form) -> Response:
    return render(request, "account/club.html", asker=asker, form=form, zones=_zones(), weekdays=WEEKDAYS)


@router.get("")
def club_page(request: Request, asker: Annotated[Asker, may(May.ADMINISTER)], read: Read) -> Response:
    return _page(request, asker, Form(**queries.club(read).model_dump()))


@router.get("/back-up")
def back_up_page(request: Request, asker: Annotated[Asker, may(May.ADMINISTER)], read: Read) -> Response:
    """When the record was last backed up, and how that is done."""
    made_at, around = queries.club(read).last_backup_at, frame(request)
    days = (around.today - around.backed_up_on).days if around.backed_up_on else None
    return render(request, "account/back_up.html", asker=asker, made_at=made_at, days=days)


@router.post("")
async def post_club(request: Request, asker: Annotated[Asker, may(May.ADMINISTER)]) -> Response:
    form = await read_form(request)

    async def save() -> ClubRead:
        names = ("name", "short_name", "recall_look_back_winters")
        told: dict[str, str | None] = {name: form.text(name) for name in names}
        told |= {name: form.text(name) for name in ("weekly_on", "weekly_hour") if form.text(name)}
        told |= {name: form.text(name) or None for name in ("exchange_on", "grafting_on")}
        body = form.into(ClubUpdate, **told, zone=_zone_of(form))
        return await form.write(actions.change_club, asker, body, version_of(form))

    return await submitted(
        request, form, save, lambda _: ("/", "Saved."), partial(_page, request, asker, form)
    )
