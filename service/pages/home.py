"""The start page, looking things up, and the usual cautions."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from service.bundles import queries as bundle_queries
from service.catalogue import queries as catalogue_queries
from service.collection import queries as collection_queries
from service.grafting import queries as grafting_queries
from service.lib.codes import LENGTH
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import May, Role, names_only
from service.members.signin import Asker, MaybeSignedIn, may
from service.pages.lines import keeps_of, lines_for
from service.pages.render import frame, render
from service.storage import queries as storage_queries
from service.storage.queries.ringing import LOOKED_AT
from service.storage.schemas import RingRead
from service.tags.rules.addresses import split_scanned
from service.trees import queries as tree_queries

router = APIRouter(route_class=PageRoute)
Collector = Annotated[Asker, may(May.COLLECT)]
LEAST_OF_A_CODE = 3


@router.get("/")
def get_start(request: Request, session: Read, asker: MaybeSignedIn, whole: str = "") -> Response:
    """What waits to be done, for whoever asks; for who may not read the record, what this is.

    Who only has a fridge for the club begins at that, unless they ask for the whole of it.
    """
    if asker is None or May.READ not in asker.may:
        return render(request, "home/stranger.html", asker=asker)
    if not whole and _only_host(asker) and storage_queries.stores_of_host(session, asker.party_id):
        return RedirectResponse("/my-fridge", status_code=303)
    today = frame(request).today
    few = Paging(limit=5)
    first = Paging(limit=5, counted=False)
    held = bundle_queries.list_bundles(
        session, first, holder_id=asker.party_id, on_hand=True, name_only=asker.party_id
    )
    newest = bundle_queries.list_bundles(session, first, of_club=True, on_hand=True)
    own = None if May.STICKS in asker.may else asker.party_id
    return render(
        request, "home/start.html", asker=asker,
        to_finish=collection_queries.list_to_finish(session, few) if May.COLLECT in asker.may else None,
        takes_due=grafting_queries.list_takes_due(session, few, today, only_for=own),
        stops=tree_queries.list_stops(session, few, is_open=True),
        rings=_rings_now(request, session) if _steward(asker) else None,
        held=held, newest=newest, lines=lines_for(request, session, [*held.items, *newest.items]),
        kept=keeps_of(session, [*held.items, *newest.items]),
    )  # fmt: skip


def _only_host(asker: Asker) -> bool:
    return Role.HOST in asker.roles and asker.roles <= {Role.HOST, Role.MEMBER}


def _steward(asker: Asker) -> bool:
    return bool(asker.roles & {Role.STEWARD, Role.ADMINISTRATOR})


def _rings_now(request: Request, session: Read) -> list[RingRead]:
    """What was told at once and goes on, as far as was measured within the last day."""
    now = request.app.state.clock.now()
    return [
        one
        for one in storage_queries.list_rings(session, now - LOOKED_AT)
        if one.told_at and not one.withdrawn_at and not one.ended_at and one.last_at > now - timedelta(days=1)
    ]


@router.get("/look-up")
def get_look_up(request: Request, session: Read, asker: MaybeSignedIn, q: str = "") -> Response:
    """A code goes straight to its answer; a number to its tree; words are looked for among names."""
    typed = q.strip()[:200]
    host, code = split_scanned(typed)
    signs = "".join(sign for sign in code if sign.isascii() and sign.isalnum()).upper()
    if host or (len(signs) == LENGTH and any(sign.isdigit() for sign in signs)):
        return RedirectResponse(f"/T/{signs[:40]}", status_code=303)
    if asker is None or May.READ not in asker.may:
        return render(request, "home/look_up.html", asker=asker, q=typed, found=None)
    return render(
        request,
        "home/look_up.html",
        asker=asker,
        q=typed,
        found=_find(session, asker, typed) if typed else None,
    )


def _find(session: Read, asker: Asker, typed: str) -> dict[str, object]:
    exact = May.TREES in asker.may
    signs = "".join(sign for sign in typed if not sign.isspace())
    coded = signs.isascii() and signs.isalnum() and len(signs) >= LEAST_OF_A_CODE
    cultivars = catalogue_queries.search_cultivars(session, typed, limit=6)
    wood = [
        (
            found,
            bundle_queries.list_bundles(
                session,
                Paging(limit=5, counted=False),
                cultivar_id=found.id,
                on_hand=True,
                name_only=names_only(asker),
            ),
        )
        for found in cultivars[:3]
    ]
    tagged = (
        bundle_queries.list_bundles(session, Paging(limit=8), code_part=signs, name_only=names_only(asker))
        if coded
        else None
    )
    shown = [*(tagged.items if tagged else ()), *(one for _, page in wood for one in page.items)]
    return {
        "cultivars": cultivars,
        "wood": [(found, page) for found, page in wood if page.items],
        "kept": keeps_of(session, shown),
        "trees": tree_queries.list_trees(session, Paging(limit=8), exact=exact, q=typed),
        "coded": tagged,
        "people": member_queries.list_party_names(session, Paging(limit=8), search=typed)
        if May.HAND_OVER in asker.may
        else None,
    }


@router.get("/cautions")
def get_cautions(request: Request, asker: MaybeSignedIn) -> Response:
    """What to mind with knives, disinfectants, sick wood and protected varieties."""
    return render(request, "home/cautions.html", asker=asker)


@router.get("/to-finish")
def get_to_finish(request: Request, session: Read, asker: Collector, cursor: str | None = None) -> Response:
    """Trees that were met on the way, and cuts and receipts for which something was left out."""
    return render(
        request,
        "home/to_finish.html",
        asker=asker,
        page=collection_queries.list_to_finish(session, Paging(cursor)),
        trees=tree_queries.list_trees(session, Paging(limit=30), exact=True, provisional=True, felled=False),
    )
