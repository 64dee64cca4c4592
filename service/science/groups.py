"""What differs between groups of species: eight numbers each, with how they are known.

The marks: a chill need "inside" lies in a published range of its species and is judgement within it; the two freezing
temperatures are published for buds at the first swelling where marked so; all else is judgement, tuned on keeping times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from service.science.parameters import Mark, Parameter, read_rows

_PENN = (
    "Penn State Extension, Orchard Frost: Critical Temperatures for Various Fruits (from Washington EB0419)"
)
_MICHIGAN = (
    "Michigan State University Extension, Critical Spring Temperatures for Tree Fruit Bud Development Stages"
)
_POPE = (
    "Judgement, inside the range of the species in Pope, Fruit and Nut Crop Chill Portions Requirements, University of "
    "California Fruit and Nut Research and Information Center"
)
_TUNED = "Judgement, tuned on keeping times; a starting point that the club's own takes correct"
_FREEZING = {"penn": (_PENN, _PENN), "michigan": (_MICHIGAN, _MICHIGAN), "penn10": (_PENN, ""), "": ("", "")}

# group | chill need (CP) | days at 20 °C | reserve half time at 0 °C (weeks) | water lost at half (%) | 10 % and 90 % of the
# buds die (°C) | mould factor | the need is inside a published range | whose freezing temperatures
_ROWS = """
apple | 50 | 15 | 60 | 25 | -9.4 | -16.7 | 1 | inside | penn
pear_european | 55 | 10 | 55 | 22 | -9.4 | -17.8 | 1 | | penn
pear_asian | 45 | 8 | 50 | 22 | -9.4 | -17.8 | 1 | |
quince | 35 | 10 | 55 | 22 | -9.4 | -16.7 | 1 | |
medlar | 50 | 15 | 60 | 22 | -9.4 | -16.7 | 1 | |
cherry_sweet | 48 | 5.5 | 45 | 20 | -8.3 | -15 | 1.1 | inside | penn
cherry_sour | 60 | 8 | 50 | 20 | -9.4 | -16 | 1 | |
plum_european | 57 | 8 | 50 | 20 | -10 | -17.8 | 1 | inside | michigan
plum_japanese | 40 | 5 | 45 | 20 | -9 | -16 | 1.1 | |
apricot | 55 | 4.5 | 45 | 20 | -9.4 | -16 | 1.1 | inside | penn10
peach | 60 | 6 | 45 | 20 | -7.8 | -17.2 | 1.1 | inside | penn
almond | 28 | 5.2 | 45 | 20 | -7.8 | -15 | 1.1 | inside |
walnut | 54 | 14 | 50 | 15 | -8 | -14 | 1.2 | inside |
pecan | 40 | 20 | 80 | 18 | -8 | -14 | 1 | |
chestnut | 45 | 16 | 55 | 18 | -8 | -14 | 1.1 | |
hazelnut | 50 | 9 | 50 | 18 | -9 | -16 | 1 | |
persimmon | 30 | 18 | 65 | 20 | -8 | -14 | 1 | |
fig | 12 | 14 | 40 | 18 | -5 | -10 | 1.3 | |
mulberry | 30 | 16 | 55 | 20 | -8 | -14 | 1.2 | |
grape | 40 | 14 | 60 | 20 | -8 | -14 | 1.1 | |
kiwi | 45 | 9 | 45 | 18 | -5 | -10 | 1.2 | |
pawpaw | 40 | 16 | 55 | 20 | -8 | -14 | 1 | |
rose | 25 | 12 | 45 | 15 | -7 | -12 | 1.2 | |
citrus | 0 | none | 55 | 15 | -3 | -7 | 1.2 | |
avocado | 0 | none | 9 | 10 | -1 | -4 | 2 | |
olive | 0 | none | 18 | 15 | -4 | -9 | 1.5 | |
"""


@dataclass(frozen=True)
class Group:
    """A group of species. `forcing_days` is None for evergreen wood, which has no rest: its buds are not modelled."""

    name: str
    chill_need_cp: float
    forcing_days: float | None
    reserve_half_weeks: float
    lost_half_pct: float
    kill10_c: float
    kill90_c: float
    mould_factor: float

    @property
    def rests(self) -> bool:
        return self.forcing_days is not None


_CELLS = [
    (Group(name, float(need), None if days == "none" else float(days), *map(float, rest)), inside, freezing)
    for name, need, days, *rest, inside, freezing in read_rows(_ROWS, 10)
]
GROUPS: dict[str, Group] = {group.name: group for group, _, _ in _CELLS}


def parameters_of_groups() -> Iterator[Parameter]:
    """The numbers of every group as rows of the one table."""
    for group, inside, freezing in _CELLS:
        told = f"group_{group.name}"
        ten, ninety = _FREEZING[freezing]
        yield Parameter(
            told, "chill_need", group.chill_need_cp, "CP", Mark.JUDGEMENT, _POPE if inside else _TUNED
        )
        yield Parameter(told, "forcing_days", group.forcing_days, "days at 20 °C", Mark.JUDGEMENT, _TUNED)
        yield Parameter(
            told, "reserve_half", group.reserve_half_weeks, "weeks at 0 °C", Mark.JUDGEMENT, _TUNED
        )
        yield Parameter(told, "lost_half", group.lost_half_pct, "% of fresh mass", Mark.JUDGEMENT, _TUNED)
        yield _freezing(told, "kill10", group.kill10_c, ten)
        yield _freezing(told, "kill90", group.kill90_c, ninety)
        yield Parameter(told, "mould", group.mould_factor, "-", Mark.JUDGEMENT, _TUNED)


def _freezing(model: str, name: str, temp_c: float, source: str) -> Parameter:
    mark = Mark.PUBLISHED if source else Mark.JUDGEMENT
    return Parameter(
        model, name, temp_c, "°C", mark, source or _TUNED, "buds at the first swelling, half an hour"
    )
