"""What a phone takes along: the tags of wood on hand, blank tags, and standing trees with their stops."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from itertools import groupby
from typing import Any
from uuid import UUID

import orjson
from sqlalchemy import Row, select
from sqlmodel import Session, col

from service.bundles.queries.counters import ON_HAND
from service.bundles.tables import Bundle
from service.catalogue.rules import Protection, Rights, can_share_rights
from service.lib.clock import local_day
from service.lib.codes import group_code
from service.members import queries as member_queries
from service.members.rules import Member
from service.provenance.queries.cards import facts_for_cards, name_facts
from service.provenance.queries.things import stops_of_rows, tree_scan, trees_with_stops
from service.provenance.rules.card import blank_words, card_of
from service.provenance.rules.day_pack import (
    MOST_BLANKS,
    MOST_TAGS,
    MOST_TREES,
    PACK_VERSION,
    good_for_days,
    rule_for,
    why_not_cut,
)
from service.provenance.rules.scans import tree_card
from service.provenance.rules.stops import gravest, stop_says
from service.provenance.schemas.day_pack import DayPack, PackedSite, PackedTag, PackedTree
from service.provenance.tables import AnswerCard
from service.tags.queries import accepted_hosts
from service.tags.rules.words import TagKind, TagState
from service.tags.tables import Tag
from service.trees.rules import MayCut, walking_key
from service.trees.tables import Site, SourceTree


def day_pack_for(session: Session, asker: Member, now: datetime, *, exact: bool) -> DayPack:
    """Five statements, and those of the cards where any was never written. `exact`: where on their sites trees stand is told."""
    club = member_queries.club(session)
    today = local_day(now, club.zone)
    tags, tags_over = _tags(session)
    blanks, blanks_over = _blanks(session)
    groups, trees_over = _trees(session, today)
    trees = [_packed_tree(rows, asker, today, exact=exact) for rows in groups]
    sites = {rows[0].site_id: rows[0].site for rows in groups}
    latitudes = {rows[0].latitude for rows in groups if rows[0].latitude is not None}
    return DayPack(
        version=PACK_VERSION, club=club.short_name or club.name or "", hosts=sorted(accepted_hosts(session)), today=today,
        good_for_days=good_for_days(sorted(latitudes), today), tags=tags, blanks=blanks, trees=trees,
        sites=[PackedSite(id=id_, name=name) for id_, name in sorted(sites.items(), key=lambda one: one[1].casefold())],
        left_out=tags_over + blanks_over + trees_over,
    )  # fmt: skip


def _most(rows: list[Any], most: int) -> tuple[list[Any], int]:
    """At most so many, and 1 where there are more: how many more is not counted."""
    return rows[:most], int(len(rows) > most)


# -- tags ------------------------------------------------------------------------------------------------------------


def _tags(session: Session) -> tuple[list[PackedTag], int]:
    """Every tag of a bundle on hand, lost ones too; the newest wood first where there is more than a phone takes."""
    found = session.execute(
        select(
            col(Tag.code), col(Tag.state), col(Tag.replaced_by), col(Bundle.id), ON_HAND.label("on_hand"), col(AnswerCard.body)
        )
        .join(Bundle, col(Bundle.id) == col(Tag.thing_id))
        .outerjoin(AnswerCard, col(AnswerCard.bundle_id) == col(Bundle.id))
        .where(col(Tag.kind) == TagKind.BUNDLE, col(Tag.state) != TagState.BLANK, ON_HAND > 0)
        .order_by(col(Bundle.made_at).desc(), col(Tag.code))
        .limit(MOST_TAGS + 1)
    ).all()  # fmt: skip
    rows, over = _most(list(found), MOST_TAGS)
    without = [row.id for row in rows if row.body is None]
    made = _made_now(session, without) if without else {}
    return [_packed_tag(row, orjson.loads(row.body) if row.body else made[row.id]) for row in rows], over


def _made_now(session: Session, bundle_ids: Iterable[UUID]) -> dict[UUID, dict[str, Any]]:
    facts = facts_for_cards(session, list(bundle_ids))
    return {bundle_id: orjson.loads(orjson.dumps(card_of(one))) for bundle_id, one in facts.items()}


def _packed_tag(row: Row[Any], card: dict[str, Any]) -> PackedTag:
    before = blank_words(group_code(row.replaced_by) if row.replaced_by else None, row.state)
    look = card.get("last_look")
    more = [card["origin"]["words"], *([f"Last looked at: {look['words']}"] if look else []), *card["rights"]]
    more += [one["words"] for one in card["name"].get("corrections", [])]
    name = card["name"]
    return PackedTag(
        code=row.code, thing_id=row.id, state=card["state"], name=f"{name['short']}, {name['kind'].lower()}",
        says=f"{before} {card['answer']}".strip(), more=more, sticks=row.on_hand,
    )  # fmt: skip


def _blanks(session: Session) -> tuple[list[str], int]:
    found = session.execute(
        select(col(Tag.code))
        .where(col(Tag.state) == TagState.BLANK)
        .order_by(col(Tag.made_at).desc(), col(Tag.code))
        .limit(MOST_BLANKS + 1)
    ).scalars()
    return _most(list(found), MOST_BLANKS)


# -- trees -----------------------------------------------------------------------------------------------------------


def _trees(session: Session, today: date) -> tuple[list[list[Row[Any]]], int]:
    """Every tree in the ground, with a row for each of its open stops, in walking order within its site; one statement."""
    chosen = (
        select(col(SourceTree.id))
        .where(col(SourceTree.felled_on).is_(None) | (col(SourceTree.felled_on) > today))
        .order_by(col(SourceTree.number))
        .limit(MOST_TREES + 1)
    )
    rows = session.execute(
        trees_with_stops(
            col(SourceTree.id).label("tree_id"), col(SourceTree.code), col(SourceTree.no_propagation_contract),
            col(SourceTree.site_id), col(Site.latitude),
        ).where(col(SourceTree.id).in_(chosen))
    )  # fmt: skip
    by_tree = sorted(rows, key=lambda row: row.number)
    groups, over = _most([list(each) for _, each in groupby(by_tree, lambda row: row.number)], MOST_TREES)
    groups.sort(
        key=lambda rows: (rows[0].site.casefold(), walking_key(rows[0].where_on_site, rows[0].number))
    )
    return groups, over


def _packed_tree(rows: list[Row[Any]], asker: Member, today: date, *, exact: bool) -> PackedTree:
    row, stops = rows[0], stops_of_rows(rows)
    stop, yours = gravest(stops), row.owner_id == asker.acting_for_id
    may_cut = MayCut(row.may_cut)
    rights = Rights(Protection(row.protection), row.protected_until) if row.protection else None
    refused = why_not_cut(
        may_cut, stop=stop_says(stop) if stop else "", contract=row.no_propagation_contract, protected_until=row.protected_until,
        protected=rights is not None and not can_share_rights(rights, today), yours=yours,
    )  # fmt: skip
    return PackedTree(
        id=row.tree_id, number=row.number, code=row.code, site_id=row.site_id, where=row.where_on_site if exact else "",
        name=name_facts(row).short_with_kind, says=tree_card(tree_scan(rows))[0], rule=rule_for(may_cut, yours=yours),
        most_sticks=row.most_sticks, refused=refused, stopped=stop is not None,
    )  # fmt: skip
