"""Recording cuts. Twenty cost no more statements than one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.catalogue import queries as catalogue
from service.catalogue.rules import CultivarFacts
from service.collection import queries
from service.collection.actions.crossing import permits
from service.collection.actions.rounds import Stand, rounds_for
from service.collection.rules import (
    SEASON,
    CollectionKind,
    Cutting,
    NotOnThisTree,
    Warn,
    check_may_carry,
    check_may_cut,
    check_wood,
    cutting_warnings,
    missing_of,
)
from service.collection.schemas import CollectionCreate, CollectionRead
from service.collection.tables import Collection
from service.lib.clock import check_done_at, local_day
from service.lib.errors import AlreadyKnown
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions import take_numbers
from service.members.rules import Member
from service.trees import queries as trees
from service.trees.rules import TreeFacts

NOT_TOLD = {
    "from_party_id": None, "from_whom": "", "their_reference": "", "health_paper": "", "tree_as_told": "", "cut_on_guessed": False,
}  # fmt: skip


@dataclass(frozen=True)
class _Cut:
    """One cut with all that was decided about it."""

    told: CollectionCreate
    tree: TreeFacts
    variety: CultivarFacts | None
    done_at: datetime
    cut_on: date
    warnings: list[Warn]


def record_collections(
    session: Session, member: Member, body: list[CollectionCreate]
) -> list[CollectionRead]:
    """Record cuts. Nothing is written where a single one is refused."""
    if len({cut.id for cut in body}) < len(body):
        raise AlreadyKnown("The same cut is told twice.", field="id")
    if not body:
        return []
    now, zone = recorded_at(session), members.club(session).zone
    cuts = _decide(session, member, body, now, zone)
    stands = [Stand(cut.tree.site_id, cut.cut_on, cut.done_at, cut.told.round_id) for cut in cuts]
    round_ids = rounds_for(session, member.acting_for_id, stands, zone)
    numbers = take_numbers(session, "collection", len(cuts))
    rows = [
        _row(cut, number, round_id, now, member)
        for cut, number, round_id in zip(cuts, numbers, round_ids, strict=True)
    ]
    insert_rows(session, Collection, rows)
    return [
        queries.new_collection_read(row, cut.tree.taxon, cut.variety, cut.warnings, tree=cut.tree)
        for row, cut in zip(rows, cuts, strict=True)
    ]


def _decide(
    session: Session, member: Member, body: list[CollectionCreate], now: datetime, zone: str
) -> list[_Cut]:
    at = [check_done_at(cut.done_at, now) for cut in body]
    known = trees.facts_for_cutting(session, {cut.tree_id for cut in body}, lock=True)
    for cut in body:
        if cut.tree_id not in known:
            raise trees.NoSuchTree("There is no tree with this id.", id=str(cut.tree_id))
    others = {
        cut.cultivar_id
        for cut in body
        if cut.cultivar_id and cut.cultivar_id != known[cut.tree_id].cultivar_id
    }
    varieties = catalogue.facts_for_cultivars(session, others) if others else {}
    done = queries.cuts_of_trees(session, known, min(at) - SEASON, max(at) + SEASON)
    crossing = _check_crossings(session, member, known)
    cuts = []
    for told, done_at in zip(body, at, strict=True):
        cut_on = local_day(done_at, zone)
        tree = as_then(session, known[told.tree_id], cut_on)
        variety = variety_of(told.cultivar_id, tree, varieties)
        this_season = sum(
            sticks
            for tree_id, wood, when, sticks in done
            if tree_id == tree.id and wood is told.wood and abs(when - done_at) <= SEASON
        )
        wanted = Cutting(
            wood=told.wood, sticks=told.sticks, cut_on=cut_on, asker_ids=frozenset({member.party_id, member.acting_for_id}),
            cut_this_season=this_season, stage=told.stage, leaves_down=told.leaves_down, leaves_off=told.leaves_off,
            disinfected=told.disinfected, owner_agreed=told.owner_agreed,
            done_at=done_at, already_cut=told.already_cut,
        )  # fmt: skip
        check_may_cut(tree, wanted, variety)
        check_wood(tree.taxon.stage_scale, told.wood, told.stage, told.leaves_down, told.leaves_off)
        warnings = [*crossing(tree, cut_on), *cutting_warnings(tree, wanted, variety)]
        done.append((tree.id, told.wood, done_at, told.sticks))
        cuts.append(_Cut(told, tree, variety, done_at, cut_on, warnings))
    return cuts


def as_then(session: Session, tree: TreeFacts, cut_on: date) -> TreeFacts:
    """A cut told late, of a day before the tree was topworked, is of what the tree bore then. At most three statements more."""
    if tree.name_since is None or cut_on >= tree.name_since:
        return tree
    then = trees.name_on(session, tree.id, cut_on)
    if then is None:
        return tree
    cultivars = catalogue.facts_for_cultivars(session, [then.cultivar_id]) if then.cultivar_id else {}
    taxon = catalogue.facts_for_kinds(session, [then.taxon_id])[then.taxon_id]
    cultivar = cultivars.get(then.cultivar_id) if then.cultivar_id else None
    return replace(tree, taxon=taxon, cultivar=cultivar, name_as_told=then.name_as_told)


def variety_of(
    cultivar_id: UUID | None, tree: TreeFacts, others: Mapping[UUID, CultivarFacts]
) -> CultivarFacts | None:
    """Which of a tree's varieties is meant: its main one, unless told. Raises `NotOnThisTree`."""
    if cultivar_id is None or cultivar_id == tree.cultivar_id:
        return tree.cultivar
    if cultivar_id not in tree.more_varieties:
        raise NotOnThisTree(f"Tree {tree.number} does not carry it.", field="cultivar_id", tree=tree.number)
    return others[cultivar_id]


