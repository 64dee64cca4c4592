"""Finding a disease or pest by whatever people call it: Latin name, code, common name, with a typing mistake."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from service.catalogue.rules.spellings import LONGEST_TYPED, fold_name, score_name, trigrams_of

SLIP = 0.55  # so much of two spellings in common is one with a typing mistake


@dataclass(frozen=True)
class AgentNames:
    """An agent with all that it goes by."""

    slug: str
    name: str
    other_names: tuple[str, ...]
    codes: tuple[str, ...]

    @property
    def spellings(self) -> frozenset[str]:
        """Folded: the whole name, what stands before, between and in its brackets, further names, slug and codes."""
        latin, *inside = re.split(r"[()]", self.name)
        parts = [part for piece in [*latin.split(";"), *inside] for part in re.split(r"[;,]", piece)]
        told = [
            self.name,
            latin,
            *parts,
            *self.other_names,
            self.slug.replace("-", " "),
            self.slug,
            *self.codes,
        ]
        return frozenset(folded for folded in map(fold_name, told) if folded)


def score_agent(typed: str, agent: AgentNames) -> float:
    """How near an agent is to what was typed: 1 or more where one of its spellings is the same."""
    folded = fold_name(typed)[:LONGEST_TYPED].strip()
    grams = trigrams_of(folded)
    best = 0.0
    for spelling in agent.spellings:
        own = trigrams_of(spelling)
        best = max(best, score_name(folded, spelling, len(grams & own), len(grams), len(own)))
    return best


def rank_agents(
    typed: str, agents: Iterable[AgentNames], least: float = 0.25
) -> list[tuple[float, AgentNames]]:
    """The nearest first; what has less in common than chance is left out."""
    scored = [(score_agent(typed, agent), agent) for agent in agents]
    return sorted((pair for pair in scored if pair[0] >= least), key=lambda pair: (-pair[0], pair[1].name))


def meant_agents(typed: str, agents: Iterable[AgentNames]) -> list[AgentNames]:
    """Those that may be meant: all that go by this very name; else those whose name was typed with a mistake.

    A part of a name means nobody: `leaf spot` is what somebody saw, not which of many diseases it is.
    """
    folded, known = fold_name(typed)[:LONGEST_TYPED].strip(), list(agents)
    same = [agent for agent in known if folded in agent.spellings]
    return same or [
        agent for agent in known if any(_is_slip(folded, spelling) for spelling in agent.spellings)
    ]


def _is_slip(typed: str, spelling: str) -> bool:
    mine, theirs = trigrams_of(typed), trigrams_of(spelling)
    if not mine or abs(len(typed) - len(spelling)) > max(1, len(spelling) // 6):
        return False
    return 2 * len(mine & theirs) / (len(mine) + len(theirs)) >= SLIP
