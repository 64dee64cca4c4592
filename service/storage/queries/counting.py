"""Shelves and boxes that are counted by scanning."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.queries import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.rules import page_name
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.lib.codes import parse_code
from service.lib.paging import EVERY
from service.storage.queries.contents import contents_of_box, contents_of_place
from service.storage.queries.lying import BoxStay
from service.storage.rules import ANYWHERE, Found, NoSuchCount, as_box, plan_count
from service.storage.rules.counting import FOREIGN_WORDS, STRANGE_WORDS
from service.storage.schemas import CountedBundle, SeenTag, ShelfCountRead, ShelfCountSummary, ShelfPhotoRead
from service.storage.tables import Box, Place, ShelfCount, ShelfFinding, ShelfPhoto, Stay, Store
from service.tags.queries import accepted_hosts, facts_for_codes
from service.tags.rules.addresses import split_scanned
from service.tags.rules.words import TagKind

_Parent = aliased(Bundle, name="parent")
_CountBox = aliased(Box, name="count_box")


def _counts() -> Any:
    return (
        select(
            *ShelfCount.__table__.columns,  # type: ignore[attr-defined]
            col(Place.name).label("place_name"), col(Place.store_id).label("place_store"), col(Store.name).label("store_name"),
            col(_CountBox.name).label("box_name"),
        )
        .select_from(ShelfCount)
        .outerjoin(Place, col(Place.id) == col(ShelfCount.place_id))
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
        .outerjoin(_CountBox, col(_CountBox.id) == col(ShelfCount.box_id))
    )  # fmt: skip


def _spot(row: Any) -> str:
    if row.box_name:
        return as_box(row.box_name)
    return row.store_name if row.place_name == ANYWHERE else f"{row.store_name}, {row.place_name}"


def recent_counts(session: Session, most: int = 10) -> list[ShelfCountSummary]:
    """The newest first; one statement."""
    rows = session.execute(_counts().order_by(col(ShelfCount.begun_at).desc()).limit(most))
    return [
        ShelfCountSummary(id=row.id, spot=_spot(row), begun_at=row.begun_at, ended_at=row.ended_at)
        for row in rows
    ]


def scan_facts(session: Session, count_id: UUID, bundle_id: UUID) -> Any:
    """A count, and where the record has a bundle, in one statement: `ended_at`, `is_there`, `lies`. Raises `NoSuchCount`."""
    place = func.coalesce(col(Stay.place_id), col(BoxStay.place_id))
    there = or_(col(Stay.into_box_id) == col(ShelfCount.box_id), place == col(ShelfCount.place_id))
    statement = (
        select(
            col(ShelfCount.ended_at), there.label("is_there"), col(Box.name).label("box"), col(Place.name).label("place"),
            col(Store.name).label("store"),
        )
        .select_from(ShelfCount)
        .outerjoin(Stay, (col(Stay.bundle_id) == bundle_id) & col(Stay.until_at).is_(None))
        .outerjoin(Box, col(Box.id) == col(Stay.into_box_id))
        .outerjoin(BoxStay, (col(BoxStay.box_id) == col(Stay.into_box_id)) & col(BoxStay.until_at).is_(None))
        .outerjoin(Place, col(Place.id) == place)
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
        .where(col(ShelfCount.id) == count_id)
    )  # fmt: skip
    row = session.execute(statement).first()
    if row is None:
        raise NoSuchCount("There is no count under this id.")
    return row


def spot_of_count(session: Session, count_id: UUID) -> Any:
    """`place_id`, `box_id` and `ended_at` of a count; one statement. Raises `NoSuchCount`."""
    row = session.execute(
        select(col(ShelfCount.place_id), col(ShelfCount.box_id), col(ShelfCount.ended_at)).where(
            col(ShelfCount.id) == count_id
        )
    ).first()
    if row is None:
        raise NoSuchCount("There is no count under this id.")
    return row


def get_count(session: Session, count_id: UUID) -> ShelfCountRead:
    """A count with what was found; at most six statements. Raises `NoSuchCount`."""
    row = session.execute(_counts().where(col(ShelfCount.id) == count_id)).first()
    if row is None:
        raise NoSuchCount("There is no count under this id.")
    found = {
        each.bundle_id: each.finding
        for each in session.execute(
            select(col(ShelfFinding.bundle_id), col(ShelfFinding.finding)).where(
                col(ShelfFinding.count_id) == count_id
            )
        )
    }
    if row.ended_at is None:
        counted = plan_count(expected_in(session, row.place_id, row.box_id), found)
        present, not_expected, missing = counted.present, counted.not_expected, counted.missing
    else:
        present, not_expected, missing = (
            frozenset(bundle for bundle, finding in found.items() if finding == kind)
            for kind in (Found.PRESENT, Found.NOT_EXPECTED, Found.MISSING)
        )
    told = _described(session, present | not_expected | missing)
    return ShelfCountRead(
        id=row.id, place_id=row.place_id, box_id=row.box_id, spot=_spot(row), store_id=row.place_store, begun_at=row.begun_at,
        ended_at=row.ended_at, by_party_id=row.by_party_id, for_party_id=row.for_party_id,
        present=[told[each] for each in told if each in present],
        not_expected=[told[each] for each in told if each in not_expected],
        missing=[told[each] for each in told if each in missing],
    )  # fmt: skip


def expected_in(session: Session, place_id: UUID | None, box_id: UUID | None) -> list[UUID]:
    """The bundles with wood that should lie in a place, boxes on it too, or in a box; two statements."""
    page = (
        contents_of_place(session, place_id, EVERY)
        if place_id is not None
        else contents_of_box(session, box_id, EVERY)  # type: ignore[arg-type]
    )
    return [each.bundle_id for each in page.items]


def _described(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, CountedBundle]:
    """Bundles by variety and code, in that order; one statement."""
    ids = list(bundle_ids)
    if not ids:
        return {}
    statement = (
        select(
            col(Bundle.id).label("bundle_id"), col(Bundle.code), col(_Parent.code).label("parent_code"), ON_HAND.label("on_hand"),
            col(Bundle.open_stops), col(Collection.name_as_told), col(Taxon.kind), col(Cultivar.epithet), col(Cultivar.trade_designation),
        )
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(_Parent, col(_Parent.id) == col(Bundle.parent_id))
        .where(col(Bundle.id).in_(ids))
    )  # fmt: skip
    found = [
        CountedBundle(
            bundle_id=row.bundle_id, code=row.code, parent_code=row.parent_code, kind=row.kind, on_hand=row.on_hand,
            variety=page_name(row.epithet, row.trade_designation) if row.epithet else row.name_as_told, open_stops=row.open_stops,
        )
        for row in session.execute(statement)
    ]  # fmt: skip
    return {each.bundle_id: each for each in sorted(found, key=lambda each: (each.variety, each.code or ""))}


def photos_of_count(session: Session, count_id: UUID) -> list[ShelfPhotoRead]:
    """The pictures of a count, the newest first, with what is known of each tag now; at most five statements.

    While it is open a tag is told by where the record has its bundle now; once it was ended, as it was found then.
    """
    rows = session.execute(
        select(*ShelfPhoto.__table__.columns)  # type: ignore[attr-defined]
        .where(col(ShelfPhoto.count_id) == count_id)
        .order_by(col(ShelfPhoto.read_at).desc(), col(ShelfPhoto.id))
    ).all()
    if not rows:
        return []
    found = {
        str(each.bundle_id): Found(each.finding)
        for each in session.execute(
            select(col(ShelfFinding.bundle_id), col(ShelfFinding.finding)).where(
                col(ShelfFinding.count_id) == count_id
            )
        )
    }
    spot = spot_of_count(session, count_id)
    if spot.ended_at is None:
        here = {str(each) for each in expected_in(session, spot.place_id, spot.box_id)}
        found = {bundle: Found.PRESENT if bundle in here else Found.NOT_EXPECTED for bundle in found}
    return [
        ShelfPhotoRead(
            id=row.id, count_id=row.count_id, picture=row.picture, address=f"/api/pictures/{row.picture}", width=row.width,
            height=row.height, read_at=row.read_at,
            seen=[
                SeenTag(number=number, finding=found.get(one["bundle_id"] or ""), **one)
                for number, one in enumerate(row.seen, start=1)
            ],
        )
        for row in rows
    ]  # fmt: skip


def meaning_of_seen(session: Session, texts: Iterable[str]) -> dict[str, tuple[str, UUID | None, str]]:
    """What texts read in a picture stand for: the code, the bundle, or words for what else it is. Two statements.

    Nothing is refused: a picture of a shelf may show anything.
    """
    told = {text: split_scanned(text) for text in texts}
    codes = {text: parse_code(code).code for text, (_, code) in told.items()}
    tags = facts_for_codes(session, sorted({code for code in codes.values() if code}))
    hosts = accepted_hosts(session)
    found: dict[str, tuple[str, UUID | None, str]] = {}
    for text, (host, _) in told.items():
        code = codes[text]
        tag = tags.get(code or "")
        if tag is None or code is None:
            foreign = host and host not in hosts
            found[text] = ("", None, FOREIGN_WORDS.format(host=host.lower()) if foreign else STRANGE_WORDS)
        elif tag.kind is TagKind.BUNDLE:
            found[text] = (code, tag.thing_id, "")
        else:
            found[text] = (code, None, f"the tag of a {tag.kind}" if tag.kind else "a blank tag")
    return found
