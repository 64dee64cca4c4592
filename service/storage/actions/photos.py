"""One picture of a shelf or a box: every tag in it read at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.lib.codes import group_code
from service.lib.database import insert_of
from service.lib.pictures import keep_clean
from service.lib.symbols import see_symbols
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.rules import Found, check_count_open
from service.storage.rules.counting import check_seen
from service.storage.schemas import SeenSymbol, ShelfPhotoCreate, ShelfPhotoRead
from service.storage.tables import ShelfFinding, ShelfPhoto


def check_takes_photo(session: Session, count_id: UUID) -> None:
    """Before a picture is read and kept. Raises `NoSuchCount`, `CountEnded`."""
    check_count_open(queries.spot_of_count(session, count_id).ended_at is not None)


def see_shelf(folder: Path, raw: bytes, **told: Any) -> ShelfPhotoCreate:
    """What a picture shows, before it is written down: it takes long, so no other change waits for it. The picture is kept.

    Raises `BrokenPicture`, `TooManyPixels`, `NoPicture`, `TooLarge`, `NoTagSeen`, `TooManySeen`.
    """
    seen = see_symbols(raw)
    check_seen(seen.in_all)
    kept = keep_clean(folder, seen.width, seen.height, seen.jpeg)
    return ShelfPhotoCreate(
        picture=kept.sha256, width=kept.width, height=kept.height,
        seen=[SeenSymbol(text=one.text[:2000], corners=list(one.corners)) for one in seen.symbols], **told,
    )  # fmt: skip


def read_shelf_photo(
    session: Session, member: Member, count_id: UUID, body: ShelfPhotoCreate
) -> ShelfPhotoRead:
    """All tags of a picture of what lies there, each bundle counted once; what else the picture shows is told beside it.

    It moves nothing. Raises `NoSuchCount`, `CountEnded`, `NoTagSeen`, `TooManySeen`.
    """
    spot = queries.spot_of_count(session, count_id)
    check_count_open(spot.ended_at is not None)
    check_seen(len(body.seen))
    means = queries.meaning_of_seen(session, {one.text for one in body.seen})
    bundles = {bundle for _, bundle, _ in means.values() if bundle}
    here = set(queries.expected_in(session, spot.place_id, spot.box_id))
    at = recorded_at(session)
    rows = [
        {
            "count_id": count_id, "bundle_id": bundle, "found_at": at,
            "finding": (Found.PRESENT if bundle in here else Found.NOT_EXPECTED).value,
        }
        for bundle in sorted(bundles)
    ]  # fmt: skip
    if rows:
        session.execute(insert_of(session, ShelfFinding).values(rows).on_conflict_do_nothing())
    insert_rows(
        session,
        ShelfPhoto,
        [
            {
                "id": body.id, "count_id": count_id, "picture": body.picture, "width": body.width, "height": body.height,
                "seen": [_seen(one, means[one.text]) for one in _in_reading_order(body.seen)], "read_at": at,
                "by_party_id": member.party_id,
            }
        ],
    )  # fmt: skip
    return next(photo for photo in queries.photos_of_count(session, count_id) if photo.id == body.id)


def _seen(one: SeenSymbol, meaning: tuple[str, UUID | None, str]) -> dict[str, object]:
    code, bundle, words = meaning
    return {
        "code": group_code(code) if code else "", "bundle_id": str(bundle) if bundle else None, "words": words,
        "corners": [[round(x, 5), round(y, 5)] for x, y in one.corners],
    }  # fmt: skip


def _in_reading_order(seen: list[SeenSymbol]) -> list[SeenSymbol]:
    """From the top left, line by line; what begins above the lower edge of a line's first stands on that line."""
    left = sorted(seen, key=lambda one: min(y for _, y in one.corners))
    ordered: list[SeenSymbol] = []
    while left:
        bottom = max(y for _, y in left[0].corners)
        line = [one for one in left if min(y for _, y in one.corners) < bottom]
        ordered += sorted(line, key=lambda one: min(x for x, _ in one.corners))
        left = [one for one in left if one not in line]
    return ordered
