"""What trees know by themselves: who may cut, what a look can say, what a stop binds and how it ends."""

from service.trees.rules.checks import WrongResult, can_record_result, check_result, proposed_reason, results_of
from service.trees.rules.facts import LastCheck, StopFacts, TreeFacts, tree_name
from service.trees.rules.planting import NotItsKind, TreeFelled, check_planted_year, check_varieties, is_in_the_ground
from service.trees.rules.stops import (
    OPEN_STATES,
    STOP_STEPS,
    StoppedTree,
    StopStepNotAllowed,
    UnknownAgentForStop,
    can_change_tree,
    can_step_stop,
    check_agent_named,
    check_can_change_tree,
    check_not_stopped,
    check_stop_step,
    is_stopped,
    stop_words,
    what_lifts,
)
from service.trees.rules.words import CheckKind, CheckResult, Identity, MayCut, StopReason, StopState

__all__ = [
    "OPEN_STATES",
    "STOP_STEPS",
    "CheckKind",
    "CheckResult",
    "Identity",
    "LastCheck",
    "MayCut",
    "NotItsKind",
    "StopFacts",
    "StopReason",
    "StopState",
    "StopStepNotAllowed",
    "StoppedTree",
    "TreeFacts",
    "TreeFelled",
    "UnknownAgentForStop",
    "WrongResult",
    "can_change_tree",
    "can_record_result",
    "can_step_stop",
    "check_agent_named",
    "check_can_change_tree",
    "check_not_stopped",
    "check_planted_year",
    "check_result",
    "check_stop_step",
    "check_varieties",
    "is_in_the_ground",
    "is_stopped",
    "proposed_reason",
    "results_of",
    "stop_words",
    "tree_name",
    "what_lifts",
]
