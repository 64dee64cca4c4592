"""Kinds, varieties and their spellings, rootstocks, growth stages, methods, agents, and which joins last."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class ReferenceTaken(SQLModel, table=True):
    """Which reference files this database has: at most one row, so that it goes wherever the catalogue goes."""

    __tablename__ = "reference_taken"
    __table_args__ = (CheckConstraint("id = 1", name="one"),)
    id: int = Field(default=1, primary_key=True)
    sha256: str = Field(max_length=64)  # of the files and of the code that reads them


class Taxon(SQLModel, table=True):
    """A botanical name ("kind" on the pages), with its EPPO code where known."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    slug: str = Field(max_length=60, unique=True)
    botanical_name: str = Field(max_length=200, unique=True)
    genus: str = Field(max_length=100, index=True)
    kind: str = Field(max_length=100)
    eppo_code: str = Field(default="", max_length=10)
    eppo_mark: str = word(length=40, default="")
    species_group: str = Field(default="", max_length=40)
    stage_scale: str = word(default="plain")
    summer_budwood: str = word(default="")  # yes, or empty where not known
    used_as: str = word(default="both")  # scion, stock, both
    source: str = Field(max_length=500)
    mark: str = word(length=40)


class Cultivar(SQLModel, table=True):
    """A named variety. Epithet and trade designation are kept apart."""

    __table_args__ = (
        UniqueConstraint("taxon_id", "epithet"),
        CheckConstraint(
            "protection in ('free', 'protected', 'applied', 'unknown', 'permission')", name="protection"
        ),
    )
    id: UUID = Field(default_factory=new_id, primary_key=True)
    taxon_id: UUID = refers_to("taxon.id", index=True)
    epithet: str = Field(max_length=300)
    group_name: str = Field(default="", max_length=100)
    trade_designation: str = Field(default="", max_length=200)
    sport_of_id: UUID | None = refers_to("cultivar.id", default=None, nullable=True)
    protection: str = word(default="unknown")
    protected_until: date | None = None
    protection_checked_on: date | None = None
    protection_checked_by_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    protection_register: str = Field(default="", max_length=200)
    protection_note: str = Field(default="", max_length=1000)
    provisional: bool = False
    edited_by_club: bool = False
    by_party_id: UUID | None = refers_to(
        "party.id", default=None, nullable=True
    )  # empty: from the reference files
    source: str = Field(default="", max_length=500)
    mark: str = word(length=40, default="")
    created_at: datetime = instant()
    version: int = 1


