"""Measuring by turns, and the table of what was found."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from statistics import median


def by_turns(rounds: int, measured: Mapping[str, Callable[[], float]], warm_up: int = 1) -> dict[str, float]:
    """The median of each measure, taken one after the other in every round, so that all share what the machine does."""
    seen: dict[str, list[float]] = {name: [] for name in measured}
    for place in range(warm_up + rounds):
        for name, measure in measured.items():
            found = measure()
            if place >= warm_up:
                seen[name].append(found)
    return {name: median(values) for name, values in seen.items()}


@dataclass
class Figures:
    """What was measured against what, with the machine's load at that moment."""

    found: list[tuple[str, ...]] = field(default_factory=list)

    def add(
        self, what: str, measured: str, ceiling: str, ratio: float | None = None, bound: str = ""
    ) -> None:
        load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "?"
        self.found.append((what, measured, ceiling, "" if ratio is None else f"{ratio:.2f}", bound, load))

    def rows(self) -> list[str]:
        if not self.found:
            return []
        table = [("", "measured", "ceiling", "ratio", "bound", "load"), *self.found]
        widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
        return [
            "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in table
        ]


def ms(seconds: float) -> str:
    return f"{seconds * 1000:.2f} ms"
