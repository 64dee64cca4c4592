"""Every model, equation and number of this folder, with how it is known and by whom it was told.

The functions take their constants from here, so what a page lists is what is computed with. The rows stand as text in
`parameter_rows` and, for what differs between groups of species, in `groups`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from hashlib import sha256

from service.science.parameter_rows import MODEL_ROWS, PARAMETER_ROWS, SOURCES


class Mark(StrEnum):
    """How a number is known."""

    PUBLISHED = "published"
    SECONDARY = "published, secondary"
    DERIVED = "derived"
    PRACTICE = "common practice, no source"
    JUDGEMENT = "judgement"
    FROM_MEMORY = "from memory, unverified"


@dataclass(frozen=True)
class Model:
    """A model or equation: what it is called, how it goes in one line, and the one function that computes it.

    `used`: whether anything that is told to people rests on it; what is not stands there to be compared.
    """

    key: str
    title: str
    equation: str
    place: str
    function: str
    used: bool
    mark: Mark
    source: str


@dataclass(frozen=True)
class Parameter:
    """One number of a model. `value` is None where there is none (evergreen wood has no time to budbreak)."""

    model: str
    name: str
    value: float | None
    unit: str
    mark: Mark
    source: str
    note: str = ""


def read_rows(text: str, columns: int) -> Iterator[list[str]]:
    """The cells of a text of rows, | between them; a row that begins with # tells people something."""
    for line in text.strip().splitlines():
        if line.strip() and not line.startswith("#"):
            cells = [cell.strip() for cell in line.split("|")]
            if len(cells) != columns:
                raise ValueError(f"{columns} cells, not {len(cells)}: {line}")
            yield cells


MODELS: dict[str, Model] = {
    key: Model(key, title, equation, place, function, used == "used", Mark(mark), SOURCES[source])
    for key, title, equation, place, function, used, mark, source in read_rows(MODEL_ROWS, 8)
}
PARAMETERS: dict[tuple[str, str], Parameter] = {
    (model, name): Parameter(model, name, float(value), unit, Mark(mark), SOURCES[source], note)
    for model, name, value, unit, mark, source, note in read_rows(PARAMETER_ROWS, 7)
}


@cache
def value(model: str, name: str) -> float:
    """The number of that name. Raises `KeyError` where there is none."""
    found = PARAMETERS[model, name].value
    assert found is not None
    return found


def every_parameter() -> list[Parameter]:
    """All of them: those of the models, then those of the groups of species."""
    from service.science.groups import parameters_of_groups

    return [*PARAMETERS.values(), *parameters_of_groups()]


@cache
def numbers_now() -> dict[str, float | None]:
    """Every number by the name of its model and its own."""
    return {f"{each.model}.{each.name}": each.value for each in every_parameter()}


@cache
def numbers_digest() -> str:
    """What these numbers are known again by: another number gives another digest."""
    return sha256(json.dumps(numbers_now(), sort_keys=True).encode()).hexdigest()
