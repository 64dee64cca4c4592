"""Bodies and answers of the catalogue."""

from __future__ import annotations

from datetime import date
from typing import Annotated
from uuid import UUID

from pydantic import AfterValidator, Field, StringConstraints

from service.catalogue.rules import (
    CultivarFacts,
    JoinAdvice,
    JoinRow,
    NameKind,
    Protection,
    Verdict,
    WoodUse,
    check_epithet,
    clean_epithet,
    share_warning,
)
from service.lib.schemas import Answer, Body, Day, Line, Name, Words


def _bare(typed: str) -> str:
    bare = clean_epithet(typed)
    if not bare:
        raise ValueError("a name, not quotation marks alone")
    return bare


Epithet = Annotated[Name, AfterValidator(_bare)]
ShortLine = Annotated[Line, StringConstraints(max_length=100)]
TradeName = Annotated[Line, StringConstraints(max_length=200)]
Note = Annotated[Words, StringConstraints(max_length=1000)]


class WrittenName(Answer):
    """A plant's name as ICNCP writes it, for text and for pages."""

    plain: str = Field(description="For text of one type: trade designation in capitals.")
    html: str = Field(
        description="For pages: botanical name in italics, epithet and trade designation in elements of their own."
    )


class TaxonRead(Answer):
    """A kind of plant."""

    id: UUID
    slug: str
    botanical_name: str
    genus: str
    kind: str
    eppo_code: str = Field(description="Empty where none is known.")
    eppo_mark: str = Field(description="verified, or memory: never to be printed.")
    species_group: str
    stage_scale: str
    summer_budwood: str
    used_as: str
    name: WrittenName
    source: str
    mark: str


class SpellingRead(Answer):
    """One spelling a variety is found under."""

    id: UUID
    name: str
    kind: NameKind
    source: str = ""
    mark: str = ""


class SpellingCreate(Body):
    """A synonym or a donor's spelling, added to a variety."""

    id: UUID | None = None
    name: Epithet
    kind: NameKind = NameKind.DONORS_SPELLING
    source: Line = ""


class ProtectionSet(Body):
    """What a look into the register showed."""

    protection: Protection
    protected_until: Day | None = None
    checked_on: Day | None = Field(
        default=None, description="The day it was looked up; today where it is left out."
    )
    register_name: TradeName = Field(default="", description="The register that was looked into.")
    note: Note = ""


class CultivarCreate(Body):
    """A variety to be named, for good or for now."""

    id: UUID | None = None
    taxon_id: UUID
    epithet: Epithet
    group_name: ShortLine = ""
    trade_designation: TradeName = ""
    sport_of_id: UUID | None = None
    provisional: bool = Field(default=False, description="True for a name a steward has still to settle.")
    names: list[SpellingCreate] = Field(default_factory=list, max_length=50)
    source: Line = ""


class CultivarUpdate(Body):
    """A change to a variety; what is left out stays."""

    epithet: Epithet | None = None
    group_name: ShortLine | None = None
    trade_designation: TradeName | None = None
    sport_of_id: UUID | None = None
    provisional: bool | None = None


class Remark(Answer):
    """A point to look at; nothing was refused for it."""

    word: str
    text: str


class ProtectionRead(Answer):
    """What is known of a variety's protection."""

    protection: Protection
    protected_until: date | None = None
    checked_on: date | None = None
    checked_by_id: UUID | None = None
    register_name: str = ""
    note: str = ""
    warning: str = Field(default="", description="A sentence for who would share its wood, or nothing.")


class CultivarSummary(Answer):
    """A variety in a list."""

    id: UUID
    taxon_id: UUID
    kind: str
    epithet: str
    trade_designation: str = ""
    page_name: str
    name: WrittenName
    protection: Protection
    provisional: bool = False


class CultivarRead(CultivarSummary):
    """A variety with all its spellings."""

    group_name: str = ""
    sport_of_id: UUID | None = None
    rights: ProtectionRead
    names: list[SpellingRead] = []
    remarks: list[Remark] = Field(
        default_factory=list, description="What the Code of names would say of the epithet."
    )
    source: str = ""
    mark: str = ""
    edited_by_club: bool = False
    version: int = 1


class CultivarFound(CultivarSummary):
    """A variety found by a spelling."""

    matched: str = Field(description="The spelling that was found.")
    matched_kind: NameKind
    score: float = Field(description="How near it is to what was typed; only for order.")


class RootstockRead(Answer):
    """A stock of the trade."""

    id: UUID
    taxon_id: UUID
    name: str
    kind: str
    botanical_name: str
    form: str
    vigour: str
    note: str
    other_names: list[str] = []
    source: str
    mark: str


class GrowthStageRead(Answer):
    """One stage of a kind's list."""

    scale: str
    code: str
    place: int
    seen: str
    collecting: str
    stored_wood: str
    wood_use: WoodUse
    source: str
    mark: str


