"""Taking in wood from outside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.catalogue import queries as catalogue
from service.catalogue.rules import CultivarFacts, TaxonFacts, check_share_rights
from service.collection import queries
from service.collection.actions.crossing import permits
from service.collection.rules import (
    CollectionKind,
    Warn,
    check_cut_before_it_came,
    check_may_take_in,
    check_wood,
    missing_of,
    rights_warnings,
)
from service.collection.schemas import CollectionRead, ReceiptCreate
from service.collection.tables import Collection
from service.lib.clock import check_done_at, local_day
from service.lib.errors import AlreadyKnown, Unusable
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions import take_numbers
from service.members.rules import AreaFacts, Member, PartyFacts, Receiver, UnknownArea
from service.trees.rules import NotItsKind

NOT_TOLD = {
    "tree_id": None, "round_id": None, "leaves_down": None, "leaves_off": None, "disinfected": None, "owner_agreed": "",
}  # fmt: skip


@dataclass(frozen=True)
class Around:
    """All that receipts refer to, read with one statement each."""

    taxa: Mapping[UUID, TaxonFacts]
    cultivars: Mapping[UUID, CultivarFacts]
    parties: Mapping[UUID, PartyFacts]
    areas: Mapping[UUID, AreaFacts]
    here: AreaFacts | None


def record_receipts(session: Session, member: Member, body: list[ReceiptCreate]) -> list[CollectionRead]:
    """Take in wood from outside. From another area, only with the authority's answer."""
    if len({one.id for one in body}) < len(body):
        raise AlreadyKnown("The same receipt is told twice.", field="id")
    if not body:
        return []
    now, zone = recorded_at(session), members.club(session).zone
    around = look_around(session, member.acting_for_id, body)
    permit, taker = permits(session), around.parties.get(member.acting_for_id)
    receiver = Receiver(taker.id, taker.name, taker.id == member.party_id) if taker else None
    rows = []
    for told in body:
        row = _row(told, around, now, zone, member)
        taxon = around.taxa[row["taxon_id"]]
        origin = around.areas[row["area_id"]] if row["area_id"] else None
        check_may_take_in(
            origin,
            around.here,
            permit(origin, around.here, taxon.genus, local_day(row["done_at"], zone)),
            genus=taxon.genus,
            receiver=receiver,
        )
        rows.append(row)
    for row, number in zip(rows, take_numbers(session, "collection", len(rows)), strict=True):
        row["number"] = number
    insert_rows(session, Collection, rows)
    return [_read(row, around) for row in rows]


def look_around(session: Session, here_party_id: UUID, body: list[ReceiptCreate]) -> Around:
    cultivar_ids = {told.cultivar_id for told in body if told.cultivar_id}
    cultivars = catalogue.facts_for_cultivars(session, cultivar_ids) if cultivar_ids else {}
    taxon_ids = {told.taxon_id for told in body if told.taxon_id} | {
        facts.taxon_id for facts in cultivars.values()
    }
    givers = {told.from_party_id for told in body if told.from_party_id}
    parties = members.facts_for_parties(session, givers | {here_party_id})
    here = parties.get(here_party_id)
    area_ids = {told.area_id for told in body if told.area_id} | {
        party.area_id for party in parties.values() if party.area_id
    }
    areas = members.facts_for_areas(session, area_ids)
    return Around(
        taxa=catalogue.facts_for_kinds(session, taxon_ids), cultivars=cultivars, parties=parties, areas=areas,
        here=areas.get(here.area_id) if here and here.area_id else None,
    )  # fmt: skip


def _row(told: ReceiptCreate, around: Around, now: datetime, zone: str, member: Member) -> dict[str, Any]:
    cultivar, taxon = wood_named(told.taxon_id, told.cultivar_id, around)
    done_at = check_done_at(told.done_at, now)
    came_on = local_day(done_at, zone)
    cut_on = told.cut_on or came_on
    check_cut_before_it_came(cut_on, came_on)
    check_wood(taxon.stage_scale, told.wood, told.stage, None, None)
    if cultivar is not None:
        check_share_rights(cultivar.rights, came_on, cultivar.id)
    row: dict[str, Any] = {
        **NOT_TOLD, **told.model_dump(), "kind": CollectionKind.RECEIPT.value, "wood": told.wood.value, "taxon_id": taxon.id,
        "area_id": _origin_id(told, around), "cut_on": cut_on, "cut_on_guessed": told.cut_on is None, "done_at": done_at,
        "recorded_at": now, "by_party_id": member.party_id, "for_party_id": member.acting_for_id, "version": 1,
    }  # fmt: skip
    row["unfinished"] = bool(missing_of(CollectionKind.RECEIPT, told.wood, row))
    return row


def wood_named(
    taxon_id: UUID | None, cultivar_id: UUID | None, around: Around
) -> tuple[CultivarFacts | None, TaxonFacts]:
    """The variety and kind that were told. Raises `Unusable` where they are not known or do not fit."""
    cultivar = around.cultivars.get(cultivar_id) if cultivar_id else None
    if cultivar_id and cultivar is None:
        raise Unusable("The catalogue has no such variety.", field="cultivar_id", id=str(cultivar_id))
    taxon_id = taxon_id or (cultivar.taxon_id if cultivar else None)
    if taxon_id is None:
        raise Unusable("Tell the wood’s kind, or its variety.", field="taxon_id")
    if taxon_id not in around.taxa:
        raise Unusable("The catalogue has no such kind.", field="taxon_id", id=str(taxon_id))
    if cultivar is not None and cultivar.taxon_id != taxon_id:
        raise NotItsKind(
            f"{cultivar.page_name} is a variety of {cultivar.botanical_name}.", field="cultivar_id"
        )
    return cultivar, around.taxa[taxon_id]


def _origin_id(told: ReceiptCreate, around: Around) -> UUID | None:
    """Where the wood grew: as told, else where the giver lives."""
    giver = around.parties.get(told.from_party_id) if told.from_party_id else None
    if told.from_party_id and (giver is None or giver.forgotten):
        raise Unusable("Nobody goes by this id, or they were forgotten.", field="from_party_id")
    area_id = told.area_id or (giver.area_id if giver else None)
    if area_id is not None and area_id not in around.areas:
        raise UnknownArea(
            "The wood’s plant-health area is not in the record.", field="area_id", id=str(area_id)
        )
    return area_id


def _read(row: dict[str, Any], around: Around) -> CollectionRead:
    cultivar = around.cultivars.get(row["cultivar_id"])
    giver = around.parties.get(row["from_party_id"])
    return queries.new_collection_read(
        row,
        around.taxa[row["taxon_id"]],
        cultivar,
        receipt_warnings(row, cultivar),
        giver_name=giver.name if giver else "",
    )


def receipt_warnings(row: Mapping[str, Any], cultivar: CultivarFacts | None) -> list[Warn]:
    told = []
    if not row["health_paper"]:
        told.append(
            Warn("no_health_paper", "No health paper is recorded: keep this wood apart in a bag of its own.")
        )
    if cultivar is None:
        told.append(Warn("unnamed", "The club does not know this variety: the tags will say what was told."))
    else:
        told += rights_warnings(cultivar, row["cut_on"])
    return told
