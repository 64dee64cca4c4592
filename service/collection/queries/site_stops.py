"""Open stops on a site: what they say, and of which kinds nothing may be cut for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlmodel import Session

from service.catalogue import queries as catalogue
from service.catalogue.rules import page_name
from service.collection.schemas.winters import StopOnSite
from service.trees import queries as trees
from service.trees.rules import StopFacts, StopReason, stop_words, tree_name, what_lifts


def stops_on_site(session: Session, rows: Sequence[Any]) -> list[StopOnSite]:
    """Open stops of these trees, the gravest first; two statements, none where no tree is stopped.

    A stop for health keeps back every kind its agent can live on; where the catalogue does not know it, trees of the same genus.
    """
    bound = [row for row in rows if row.open_stops]
    of_tree = trees.open_stops_for_trees(session, [row.id for row in bound])
    met: dict[Any, tuple[StopFacts, list[Any]]] = {}
    for row in bound:
        for stop in of_tree.get(row.id, []):
            met.setdefault(stop.id, (stop, []))[1].append(row)
    health = [stop.agent for stop, _ in met.values() if stop.reason is StopReason.HEALTH]
    hosts = catalogue.hosts_of(session, health)
    found = [_told(stop, stopped, rows, hosts.get(stop.agent, frozenset())) for stop, stopped in met.values()]
    return sorted(found, key=lambda one: (one.reason != StopReason.HEALTH, one.state, one.words))


def _told(stop: StopFacts, stopped: list[Any], rows: Sequence[Any], hosts: frozenset[str]) -> StopOnSite:
    genera = set[str]()
    if stop.reason is StopReason.HEALTH:
        genera = set(hosts) or {row.genus for row in stopped}
    standing = [row for row in rows if row.felled_on is None]
    kinds = dict.fromkeys(row.kind for row in standing if row.genus in genera)
    first = stopped[0]
    variety = page_name(first.epithet, first.trade_designation) if first.epithet else ""
    name = f"Tree {first.number}, {tree_name(variety, first.name_as_told)}"
    also = f" and {len(stopped) - 1} more" if len(stopped) > 1 else ""
    return StopOnSite(
        stop_id=stop.id, reason=stop.reason, state=stop.state, agent=stop.agent, trees=[row.number for row in stopped],
        words=f"{name}{also}: {stop_words(stop)}", lifted_by=what_lifts(stop.reason), kinds=list(kinds),
    )  # fmt: skip


def kept_back(stops: Sequence[StopOnSite], rows: Sequence[Any]) -> str:
    """Why nothing of these trees, all of one group of kinds, may be cut; empty where something may."""
    names = {row.kind for row in rows}
    for stop in stops:
        if names & set(stop.kinds):
            return f"{stop.agent or 'a disease or pest'} may be on it"
    return "all its trees are stopped" if rows and all(row.open_stops for row in rows) else ""
