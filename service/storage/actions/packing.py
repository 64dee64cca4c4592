"""Writing down how wood is packed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.bundles.queries import check_deeds
from service.lib.clock import check_done_at
from service.lib.database import new_id
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.actions.dosing import ask_for_bundles
from service.storage.queries.packing import packing_read
from service.storage.rules import NoSuchBundle, NotForStoring
from service.storage.rules.packing import NOT_TOLD, Packed, check_packing_told
from service.storage.schemas import PackingCreate, PackingRead
from service.storage.tables import BundlePacking
from service.tags.rules.words import TagKind


@dataclass(frozen=True)
class PackedAt:
    """A bundle that is packed so from an instant on."""

    bundle_id: UUID
    packed: Packed
    done_at: datetime
    id: UUID | None = None
    note: str = ""


def tell_packing(session: Session, member: Member, body: list[PackingCreate]) -> list[PackingRead]:
    """How bundles are packed; the code of a box tells it of all that lies in it then. It moves nothing, so stopped wood is told of too.

    What was told before stays in the record: each telling holds from its own hour on, and of the same instant the last one.
    """
    at = recorded_at(session)
    for entry in body:
        check_packing_told(entry.packed())
    typed = {entry.code: "code" for entry in body if entry.code is not None}
    codes = queries.resolve_codes(session, typed) if typed else {}
    when = {entry.id: check_done_at(entry.done_at, at) for entry in body}
    boxes = _in_boxes(session, body, codes, when)
    told = [
        PackedAt(bundle_id, entry.packed(), when[entry.id], None if place else entry.id, entry.note)
        for entry in body
        for place, bundle_id in enumerate(_bundles_of(entry, codes, boxes))
    ]
    known = queries.bundles_to_keep(session, {one.bundle_id for one in told})
    for one in told:
        if one.bundle_id not in known:
            raise NoSuchBundle("There is no bundle under this id.", field="bundle_id", id=str(one.bundle_id))
    check_deeds(session, [(one.bundle_id, known[one.bundle_id].made_at, one.done_at) for one in told])
    rows = record_packings(session, member, told)
    ask_for_bundles(session, known)
    return [packing_read(BundlePacking(**row)) for row in rows]


def record_packings(session: Session, member: Member, told: Iterable[PackedAt]) -> list[dict[str, Any]]:
    """What was told among other things; of whoever told nothing, nothing is written. One statement, none for none."""
    at = recorded_at(session)
    rows = [
        {
            "id": one.id or new_id(), "bundle_id": one.bundle_id, "packing": one.packed.packing, "waxed": one.packed.waxed,
            "disinfected": one.packed.disinfected, "done_at": one.done_at, "recorded_at": at, "by_party_id": member.party_id,
            "for_party_id": member.acting_for_id, "note": one.note,
        }
        for one in told
        if one.packed != NOT_TOLD
    ]  # fmt: skip
    if rows:
        insert_rows(session, BundlePacking, rows)
    return rows


def _in_boxes(
    session: Session, body: list[PackingCreate], codes: Mapping[str, tuple[TagKind, UUID]], when: Mapping[UUID, datetime]
) -> dict[UUID, list[UUID]]:  # fmt: skip
    """Of each telling of a box the bundles that lay in it then; one statement, none where no box is told of."""
    asked = {
        entry.id: codes[entry.code][1] for entry in body if entry.code and codes[entry.code][0] is TagKind.BOX
    }
    if not asked:
        return {}
    since = {box: min(when[one] for one, each in asked.items() if each == box) for box in asked.values()}
    lying = queries.lying_in_boxes(session, since)
    return {
        one: [each.wood.bundle_id for each in lying if each.box_id == box and each.span.covers(when[one])]
        for one, box in asked.items()
    }


def _bundles_of(
    entry: PackingCreate, codes: Mapping[str, tuple[TagKind, UUID]], boxes: Mapping[UUID, list[UUID]]
) -> list[UUID]:
    if entry.bundle_id is not None:
        return [entry.bundle_id]
    kind, thing_id = codes[entry.code or ""]
    if kind is TagKind.BOX:
        return boxes[entry.id]
    if kind is not TagKind.BUNDLE:
        raise NotForStoring(
            f"This is the tag of a {kind}; bundles and boxes of them are packed.", field="code"
        )
    return [thing_id]
