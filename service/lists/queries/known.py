"""What the record knows by name, read once for a whole list."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue import queries as catalogue
from service.catalogue.rules import CultivarFacts, TaxonFacts, fold_name
from service.catalogue.tables import Cultivar, CultivarName
from service.lib.paging import EVERY
from service.lists.rules import fold_heading
from service.members import queries as members
from service.members.rules import fold_person
from service.members.tables import Area, Party
from service.storage.tables import Place, Store
from service.trees.tables import Site, SourceTree

AT_ONCE = 500  # spellings in one statement


@dataclass
class BoxKnown:
    """A box by its name, and where it stands."""

    id: UUID
    store_id: UUID | None
    place_id: UUID | None
    store_name: str = ""
    place_name: str = ""
    line: int = 0  # of the list, where it is new
    told_place: str = ""  # by the list, where the record does not know its place
    told_line: int = 0  # that told its place


@dataclass
class Known:
    """Names of the record, folded, and what goes by each."""

    kinds: dict[UUID, TaxonFacts] = field(default_factory=dict)
    kind_named: dict[str, list[UUID]] = field(default_factory=dict)
    areas: dict[str, list[UUID]] = field(default_factory=dict)
    sites: dict[str, list[UUID]] = field(default_factory=dict)
    people: dict[str, list[UUID]] = field(default_factory=dict)
    stocks: dict[str, list[tuple[UUID, UUID]]] = field(default_factory=dict)  # stock, its kind
    spelled: dict[str, list[tuple[UUID, UUID]]] = field(default_factory=dict)  # variety, its kind
    contacts: dict[UUID, str] = field(default_factory=dict)
    mails: dict[str, list[UUID]] = field(default_factory=dict)
    trees: dict[str, UUID] = field(default_factory=dict)  # by number
    tree_codes: dict[str, UUID] = field(default_factory=dict)  # by the code of their tag
    tree_kinds: dict[UUID, UUID] = field(default_factory=dict)
    stores: dict[str, list[UUID]] = field(default_factory=dict)
    places: dict[tuple[UUID, str], UUID] = field(default_factory=dict)
    boxes: dict[str, BoxKnown] = field(default_factory=dict)
    methods: dict[str, str] = field(default_factory=dict)  # slugs
    words: dict[UUID, str] = field(default_factory=dict)  # names as they are written
    cultivars: dict[UUID, CultivarFacts] = field(default_factory=dict)
    only_area_id: UUID | None = None


def read_known(session: Session) -> Known:
    """Areas, sites, people, kinds and stocks by name; six statements, whatever the list."""
    known = Known()
    for kind in catalogue.list_kinds(session):
        known.kinds[kind.id] = kind
        known.words[kind.id] = f"{kind.kind} ({kind.botanical_name})"
        for name in {
            fold_heading(one) for one in (kind.kind, kind.botanical_name, kind.slug, f"{kind.kind}s")
        }:
            known.kind_named.setdefault(name, []).append(kind.id)
    for table, of in ((Area, known.areas), (Site, known.sites)):
        for row in session.execute(select(col(table.id), col(table.name))):
            of.setdefault(fold_person(row.name), []).append(row.id)
            known.words[row.id] = row.name
    everybody = select(col(Party.id), col(Party.name), col(Party.name_folded), col(Party.contact)).where(
        col(Party.forgotten_at).is_(None)
    )
    for row in session.execute(everybody):
        known.people.setdefault(row.name_folded, []).append(row.id)
        known.contacts[row.id] = row.contact
        for mail in mails_of(row.contact):
            known.mails.setdefault(mail, []).append(row.id)
        known.words[row.id] = row.name
    for stock in catalogue.list_rootstocks(session, EVERY).items:
        for name in {stock_word(one) for one in (stock.name, *stock.other_names)}:
            known.stocks.setdefault(name, []).append((stock.id, stock.taxon_id))
    only = members.only_area(session)
    known.only_area_id = only.id if only else None
    return known


_MAIL = re.compile(r"[^\s;,<>]+@[^\s;,<>]+")


def mails_of(contact: str) -> list[str]:
    """The mail addresses in a contact, as they are compared."""
    return [mail.casefold() for mail in _MAIL.findall(contact)]


def read_wood_known(session: Session, known: Known) -> None:
    """Trees by number and tag, stores, places and methods by name; four statements."""
    for method in catalogue.list_methods(session):
        for name in (method.name, method.slug):
            known.methods[fold_heading(name)] = method.slug
    trees = select(col(SourceTree.id), col(SourceTree.number), col(SourceTree.code), col(SourceTree.taxon_id))
    for row in session.execute(trees):
        known.trees[str(row.number)] = row.id
        if row.code:
            known.tree_codes[row.code] = row.id
        known.tree_kinds[row.id] = row.taxon_id
    for row in session.execute(select(col(Store.id), col(Store.name)).where(col(Store.closed_at).is_(None))):
        known.stores.setdefault(fold_person(row.name), []).append(row.id)
        known.words[row.id] = row.name
    for row in session.execute(select(col(Place.id), col(Place.store_id), col(Place.name))):
        known.places[row.store_id, fold_heading(row.name)] = row.id


@lru_cache(maxsize=4096)
def stock_word(name: str) -> str:
    """A stock's name as it is compared: `M.9`, `M9` and `m 9` are one."""
    return "".join(sign for sign in fold_person(name) if sign.isalnum())


def read_spellings(session: Session, known: Known, names: Iterable[str], answered: Iterable[UUID]) -> None:
    """Which varieties go by these spellings, whatever the case and the accents, and which were chosen in answers."""
    folded = sorted({fold_name(name) for name in names} - {""})
    for begin in range(0, len(folded), AT_ONCE):
        rows = session.execute(
            select(col(CultivarName.folded), col(Cultivar.id), col(Cultivar.taxon_id))
            .join(Cultivar, col(Cultivar.id) == col(CultivarName.cultivar_id))
            .where(col(CultivarName.folded).in_(folded[begin : begin + AT_ONCE]))
            .distinct()
        )
        for row in rows:
            known.spelled.setdefault(row.folded, []).append((row.id, row.taxon_id))
    wanted = {one for found in known.spelled.values() for one, _ in found} | set(answered)
    ids = sorted(wanted)
    for begin in range(0, len(ids), AT_ONCE):
        known.cultivars.update(catalogue.facts_for_cultivars(session, ids[begin : begin + AT_ONCE]))
