"""Answers on dormancy: what may be done with a cut by its buds, its leaves and the air of its site."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from pydantic import Field

from service.lib.schemas import Answer


class DormancyEvidence(Answer):
    """One thing a verdict rests on. `mark` says how it is known: seen, computed, published, judgement and so on."""

    about: str
    words: str
    value: float | str
    unit: str
    mark: str
    source: str = ""


class DormancyChange(Answer):
    """What would change a verdict or make it surer."""

    word: str
    text: str


class ChillNeed(Answer):
    """The chill portions that end the rest of a kind or of a variety, with the range told of its kind."""

    value: float
    least: float | None
    most: float | None
    is_own: bool = Field(description="Told of this variety itself, and not only of its kind.")
    mark: str
    source: str
    spread: float = Field(description="How far it may be out, either way, as a share of it.")


class CutDormancy(Answer):
    """What may be done with the wood of one cut. `verdict` is none for summer budwood, which has no rest to judge."""

    collection_id: UUID
    on_day: date
    verdict: str | None
    label: str
    sentence: str
    phase: str | None = None
    could_be: list[str] = []
    evidence: list[DormancyEvidence] = []
    would_change: list[DormancyChange] = []
    no_chill_because: str = Field(
        default="", description="Why the air says nothing of its chill; empty where it does."
    )
    need: ChillNeed | None = None
    counted_from: date | None = None
    days_measured: int | None = None
    days_by_hour: int = Field(
        default=0,
        description="of them, measured by the hour; the hours of the others come from lowest and highest",
    )
    days_asked: int | None = None
    last_measured: date | None = Field(
        default=None, description="The last day of air up to the cut; long before it, the air says nothing."
    )
    measured: list[str] = Field(default=[], description="Where the air was measured, as told.")
