"""Bars from a lowest to a highest over an axis of time: those of one look are one path, however many they are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service.pages.pictures.drawing import Canvas, number, path

THIN = 4.0  # where a bar has no more room than that it is one stroke, without an edge and a hatch
LEAST_TALL = 3.0


@dataclass(frozen=True)
class Axis:
    """Where time runs from left to right: so many equally wide places, days or hours."""

    left: float
    right: float
    places: int

    @property
    def step(self) -> float:
        return (self.right - self.left) / max(1, self.places)

    def x_of(self, place: float) -> float:
        return self.left + place * self.step


@dataclass(frozen=True)
class Band:
    """Where one measure is drawn: from the top to the bottom of the canvas, from its highest to its lowest value."""

    top: float
    bottom: float
    low: float
    high: float

    def y_of(self, value: float) -> float:
        return self.top + (self.high - value) / (self.high - self.low) * (self.bottom - self.top)


@dataclass(frozen=True)
class Bar:
    """What was measured at one place of the axis; None where nothing was."""

    low: float | None
    high: float | None
    beyond: bool = False
    by_hand: bool = False


def draw_bars(canvas: Canvas, axis: Axis, band: Band, bars: Sequence[Bar]) -> None:
    """Each bar by its look: within, beyond (hatched), read by hand (dashed); and where nothing was measured a line at the foot."""
    for beyond in (False, True):
        for by_hand in (False, True):
            alike = [
                (place, bar) for place, bar in enumerate(bars)
                if bar.low is not None and (bar.beyond, bar.by_hand) == (beyond, by_hand)
            ]  # fmt: skip
            if alike:
                draw = _strokes if axis.step < THIN else _boxes
                canvas.add(draw(canvas, axis, band, alike, beyond=beyond, by_hand=by_hand))
    gaps = runs_of(bar.low is None for bar in bars)
    if gaps:
        drawn = "".join(
            f"M{number(axis.x_of(begin))} {number(band.bottom)}H{number(axis.x_of(end))}"
            for begin, end in gaps
        )
        canvas.add(path(drawn, ink="quiet", width=1))


def _boxes(canvas: Canvas, axis: Axis, band: Band, bars: Iterable[tuple[int, Bar]], *, beyond: bool, by_hand: bool) -> str:  # fmt: skip
    wide = max(1.5, axis.step - min(2.0, axis.step / 4))
    drawn = ""
    for place, bar in bars:
        top, tall = _reach(band, bar)
        drawn += f"M{number(axis.x_of(place))} {number(top)}h{number(wide)}v{number(tall)}h{number(-wide)}z"
    dashed = ' stroke-dasharray="3 2"' if by_hand else ""
    fill = canvas.hatch if beyond else ("card" if by_hand else "water")
    return path(drawn, ink="stop" if beyond else "water", width=1.2, fill=fill, more=dashed)


def _strokes(_canvas: Canvas, axis: Axis, band: Band, bars: Iterable[tuple[int, Bar]], *, beyond: bool, by_hand: bool) -> str:  # fmt: skip
    drawn = ""
    for place, bar in bars:
        top, tall = _reach(band, bar)
        # Whole units: nobody sees less, and a year of days stays small.
        drawn += f"M{number(axis.x_of(place + 0.5))} {top:.0f}v{tall:.0f}"
    dashed = ' stroke-dasharray="3 2"' if by_hand else ""
    return path(drawn, ink="stop" if beyond else "water", width=max(axis.step, 0.8), more=dashed)


def _reach(band: Band, bar: Bar) -> tuple[float, float]:
    top = band.y_of(bar.high or 0.0)
    return top, max(LEAST_TALL, band.y_of(bar.low or 0.0) - top)


def runs_of(flags: Iterable[bool]) -> list[tuple[int, int]]:
    """Where neighbours are true together: from the first up to the one after the last."""
    runs: list[tuple[int, int]] = []
    for place, flag in enumerate(flags):
        if flag and runs and runs[-1][1] == place:
            runs[-1] = (runs[-1][0], place + 1)
        elif flag:
            runs.append((place, place + 1))
    return runs


def blocks(stretches: Iterable[tuple[float, float]], top: float, bottom: float) -> str:
    """Upright boxes over stretches of the axis, none too narrow to be seen; what would touch is one."""
    joined: list[tuple[float, float]] = []
    for begin, end in sorted(stretches):
        end = max(end, begin + 1.5)
        if joined and begin - joined[-1][1] < 1:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    return "".join(
        f"M{number(begin)} {number(top)}H{number(end)}V{number(bottom)}H{number(begin)}z"
        for begin, end in joined
    )
