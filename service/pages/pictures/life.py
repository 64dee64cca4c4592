"""The life line: one line from the cut to where the wood is now, as thick as there are sticks, with a mark for all that happened.

A band of the share expected alive is drawn above it only where a forecast gives one; nothing is made up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.pages.pictures.drawing import Canvas, number, path, text, width_of
from service.pages.pictures.model import Happening, Life, Mark
from service.pages.pictures.shapes import STOP_BAR, shape

MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
THINNEST, THICKEST = 2.0, 11.0
LEFT = 10.0
LABEL, ROW = 14.0, 39.0


@dataclass(frozen=True)
class Ruler:
    """Time laid along the picture."""

    start: datetime
    end: datetime
    left: float
    right: float
    zone: str = "UTC"

    def x(self, at: datetime) -> float:
        span = max((self.end - self.start).total_seconds(), 86_400.0)
        share = min(max((at - self.start).total_seconds() / span, 0.0), 1.0)
        return self.left + (self.right - self.left) * share

    def day(self, at: datetime, *, year: bool = False) -> str:
        on = at.astimezone(ZoneInfo(self.zone))
        return f"{on.day} {MONTHS[on.month - 1]}" + (f" {on.year}" if year else "")

    def ticks(self) -> list[tuple[float, str]]:
        """The first of each month, or of each year where the line is long."""
        zone = ZoneInfo(self.zone)
        first, last = self.start.astimezone(zone), self.end.astimezone(zone)
        months = (last.year - first.year) * 12 + last.month - first.month
        step = 1 if months <= 8 else 3 if months <= 24 else 12
        found = []
        for count in range(1, months + 1):
            year, month = divmod(first.year * 12 + first.month - 1 + count, 12)
            if month % step == 0:
                found.append(
                    (
                        self.x(datetime(year, month + 1, 1, tzinfo=zone)),
                        str(year) if month == 0 else MONTHS[month],
                    )
                )
        return found


def ruler_for(
    lives: Sequence[Life],
    width: float,
    *,
    zone: str = "UTC",
    left: float = LEFT,
    right: float = 18,
    at_most: timedelta | None = None,
) -> Ruler:
    """One scale for one life, or for many under each other; with `at_most`, what is older runs in from the left."""
    starts = [each.happenings[0].at for each in lives if each.happenings]
    ends = [each.until for each in lives]
    start, end = min(starts, default=min(ends)), max(ends)
    if at_most is not None:
        start = max(start, end - at_most)
    return Ruler(start, max(end, start + timedelta(days=14)), left, width - right, zone)


def line_of_life(
    canvas: Canvas, life: Life, ruler: Ruler, y: float, *, thickest: float = THICKEST, most: int = 0
) -> None:
    """Draw the line, its band, its stops and its marks at height y."""
    if not life.happenings:
        return
    spans = _spans(life, ruler, thickest, most)
    _band(canvas, life, ruler, y - thickest / 2 - 3)
    _cold(canvas, life, ruler, y + thickest / 2 + 3)
    _wood(canvas, spans, y, older=life.happenings[0].at < ruler.start)
    _stops(canvas, life, ruler, y)
    for each in life.happenings:
        if each.at >= ruler.start:
            x = ruler.x(each.at)
            half = next((h for a, _, h in reversed(spans) if a <= x), spans[0][2])
            canvas.add(shape(each.mark, x, y, half))
    end = spans[-1][1]
    if life.ended:
        canvas.add(path(f"M{number(end)} {number(y - 6)}v12", width=2.2))
    elif not life.stopped:
        canvas.add(path(f"M{number(end + 2)} {number(y)}h12", width=2, more=' stroke-dasharray="2 3"'))


def _wood(canvas: Canvas, spans: Sequence[tuple[float, float, float]], y: float, *, older: bool) -> None:
    """The line itself. It begins with a sloped cut, as the knife left it; what is older than the scale runs in from the left."""
    begin, half = spans[0][0], spans[0][2]
    slope = 0.0 if older else half
    top = "".join(f"L{number(a)} {number(y - h)}L{number(b)} {number(y - h)}" for a, b, h in spans)
    under = "".join(
        f"L{number(b)} {number(y + h)}L{number(a)} {number(y + h)}" for a, b, h in reversed(spans)
    )
    start = f"M{number(begin + slope)} {number(y - half)}"
    first_top = f"L{number(begin)} {number(y - half)}"
    canvas.add(
        path(
            f"{start}{top.removeprefix(first_top)}{under}L{number(begin - slope)} {number(y + half)}z",
            width=0,
            fill="bark",
        )
    )
    if older:
        canvas.add(path(f"M{number(begin - 10)} {number(y)}h9", width=2, more=' stroke-dasharray="2 3"'))


def _spans(life: Life, ruler: Ruler, thickest: float, most: int) -> list[tuple[float, float, float]]:
    """From, to, and half the thickness: each stick on hand adds to it."""
    counts = life.counts
    peak = most or max((each.sticks for each in counts), default=1) or 1
    end = ruler.x(life.until)
    if not counts:
        return [(ruler.x(life.happenings[0].at), end, thickest / 3)]
    edges = [ruler.x(each.at) for each in counts[1:]] + [end]
    starts = [ruler.x(each.at) for each in counts]
    halves = [
        max(THINNEST, thickest * min(each.sticks / peak, 1.0)) / 2 if each.sticks > 0 else THINNEST / 4
        for each in counts
    ]
    spans = list(zip(starts, edges, halves, strict=True))
    return [span for span in spans if span[1] > span[0]] or spans[-1:]


def _band(canvas: Canvas, life: Life, ruler: Ruler, floor: float) -> None:
    if len(life.expected) < 2:
        return
    tall = 22.0
    high = [f"{number(ruler.x(each.at))} {number(floor - tall * each.high)}" for each in life.expected]
    low = [
        f"{number(ruler.x(each.at))} {number(floor - tall * each.low)}" for each in reversed(life.expected)
    ]
    canvas.add(
        path("M" + "L".join(high + low) + "z", ink="bud", width=0.8, fill="bud", more=' fill-opacity=".25"')
    )


def _cold(canvas: Canvas, life: Life, ruler: Ruler, y: float) -> None:
    """A thin line of water under the wood for as long as it lies in a store."""
    since: datetime | None = None
    for each in (*life.happenings, None):
        away = each is None or each.mark in {Mark.OUT, Mark.STORE, Mark.GONE}
        if away and since is not None:
            until = life.until if each is None else each.at
            canvas.add(
                path(
                    f"M{number(ruler.x(since))} {number(y)}H{number(ruler.x(until))}", ink="water", width=1.6
                )
            )
            since = None
        if each is not None and each.mark is Mark.STORE:
            since = each.at


def _stops(canvas: Canvas, life: Life, ruler: Ruler, y: float) -> None:
    begun: float | None = None
    spans: list[tuple[float, float]] = []
    for each in life.happenings:
        if each.mark is Mark.STOP and begun is None:
            begun = ruler.x(each.at)
        elif each.mark is Mark.FREE and begun is not None:
            spans.append((begun, ruler.x(each.at)))
            begun = None
    if life.stopped or begun is not None:
        end = ruler.x(life.until)
        spans.append((min(begun, end - 6) if begun is not None else max(end - 24, ruler.left), end))
    for a, b in spans:
        box = f"M{number(a)} {number(y - STOP_BAR)}H{number(b)}V{number(y + STOP_BAR)}H{number(a)}z"
        canvas.add(
            path(box, width=0, fill="paper", more=' fill-opacity=".55"'),
            path(box, ink="stop", width=1, fill=canvas.hatch),
        )


# -- words below -------------------------------------------------------------------------------------------------


def labels(life: Life, ruler: Ruler, width: float, rows: int) -> tuple[list[str], int, int]:
    """Words and dates under the marks, set from right to left so that no leader crosses a word.

    Gives what is drawn (leaders start at 0), how many rows it took, and how many marks found no room.
    """
    told = _merged(life.happenings)
    limits = [width] * rows
    chosen: list[tuple[float, int, str, str, str]] = []
    left_out = 0
    for each, times in sorted(told, key=lambda pair: pair[0].at, reverse=True):
        word = each.mark.value + (f" ×{times}" if times > 1 else "")
        when = ruler.day(each.at)
        room = max(width_of(word, LABEL), width_of(when, LABEL)) + 10
        x = ruler.x(each.at)
        row = next((r for r in range(rows) if x + room <= limits[r]), None)
        if row is None:
            left_out += times
            continue
        for r in range(row + 1):
            limits[r] = x
        chosen.append((x, row, word, when, "stop" if each.mark is Mark.STOP else "ink"))
    drawn = []
    for x, row, word, when, ink in reversed(chosen):
        y = row * ROW
        drawn.append(path(f"M{number(x)} {number(-14)}V{number(y + 32)}", ink="hair", width=1))
        drawn.append(text(x + 4, y + 14, word, ink=ink, size=LABEL))
        drawn.append(text(x + 4, y + 30, when, ink="quiet", size=LABEL - 0.5))
    return drawn, 1 + max((row for _, row, *_ in chosen), default=-1), left_out


def _merged(happenings: Sequence[Happening]) -> list[tuple[Happening, int]]:
    """The same thing several times running becomes one label."""
    told: list[tuple[Happening, int]] = []
    for each in happenings:
        if told and told[-1][0].mark is each.mark:
            told[-1] = (told[-1][0], told[-1][1] + 1)
        else:
            told.append((each, 1))
    return told
