"""Lists to choose from on forms."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol
from uuid import UUID

from fastapi import Request
from sqlmodel import Session

from service.catalogue import queries as catalogue_queries
from service.lib.paging import EVERY
from service.members import queries as member_queries
from service.members.rules import May
from service.members.signin import Asker
from service.storage import queries as storage_queries
from service.trees import queries as tree_queries

Choices = list[tuple[UUID | str, str]]


class Written(Protocol):
    @property
    def by_party_id(self) -> UUID: ...
    @property
    def for_party_id(self) -> UUID: ...


def names_for(session: Session, asker: Asker, written: Iterable[Written]) -> dict[UUID, str]:
    """Who wrote things and for whom, for those who may see people; one statement."""
    if not {May.HAND_OVER, May.ACT_FOR} & asker.may:
        return {}
    ids = {one for each in written for one in (each.by_party_id, each.for_party_id)}
    return {
        id: "somebody forgotten" if facts.forgotten else facts.name
        for id, facts in member_queries.facts_for_parties(session, ids).items()
    }


def parties(session: Session) -> Choices:
    """Receivers, owners, whom something is done for: everybody by name."""
    return [(one.id, one.words) for one in member_queries.everybody_to_choose(session)]


def people(request: Request) -> Choices:
    """The same for a page, which may ask for them in several places: read once per request."""
    known: Choices | None = getattr(request.state, "people", None)
    if known is None:
        with request.app.state.database.reading() as session:
            known = request.state.people = parties(session)
    return known


def areas(session: Session) -> Choices:
    """Plant-health areas; nothing to choose where the record knows one only."""
    listed = every_area(session)
    return listed if len(listed) > 1 else []


def every_area(session: Session) -> Choices:
    return [(area.id, area.name) for area in member_queries.list_areas(session, EVERY).items]


def sites(session: Session) -> Choices:
    return [(site.id, site.name) for site in tree_queries.list_sites(session, EVERY, exact=False).items]


def trees(session: Session) -> Choices:
    """Every tree by its number; typing the number alone is enough."""
    listed = tree_queries.list_trees(session, EVERY, exact=False).items
    return [(tree.id, f"{tree.number} · {tree.page_name} · {tree.site_name}") for tree in listed]


def kinds(session: Session) -> Choices:
    return [
        (kind.id, f"{kind.kind} ({kind.botanical_name})") for kind in catalogue_queries.list_kinds(session)
    ]


def rootstocks(session: Session) -> Choices:
    """Stocks of the trade, by kind."""
    listed = catalogue_queries.list_rootstocks(session, EVERY).items
    ordered = sorted(listed, key=lambda stock: (stock.kind, stock.name))
    return [(stock.id, f"{stock.name} · {stock.kind.lower()}") for stock in ordered]


def methods(session: Session) -> Choices:
    return [(method.slug, method.name) for method in catalogue_queries.list_methods(session)]


def agents(session: Session, genus: str | None = None) -> Choices:
    return [(agent.name, agent.name) for agent in catalogue_queries.list_agents(session, genus=genus)]


def places(session: Session) -> Choices:
    """Every place of every open store, by store and shelf."""
    return [
        (place.id, f"{store.name} · {place.name}" if place.name else f"{store.name}, anywhere")
        for store in storage_queries.list_stores(session, EVERY, open_only=True).items
        for place in store.places
    ]


def stores(session: Session) -> Choices:
    return [
        (store.id, store.name) for store in storage_queries.list_stores(session, EVERY, open_only=True).items
    ]


def boxes(session: Session) -> Choices:
    return [
        (box.id, f"{box.name} ({box.store_name or 'not in a store'})")
        for box in storage_queries.list_boxes(session, EVERY).items
    ]


def shown(typed: str, choices: Choices) -> str:
    """What stands in the field: the words of a value, or what was typed; nothing where an id is nobody's any more."""
    return next((words for value, words in choices if str(value) == typed), "" if _is_id(typed) else typed)


def _is_id(typed: str) -> bool:
    try:
        return bool(UUID(typed))
    except ValueError:
        return False
