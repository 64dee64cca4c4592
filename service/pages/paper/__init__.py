"""Paper beside the phone: sheets to print before a walk, a count or an exchange, and to fill in by pencil."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from service.lib.paging import EVERY
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.paper.of_people import year_sheet
from service.pages.paper.of_sites import cut_sheet, round_sheet
from service.pages.paper.of_wood import hall_list, pick_up, shelf_list, want_sheet
from service.pages.paper.sheets import PENCIL, ROWS_A_SLIP, Sheet
from service.pages.render import frame, render
from service.storage import queries as storage_queries

router = APIRouter(prefix="/paper", route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]
Walker = Annotated[Asker, may(May.TREE_CHECKS)]
Collector = Annotated[Asker, may(May.COLLECT)]
Host = Annotated[Asker, may(May.STORE)]
Giver = Annotated[Asker, may(May.HAND_OVER)]
SLIPS_A_PAGE = 4


@router.get("")
def get_paper(request: Request, session: Read, asker: Reader) -> Response:
    """Every sheet there is, with one sentence each."""
    return render(
        request, "paper/all.html", asker=asker, sites=choices.sites(session),
        stores=storage_queries.list_stores(session, EVERY, open_only=True).items if May.STORE in asker.may else [],
    )  # fmt: skip


def _printed(request: Request, asker: Asker, sheet: Sheet) -> Response:
    return render(request, "paper/sheet.html", asker=asker, sheet=sheet, pencil=PENCIL)


@router.get("/round/{site_id}")
def get_round(request: Request, session: Read, asker: Walker, site_id: UUID) -> Response:
    sheet = round_sheet(session, site_id, request.app.state.clock.now(), frame(request).zone)
    return _printed(request, asker, sheet)


@router.get("/cut/{site_id}")
def get_cut(request: Request, session: Read, asker: Collector, site_id: UUID) -> Response:
    sheet = cut_sheet(session, site_id, request.app.state.clock.now(), frame(request).zone)
    return _printed(request, asker, sheet)


@router.get("/shelves/{store_id}")
def get_shelves(request: Request, session: Read, asker: Host, store_id: UUID) -> Response:
    return _printed(request, asker, shelf_list(session, store_id))


@router.get("/hall")
def get_hall(request: Request, session: Read, asker: Reader) -> Response:
    return _printed(request, asker, hall_list(session))


@router.get("/wants")
def get_wants(request: Request, session: Read, asker: Reader, party: UUID | None = None) -> Response:
    """Blank, or with the name of who asks for it; anybody's name for who hands wood over."""
    known = party is not None and (party == asker.party_id or May.HAND_OVER in asker.may)
    name = member_queries.get_party(session, party).name if known and party else ""
    return _printed(request, asker, want_sheet(session, name))


@router.get("/pick-up")
def get_pick_up(request: Request, session: Read, asker: Giver) -> Response:
    return _printed(request, asker, pick_up(session))


@router.get("/year/{party_id}")
def get_year(request: Request, session: Read, asker: Reader, party_id: UUID) -> Response:
    sheet = year_sheet(session, asker, party_id, request.app.state.clock.now(), frame(request).zone)
    return _printed(request, asker, sheet)


@router.get("/slips")
def get_slips(request: Request, asker: Giver, pages: Annotated[int, Query(ge=1, le=25)] = 1) -> Response:
    """Blank slips for guests who will never sign in."""
    return render(
        request,
        "paper/slips.html",
        asker=asker,
        slips=pages * SLIPS_A_PAGE,
        a_page=SLIPS_A_PAGE,
        rows=ROWS_A_SLIP,
        pencil=PENCIL,
    )
