"""The shape of each mark on a life line. Shapes differ without colour; x and y are where the line runs."""

from __future__ import annotations

from service.pages.pictures.drawing import number as n
from service.pages.pictures.drawing import path
from service.pages.pictures.model import Mark

STOP_BAR = 9.0


def shape(mark: Mark, x: float, y: float, half: float) -> str:
    """A mark on a line that is `half` thick above and below y."""
    top, under = y - half, y + half
    match mark:
        case Mark.CUT | Mark.CAME:
            return ""  # the line's own sloped beginning
        case Mark.STORE:
            return path(f"M{n(x - 4)} {n(under + 4)}h8v8h-8z", ink="water", width=1.6, fill="water")
        case Mark.OUT:
            return path(f"M{n(x - 4)} {n(under + 4)}h8v8h-8z", ink="water", width=1.6, fill="paper")
        case Mark.WEIGHED:
            return path(f"M{n(x - 5)} {n(top - 9)}h10l-3 7h-4z", ink="ink", width=1.6, fill="paper")
        case Mark.LOOK:
            ring = f"M{n(x - 4)} {n(top - 8)}a4 4 0 1 1 8 0a4 4 0 1 1 -8 0z"
            return path(ring, ink="ink", width=1.6, fill="paper") + path(
                f"M{n(x)} {n(top - 4)}v3", ink="ink", width=1.6
            )
        case Mark.SPLIT:
            return path(f"M{n(x - 7)} {n(y)}c5 0 4 {n(half + 11)} 13 {n(half + 11)}", width=2.2)
        case Mark.HAND:
            return path(f"M{n(x - 6)} {n(y)}c6 0 5 {n(-half - 12)} 14 {n(-half - 12)}", width=2.2)
        case Mark.BACK:
            return path(f"M{n(x - 14)} {n(top - 12)}c9 0 8 {n(half + 12)} 14 {n(half + 12)}", width=2.2)
        case Mark.LENGTH:
            slope = f"M{n(x - 4)} {n(under + 4)}L{n(x + 1)} {n(top - 4)}M{n(x + 2)} {n(under + 4)}L{n(x + 7)} {n(top - 4)}"
            return path(slope, ink="paper", width=3) + path(slope, ink="bark", width=1.2)
        case Mark.COUNT:
            return path(f"M{n(x - 3)} {n(top - 9)}v7m3 -7v7m3 -7v7", ink="ink", width=1.3)
        case Mark.GRAFT:
            notch = f"M{n(x - 7)} {n(top - 4)}L{n(x)} {n(under + 5)}L{n(x + 7)} {n(top - 4)}"
            return path(notch, ink="bud", width=2.6)
        case Mark.TAKE:
            leaf = f"M{n(x)} {n(top - 1)}c-7 -4 -6 -12 4 -15c4 8 2 13 -4 15z"
            return path(leaf, ink="bud", width=1.4, fill="bud")
        case Mark.STOP:
            return path(f"M{n(x)} {n(y - STOP_BAR)}v{n(2 * STOP_BAR)}", ink="stop", width=3)
        case Mark.FREE:
            return path(f"M{n(x)} {n(y - STOP_BAR)}v{n(2 * STOP_BAR)}", ink="ink", width=1.4)
        case Mark.GONE | Mark.LOST:
            return path(f"M{n(x)} {n(y)}v{n(half + 10)}m-4 0h8", ink="ink", width=1.8)
