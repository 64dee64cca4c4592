"""A store's weeks as a band: each day from its lowest to its highest, the good limits behind it, gaps left open."""

from __future__ import annotations

import math
from collections.abc import Callable

from service.pages.pictures.drawing import Canvas, number, path, text
from service.storage.schemas import DayTempsRead, StoreTempsRead

WIDE, NARROW, TOP, BOTTOM, LEFT, RIGHT, HEIGHT = 720.0, 360.0, 14.0, 28.0, 44.0, 8.0, 240.0
NARROWEST_C = 8.0  # a quiet fridge must not look wild


def temps_of(temps: StoreTempsRead, name: str, *, width: float = WIDE) -> str:
    """The picture with its own words; dashed days were read by hand, hatched ones went beyond good storage."""
    canvas = Canvas("temps" if width == WIDE else "temps-narrow", width, HEIGHT)
    low, high = _scale(temps)
    step = (width - LEFT - RIGHT) / max(1, len(temps.days))

    def y_of(celsius: float) -> float:
        return TOP + (high - celsius) / (high - low) * (HEIGHT - TOP - BOTTOM)

    _draw_limits(canvas, temps, y_of)
    for place, day in enumerate(temps.days):
        _draw_day(canvas, day, LEFT + place * step, step, y_of)
    _draw_extremes(canvas, temps, step, y_of)
    for place in sorted({0, len(temps.days) // 2, len(temps.days) - 1}):
        anchor = "start" if place == 0 else "end" if place == len(temps.days) - 1 else "middle"
        x = LEFT + place * step + (0 if place == 0 else step if anchor == "end" else step / 2)
        on = temps.days[place].day
        canvas.add(text(x, HEIGHT - 8, f"{on.day} {on:%B}", ink="quiet", anchor=anchor))
    return canvas.svg(f"Temperatures in {name}", temps.words)


def _scale(temps: StoreTempsRead) -> tuple[float, float]:
    told = [value for day in temps.days for value in (day.low_c, day.high_c) if value is not None]
    low, high = min([temps.low_c, *told]) - 1, max([temps.high_c, *told]) + 1
    more = max(0.0, NARROWEST_C - (high - low)) / 2
    return math.floor(low - more), math.ceil(high + more)


def _draw_limits(canvas: Canvas, temps: StoreTempsRead, y_of: Callable[[float], float]) -> None:
    for celsius in (temps.high_c, temps.low_c):
        y = y_of(celsius)
        line = f"M{number(LEFT)} {number(y)}H{number(canvas.width - RIGHT)}"
        canvas.add(path(line, ink="water", width=1, more=' stroke-dasharray="2 4"'))
        canvas.add(text(LEFT - 6, y + 4, f"{celsius:g} °C", ink="quiet", size=12, anchor="end"))


def _draw_day(
    canvas: Canvas, day: DayTempsRead, x: float, step: float, y_of: Callable[[float], float]
) -> None:
    wide = max(1.5, step - 2)
    if day.low_c is None or day.high_c is None:
        y = HEIGHT - BOTTOM
        canvas.add(path(f"M{number(x)} {number(y)}h{number(wide)}", ink="hair", width=1))
        return
    top, tall = y_of(day.high_c), max(3.0, y_of(day.low_c) - y_of(day.high_c))
    box = f"M{number(x)} {number(top)}h{number(wide)}v{number(tall)}h{number(-wide)}z"
    dashed = ' stroke-dasharray="3 2"' if day.by_hand else ""
    ink = "stop" if day.outside else "water"
    fill = canvas.hatch if day.outside else ("card" if day.by_hand else "water")
    canvas.add(path(box, ink=ink, width=1.2, fill=fill, more=dashed))


def _draw_extremes(
    canvas: Canvas, temps: StoreTempsRead, step: float, y_of: Callable[[float], float]
) -> None:
    """The highest and the lowest of the days that went beyond good storage, in figures."""
    days = [(place, day.low_c, day.high_c) for place, day in enumerate(temps.days)]
    highs = [(high, place) for place, _, high in days if high is not None and high > temps.high_c]
    lows = [(low, place) for place, low, _ in days if low is not None and low < temps.low_c]
    told = [(*max(highs), -5)] if highs else []
    told += [(*min(lows), 15)] if lows else []
    for celsius, place, lift in told:
        x = min(max(LEFT + (place + 0.5) * step, LEFT + 24), canvas.width - RIGHT - 24)
        canvas.add(text(x, y_of(celsius) + lift, f"{celsius:.1f} °C", ink="stop", size=12, anchor="middle"))
