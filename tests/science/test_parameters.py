"""One table tells every number. What it says of groups is compared with the file that the catalogue loads."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from service.science.groups import GROUPS
from service.science.parameters import MODELS, PARAMETERS, Mark, every_parameter, value
from service.science.viability import INDOORS_C, OUTDOORS_C
from service.storage.rules import keeping

CHECKOUT = Path(__file__).resolve().parents[2]
LIMITS = CHECKOUT / "fixtures" / "reference" / "storage_limits.csv"


def rows_of(path: Path) -> list[dict[str, str]]:
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def test_every_number_that_is_published_names_its_source() -> None:
    asking = {Mark.PUBLISHED, Mark.SECONDARY, Mark.DERIVED, Mark.FROM_MEMORY, Mark.JUDGEMENT}
    wrong = [each for each in every_parameter() if each.mark in asking and not each.source]

    assert len(every_parameter()) > 250
    assert wrong == []


def test_every_number_has_a_unit_and_stands_once() -> None:
    names = [(each.model, each.name) for each in every_parameter()]

    assert len(names) == len(set(names))
    assert all(each.unit for each in every_parameter())


def test_every_number_belongs_to_a_model_a_packing_or_a_group() -> None:
    others = {each.model for each in every_parameter()} - set(MODELS)

    assert all(name.startswith("packing_") or name.removeprefix("group_") in GROUPS for name in others)


def test_a_number_that_is_not_there_is_not_guessed() -> None:
    with pytest.raises(KeyError):
        value("dynamic_model", "E9")


def test_the_groups_are_those_of_the_catalogue_and_freeze_at_the_same_degrees() -> None:
    rows = {row["species_group"]: row for row in rows_of(LIMITS)}

    assert set(GROUPS) == set(rows)
    for name, group in GROUPS.items():
        assert group.kill10_c == float(rows[name]["freeze_kill10_c"])
        assert group.rests == (rows[name]["wood"] == "deciduous")


def test_what_is_published_of_freezing_is_published_in_the_catalogue_too() -> None:
    published = {
        each.model.removeprefix("group_")
        for each in every_parameter()
        if each.name == "kill10" and each.mark is Mark.PUBLISHED
    }

    assert published == {
        row["species_group"] for row in rows_of(LIMITS) if row["freeze_mark"].startswith("published")
    }


def test_numbers_that_are_known_by_heart_stand_as_published() -> None:
    """Fishman, Erez and Couvillon 1987, as the reference prints them."""
    published = {name: value("dynamic_model", name) for name in ("E0", "E1", "A0", "A1", "slope", "Tf")}

    assert published == {"E0": 4153.5, "E1": 12888.8, "A0": 139500, "A1": 2.567e18, "slope": 1.6, "Tf": 277}
    assert PARAMETERS["dynamic_model", "E0"].mark is Mark.PUBLISHED


def test_the_tropics_lie_where_the_sun_stands_highest() -> None:
    """By the series of the declination (Spencer 1971), day by day of a year, rounded up to half a degree."""
    angle = 2 * np.pi * np.arange(365) / 365
    terms = [
        value("sun_times", f"{wave}_{times}") * getattr(np, wave)(times * angle)
        for wave in ("cos", "sin")
        for times in (1, 2, 3)
    ]

    highest = np.degrees(np.max(value("sun_times", "constant") + sum(terms)))

    assert value("verdict", "tropic") == np.ceil(highest * 2) / 2
    assert PARAMETERS["verdict", "tropic"].mark is Mark.DERIVED


def test_every_model_names_the_module_that_computes_it() -> None:
    modules = {path.stem for path in (CHECKOUT / "service" / "science").glob("*.py")}

    assert {each.place for each in MODELS.values()} <= modules
    assert all(each.equation and each.title for each in MODELS.values())


def test_every_number_of_the_table_is_read_somewhere() -> None:
    """By its own name, or by the part that a loop puts together."""
    code = "".join(
        path.read_text()
        for path in (CHECKOUT / "service" / "science").glob("*.py")
        if path.stem != "parameter_rows"
    )
    built = ("exponent_", "sigma_", "cos_", "sin_", "up_to_", "assumed_")
    unread = [name for _, name in PARAMETERS if f'"{name}"' not in code and not name.startswith(built)]

    assert unread == []


def test_what_is_reckoned_of_stored_wood_takes_the_numbers_of_the_table() -> None:
    assert (keeping.OUTDOORS_C, keeping.INDOORS_C) == (OUTDOORS_C, INDOORS_C) == (10, 20)
    assert keeping.SPREAD_C == {"fridge": 2, "cold_room": 1, "cellar": 2}
    assert value("days_left", "threshold") == keeping.THRESHOLD


def test_no_number_of_the_table_is_read_outside_of_the_science() -> None:
    """A rule that rests on a number of the table is a function of the science, which tells how it is known."""
    others = [
        path
        for path in (CHECKOUT / "service").rglob("*.py")
        if path.parent.name != "science" and re.search(r"\bvalue\(\s*\"\w+\",", path.read_text())
    ]

    assert others == []