def _check_crossings(session: Session, member: Member, known: Mapping[UUID, TreeFacts]) -> Any:
    """A check of each cut against the area of whoever it is cut for; gives what there is to know."""
    cutter = members.facts_for_parties(session, [member.acting_for_id]).get(member.acting_for_id)
    here_id = cutter.area_id if cutter else None
    areas = members.facts_for_areas(
        session, {tree.area_id for tree in known.values()} | ({here_id} if here_id else set())
    )
    here = areas.get(here_id) if here_id else None
    permit = permits(session)

    def check(tree: TreeFacts, cut_on: date) -> list[Warn]:
        origin = areas[tree.area_id]
        check_may_carry(origin, here, permit(origin, here, tree.genus, cut_on), genus=tree.genus)
        if here is not None:
            return []
        return [
            Warn(
                "area_not_known",
                f"Your own plant-health area is not recorded; this wood may not leave {origin.name} without an answer.",
            )
        ]

    return check


def _row(cut: _Cut, number: int, round_id: UUID, now: datetime, member: Member) -> dict[str, Any]:
    told, tree = cut.told, cut.tree
    row: dict[str, Any] = {
        **NOT_TOLD, "id": told.id, "number": number, "kind": CollectionKind.CUT.value, "wood": told.wood.value, "tree_id": tree.id,
        "round_id": round_id, "taxon_id": cut.variety.taxon_id if cut.variety else tree.taxon_id,
        "cultivar_id": cut.variety.id if cut.variety else None, "name_as_told": tree.name_as_told, "area_id": tree.area_id,
        "sticks": told.sticks, "stage": told.stage, "leaves_down": told.leaves_down, "leaves_off": told.leaves_off,
        "disinfected": told.disinfected, "owner_agreed": told.owner_agreed, "cut_on": cut.cut_on, "done_at": cut.done_at,
        "recorded_at": now, "by_party_id": member.party_id, "for_party_id": member.acting_for_id, "note": told.note, "version": 1,
    }  # fmt: skip
    row["unfinished"] = bool(missing_of(CollectionKind.CUT, told.wood, row))
    return row
