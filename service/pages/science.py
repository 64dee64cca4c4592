"""What verdicts and forecasts are reckoned with, number by number, and what they cannot know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request, Response

from service.catalogue import queries
from service.catalogue.schemas import ScienceModel, ScienceNeed, ScienceParameter, StorageLimitRead
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.signin import MaybeSignedIn
from service.pages.render import render
from service.storage.rules.excursions import group_words

if TYPE_CHECKING:
    from service.storage.rules.numbers import Number

router = APIRouter(route_class=PageRoute)
_PLACES = {
    "dormancy": "The verdict on dormancy, and phases", "chill": "Chill", "heat": "Warmth", "daylight": "Daylight, and hours out of days",
    "moisture": "Moisture", "kinetics": "Mean temperature", "hours": "Hours, and gaps in them",
    "hazards": "What ages wood in store", "looks": "What looks say of stored wood",
    "viability": "The viable share", "keeping_time": "Days left", "learning": "Learning from takes",
}  # fmt: skip
_OWN = {"packing": "How wood is packed", "group": "Groups of kinds"}
KEEPING = "Stores and their thermometers"
_READ_BY = dict.fromkeys(_OWN.values(), "hazards.traits_of")


@dataclass(frozen=True)
class Shown:
    """A model or a set of numbers, as one part of the page; its key is its address on it."""

    key: str
    title: str
    parameters: Sequence[ScienceParameter | Number]
    model: ScienceModel | None = None

    @property
    def shared_source(self) -> str:
        """Told once where all its numbers have it."""
        told = {each.source for each in self.parameters}
        if self.model is not None:
            return self.model.source
        return next(iter(told)) if len(told) == 1 else ""


@router.get("/science")
def get_science(request: Request, session: Read, asker: MaybeSignedIn, q: str = "") -> Response:
    """Grouped as it is computed; every model and every number has an address of its own on the page."""
    told = queries.science()
    wanted = q.strip().casefold()[:100]
    parts = [(title, _of(place, wanted)) for place, title in _PLACES.items()]
    parts += [(title, _sets(prefix, wanted)) for prefix, title in _OWN.items()]
    parts.append((KEEPING, _keeping(wanted)))
    needs = [each for each in told.needs if _has(wanted, each.species, each.who, each.source, each.mark)]
    return render(
        request, "home/science.html", asker=asker, parts=[part for part in parts if part[1]], needs=_by_species(needs), words=q,
        count=len(told.parameters) + len(_of_keeping()), read_by=_READ_BY,
        marks=_marks([*told.parameters, *_of_keeping()]), stored=_stored(session, wanted),
    )  # fmt: skip


def _of(place: str, wanted: str) -> list[Shown]:
    """The models of a place, each with those of its numbers that are wanted."""
    told, found = queries.science(), []
    for model in told.models:
        if model.place == place:
            own = [each for each in told.parameters if each.model == model.key]
            if not _has(wanted, model.key, model.title, model.source, model.mark):
                own = [each for each in own if _has(wanted, each.name, each.source, each.note, each.mark)]
                if not own:
                    continue
            found.append(Shown(model.key, model.title, own, model))
    return found


def _sets(prefix: str, wanted: str) -> list[Shown]:
    """Numbers that belong to a packing or to a group of kinds."""
    sets: dict[str, list[ScienceParameter]] = {}
    for each in queries.science().parameters:
        if each.model.startswith(f"{prefix}_") and _has(
            wanted, each.model, each.name, each.source, each.note, each.mark
        ):
            sets.setdefault(each.model, []).append(each)
    return [
        Shown(key, _named(key.removeprefix(f"{prefix}_"), is_group=prefix == "group"), own)
        for key, own in sets.items()
    ]


def _of_keeping() -> Sequence[Number]:
    # Imported here: they stand in the code that reckons with them, which a start need not load.
    from service.storage.rules.numbers import keeping_numbers

    return keeping_numbers()


def _keeping(wanted: str) -> list[Shown]:
    """What rings, and how far readings reach."""
    from service.storage.rules.numbers import TITLES

    found = []
    for key, title in TITLES.items():
        own = [each for each in _of_keeping() if each.key == key]
        if not _has(wanted, title):
            own = [each for each in own if _has(wanted, each.name, each.note, each.source, each.mark)]
        if own:
            found.append(Shown(key, title, own))
    return found


def _stored(session: Read, wanted: str) -> list[tuple[str, StorageLimitRead]]:
    """How each group is kept, by its name."""
    found = [
        (_named(each.species_group, is_group=True), each) for each in queries.list_storage_limits(session)
    ]
    return [
        (name, each)
        for name, each in found
        if _has(
            wanted, name, each.species_group, each.examples, each.store_temp_mark, each.store_temp_source, each.humidity_mark,
            each.keep_mark, each.keep_source, each.freeze_mark, each.freeze_source,
        )
    ]  # fmt: skip


def _named(key: str, *, is_group: bool) -> str:
    words = group_words(key) if is_group else key.replace("_", " ")
    return words[0].upper() + words[1:]


def _has(wanted: str, *words: str) -> bool:
    return not wanted or any(wanted in each.replace("_", " ").casefold() for each in words)


def _by_species(needs: list[ScienceNeed]) -> dict[str, list[ScienceNeed]]:
    found: dict[str, list[ScienceNeed]] = {}
    for each in needs:
        found.setdefault(each.species, []).append(each)
    return found


def _marks(parameters: Sequence[ScienceParameter | Number]) -> list[tuple[str, int]]:
    """How many numbers are known how, the most first."""
    counts: dict[str, int] = {}
    for each in parameters:
        counts[each.mark] = counts.get(each.mark, 0) + 1
    return sorted(counts.items(), key=lambda pair: -pair[1])
