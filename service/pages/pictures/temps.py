"""A store's days or hours as a band from lowest to highest, the good limits behind it, gaps left open; below it humidity."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from service.pages.pictures.bars import Axis, Band, Bar, blocks, draw_bars, runs_of
from service.pages.pictures.drawing import Canvas, number, path, text, width_of
from service.pages.pictures.life import MONTHS
from service.storage.schemas import StoreTempsRead
from service.storage.schemas.temps import SpellRead

WIDE, NARROW, TOP, BOTTOM, LEFT, RIGHT, HEIGHT, DAMP = 720.0, 360.0, 24.0, 28.0, 44.0, 8.0, 240.0, 110.0
NARROWEST_C = 8.0  # a quiet fridge must not look wild
EDGE, SMALL = 4.0, 12
MOST_WORDS = 12  # a picture of a year is no list
MONTHS_FROM = 99  # days, from where months are marked instead of days


def temps_of(temps: StoreTempsRead, name: str, *, width: float = WIDE, zone: str = "UTC") -> str:
    """The picture with its own words: dashed was read by hand, hatched went beyond good storage, shaded is how long."""
    picture = _Picture(temps, width, zone)
    picture.draw()
    told = " ".join(words for words in (temps.words, temps.excursion_words, temps.humidity_words) if words)
    what = "Temperatures and humidity" if temps.humidity_of else "Temperatures"
    return picture.canvas.svg(f"{what} in {name}", told)


def closer_over(picture: str, stretches: Sequence[tuple[int, str, str]], *, width: float = WIDE) -> str:
    """Links over stretches of the picture, each so many days, an address and a name, both escaped.

    They are a drawing of their own: what lies inside a picture with a description is not heard of.
    """
    if not stretches:
        return picture
    axis, place, links = Axis(LEFT, width - RIGHT, sum(count for count, _, _ in stretches)), 0, ""
    for count, href, words in stretches:
        box = blocks([(axis.x_of(place), axis.x_of(place + count))], 0, HEIGHT)
        links += (
            f'<a href="{href}" aria-label="{words}"><path d="{box}" fill="none" pointer-events="all"/></a>'
        )
        place += count
    over = f'<svg viewBox="0 0 {number(width)} {number(HEIGHT)}" role="group" aria-label="Closer" preserveAspectRatio="none">{links}</svg>'
    return f'<div class="closer">{picture}{over}</div>'


class _Picture:
    def __init__(self, temps: StoreTempsRead, width: float, zone: str) -> None:
        self.temps, self.zone = temps, ZoneInfo(zone)
        damp = DAMP if temps.humidity_of else 0.0
        self.canvas = Canvas("temps" if width == WIDE else "temps-narrow", width, HEIGHT + damp)
        spots = temps.hours or temps.days
        hours = round((temps.until_at - temps.from_at) / timedelta(hours=1))
        self.axis = Axis(LEFT, width - RIGHT, hours if temps.hours else len(temps.days))
        self.band = Band(TOP, HEIGHT - BOTTOM, *_scale(temps))
        self.bars = [
            Bar(spot.low_c, spot.high_c, spot.outside, getattr(spot, "by_hand", False)) for spot in spots
        ]
        self.damp = [Bar(spot.humidity_low_pct, spot.humidity_high_pct, spot.dry) for spot in spots]

    def draw(self) -> None:
        self._shade()
        for celsius in (self.temps.high_c, self.temps.low_c):
            self._limit(self.band, celsius, f"{celsius:g} °C")
        draw_bars(self.canvas, self.axis, self.band, self.bars)
        self._draw_means()
        self._draw_edges()
        self._draw_rang()
        self._draw_extremes()
        if self.temps.humidity_of:
            self._draw_humidity()
        for place, words, anchor in self._marks():
            self.canvas.add(
                text(self.axis.x_of(place), self.canvas.height - 8, words, ink="quiet", anchor=anchor)
            )

    def _x_at(self, at: datetime) -> float:
        share = (at - self.temps.from_at) / (self.temps.until_at - self.temps.from_at)
        return self.axis.left + min(1.0, max(0.0, share)) * (self.axis.right - self.axis.left)

    def _shade(self) -> None:
        """How long it was beyond good storage, over the whole height of the band."""
        stretches = [
            (self._x_at(one.began_at), self._x_at(one.ended_at or self._last_told()))
            for one in self.temps.excursions
        ]
        if stretches:
            drawn = blocks(stretches, TOP, HEIGHT - BOTTOM)
            self.canvas.add(path(drawn, width=0, fill="stop", more=' fill-opacity=".16"'))

    def _last_told(self) -> datetime:
        last = max((place for place, bar in enumerate(self.bars) if bar.low is not None), default=0) + 1
        share = last / self.axis.places
        return self.temps.from_at + share * (self.temps.until_at - self.temps.from_at)

    def _limit(self, band: Band, value: float, words: str) -> None:
        y = band.y_of(value)
        line = f"M{number(LEFT)} {number(y)}H{number(self.axis.right)}"
        self.canvas.add(path(line, ink="water", width=1, more=' stroke-dasharray="2 4"'))
        self.canvas.add(text(LEFT - 6, y + 4, words, ink="quiet", size=SMALL, anchor="end"))

    def _draw_means(self) -> None:
        """The means of hours as one line, broken where nothing was measured."""
        drawn, before = "", None
        for place, hour in enumerate(self.temps.hours):
            if hour.mean_c is not None:
                spot = f"{number(self.axis.x_of(place + 0.5))} {number(self.band.y_of(hour.mean_c))}"
                drawn += f"{'L' if before == place - 1 else 'M'}{spot}"
                before = place
        if drawn:
            self.canvas.add(path(drawn, ink="ink", width=1.2))

    def _draw_edges(self) -> None:
        """Solid at the upper edge where it was too warm, at the lower edge where it was too cold."""
        warm = [bar.high is not None and bar.high > self.temps.high_c for bar in self.bars]
        cold = [bar.low is not None and bar.low < self.temps.low_c for bar in self.bars]
        self._edge(warm, TOP)
        self._edge(cold, self.band.bottom - EDGE)

    def _edge(self, flags: Sequence[bool], top: float) -> None:
        runs = [(self.axis.x_of(begin), self.axis.x_of(end)) for begin, end in runs_of(flags)]
        if runs:
            self.canvas.add(path(blocks(runs, top, top + EDGE), width=0, fill="stop"))

    def _draw_rang(self) -> None:
        """Above the band, how long what rang lasted, and thinner what was too warm and rang nobody, each with its word."""
        taken = self._draw_told(self.temps.alarms, "rang", 2, [])
        self._draw_told(self.temps.too_warm, "warm", 1, taken)

    def _draw_told(
        self, spells: Sequence[SpellRead], word: str, width: float, taken: list[tuple[float, float]]
    ) -> list[tuple[float, float]]:
        """`taken`: where words stand already; a word is left out where it has no room."""
        drawn, room, taken = "", width_of(word, SMALL), list(taken)
        for spell in spells:
            begin, end = self._x_at(spell.began_at), self._x_at(spell.ended_at or self._last_told())
            drawn += f"M{number(begin)} {19 if width > 1 else 22}H{number(max(end, begin + 3))}"
            x = min(begin, self.axis.right - room)
            if len(taken) < MOST_WORDS and all(
                x >= last + 4 or x + room + 4 <= first for first, last in taken
            ):
                self.canvas.add(text(x, 14, word, ink="stop", size=SMALL))
                taken.append((x, x + room))
        if drawn:
            self.canvas.add(path(drawn, ink="stop", width=width))
        return taken

    def _draw_extremes(self) -> None:
        """The highest and the lowest of what went beyond good storage, in figures."""
        spots = list(enumerate(self.bars))
        highs = [
            (bar.high, place) for place, bar in spots if bar.high is not None and bar.high > self.temps.high_c
        ]
        lows = [
            (bar.low, place) for place, bar in spots if bar.low is not None and bar.low < self.temps.low_c
        ]
        told = [(*max(highs), -5)] if highs else []
        told += [(*min(lows), 15)] if lows else []
        for celsius, place, lift in told:
            x = min(max(self.axis.x_of(place + 0.5), LEFT + 24), self.axis.right - 24)
            y = min(self.band.y_of(celsius) + lift, self.band.bottom - EDGE - 2)
            self.canvas.add(text(x, y, f"{celsius:.1f} °C", ink="stop", size=SMALL, anchor="middle"))

    def _draw_humidity(self) -> None:
        limit = self.temps.humidity_min_pct
        told = [value for bar in self.damp for value in (bar.low, bar.high) if value is not None]
        low = math.floor((min([*told, limit or 100.0]) - 2) / 10) * 10
        band = Band(HEIGHT, HEIGHT + DAMP - BOTTOM, float(max(0, low)), max(100.0, *told))
        for value in (100.0, band.low):
            line = f"M{number(LEFT)} {number(band.y_of(value))}H{number(self.axis.right)}"
            self.canvas.add(path(line, ink="hair", width=1))
            if limit is None or abs(band.y_of(value) - band.y_of(limit)) > SMALL:
                self.canvas.add(text(LEFT - 6, band.y_of(value) + 4, f"{value:g} %", ink="quiet", size=SMALL, anchor="end"))  # fmt: skip
        if limit is not None:
            self._limit(band, limit, f"{limit:g} %")
        draw_bars(self.canvas, self.axis, band, self.damp)
        self._edge([bar.beyond for bar in self.damp], band.bottom - EDGE)
        self.canvas.add(text(LEFT, HEIGHT - 8, "Humidity", ink="quiet", size=SMALL))

    def _marks(self) -> Sequence[tuple[float, str, str]]:
        """Words along the foot: hours of up to two days, months of many, else the first, the middle and the last day."""
        days = self.temps.days
        if self.temps.hours and len(days) <= 2:
            return self._hour_marks()
        if len(days) >= MONTHS_FROM:
            return self._month_marks()
        found, per_day = [], self.axis.places / len(days)
        for place in sorted({0, len(days) // 2, len(days) - 1}):
            anchor = "start" if place == 0 else "end" if place == len(days) - 1 else "middle"
            more = 0.0 if place == 0 else 1.0 if anchor == "end" else 0.5
            found.append(((place + more) * per_day, _day(self.temps.days[place].day), anchor))
        return found

    def _hour_marks(self) -> Sequence[tuple[float, str, str]]:
        found = []
        each = 6 if self.canvas.width == WIDE else 12
        for place in range(self.axis.places):
            at = (self.temps.from_at + timedelta(hours=place)).astimezone(self.zone)
            if at.hour % each == 0 and at.minute == 0:
                words = f"{at:%H:%M}" if at.hour else f"{at.day} {MONTHS[at.month - 1]}"
                found.append((float(place), words, "start" if place == 0 else "middle"))
        self._ticks([place for place, _, _ in found])
        return found

    def _month_marks(self) -> Sequence[tuple[float, str, str]]:
        firsts = [place for place, day in enumerate(self.temps.days) if day.day.day == 1]
        room = width_of("Sep", 13) + 8
        each = max(1, math.ceil(room / (30 * self.axis.step)))
        found = []
        self._ticks(firsts)
        for place in firsts:
            month = self.temps.days[place].day.month
            if (month - 1) % each == 0 and self.axis.x_of(place) + room < self.axis.right + RIGHT:
                found.append((float(place), MONTHS[month - 1], "start"))
        return found

    def _ticks(self, places: Sequence[float]) -> None:
        y = self.canvas.height - BOTTOM
        drawn = "".join(f"M{number(self.axis.x_of(place))} {number(y)}v5" for place in places)
        if drawn:
            self.canvas.add(path(drawn, ink="quiet", width=1))


def _day(on: date) -> str:
    return f"{on.day} {on:%B}"


def _scale(temps: StoreTempsRead) -> tuple[float, float]:
    """From below the lowest to above the highest, with room for the figures of what went beyond."""
    told = [value for day in temps.days for value in (day.low_c, day.high_c) if value is not None]
    coldest, warmest = min([temps.low_c, *told]), max([temps.high_c, *told])
    room = (warmest - coldest) / 8
    low = coldest - (max(1.0, room) if coldest < temps.low_c else 1.0)
    high = warmest + (max(1.0, room) if warmest > temps.high_c else 1.0)
    more = max(0.0, NARROWEST_C - (high - low)) / 2
    return math.floor(low - more), math.ceil(high + more)
