"""Builders of the catalogue: the reference files loaded, and kinds and varieties at will."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from sqlmodel import Session

from service.catalogue import actions, schemas
from service.catalogue.actions.loading import reference_id
from service.catalogue.tables import Taxon
from service.lib.settings import CHECKOUT
from service.lib.write import Writer
from service.members.rules import May
from service.members.tables import Party

REFERENCE = CHECKOUT / "fixtures" / "reference"


def load_catalogue(writer: Writer, folder: Path = REFERENCE) -> actions.LoadReport:
    """The reference files as a club has them after its first start."""
    return writer.write_now(actions.load_reference, None, folder)


def taxon_id(slug: str) -> UUID:
    return reference_id("taxon", slug)


def cultivar_id(slug: str) -> UUID:
    """By kind and name: `cultivar_id("malus-domestica--gravensteiner")`."""
    return reference_id("cultivar", slug)


def rootstock_id(slug: str) -> UUID:
    return reference_id("rootstock", slug)


@dataclass(frozen=True)
class Namer:
    """Somebody who may name varieties, with only what the catalogue asks of them."""

    account_id: UUID = field(default_factory=uuid4)
    party_id: UUID = field(default_factory=uuid4)
    may: frozenset[May] = frozenset({May.READ, May.COLLECT, May.CATALOGUE})

    @property
    def acting_for_id(self) -> UUID:
        return self.party_id


def make_namer(writer: Writer, *may: May, name: str = "Wilma Rask") -> Namer:
    """A member with these rights (a steward's by default), standing in the database."""
    namer = Namer(may=frozenset(may)) if may else Namer()
    writer.write_now(
        _add,
        None,
        Party(id=namer.party_id, kind="member", name=name, created_at=datetime(2025, 1, 1, tzinfo=UTC)),
    )
    return namer


def make_taxon(writer: Writer, **given: Any) -> UUID:
    """A kind outside the reference files."""
    values = {
        "id": uuid4(), "slug": f"kind-{uuid4().hex[:8]}", "botanical_name": f"Planta {uuid4().hex[:8]}", "genus": "Planta", "kind": "Plant",
        "stage_scale": "plain", "source": "common practice, no source", "mark": "common practice, no source", **given,
    }  # fmt: skip
    writer.write_now(_add, None, Taxon(**values))
    return UUID(str(values["id"]))


def make_cultivar(writer: Writer, namer: Namer, **given: Any) -> schemas.CultivarRead:
    """A variety the club entered itself; an apple called Rask's Seedling by default."""
    body = {"taxon_id": taxon_id("malus-domestica"), "epithet": "Rask's Seedling", **given}
    return writer.write_now(actions.name_cultivar, namer, schemas.CultivarCreate(**body))


def _add(session: Session, row: Any) -> None:
    session.add(row)
    session.flush()
