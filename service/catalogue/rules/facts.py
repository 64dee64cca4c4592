"""Plain facts about kinds and varieties, as other stages need them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from service.catalogue.rules.names import (
    FormattedName,
    format_botanical_name,
    format_cultivar_name,
    page_name,
)
from service.catalogue.rules.rights import Protection, Rights


@dataclass(frozen=True)
class TaxonFacts:
    """A kind."""

    id: UUID
    slug: str
    botanical_name: str
    genus: str
    kind: str
    eppo_code: str
    eppo_mark: str
    species_group: str
    stage_scale: str

    @property
    def printable_eppo_code(self) -> str:
        """The code where it was verified, else nothing."""
        return self.eppo_code if self.eppo_mark == "verified" else ""

    @property
    def name(self) -> FormattedName:
        return format_botanical_name(self.botanical_name)


@dataclass(frozen=True)
class CultivarFacts:
    """A variety with its kind."""

    id: UUID
    taxon_id: UUID
    epithet: str
    group_name: str
    trade_designation: str
    protection: str
    protected_until: date | None
    protection_checked_on: date | None
    provisional: bool
    botanical_name: str
    genus: str
    kind: str

    @property
    def permission(self) -> bool:
        """Whether the owner of the right agreed in writing."""
        return self.protection == Protection.PERMISSION

    @property
    def rights(self) -> Rights:
        return Rights(
            Protection(self.protection), self.protected_until, self.protection_checked_on, self.page_name
        )

    @property
    def name(self) -> FormattedName:
        """The whole name as ICNCP writes it."""
        return format_cultivar_name(
            self.botanical_name, self.epithet, self.group_name, self.trade_designation
        )

    @property
    def page_name(self) -> str:
        """The short name of lists and tags."""
        return page_name(self.epithet, self.trade_designation)
