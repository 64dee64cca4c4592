"""Plant-health areas: whether wood may cross from one to another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode
from uuid import UUID

from service.lib.clock import day_words
from service.lib.errors import Refused, Unusable


@dataclass(frozen=True)
class AreaFacts:
    id: UUID
    name: str
    authority: str = ""
    checked_on: date | None = None


@dataclass(frozen=True)
class AreaPermitFacts:
    """An authority's answer; `genus` empty means every kind."""

    id: UUID
    from_area_id: UUID
    to_area_id: UUID
    reference: str
    allows: bool
    genus: str
    answered_on: date
    valid_until: date | None


class UnknownArea(Unusable):
    title = "This plant-health area is not in the record"
    todo = "Choose one from the list, or record it first."


class CrossesArea(Refused):
    title = "Wood would cross a plant-health boundary"
    lift_words = "Record what the authority answered"
    lift_right = "release"
    todo = (
        "Ask the plant-health authority; once a health steward has recorded its answer under 'Areas', this can be done."
        " Until then leave the wood where it is."
    )


class AreaNotKnown(CrossesArea):
    title = "It is not known which plant-health area this goes to"
    lift_words = "Record where they garden"
    lift_right = "people"
    todo = "Choose the receiver’s plant-health area on their page, then do this again."


@dataclass(frozen=True)
class Receiver:
    """To whom wood goes, whose area counts: whoever asks, or somebody else."""

    id: UUID
    name: str
    is_asker: bool = False

    def words(self) -> str:
        whose = "Your own plant-health area" if self.is_asker else f"The plant-health area of {self.name}"
        return f"{whose} is not recorded"


def decide_permit(answers: Iterable[AreaPermitFacts]) -> AreaPermitFacts | None:
    """The answer that counts: the newest for the very genus, unless a newer one for every kind says no."""
    newest_first = sorted(answers, key=lambda answer: (answer.answered_on, not answer.allows), reverse=True)
    own = next((answer for answer in newest_first if answer.genus), None)
    general = next((answer for answer in newest_first if not answer.genus), None)
    if own is None or general is None:
        return own or general
    return general if general.answered_on >= own.answered_on and not general.allows else own


def can_cross(from_area: AreaFacts | None, to_area: AreaFacts | None, permit: AreaPermitFacts | None) -> bool:
    """Whether wood may go from one area to the other; an area that is not known counts as another."""
    same = (from_area and from_area.id) == (to_area and to_area.id)
    return same or (from_area is not None and to_area is not None and permit is not None and permit.allows)


def check_may_cross(
    from_area: AreaFacts | None, to_area: AreaFacts | None, permit: AreaPermitFacts | None, *,
    genus: str = "", receiver: Receiver | None = None,
) -> None:  # fmt: skip
    """Refuse wood that would leave its area without the authority's yes; says which step lifts it.

    `genus` and `receiver` are filled into the form of that step.
    """
    if can_cross(from_area, to_area, permit):
        return
    if from_area is None or to_area is None:
        known = from_area or to_area
        if receiver is not None and to_area is None:
            wood = f"the wood is of {known.name}" if known else "nor is that of the wood"
            whose = "your own" if receiver.is_asker else f"{receiver.name}’s"
            raise AreaNotKnown(
                f"{receiver.words()}; {wood}.",
                todo=f"Choose {whose} plant-health area on {'your' if receiver.is_asker else 'their'} page, then do this again.",
                lift=f"/people/{receiver.id}/edit",
            )
        raise AreaNotKnown(
            f"One end lies in {known.name if known else 'no known area'}; the area of the other end is not recorded.",
        )
    facts = {"from_area": from_area.name, "to_area": to_area.name}
    asked = urlencode({"from": str(from_area.id), "to": str(to_area.id), "genus": genus})
    facts["lift"] = f"/areas/answers/new?{asked}"
    if permit is None:
        raise CrossesArea(
            f"No answer of the authority is recorded for wood from {from_area.name} to {to_area.name}.",
            **facts,
        )
    raise CrossesArea(
        f"The authority’s answer {permit.reference} of {day_words(permit.answered_on)}"
        f" does not allow wood from {from_area.name} to {to_area.name}.",
        todo="Leave the wood where it is. Only a new answer of the plant-health authority, recorded under 'Areas', changes this.",
        reference=permit.reference, **facts,
    )  # fmt: skip
