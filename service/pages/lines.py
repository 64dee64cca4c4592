"""The small life lines of lists, and how their wood keeps: one statement each for all rows of a page."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from fastapi import Request
from sqlmodel import Session

from service.bundles.schemas import BundleRead, BundleSummary
from service.pages.pictures import Row, small_lines_of
from service.provenance import queries
from service.storage.queries.keeping import keeping_of_all
from service.storage.schemas import ContentRead, StorePage
from service.storage.schemas.keeping import KeepingRead


def lines_for(request: Request, session: Session, bundles: Iterable[BundleSummary]) -> dict[UUID, str]:
    """By bundle; all on one scale."""
    return _lines(
        request, session, [Row(each.id, each.page_name, each.on_hand, each.stopped) for each in bundles]
    )


def lines_for_store(request: Request, session: Session, page: StorePage) -> dict[UUID, str]:
    """By bundle, for all that lies in a store, in boxes and beside them."""
    return _lines(
        request,
        session,
        [Row(each.bundle_id, each.variety, each.on_hand, each.open_stops > 0) for each in lying_of(page)],
    )


def lying_of(page: StorePage) -> list[ContentRead]:
    """All that lies in a store, in boxes and beside them."""
    return [
        each
        for place in page.places
        for each in (*place.bundles, *(one for box in place.boxes for one in box.bundles))
    ]


def keeps_of(
    session: Session, bundles: Iterable[BundleSummary | BundleRead | ContentRead]
) -> dict[UUID, KeepingRead]:
    """How those that are there and not stopped keep, as last reckoned; one statement, none for none."""
    wanted = [
        each.bundle_id if isinstance(each, ContentRead) else each.id
        for each in bundles
        if each.on_hand and not (each.open_stops if isinstance(each, ContentRead) else each.stopped)
    ]
    return keeping_of_all(session, wanted) if wanted else {}


def _lines(request: Request, session: Session, rows: list[Row]) -> dict[UUID, str]:
    lives = queries.lives_of(session, [row.id for row in rows])
    return small_lines_of(lives, rows, now=request.app.state.clock.now())
