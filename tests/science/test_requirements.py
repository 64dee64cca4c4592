"""Source: the spans that Pope's compilation (University of California) prints per species, seen second-hand."""

from __future__ import annotations

import pytest

from service.science.groups import GROUPS
from service.science.parameters import Mark, every_parameter
from service.science.requirements import REQUIREMENTS, needs_of_group, own_need

SPANS = {
    "almond": (22, 32), "apricot": (30, 69), "cherry_sweet": (30, 70), "peach": (8, 75), "plum_european": (55, 60), "walnut": (38, 54),
    "apple": (50, 50),
}  # fmt: skip


@pytest.mark.parametrize("group, span", list(SPANS.items()))
def test_varieties_span_what_is_printed_and_the_group_lies_within(
    group: str, span: tuple[float, float]
) -> None:
    needs = needs_of_group(group)

    assert (min(each.least for each in needs), max(each.most for each in needs)) == span
    assert span[0] <= GROUPS[group].chill_need_cp <= span[1]


def test_a_need_within_a_published_range_is_told_as_such() -> None:
    inside = {
        each.model.removeprefix("group_")
        for each in every_parameter()
        if each.name == "chill_need" and "inside" in each.source
    }

    assert inside == set(SPANS)


@pytest.mark.parametrize(
    "group, variety, need",
    [
        ("peach", "Redhaven", 75), ("peach", "flordaprince", 8), ("peach", "Fantasia", 42), ("almond", "Nonpareil", 22.5),
        ("apricot", "Canino", 37.5),
    ],
)  # fmt: skip
def test_a_varietys_own_need_is_found_by_its_name(group: str, variety: str, need: float) -> None:
    found = own_need(group, variety)

    assert found is not None
    assert found.middle == need
    assert found.mark is Mark.SECONDARY


def test_hours_in_a_fridge_are_not_portions() -> None:
    assert own_need("walnut", "Serr") is None
    assert own_need("apple", "Redhaven") is None
    assert {each.unit for each in REQUIREMENTS if each.who == "Serr"} == {"h at 4 °C"}


def test_every_row_has_a_range_and_its_source() -> None:
    assert len(REQUIREMENTS) == 74
    assert all(each.least <= each.most and each.source for each in REQUIREMENTS)
