"""Which trees may be cut on a day, and at most how many sticks of each: for a list that is made before anybody goes out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.collection.queries.rounds import cuts_of_trees
from service.collection.rules import SEASON, Wood, may_be_listed, sticks_left
from service.lib.clock import local_day
from service.trees import queries as trees
from service.trees.rules import TreeFacts


def trees_to_cut(
    session: Session, tree_ids: Iterable[UUID], now: datetime, zone: str
) -> dict[UUID, tuple[TreeFacts, int | None]]:
    """By tree: its facts and how many sticks of dormant wood are left (None: as many as the tree bears). Three statements."""
    known = trees.facts_for_cutting(session, tree_ids)
    cut: dict[UUID, int] = {}
    for tree_id, wood, _, sticks in cuts_of_trees(session, known, now - SEASON, now + SEASON):
        if wood is Wood.DORMANT:
            cut[tree_id] = cut.get(tree_id, 0) + sticks
    today = local_day(now, zone)
    return {
        id: (tree, sticks_left(tree, cut.get(id, 0)))
        for id, tree in known.items()
        if may_be_listed(tree, cut.get(id, 0), today)
    }
