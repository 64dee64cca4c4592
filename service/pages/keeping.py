"""What should be used first, of one store, of one’s own wood and of all; and how one bundle keeps, here and in other stores."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import queries as bundle_queries
from service.collection import queries as collection_queries
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import SEE_STORES, May
from service.members.signin import Asker, may
from service.pages.pictures import NARROW, both_widths
from service.pages.pictures.keeping import WIDE, ends_early, keeping_picture, weeks_of
from service.pages.render import frame, render
from service.storage import queries
from service.storage.queries.elsewhere import what_if
from service.storage.queries.forecasts import told_before
from service.storage.queries.use_first import MOST_SHOWN, sees_all_stores, use_first_for
from service.storage.rules.reaching import ClubDay, late_words

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]
Looker = Annotated[Asker, may(May.BUNDLE_CHECKS, to=SEE_STORES)]


@router.get("/use-first")
def get_use_first_everywhere(request: Request, session: Read, asker: Reader) -> Response:
    """One’s own wood and that in one’s stores, what keeps shortest first; to stewards all wood in store."""
    return _page(request, session, asker, None)


@router.get("/store/{store_id}/use-first")
def get_use_first(request: Request, session: Read, asker: Looker, store_id: UUID) -> Response:
    """The wood of one store, what keeps shortest first."""
    return _page(request, session, asker, store_id)


@router.get("/bundles/{bundle_id}/keeping")
def get_keeping(request: Request, session: Read, asker: Reader, bundle_id: UUID) -> Response:
    """How a bundle keeps, week by week, and for who looks after wood whether it would keep longer in another store."""
    bundle = bundle_queries.get_bundle(session, bundle_id)
    found = what_if(session, bundle_id, request.app.state.clock.now())
    wood = collection_queries.get_collection(session, bundle.collection_id)
    zone = frame(request).zone
    pictures = [
        keeping_picture(found.keeping, found.way, wood.page_name, zone=zone, width=width)
        for width in (WIDE, NARROW)
    ]
    return render(
        request, "store/keeping.html", asker=asker, bundle=bundle, wood=wood, found=found, weeks=weeks_of(found.keeping, found.way),
        before=told_before(session, bundle_id, zone), ends_early=ends_early(found.keeping),
        dormancy=collection_queries.cut_dormancy(session, bundle.collection_id),
        picture=both_widths(*pictures) if pictures[0] else "",
    )  # fmt: skip


def _page(request: Request, session: Read, asker: Asker, store_id: UUID | None) -> Response:
    store = None if store_id is None else queries.get_store(session, store_id)
    found = use_first_for(session, asker, request.app.state.clock.now(), store_id)
    missed = [[ClubDay(day.what, day.on) for day in each.misses] for each in found if not each.stopped]
    return render(
        request, "store/use_first.html", asker=asker, store=store, found=found, most=MOST_SHOWN,
        of_all=sees_all_stores(asker),
        late=late_words(missed, found[-1].keeping.first_on if len(found) == MOST_SHOWN else None),
    )  # fmt: skip
