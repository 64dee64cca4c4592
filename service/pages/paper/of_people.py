"""Sheets of one person: what they cut, took and grafted in a year, and what took."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from sqlmodel import Session

from service.bundles import queries as bundle_queries
from service.bundles.schemas import BundleSummary
from service.collection import queries as collection_queries
from service.collection.rules import CollectionKind
from service.collection.schemas import CollectionSummary
from service.grafting import queries as grafting_queries
from service.grafting.schemas import GraftSummary
from service.lib.clock import local_day
from service.lib.paging import EVERY
from service.members import queries as member_queries
from service.members.rules import check_may_ask_who_has
from service.members.signin import Asker
from service.pages.paper.sheets import Big, Cell, Column, Group, Sheet, code_words, short_day

YEAR = timedelta(days=365)


def year_sheet(session: Session, asker: Asker, party_id: UUID, now: datetime, zone: str) -> Sheet:
    """The year up to today, of oneself or, for who may know who has what, of anybody."""
    check_may_ask_who_has(asker, party_id)
    party, since = member_queries.get_party(session, party_id), now - YEAR
    first = local_day(since, zone)
    cut = collection_queries.list_collections(
        session, EVERY, kind=CollectionKind.CUT, for_party_id=party_id, cut_from=first
    ).items
    took = [
        each
        for each in bundle_queries.list_bundles(session, EVERY, holder_id=party_id).items
        if each.made_at >= since
    ]
    grafts = grafting_queries.list_grafts(
        session, EVERY, party_id=party_id, season=(since, now + timedelta(days=1))
    ).items
    rows: list[tuple[str, list[tuple[Cell, ...]]]] = [
        ("Cut", [_cut(one) for one in cut]),
        ("Taken", [_taken(one, zone) for one in took]),
        ("Grafted", [_graft(one, zone) for one in grafts if one.taken_back_at is None]),
    ]
    return Sheet(
        title=f"The year of {party.name}",
        says=f"From {short_day(first)} to {short_day(now, zone)}.",
        columns=(
            Column("Day", "date"), Column("What", "wide"), Column("Sticks", "narrow"), Column("Where, or what became of it", "wide"),
            Column("My note"),
        ),
        groups=[Group(heading, each) for heading, each in rows if each], empty="Nothing of this year stands in the record.",
    )  # fmt: skip


def _cut(one: CollectionSummary) -> tuple[Cell, ...]:
    where = f"tree {one.tree_number}, {one.site_name}"
    return short_day(one.cut_on), Big(one.page_name, (one.kind_name,)), str(one.sticks), where, None


def _taken(one: BundleSummary, zone: str) -> tuple[Cell, ...]:
    wood = Big(one.page_name, (one.kind, code_words(one.code)))
    return short_day(one.made_at, zone), wood, "", f"{one.on_hand} left", None


def _graft(one: GraftSummary, zone: str) -> tuple[Cell, ...]:
    wood = " and ".join(each.variety for each in one.woods)
    sticks = sum(each.sticks for each in one.woods)
    take = (
        "not looked at yet"
        if one.take is None
        else f"{one.take.alive} of {one.take.looked_at} alive, {short_day(one.take.seen_on)}"
    )
    return (
        short_day(one.done_at, zone),
        Big(f"{wood} on {one.stock}", (one.method_name,)),
        str(sticks),
        take,
        None,
    )
