"""Ripening fruit beside wood: what is published, and what is not known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.lib.errors import NotFound, Refused, Unusable


class FruitAmount(StrEnum):
    """How much ethylene wood is in for: some fruit in a ventilated store, or ripe fruit in the same closed fridge."""

    SOME = "some"
    RIPE = "ripe"


@dataclass(frozen=True)
class Told:
    """A sentence, and how it is known."""

    words: str
    mark: str
    source: str


# What was read of fruit beside stored wood. No harmful amount in parts per million was found for dormant fruit wood.
ETHYLENE = (
    Told(
        "Apple scions in plastic bags with ripening apples at room temperature: buds swelled severely and bark split within 7 to 14 days.",
        "published", "Ethylene effects on apple scions (abstract; authors and year not shown)",
    ),
    Told(
        "Fraser fir after 8 weeks at 3.3 °C with 17.5 ppm of ethylene: a fifth less growth, no bud lost.",
        "published", "Ethylene adversely affects Fraser fir planting stock in cold storage",
    ),
)  # fmt: skip


class NoSuchFruit(NotFound):
    title = "There is no such fruit in a store"


class FruitGone(Refused):
    title = "This fruit is out already"
    todo = "Tell it anew with its own days if it came back."


class FruitBackwards(Unusable):
    title = "Fruit is taken out after it was put in"


def check_fruit_days(from_on: date, until_on: date | None) -> None:
    if until_on is not None and until_on < from_on:
        raise FruitBackwards("The last day lies before the first.", field="until_on")


def can_have_fruit_days(from_on: date, until_on: date | None) -> bool:
    try:
        check_fruit_days(from_on, until_on)
    except FruitBackwards:
        return False
    return True
