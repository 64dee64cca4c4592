"""Fitting text into a box: as large as it can stand, on as many lines as there is room for, cut short only at the end."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

LEADING = 1.17
ELLIPSIS = "…"
STEP_PT = 0.5
MM_PER_PT = 25.4 / 72
_MOST_MARKS = 3
_PIECES = re.compile(r" ?[^ -]*-+| ?[^ -]+")
_KEPT_FORMAT_SIGNS = "\u200c\u200d"  # joiners that change how letters of some scripts connect

Measure = Callable[[str], float]
"""Width of a text set at a size of one: multiply by the size."""


@dataclass(frozen=True)
class Fitted:
    """Lines of text and the size at which they fit; `cut` says that the end is missing."""

    lines: tuple[str, ...]
    size_pt: float
    cut: bool = False

    @property
    def height_mm(self) -> float:
        return len(self.lines) * line_height_mm(self.size_pt)


def line_height_mm(size_pt: float) -> float:
    return size_pt * LEADING * MM_PER_PT


def tidy(text: str) -> str:
    """Text fit for one paragraph on paper: one kind of space, no control signs, no towers of accents."""
    kept: list[str] = []
    marks = 0
    for sign in unicodedata.normalize("NFC", text):
        category = unicodedata.category(sign)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        if marks > _MOST_MARKS:
            continue
        if category in ("Cc", "Zl", "Zp") or sign.isspace():
            kept.append(" ")
        elif category not in ("Cf", "Cs", "Co", "Cn") or sign in _KEPT_FORMAT_SIGNS:
            kept.append(sign)
    return " ".join("".join(kept).split())


def runs_right_to_left(text: str) -> bool:
    """Whether the first letter that has a direction runs from right to left (Unicode bidirectional algorithm, P2 and P3)."""
    for sign in text:
        direction = unicodedata.bidirectional(sign)
        if direction in ("L", "R", "AL"):
            return direction != "L"
    return False


def fit_text(
    text: str,
    w_mm: float,
    h_mm: float,
    measure: Measure,
    *,
    largest_pt: float,
    smallest_pt: float,
    most_lines: int = 9,
) -> Fitted:
    """The largest size at which the text stands in the box without breaking a word; at the smallest, cut short."""
    if not text:
        return Fitted((), largest_pt)
    size = largest_pt
    while size > smallest_pt:
        lines = _wrap(text, w_mm / (size * MM_PER_PT), measure)
        if lines is not None and len(lines) <= _room(h_mm, size, most_lines):
            return Fitted(tuple(lines), size)
        size -= STEP_PT
    return _squeeze(
        text,
        w_mm / (smallest_pt * MM_PER_PT),
        measure,
        smallest_pt,
        max(1, _room(h_mm, smallest_pt, most_lines)),
    )


def _room(h_mm: float, size_pt: float, most_lines: int) -> int:
    return min(most_lines, int((h_mm + 1e-6) / line_height_mm(size_pt)))


def _wrap(text: str, width: float, measure: Measure) -> list[str] | None:
    """Lines of whole words, broken after a hyphen too; None where a word alone is too wide."""
    lines: list[str] = []
    line = ""
    for piece in _PIECES.findall(text):
        if measure(piece.strip()) > width:
            return None
        longer = (line + piece).lstrip()
        if measure(longer) <= width:
            line = longer
        else:
            lines.append(line)
            line = piece.lstrip()
    return [*lines, line]


def _squeeze(text: str, width: float, measure: Measure, size_pt: float, room: int) -> Fitted:
    """Lines at the smallest size, words broken where they must be, the rest replaced by an ellipsis."""
    lines: list[str] = []
    rest = text
    while rest and len(lines) < room:
        last = len(lines) == room - 1
        if measure(rest) <= width:
            return Fitted((*lines, rest), size_pt)
        if last:
            line, _ = _take(rest, width, measure, ELLIPSIS)
            return Fitted((*lines, line.rstrip() + ELLIPSIS), size_pt, cut=True)
        line, rest = _take(rest, width, measure, "")
        lines.append(line)
    return Fitted(tuple(lines), size_pt)


def _take(text: str, width: float, measure: Measure, ending: str) -> tuple[str, str]:
    """As much of the text as fits with the ending, up to a space where one is near, and what is left."""
    clusters = _clusters(text)
    low, high = 1, len(clusters)
    while low < high:
        middle = (low + high + 1) // 2
        if measure("".join(clusters[:middle]) + ending) <= width:
            low = middle
        else:
            high = middle - 1
    taken = "".join(clusters[:low])
    space = taken.rfind(" ")
    if not ending and space > len(taken) // 2 and low < len(clusters) and clusters[low] != " ":
        taken = taken[:space]
    return taken.rstrip(), text[len(taken) :].lstrip()


def _clusters(text: str) -> list[str]:
    """Letters with the marks that belong to them, which are never parted."""
    found: list[str] = []
    for sign in text:
        joins = (
            bool(unicodedata.combining(sign))
            or unicodedata.category(sign) in ("Mn", "Me", "Mc")
            or sign in _KEPT_FORMAT_SIGNS
        )
        if joins and found:
            found[-1] += sign
        else:
            found.append(sign)
    return found