class CultivarName(SQLModel, table=True):
    """One spelling under which a variety is looked for: epithet, synonym, trade designation, donor's spelling."""

    __tablename__ = "cultivar_name"
    __table_args__ = (UniqueConstraint("cultivar_id", "name"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    cultivar_id: UUID = refers_to("cultivar.id")
    name: str = Field(max_length=300)
    kind: str = word(length=30)  # epithet, synonym, translation, trade_designation, donors_spelling
    folded: str = Field(max_length=400, index=True)
    trigrams: int = 0  # how many, for the score
    by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    source: str = Field(default="", max_length=500)
    mark: str = word(length=40, default="")


class NameTrigram(SQLModel, table=True):
    """Three letters in a row of a folded name."""

    __tablename__ = "name_trigram"
    trigram: str = Field(primary_key=True, max_length=3)
    name_id: UUID = refers_to("cultivar_name.id", primary_key=True, index=True)


class Rootstock(SQLModel, table=True):
    """A taxon or named clone used as stock."""

    __table_args__ = (UniqueConstraint("taxon_id", "name"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    taxon_id: UUID = refers_to("taxon.id", index=True)
    name: str = Field(max_length=200)
    form: str = word(default="clone")  # clone, seedling
    vigour: str = Field(default="", max_length=100)
    other_names: str = Field(default="", max_length=500)  # split by semicolons
    note: str = Field(default="", max_length=1000)
    source: str = Field(max_length=500)
    mark: str = word(length=40)


class GrowthStage(SQLModel, table=True):
    """One stage of the leaf bud in a kind's list; the code is text: its leading nought counts."""

    __tablename__ = "growth_stage"
    scale: str = word(primary_key=True)
    code: str = Field(primary_key=True, max_length=10)
    place: int  # order in the list
    seen: str = Field(max_length=500)
    collecting: str = Field(default="", max_length=500)
    stored_wood: str = Field(default="", max_length=500)
    wood_use: str = word(length=30)  # keep, use_first, same_day, do_not_cut
    source: str = Field(max_length=500)
    mark: str = word(length=40)


class GraftingMethod(SQLModel, table=True):
    """A way of joining wood and stock, with when its verdict is due."""

    __tablename__ = "grafting_method"
    slug: str = Field(primary_key=True, max_length=60)
    name: str = Field(max_length=100)
    family: str = word()  # graft, bud, repair, operation
    unit: str = word(default="stick")  # what one union uses: stick, bud, rooted_plant
    wood: str = Field(default="", max_length=200)  # the state the wood must be in
    bark_must_slip: str = Field(default="", max_length=100)
    season: str = Field(default="", max_length=300)
    first_look_weeks: int | None = None
    verdict_weeks_from: int | None = None
    verdict_weeks_to: int | None = None
    verdict_mark: str = word(length=40, default="")
    tie: str = Field(default="", max_length=500)
    note: str = Field(default="", max_length=1000)
    source: str = Field(max_length=1000)
    mark: str = word(length=40)


class HealthAgent(SQLModel, table=True):
    """A disease or pest that wood can carry."""

    __tablename__ = "health_agent"
    slug: str = Field(primary_key=True, max_length=80)
    name: str = Field(max_length=200)
    eppo_code: str = Field(default="", max_length=20)
    eppo_mark: str = word(length=40, default="")
    other_names: str = Field(default="", max_length=500)  # as people call it; split by semicolons
    kind: str = word(length=40, default="")  # bacterium, virus, fungus, insect ...
    hosts: str = Field(default="", max_length=500)  # as the source words it
    host_genera: str = Field(default="", max_length=500)  # split by semicolons
    spread: str = Field(default="", max_length=1000)
    latency: str = Field(default="", max_length=1000)
    latency_source: str = Field(default="", max_length=500)
    caution: str = Field(default="", max_length=1000)
    source: str = Field(max_length=1000)
    mark: str = word(length=40)


class StorageLimit(SQLModel, table=True):
    """How cold and how long wood of a group of species is kept, each figure with how it is known."""

    __tablename__ = "storage_limit"
    species_group: str = Field(primary_key=True, max_length=40)
    wood: str = word()  # deciduous or evergreen
    examples: str = Field(max_length=200)
    store_temp_min_c: float
    store_temp_max_c: float
    store_temp_mark: str = Field(max_length=60)
    store_temp_source: str = Field(default="", max_length=500)
    humidity_rh_min_pct: int
    humidity_mark: str = Field(max_length=60)
    packing: str = Field(max_length=200)
    keep_weeks_min: int
    keep_weeks_max: int
    keep_conditions: str = Field(max_length=100)
    keep_mark: str = Field(max_length=60)
    keep_source: str = Field(default="", max_length=500)
    freeze_kill10_c: float
    freeze_stage: str = Field(default="", max_length=60)
    freeze_mark: str = Field(max_length=60)
    freeze_source: str = Field(default="", max_length=500)
    ethylene: str = Field(max_length=300)


class Join(SQLModel, table=True):
    """What is known of joining one wood to one stock, in that direction."""

    __tablename__ = "join_advice"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    place: int = Field(unique=True)  # line of the file, so that a reload finds it again
    scion_taxon: str = Field(
        max_length=200, index=True
    )  # names split by semicolons; a genus alone means all of it
    scion_cultivar: str = Field(default="", max_length=300)
    scion_condition: str = Field(default="", max_length=300)  # applies only where this is so
    stock_taxon: str = Field(max_length=200)
    stock: str = Field(default="", max_length=300)
    stock_condition: str = Field(default="", max_length=300)
    verdict: str = word(length=40)
    bridge: str = Field(default="", max_length=300)  # interstems that were named for it
    note: str = Field(default="", max_length=1000)
    source: str = Field(max_length=1000)
    mark: str = word(length=40)
