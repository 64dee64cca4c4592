"""Rules of cutting as truth tables."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest

from service.catalogue.rules import CultivarFacts, NoSuchStage, ProtectedVariety, TaxonFacts
from service.collection.rules import (
    CollectionKind,
    CutAfterItCame,
    Cutting,
    MoreThanOwnerSaid,
    NoPropagation,
    NoStageInSummer,
    OriginNotKnown,
    OwnerNotAsked,
    OwnerSaysNo,
    Wood,
    can_cut,
    check_cut_before_it_came,
    check_may_carry,
    check_may_cut,
    check_may_take_in,
    check_wood,
    cutting_warnings,
    missing_of,
    wood_warnings,
)
from service.lib.errors import Problem, Unusable
from service.members.rules import AreaFacts, AreaPermitFacts, CrossesArea
from service.trees.rules import (
    CheckResult,
    Identity,
    LastCheck,
    MayCut,
    StopFacts,
    StoppedTree,
    StopReason,
    StopState,
    TreeFacts,
    TreeFelled,
)

DAY = date(2026, 1, 14)
OWNER, CUTTER = uuid4(), uuid4()
APPLE = TaxonFacts(
    uuid4(), "apple", "Malus domestica", "Malus", "Apple", "MABSD", "verified", "apple", "pome"
)
GALA = CultivarFacts(
    uuid4(), APPLE.id, "Gala", "", "", "free", None, DAY, False, "Malus domestica", "Malus", "Apple"
)
PROTECTED = replace(GALA, protection="protected", protected_until=date(2031, 3, 1))
TREE = TreeFacts(
    id=uuid4(), number=12, code=None, site_id=uuid4(), site_name="Long Meadow", region="", area_id=uuid4(), taxon=APPLE, cultivar=GALA,
    name_as_told="", identity=Identity.DOCUMENTED, owner_id=OWNER, owner_name="Wim Aster", may_cut=MayCut.YES, most_sticks=None,
    planted_year=1990, no_propagation_contract=False, provisional=False, felled_on=None, open_stops=0,
    last_leaf_check=LastCheck(CheckResult.HEALTHY, date(2025, 7, 1)), last_fruit_check=None,
)  # fmt: skip
WANTED = Cutting(
    wood=Wood.DORMANT,
    sticks=6,
    cut_on=DAY,
    asker_ids=frozenset({CUTTER}),
    stage="00",
    leaves_down=True,
    disinfected=True,
)
STOP = StopFacts(
    uuid4(), StopReason.HEALTH, StopState.CONFIRMED, "fire blight", "ERWIAM", datetime(2026, 1, 3, tzinfo=UTC)
)
AGREED, OWN = {"owner_agreed": "by telephone"}, {"asker_ids": frozenset({OWNER})}


@pytest.mark.parametrize(
    "tree, wanted, problem",
    [
        ({}, {}, None),
        ({"open_stops": 1, "stop": STOP}, {}, StoppedTree),
        ({"open_stops": 1, "stop": STOP}, {**AGREED, **OWN}, StoppedTree),
        ({"felled_on": date(2026, 1, 13)}, {}, TreeFelled),
        ({"felled_on": DAY}, {}, None),
        ({"no_propagation_contract": True}, AGREED, NoPropagation),
        ({"may_cut": MayCut.NO}, {}, OwnerSaysNo),
        ({"may_cut": MayCut.NO}, AGREED, OwnerSaysNo),
        ({"may_cut": MayCut.NO}, OWN, None),
        ({"may_cut": MayCut.ASK}, {}, OwnerNotAsked),
        ({"may_cut": MayCut.ASK}, AGREED, None),
        ({"may_cut": MayCut.ASK}, OWN, None),
        ({"most_sticks": 6}, {}, None),
        ({"most_sticks": 6}, {"cut_this_season": 1}, MoreThanOwnerSaid),
        ({"most_sticks": 6}, {"cut_this_season": 1, **AGREED}, None),
        ({"most_sticks": 0}, {}, MoreThanOwnerSaid),
        ({"most_sticks": 6, "may_cut": MayCut.ASK}, {"cut_this_season": 1}, OwnerNotAsked),
    ],
)
def test_what_forbids_a_cut(
    tree: dict[str, Any], wanted: dict[str, Any], problem: type[Problem] | None
) -> None:
    asked = replace(TREE, **tree), replace(WANTED, **wanted), GALA

    assert can_cut(*asked) is (problem is None)
    if problem is None:
        check_may_cut(*asked)
    else:
        with pytest.raises(problem) as refused:
            check_may_cut(*asked)
        assert refused.value.todo and refused.value.facts["tree"] == 12


def test_more_sticks_than_the_owner_said_tells_how_many_are_left() -> None:
    with pytest.raises(MoreThanOwnerSaid) as refused:
        check_may_cut(replace(TREE, most_sticks=10), replace(WANTED, cut_this_season=7), GALA)

    assert {name: refused.value.facts[name] for name in ("most", "cut", "asked", "left")} == {
        "most": 10,
        "cut": 7,
        "asked": 6,
        "left": 3,
    }


@pytest.mark.parametrize(
    "protection, until, fine",
    [
        ("protected", date(2031, 3, 1), False), ("protected", None, False), ("protected", date(2026, 1, 13), True),
        ("protected", DAY, False), ("permission", date(2031, 3, 1), True),
        ("applied", None, True), ("free", None, True), ("unknown", None, True),
    ],
)  # fmt: skip
def test_wood_of_a_protected_variety_is_not_cut_without_permission(
    protection: str, until: date | None, fine: bool
) -> None:
    # One rule for clubs (common practice, no source): not without the written agreement of the owner of the right.
    variety = replace(GALA, protection=protection, protected_until=until)

    assert can_cut(TREE, WANTED, variety) is fine
    if fine:
        check_may_cut(TREE, WANTED, variety)
    else:
        with pytest.raises(ProtectedVariety):
            check_may_cut(TREE, WANTED, variety)


# Meier (ed.), Growth stages of mono- and dicotyledonous plants, BBCH Monograph, as read in two concordant public copies:
# 07 is defined for pome fruit and not for stone fruit; 02, 04, 05, 06, 08 and 12 are in neither list.
POME = {"00", "01", "03", "07", "09", "10", "11"}
STONE = POME - {"07"}
PLAIN = {"tight", "swelling", "green"}


@pytest.mark.parametrize("scale, listed", [("pome", POME), ("stone", STONE), ("plain", set())])
@pytest.mark.parametrize(
    "stage", [f"{n:02d}" for n in range(13)] + ["tight", "swelling", "green", "0", "dormant", "51", ""]
)
def test_a_cut_takes_only_the_stages_of_its_kind(scale: str, listed: set[str], stage: str) -> None:
    if stage in listed | PLAIN:
        check_wood(scale, Wood.DORMANT, stage, None, None)
    else:
        with pytest.raises(NoSuchStage) as refused:
            check_wood(scale, Wood.DORMANT, stage, None, None)
        assert set(refused.value.facts["allowed"]) == (listed or PLAIN)


@pytest.mark.parametrize(
    "stage, word",
    [
        # What a stage means for wood: common practice, no source.
        ("00", None), ("01", "stage_use_first"), ("03", "stage_same_day"), ("07", "stage_do_not_cut"), ("09", "stage_do_not_cut"),
        ("tight", None), ("swelling", "stage_use_first"), ("green", "stage_do_not_cut"), (None, None),
    ],
)  # fmt: skip
def test_a_late_stage_is_told_and_not_refused(stage: str | None, word: str | None) -> None:
    told = {warn.word for warn in wood_warnings("pome", Wood.DORMANT, stage, True, None)}

    assert told == ({word} if word else set())


def test_summer_budwood_is_its_own_kind_of_wood() -> None:
    # Common practice, no source: cut the same day, leaves off, a stub of the stalk kept.
    assert {warn.word for warn in wood_warnings("pome", Wood.SUMMER, None, None, None)} == {
        "use_within_days",
        "take_leaves_off",
    }
    assert {warn.word for warn in wood_warnings("pome", Wood.SUMMER, None, None, True)} == {"use_within_days"}
    for stage, leaves_down in (("00", None), (None, True)):
        with pytest.raises(NoStageInSummer):
            check_wood("pome", Wood.SUMMER, stage, leaves_down, None)
    with pytest.raises(Unusable):
        check_wood("pome", Wood.DORMANT, None, None, True)


@pytest.mark.parametrize(
    "tree, wanted, variety, word",
    [
        ({"last_leaf_check": None}, {}, GALA, "never_seen_in_leaf"),
        ({"last_leaf_check": LastCheck(CheckResult.SYMPTOM, date(2025, 7, 1))}, {}, GALA, "symptom_seen"),
        (
            {"last_leaf_check": LastCheck(CheckResult.HEALTHY, date(2024, 7, 1))},
            {},
            GALA,
            "not_seen_in_leaf_lately",
        ),
        ({"last_fruit_check": LastCheck(CheckResult.WRONG, date(2025, 9, 1))}, {}, GALA, "wrong_in_fruit"),
        ({"planted_year": 2027}, {}, GALA, "before_planting"),
        ({"provisional": True}, {}, GALA, "provisional_tree"),
        ({}, {}, None, "unnamed"),
        ({}, {"disinfected": False}, GALA, "not_disinfected"),
        ({}, {}, replace(GALA, protection="applied"), "rights"),
        ({"last_fruit_check": LastCheck(CheckResult.TRUE, date(2025, 9, 1))}, {}, GALA, None),
        ({"planted_year": 2026}, {}, GALA, None),
        ({}, {}, GALA, None),
    ],
)
def test_what_whoever_cuts_is_told(
    tree: dict, wanted: dict, variety: CultivarFacts | None, word: str | None
) -> None:
    told = {warn.word for warn in cutting_warnings(replace(TREE, **tree), replace(WANTED, **wanted), variety)}

    assert told == ({word} if word else set())


# -- finishing -----------------------------------------------------------------------------------------------------

NOTHING = {
    "stage": None, "leaves_down": None, "leaves_off": None, "disinfected": None, "from_party_id": None, "from_whom": "",
    "their_reference": "", "health_paper": "", "tree_as_told": "", "cut_on_guessed": False, "cultivar_id": uuid4(), "name_as_told": "",
    "area_id": uuid4(),
}  # fmt: skip


@pytest.mark.parametrize(
    "kind, wood, told, missing",
    [
        ("cut", "dormant", {}, ["stage", "leaves_down", "disinfected"]),
        ("cut", "dormant", {"stage": "00", "leaves_down": False, "disinfected": False}, []),
        ("cut", "summer", {}, ["leaves_off", "disinfected"]),
        ("receipt", "dormant", {}, ["from", "their_reference", "health_paper", "tree_as_told"]),
        ("receipt", "summer", {"from_whom": "Ida", "their_reference": "7", "health_paper": "none", "tree_as_told": "by the well"}, []),
        (
            "receipt", "dormant",
            {"from_party_id": uuid4(), "their_reference": "7", "health_paper": "none", "tree_as_told": "x", "cut_on_guessed": True,
             "cultivar_id": None, "area_id": None},
            ["area_id", "cut_on", "name"],
        ),
    ],
)  # fmt: skip
def test_what_is_missing(kind: str, wood: str, told: dict[str, Any], missing: list[str]) -> None:
    assert missing_of(CollectionKind(kind), Wood(wood), {**NOTHING, **told}) == missing


# -- crossing ------------------------------------------------------------------------------------------------------

NORTH, SOUTH = AreaFacts(uuid4(), "North Vale"), AreaFacts(uuid4(), "South Shore")


def permit(*, allows: bool) -> AreaPermitFacts:
    return AreaPermitFacts(uuid4(), NORTH.id, SOUTH.id, "PH 26/104", allows, "", date(2026, 1, 2), None)


@pytest.mark.parametrize(
    "origin, here, answer, taken, carried",
    [
        (NORTH, NORTH, None, None, None),
        (NORTH, SOUTH, None, CrossesArea, CrossesArea),
        (NORTH, SOUTH, permit(allows=True), None, None),
        (NORTH, SOUTH, permit(allows=False), CrossesArea, CrossesArea),
        (None, SOUTH, None, OriginNotKnown, ...),
        (NORTH, None, None, CrossesArea, None),
        (None, None, None, None, ...),
    ],
)
def test_wood_from_another_area_needs_the_authoritys_yes(
    origin: AreaFacts | None, here: AreaFacts | None, answer: AreaPermitFacts | None, taken: Any, carried: Any
) -> None:
    for check, problem in ((check_may_take_in, taken), (check_may_carry, carried)):
        if problem is None:
            check(origin, here, answer)
        elif problem is not ...:
            with pytest.raises(problem) as refused:
                check(origin, here, answer)
            assert refused.value.todo


def test_wood_cannot_come_before_it_was_cut() -> None:
    check_cut_before_it_came(DAY, DAY)
    with pytest.raises(CutAfterItCame):
        check_cut_before_it_came(date(2026, 1, 15), DAY)
