"""Growth stages. Lists: Meier (ed.) 2001, BBCH Monograph, 2nd edition, as read in two concordant public copies."""

from __future__ import annotations

import pytest

from service.catalogue.rules import (
    STAGE_CODES,
    NoSuchStage,
    WoodUse,
    can_cut_for_store,
    check_stage,
    wood_use,
)
from service.catalogue.rules.stages import can_be_stage

ALL = [f"{number:02d}" for number in range(13)]
POME = {"00", "01", "03", "07", "09", "10", "11"}
STONE = {"00", "01", "03", "09", "10", "11"}


@pytest.mark.parametrize(("scale", "listed"), [("pome", POME), ("stone", STONE), ("plain", set())])
@pytest.mark.parametrize("code", ALL)
def test_a_stage_holds_only_where_its_list_has_it(scale: str, listed: set[str], code: str) -> None:
    assert can_be_stage(scale, code) is (code in listed)
    if code in listed:
        check_stage(scale, code)
    else:
        with pytest.raises(NoSuchStage) as refused:
            check_stage(scale, code)
        assert refused.value.facts["allowed"] == list(STAGE_CODES[scale])


def test_seven_is_a_pome_stage_and_no_stone_stage() -> None:
    assert can_be_stage("pome", "07") and not can_be_stage("stone", "07")


@pytest.mark.parametrize("scale", ["pome", "stone", "plain"])
def test_the_three_plain_words_hold_for_every_kind(scale: str) -> None:
    for word in ("tight", "swelling", "green"):
        check_stage(scale, word)


@pytest.mark.parametrize("wrong", ["0", "7", "", "00 ", "dormant", "TIGHT", "٠٠"])
def test_the_leading_nought_is_part_of_the_code(wrong: str) -> None:
    assert not can_be_stage("pome", wrong)


@pytest.mark.parametrize(
    ("code", "use", "for_store"),
    [
        # Common practice, no source.
        ("00", WoodUse.KEEP, True),
        ("01", WoodUse.USE_FIRST, True),
        ("03", WoodUse.SAME_DAY, False),
        ("07", WoodUse.DO_NOT_CUT, False),
        ("09", WoodUse.DO_NOT_CUT, False),
        ("tight", WoodUse.KEEP, True),
        ("swelling", WoodUse.USE_FIRST, True),
        ("green", WoodUse.DO_NOT_CUT, False),
    ],
)
def test_what_a_stage_means_for_cutting(code: str, use: WoodUse, for_store: bool) -> None:
    assert wood_use("pome", code) is use and can_cut_for_store("pome", code) is for_store
