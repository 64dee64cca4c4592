"""What was learned of how wood ages, as a reckoning takes it; and what of a reckoning is kept so that it can be explained later."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from service.lib.errors import NotFound
from service.storage.rules.keeping_words import learned_words

if TYPE_CHECKING:
    from service.storage.rules.reckoning import Reckoned


class NoSuchVersion(NotFound):
    title = "There is no such version"
    todo = "Ask for the list of versions first; the newest has the highest number."


@dataclass(frozen=True)
class GroupAged:
    """Of a group: mean and spread of ln th, how many judged grafts they rest on, and whether of wood both fresh and aged."""

    mu: float
    sigma: float
    grafts: int
    is_told_apart: bool = True


@dataclass(frozen=True)
class AgeingKnown:
    """What stands as learned; version none: nothing yet."""

    version: int | None = None
    start_mu: float = 0.0
    groups: Mapping[str, GroupAged] = field(default_factory=dict)

    def of(self, group: str) -> tuple[float, float] | None:
        """Mean and spread of ln th of a group, or what one without takes starts from; none where nothing was learned."""
        from service.science.viability import Ageing

        found = self.groups.get(group)
        if found is not None:
            return found.mu, found.sigma
        return (self.start_mu, Ageing().sigma) if self.start_mu else None

    def judged(self, group: str) -> int:
        return self.groups[group].grafts if group in self.groups else 0

    def is_told_apart(self, group: str) -> bool:
        """Whether its takes can tell how fast it ages from how well the grafting goes; so it is as long as there are none."""
        return self.groups[group].is_told_apart if group in self.groups else True

    def is_trusted(self, group: str) -> bool:
        """Whether a share stands first: enough grafts, of wood both fresh and aged."""
        from service.science.learning import TRUSTED

        return self.judged(group) >= TRUSTED and self.is_told_apart(group)


WHY_KEPT = {
    "handed_over": "as it was handed over",
    "grafted": "as it was grafted",
    "changed": "as it was reckoned, a step from what was told before",
}
FIRST_RECKONED = "as it was first reckoned"


def why_then(version: int | None, numbers_digest: str, now: AgeingKnown, numbers_now: str) -> str:
    """By what a forecast was told then, and whether the same would be told of the same wood today."""
    by = (
        "before any take had taught us"
        if version is None
        else f"by what takes had taught by version {version}"
    )
    changed = [
        *(["more was learned since"] if version != now.version else []),
        *(["numbers of the models were changed since"] if numbers_digest != numbers_now else []),
    ]
    return f"{by}; {' and '.join(changed) or 'that stands today'}"


def explained(reckoned: Reckoned, known: AgeingKnown, group: str) -> dict[str, Any]:
    """What a share rests on beyond its inputs: the doses, what was learned, and by what all that is known again."""
    from service.science.learning import TRUSTED
    from service.science.parameters import numbers_digest
    from service.storage.rules.keeping import one_of

    found, judged = reckoned.found, known.judged(group)
    doses = one_of(found.doses)
    coldest = float(doses.coldest_c)
    return {
        "hazard": reckoned.now.limiting or "",
        "doses": {
            "reserve": round(float(doses.reserve), 6), "drying": round(float(doses.lost_pct / found.traits.lost_half_pct), 6),
            "mould": round(float(doses.mould), 6), "budbreak": round(float(doses.bud), 6), "ethylene": round(float(doses.ethylene), 6),
            "coldest_c": coldest if math.isfinite(coldest) else None,
        },
        "ageing_version": known.version, "judged_here": judged, "share_first": known.is_trusted(group),
        "learned_words": learned_words(judged, TRUSTED, is_told_apart=known.is_told_apart(group)),
        "numbers_digest": numbers_digest(), "digest": reckoned.digest,
    }  # fmt: skip
