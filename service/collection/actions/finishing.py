"""Finishing what was left out at the tree or at the door, and putting right what was wrong."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.catalogue.rules import TaxonFacts
from service.collection import queries
from service.collection.actions.crossing import permits
from service.collection.actions.following import note_changed_collections
from service.collection.actions.receiving import Around, look_around, wood_named
from service.collection.rules import (
    CollectionKind,
    NotOnThisTree,
    check_cut_before_it_came,
    check_may_take_in,
    check_wood,
    missing_of,
)
from service.collection.schemas import CollectionRead, CollectionUpdate, ReceiptCreate
from service.collection.tables import Collection
from service.lib.clock import local_day
from service.lib.errors import Unusable, check_version
from service.members import queries as members
from service.members.actions.versions import change_row
from service.members.rules import Member, UnknownArea
from service.trees import queries as trees

_ONLY_CUT = frozenset({"leaves_down", "leaves_off", "disinfected", "owner_agreed"})
_ONLY_RECEIPT = frozenset({
    "from_party_id", "from_whom", "their_reference", "health_paper", "area_id", "tree_as_told", "cut_on", "name_as_told",
})  # fmt: skip


def finish_collection(
    session: Session, member: Member, collection_id: UUID, body: CollectionUpdate, version: int
) -> CollectionRead:
    """Tell what was left out. It leaves the list once nothing is missing, or nobody can tell more."""
    before = queries.get_collection(session, collection_id)
    check_version(before.version, version)
    told = body.told()
    _check_fields(before.kind, set(told))
    after: dict[str, Any] = {**before.model_dump(), **told}
    if "cut_on" in told:
        told["cut_on_guessed"] = after["cut_on_guessed"] = False
    around = _look_around(session, before, after)
    taxon = around.taxa[before.taxon_id]
    check_wood(taxon.stage_scale, before.wood, after["stage"], after["leaves_down"], after["leaves_off"])
    if told.get("cultivar_id"):
        _check_variety(session, before, after, around)
    if before.kind is CollectionKind.RECEIPT:
        _check_receipt(session, before, after, set(told), around, taxon)
    missing = missing_of(before.kind, before.wood, after)
    told["unfinished"] = bool(missing) and not body.nothing_more
    change_row(session, Collection, collection_id, version, told)
    note_changed_collections(session, [collection_id])
    return queries.get_collection(session, collection_id)


def _check_fields(kind: CollectionKind, told: set[str]) -> None:
    wrong = sorted(told & (_ONLY_RECEIPT if kind is CollectionKind.CUT else _ONLY_CUT))
    if wrong:
        other = "a receipt" if kind is CollectionKind.CUT else "a cut"
        raise Unusable(f"These belong to {other}: {', '.join(wrong)}.", field=wrong[0], fields=wrong)


def _look_around(session: Session, before: CollectionRead, after: dict[str, Any]) -> Around:
    told = ReceiptCreate(
        taxon_id=before.taxon_id, cultivar_id=after["cultivar_id"], sticks=before.sticks, from_party_id=after["from_party_id"],
        area_id=after["area_id"],
    )  # fmt: skip
    return look_around(session, before.for_party_id, [told])


def _check_variety(session: Session, before: CollectionRead, after: dict[str, Any], around: Around) -> None:
    wood_named(before.taxon_id, after["cultivar_id"], around)
    if before.tree_id is None:
        return
    tree = trees.get_facts(session, before.tree_id)
    if after["cultivar_id"] not in tree.more_varieties | {tree.cultivar_id}:
        raise NotOnThisTree(f"Tree {tree.number} does not carry it.", field="cultivar_id", tree=tree.number)


def _check_receipt(
    session: Session, before: CollectionRead, after: dict[str, Any], told: set[str], around: Around, taxon: TaxonFacts
) -> None:  # fmt: skip
    came_on = local_day(before.done_at, members.club(session).zone)
    check_cut_before_it_came(after["cut_on"], came_on)
    giver_id, area_id = after["from_party_id"], after["area_id"]
    if "from_party_id" in told and giver_id is not None:
        giver = around.parties.get(giver_id)
        if giver is None or giver.forgotten:
            raise Unusable("Nobody goes by this id, or they were forgotten.", field="from_party_id")
    if "area_id" in told:
        if area_id not in around.areas:
            raise UnknownArea(
                "The wood’s plant-health area is not in the record.", field="area_id", id=str(area_id)
            )
        origin = around.areas[area_id]
        check_may_take_in(origin, around.here, permits(session)(origin, around.here, taxon.genus, came_on))
