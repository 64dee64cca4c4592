"""Kinds of plant, and what is told of an entry that is not there."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.catalogue import rules, schemas
from service.catalogue.rules import TaxonFacts
from service.catalogue.tables import Taxon
from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of


class NoSuchEntry(NotFound):
    title = "The catalogue has no such entry"


_TAXON = (
    col(Taxon.id), col(Taxon.slug), col(Taxon.botanical_name), col(Taxon.genus), col(Taxon.kind), col(Taxon.eppo_code),
    col(Taxon.eppo_mark), col(Taxon.species_group), col(Taxon.stage_scale),
)  # fmt: skip


def facts_for_kinds(session: Session, taxon_ids: Iterable[UUID]) -> dict[UUID, TaxonFacts]:
    """Kinds by id; one statement."""
    rows = session.execute(select(*_TAXON).where(col(Taxon.id).in_(list(taxon_ids))))
    return {row.id: TaxonFacts(*row) for row in rows}


def find_taxon(session: Session, slug: str) -> TaxonFacts | None:
    row = session.execute(select(*_TAXON).where(col(Taxon.slug) == slug)).first()
    return TaxonFacts(*row) if row else None


def list_kinds(session: Session) -> list[TaxonFacts]:
    """Every kind, by its page word: for choosing on a page."""
    return [
        TaxonFacts(*row)
        for row in session.execute(select(*_TAXON).order_by(col(Taxon.kind), col(Taxon.slug)))
    ]


def list_taxa(session: Session, paging: Paging, *, genus: str | None = None) -> Page[schemas.TaxonRead]:
    statement = select(Taxon)
    if genus:
        statement = statement.where(col(Taxon.genus) == genus)
    keys: list[tuple[Any, bool]] = [(col(Taxon.kind), False), (col(Taxon.slug), False)]
    return page_of(session, statement, keys, paging, lambda row: _taxon_read(row.Taxon))


def get_taxon(session: Session, taxon_id: UUID) -> schemas.TaxonRead:
    taxon = session.execute(select(Taxon).where(col(Taxon.id) == taxon_id)).scalar_one_or_none()
    if taxon is None:
        raise NoSuchEntry("There is no such kind in the catalogue.")
    return _taxon_read(taxon)


def _taxon_read(taxon: Taxon) -> schemas.TaxonRead:
    name = rules.format_botanical_name(taxon.botanical_name)
    return schemas.TaxonRead(**taxon.model_dump(), name=schemas.WrittenName(plain=name.plain, html=name.html))
