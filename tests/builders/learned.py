"""What was learned from takes, as a version to be kept."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from service.storage.schemas.learned import AgeingRead, CameTrue, GroupLearned, MethodLearned


def learned_group(**given: Any) -> GroupLearned:
    methods = [MethodLearned(method="whip-and-tongue", grafts=40, taken=35, base=0.91)]
    told = {
        "species_group": "cherry_sweet", "grafts": 40, "taken": 35, "before_mu": 0.0, "before_sigma": 0.3, "mu": -0.444, "sigma": 0.142,
        "median": 0.66, "low": 0.53, "high": 0.76, "kept_days_before": 42, "kept_days": 65, "is_told_apart": True, "methods": methods,
    }  # fmt: skip
    return GroupLearned(**{**told, **given})


def learned_version(version: int = 1, **given: Any) -> AgeingRead:
    """The slower of the worked examples, and what was told of its wood."""
    came_true = [
        CameTrue(species_group="cherry_sweet", tenth=tenth, grafts=10, taken=taken, told=told)
        for tenth, taken, told in ((1, 8, 0.18), (4, 9, 0.45), (8, 9, 0.87), (9, 9, 0.968))
    ]
    told = {
        "version": version, "made_at": datetime(2026, 6, 13, 12, tzinfo=UTC), "digest": f"{version:064d}", "numbers_digest": "0" * 64,
        "grafts": 40, "taken": 35, "start_mu": 0.0, "left_out": {"not_judged": 4}, "came_true": came_true, "groups": [learned_group()],
    }  # fmt: skip
    return AgeingRead(**{**told, **given})