class GraftingMethodRead(Answer):
    """A way of joining wood and stock."""

    slug: str
    name: str
    family: str
    unit: str
    wood: str
    bark_must_slip: str
    season: str
    first_look_weeks: int | None = None
    verdict_weeks_from: int | None = Field(default=None, description="Null where no figure was seen.")
    verdict_weeks_to: int | None = None
    verdict_mark: str = ""
    tie: str
    note: str
    source: str
    mark: str


class HealthAgentRead(Answer):
    """A disease or pest that wood can carry. Not a legal list: the plant-health authority decides."""

    slug: str
    name: str
    other_names: list[str] = []
    kind: str
    eppo_code: str
    eppo_mark: str
    hosts: str
    host_genera: list[str]
    spread: str
    latency: str
    latency_source: str
    caution: str
    source: str
    mark: str


class JoinRowRead(Answer):
    """One row of what is known of a join."""

    verdict: Verdict
    scion: str
    stock: str
    condition: str = ""
    note: str = ""
    bridge: str = ""
    source: str
    mark: str


class JoinAdviceRead(Answer):
    """Whether a wood and a stock unite, what that rests on, and what would change it."""

    verdict: Verdict
    note: str = ""
    bridge: str = Field(default="", description="Interstems named for this join.")
    source: str = ""
    mark: str = ""
    rests_on: str = ""
    others: list[JoinRowRead] = Field(
        default_factory=list, description="What else was said of the same join."
    )
    depends_on: list[JoinRowRead] = Field(
        default_factory=list, description="Rows that apply only where their condition is true."
    )
    related: list[JoinRowRead] = Field(
        default_factory=list, description="The same wood on other stocks of the same kind."
    )


class StockAdviceRead(Answer):
    """One stock a wood may be joined to."""

    rootstock_id: UUID
    rootstock: str
    kind: str
    vigour: str
    verdict: Verdict
    note: str = ""
    mark: str = ""


def join_row_read(row: JoinRow) -> JoinRowRead:
    return JoinRowRead(
        verdict=row.verdict,
        scion=" ".join(part for part in ("; ".join(row.scion_taxa), "; ".join(row.scion_cultivars)) if part),
        stock=" ".join(part for part in ("; ".join(row.stock_taxa), "; ".join(row.stocks)) if part),
        condition=row.condition, note=row.note, bridge=row.bridge, source=row.source, mark=row.mark,
    )  # fmt: skip


def join_advice_read(advice: JoinAdvice, *, most: int = 6) -> JoinAdviceRead:
    return JoinAdviceRead(
        verdict=advice.verdict, note=advice.note, bridge=advice.bridge, source=advice.source, mark=advice.mark,
        rests_on=advice.rests_on, others=[join_row_read(row) for row in advice.others[:most]],
        depends_on=[join_row_read(row) for row in advice.depends_on[:most]],
        related=[join_row_read(row) for row in advice.related[:most]],
    )  # fmt: skip


def written(facts: CultivarFacts) -> WrittenName:
    return WrittenName(plain=facts.name.plain, html=facts.name.html)


def remarks_on(epithet: str) -> list[Remark]:
    return [Remark(word=point.word, text=point.text) for point in check_epithet(epithet)]


def warning_for(facts: CultivarFacts, today: date) -> str:
    return share_warning(facts.rights, today)


class ScienceModel(Answer):
    """A model or an equation that a verdict or a forecast is reckoned by. `mark` says how it is known."""

    key: str
    title: str
    equation: str
    place: str
    function: str = Field(description="The one function that computes it, with its module.")
    used: bool = Field(
        description="Whether a verdict or a forecast rests on it; else it stands there to be compared."
    )
    mark: str
    source: str


class ScienceParameter(Answer):
    """One number of a model, with its unit, how it is known and by whom it was told."""

    model: str
    name: str
    value: float | None
    unit: str
    mark: str
    source: str
    note: str = ""


class ScienceNeed(Answer):
    """What a variety or a kind is said to need of chill or of heat."""

    species: str
    who: str
    least: float
    most: float
    unit: str
    mark: str
    source: str
    note: str = ""


class ScienceRead(Answer):
    """All that is reckoned with: models, their numbers, and needs as told."""

    models: list[ScienceModel]
    parameters: list[ScienceParameter]
    needs: list[ScienceNeed]


class StorageLimitRead(Answer):
    """How cold, damp and long wood of a group of species is kept, and what frost kills; each with how it is known."""

    species_group: str
    examples: str
    store_temp_min_c: float
    store_temp_max_c: float
    store_temp_mark: str
    store_temp_source: str
    humidity_rh_min_pct: int
    humidity_mark: str
    keep_weeks_min: int
    keep_weeks_max: int
    keep_conditions: str
    keep_mark: str
    keep_source: str
    freeze_kill10_c: float
    freeze_stage: str
    freeze_mark: str
    freeze_source: str
