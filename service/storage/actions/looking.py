"""Writing down a look at bundles."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.bundles.queries import check_deeds
from service.lib.clock import check_done_at
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.dosing import ask_for_bundles
from service.storage.actions.packing import PackedAt, record_packings
from service.storage.queries.looks import check_read
from service.storage.rules import Look, NoSuchBundle, NotForStoring, check_saw_something
from service.storage.schemas import BundleCheckCreate, BundleCheckRead
from service.storage.tables import BundleCheck
from service.tags.rules.words import TagKind


def record_bundle_checks(
    session: Session, member: Member, body: list[BundleCheckCreate]
) -> list[BundleCheckRead]:
    """What was seen of bundles. A look moves nothing, so stopped wood may be looked at too.

    Where mould was found, the answer names what lies in the same box, to be looked at next.
    """
    at = recorded_at(session)
    typed = {entry.code: "code" for entry in body if entry.code is not None}
    codes = queries.resolve_codes(session, typed) if typed else {}
    checks = [_check(entry, _bundle_of(entry, codes), member, at) for entry in body]
    known = queries.bundles_to_keep(session, {check.bundle_id for check in checks})
    for check in checks:
        if check.bundle_id not in known:
            raise NoSuchBundle(
                "There is no bundle under this id.", field="bundle_id", id=str(check.bundle_id)
            )
    seen = ((check.bundle_id, known[check.bundle_id].made_at, check.seen_at) for check in checks)
    check_deeds(session, seen, field="seen_at")
    packed = [
        PackedAt(check.bundle_id, entry.packed(), check_done_at(entry.packed_at or check.seen_at, at))
        for check, entry in zip(checks, body, strict=True)
    ]
    earlier = [one for one, entry in zip(packed, body, strict=True) if entry.packed_at is not None]
    since = ((one.bundle_id, known[one.bundle_id].made_at, one.done_at) for one in earlier)
    check_deeds(session, since, field="packed_at")
    insert_rows(session, BundleCheck, [check.model_dump() for check in checks])
    record_packings(session, member, packed)
    mouldy = {check.bundle_id for check in checks if check.mould}
    look_at = queries.neighbours_in_box(session, mouldy) if mouldy else {}
    touch_bundles(session, known)
    ask_for_bundles(session, known)
    return [
        check_read(
            check,
            dormant=known[check.bundle_id].dormant,
            look_at=look_at.get(check.bundle_id) if check.mould else None,
        )
        for check in checks
    ]


def _bundle_of(entry: BundleCheckCreate, codes: Mapping[str, tuple[TagKind, UUID]]) -> UUID:
    if entry.bundle_id is not None:
        return entry.bundle_id
    kind, thing_id = codes[entry.code or ""]
    if kind is not TagKind.BUNDLE:
        raise NotForStoring(f"This is the tag of a {kind}; a look is at a bundle.", field="code")
    return thing_id


def _check(entry: BundleCheckCreate, bundle_id: UUID, member: Member, at: datetime) -> BundleCheck:
    check_saw_something(
        Look(entry.buds, entry.wrinkled, entry.mould, entry.green_under_scratch, entry.bag_grams)
    )
    return BundleCheck(
        id=entry.id, bundle_id=bundle_id, buds=entry.buds or "", wrinkled=entry.wrinkled, mould=entry.mould,
        green_under_scratch=entry.green_under_scratch, bag_grams=entry.bag_grams, seen_at=check_done_at(entry.seen_at, at), recorded_at=at,
        by_party_id=member.party_id, for_party_id=member.acting_for_id, note=entry.note,
    )  # fmt: skip
