"""Rules of trees as truth tables."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import product
from uuid import uuid4

import pytest

from service.catalogue.rules import TaxonFacts
from service.lib.errors import Unusable
from service.trees.rules import (
    CheckKind,
    CheckResult,
    Identity,
    MayCut,
    StopFacts,
    StoppedTree,
    StopReason,
    StopState,
    StopStepNotAllowed,
    TreeFacts,
    UnknownAgentForStop,
    WrongResult,
    can_change_tree,
    can_record_result,
    can_step_stop,
    check_agent_named,
    check_can_change_tree,
    check_not_stopped,
    check_planted_year,
    check_result,
    check_stop_step,
    is_in_the_ground,
    kind_and_name,
    proposed_reason,
)

APPLE = TaxonFacts(
    uuid4(), "apple", "Malus domestica", "Malus", "Apple", "MABSD", "verified", "apple", "pome"
)
TREE = TreeFacts(
    id=uuid4(), number=12, code=None, site_id=uuid4(), site_name="Long Meadow", region="", area_id=uuid4(), taxon=APPLE, cultivar=None,
    name_as_told="Grandfather's red", identity=Identity.AS_TOLD, owner_id=uuid4(), owner_name="Wim Aster", may_cut=MayCut.YES,
    most_sticks=None, planted_year=None, no_propagation_contract=False, provisional=False, felled_on=None, open_stops=0,
    last_leaf_check=None, last_fruit_check=None,
)  # fmt: skip


def stopped(reason: StopReason, agent: str = "") -> TreeFacts:
    since = datetime(2026, 1, 3, tzinfo=UTC)
    return replace(TREE, open_stops=1, stop=StopFacts(uuid4(), reason, StopState.SUSPECTED, agent, "", since))


GOOD = {
    ("leaf", "healthy"), ("leaf", "symptom"), ("leaf", "not_seen"), ("fruit", "true"), ("fruit", "wrong"), ("fruit", "not_seen"),
}  # fmt: skip


@pytest.mark.parametrize("kind, result", list(product(CheckKind, CheckResult)))
def test_a_look_says_only_what_can_be_seen_then(kind: CheckKind, result: CheckResult) -> None:
    good = (kind.value, result.value) in GOOD

    assert can_record_result(kind, result) is good
    if good:
        check_result(kind, result)
    else:
        with pytest.raises(WrongResult) as refused:
            check_result(kind, result)
        assert result.value not in refused.value.facts["allowed"]


@pytest.mark.parametrize("kind, result", sorted(GOOD))
def test_an_agent_is_named_for_a_symptom_only(kind: str, result: str) -> None:
    look = CheckKind(kind), CheckResult(result), "fire blight"

    assert can_record_result(*look) is (result == "symptom")
    if result != "symptom":
        with pytest.raises(WrongResult):
            check_result(*look)


def test_a_symptom_asks_for_a_stop_for_health_and_a_wrong_fruit_for_one_for_its_name() -> None:
    asked = {result: proposed_reason(result) for result in CheckResult}

    assert asked.pop(CheckResult.SYMPTOM) is StopReason.HEALTH
    assert asked.pop(CheckResult.WRONG) is StopReason.NAME
    assert set(asked.values()) == {None}


@pytest.mark.parametrize("have, wanted", list(product(StopState, StopState)))
def test_a_stop_goes_from_suspected_to_confirmed_to_cleared_and_no_further(
    have: StopState, wanted: StopState
) -> None:
    allowed = (have.value, wanted.value) in {
        ("suspected", "confirmed"),
        ("suspected", "cleared"),
        ("confirmed", "cleared"),
    }

    assert can_step_stop(have, wanted) is allowed
    if allowed:
        check_stop_step(have, wanted)
    else:
        with pytest.raises(StopStepNotAllowed) as refused:
            check_stop_step(have, wanted)
        assert refused.value.facts["have"] == have.value


@pytest.mark.parametrize(
    "reason, state, agent, fine",
    [
        ("health", "suspected", "", True),
        ("health", "confirmed", "", False),
        ("health", "confirmed", "fire blight", True),
        ("name", "confirmed", "", True),
        ("rights", "confirmed", "", True),
    ],
)
def test_a_confirmed_stop_for_health_names_what_was_found(
    reason: str, state: str, agent: str, fine: bool
) -> None:
    if fine:
        check_agent_named(StopReason(reason), StopState(state), agent)
    else:
        with pytest.raises(UnknownAgentForStop):
            check_agent_named(StopReason(reason), StopState(state), agent)


def test_a_stopped_tree_says_why_and_what_lifts_it() -> None:
    with pytest.raises(StoppedTree) as refused:
        check_not_stopped(stopped(StopReason.HEALTH, "fire blight"))

    assert refused.value.detail == "Tree 12 is stopped: fire blight is suspected, since 3 January 2026."
    assert refused.value.facts["reason"] == "health" and refused.value.facts["agent"] == "fire blight"
    assert "health steward" in refused.value.todo and "plant-health authority" in refused.value.todo


@pytest.mark.parametrize("reason", StopReason)
@pytest.mark.parametrize(
    "field",
    ["note", "rights_note", "where_on_site", "cultivar_id", "may_cut", "felled_on", "owner_id", "site_id"],
)
def test_a_stopped_tree_takes_notes_and_a_doubtful_name_may_be_put_right(
    reason: StopReason, field: str
) -> None:
    tree = stopped(reason)
    free = field in {"note", "rights_note", "where_on_site"} or (
        field == "cultivar_id" and reason is StopReason.NAME
    )

    assert can_change_tree(tree, [field]) is free
    assert can_change_tree(TREE, [field])
    if free:
        check_can_change_tree(tree, [field])
    else:
        with pytest.raises(StoppedTree):
            check_can_change_tree(tree, ["note", field])


@pytest.mark.parametrize(
    "year, fine", [(None, True), (1399, False), (1400, True), (2026, True), (2027, False)]
)
def test_a_year_of_planting_has_begun(year: int | None, fine: bool) -> None:
    if fine:
        check_planted_year(year, date(2026, 2, 14))
    else:
        with pytest.raises(Unusable):
            check_planted_year(year, date(2026, 2, 14))


def test_wood_can_be_cut_up_to_the_day_of_felling() -> None:
    felled = date(2026, 2, 10)

    assert is_in_the_ground(None, felled) and is_in_the_ground(felled, felled)
    assert not is_in_the_ground(felled, date(2026, 2, 11))


@pytest.mark.parametrize(
    ("kind", "variety", "as_told", "words"),
    [
        ("Walnut", "", "Walnut, thin-shelled", "Walnut, thin-shelled (as told)"),
        ("Walnut", "", "walnut", "walnut (as told)"),
        ("Walnut", "", "Walnutty", "Walnut Walnutty (as told)"),
        ("Walnut", "", "Walnut-leaved one", "Walnut Walnut-leaved one (as told)"),
        ("Sweet cherry", "", "Cherry, black", "Sweet cherry Cherry, black (as told)"),
        ("Apple", "", "", "Apple no name known"),
        ("Apple", "‘Gala’", "Apple, red", "Apple ‘Gala’"),
    ],
)  # fmt: skip
def test_the_kind_is_said_once_beside_a_name(kind: str, variety: str, as_told: str, words: str) -> None:
    assert kind_and_name(kind, variety, as_told) == words
