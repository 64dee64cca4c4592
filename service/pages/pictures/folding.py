"""A lineage laid out as a tree: who hangs under whom, and big families folded into '+ 37 more'."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from service.pages.pictures.model import Knot, Lineage

MOST_CHILDREN = 6
MOST_KNOTS = 48


@dataclass
class Branch:
    """A knot in its place: its depth, row, and what forks from it."""

    knot: Knot
    depth: int = 0
    row: float = 0
    how: str = ""
    forks: list[Branch] = field(default_factory=list)


@dataclass
class Laid:
    """The whole lineage in place, with the steps that join two branches (a graft of two woods)."""

    roots: list[Branch]
    joins: list[tuple[Branch, Branch]]
    shown: list[Branch]
    rows: int
    depth: int


def lay(lineage: Lineage, *, outline: bool = False, most: int = MOST_KNOTS) -> Laid:
    """Put every knot in its place; as an outline each has a row of its own, else each end of a branch has."""
    knots = {knot.key: knot for knot in lineage.knots}
    below: dict[str, list[tuple[str, str]]] = {key: [] for key in knots}
    above: dict[str, list[str]] = {key: [] for key in knots}
    for step in lineage.steps:
        if step.earlier in knots and step.later in knots and step.earlier != step.later:
            below[step.earlier].append((step.later, step.how))
            above[step.later].append(step.earlier)
    wanted = {key: 1 for key, knot in knots.items() if knot.stopped} | dict.fromkeys(
        _ways_to(lineage.focus, above), 2
    )
    roots, placed = _grow(knots, below, above, wanted, most)
    joins = [
        (placed[step.earlier], placed[step.later])
        for step in lineage.steps
        if step.earlier in placed and step.later in placed and all(fork is not placed[step.later] for fork in placed[step.earlier].forks)
        and step.earlier != step.later
    ]  # fmt: skip
    return _rows(roots, joins, outline=outline)


def _ways_to(focus: str, above: dict[str, list[str]]) -> set[str]:
    found: set[str] = set()
    waiting = [focus] if focus in above else []
    while waiting:
        key = waiting.pop()
        if key not in found:
            found.add(key)
            waiting.extend(above[key])
    return found


def _grow(
    knots: dict[str, Knot],
    below: dict[str, list[tuple[str, str]]],
    above: dict[str, list[str]],
    wanted: dict[str, int],
    most: int,
) -> tuple[list[Branch], dict[str, Branch]]:
    placed: dict[str, Branch] = {}
    roots: list[Branch] = []
    waiting: deque[Branch] = deque()
    starts = [key for key in knots if not above[key]] + list(knots)  # a loop has no beginning: take any of it
    hidden: set[str] = set()
    for start in starts:
        if start in placed or start in hidden:
            continue
        roots.append(_place(knots[start], placed, waiting))
        while waiting:
            branch = waiting.popleft()
            ahead = {
                key: how for key, how in below[branch.knot.key] if key not in placed and key not in hidden
            }
            shown, folded = _fold(list(ahead.items()), wanted, room=most - len(placed))
            for key, how in shown:
                branch.forks.append(_place(knots[key], placed, waiting, branch.depth + 1, how))
            if folded:
                lost = _all_below(folded, below, placed)
                hidden |= lost
                more = Knot(
                    f"{branch.knot.key}+",
                    knots[folded[0]].thing,
                    f"+ {len(lost)} more",
                    _stopped_among(lost, knots),
                    hidden=len(lost),
                )
                branch.forks.append(Branch(more, branch.depth + 1))
    return roots, placed


def _place(
    knot: Knot, placed: dict[str, Branch], waiting: deque[Branch], depth: int = 0, how: str = ""
) -> Branch:
    branch = placed[knot.key] = Branch(knot, depth, how=how)
    waiting.append(branch)
    return branch


def _fold(
    ahead: list[tuple[str, str]], wanted: dict[str, int], *, room: int
) -> tuple[list[tuple[str, str]], list[str]]:
    """What is shown of a family, in its order, and the keys of the rest. The way to the focus, then stops, come first."""
    most = min(MOST_CHILDREN, max(room, 1))
    if len(ahead) <= most:
        return ahead, []
    ranked = sorted(range(len(ahead)), key=lambda place: (-wanted.get(ahead[place][0], 0), place))
    kept = set(ranked[: most - 1])
    return [pair for place, pair in enumerate(ahead) if place in kept], [
        key for place, (key, _) in enumerate(ahead) if place not in kept
    ]


def _all_below(
    starts: list[str], below: dict[str, list[tuple[str, str]]], placed: dict[str, Branch]
) -> set[str]:
    found: set[str] = set()
    waiting = list(starts)
    while waiting:
        key = waiting.pop()
        if key not in found and key not in placed:
            found.add(key)
            waiting.extend(later for later, _ in below[key])
    return found


def _stopped_among(keys: set[str], knots: dict[str, Knot]) -> str:
    count = sum(knots[key].stopped for key in keys)
    return f"{count} of them stopped" if count else ""


def _rows(roots: list[Branch], joins: list[tuple[Branch, Branch]], *, outline: bool) -> Laid:
    shown: list[Branch] = []
    next_row = 0
    waiting: list[tuple[Branch, bool]] = [(root, False) for root in reversed(roots)]
    while waiting:
        branch, done = waiting.pop()
        if done:
            branch.row = (branch.forks[0].row + branch.forks[-1].row) / 2
            continue
        shown.append(branch)
        if outline or not branch.forks:
            branch.row = next_row
            next_row += 1
        else:
            waiting.append((branch, True))
        waiting.extend((fork, False) for fork in reversed(branch.forks))
    return Laid(roots, joins, shown, next_row, 1 + max((branch.depth for branch in shown), default=0))
