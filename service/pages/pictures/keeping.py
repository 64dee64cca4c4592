"""How a bundle keeps, as a picture: the share with its band falling from the cut to today and on, above where it lay."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.pages.pictures.drawing import Canvas, number, path, safe, text, width_of
from service.pages.pictures.life import Ruler
from service.pages.pictures.model import Mark
from service.pages.pictures.shapes import shape
from service.storage.rules.keeping_words import band_words
from service.storage.rules.read_off import Moments, Share, ahead, behind
from service.storage.schemas.keeping import KeepingCurve, KeepingRead, WayMark, WayRead

WIDE, NARROW = 720.0, 360.0
LEFT, RIGHT, TOP, FLOOR = 40.0, 10.0, 30.0, 220.0  # of the share
MARKS, STORES, STRIP, HEIGHT = 252.0, 266.0, 26.0, 330.0
LINE, MOST_NAMES = 20.0, 6  # of the names under the strip, where it has no room for them
# The way so far keeps a third of the picture at least, and what lies ahead reaches over a spring. The table goes farther.
AHEAD_AT_LEAST = timedelta(weeks=12)
# Where so little is expected, general numbers alone cannot tell the last living sticks from none. Judgement.
GENERAL_ENDS = 0.25
SHAPES = {"look": Mark.LOOK, "weighed": Mark.WEIGHED}


@dataclass(frozen=True)
class Shown:
    """What is drawn: the weeks behind and ahead, on one scale of time."""

    past: Moments
    ahead: Moments
    ruler: Ruler

    def x(self, at: datetime) -> float:
        return self.ruler.x(at)

    @staticmethod
    def y(share: float) -> float:
        return FLOOR - share * (FLOOR - TOP)


def keeping_picture(told: KeepingRead, way: WayRead, name: str, *, zone: str, width: float = WIDE) -> str:
    """An SVG; empty where no share is reckoned. Solid is behind us, dashed lies ahead, hatched was too warm or froze."""
    if told.share is None or told.curve is None or not way.spans:
        return ""
    share = (told.share.expected, told.share.low, told.share.high)
    past, later = behind(told.curve, told.as_of, share), _ahead(told, told.curve, share)
    reach = told.as_of + max(AHEAD_AT_LEAST, 2 * (told.as_of - way.spans[0].from_at))
    later = [later[0], *(one for one in later[1:] if one[0] <= reach)]
    end = max(later[-1][0], told.as_of + timedelta(days=7))
    shown = Shown(past, later, Ruler(way.spans[0].from_at, end, LEFT, width - RIGHT, zone))
    names = (
        []
        if _have_room(shown, way)
        else list(dict.fromkeys(one.store_name for one in way.spans if one.store_name))
    )
    canvas = Canvas(
        "keeps" if width == WIDE else "keeps-narrow", width, HEIGHT + LINE * min(len(names), MOST_NAMES)
    )
    _scale(canvas, shown)
    _too_warm(canvas, shown, way.marks)
    _band(canvas, shown)
    _today(canvas, shown, told.as_of)
    _stores(canvas, shown, way, names)
    for one in way.marks:
        if one.what in SHAPES:
            canvas.add(
                f"<g><title>{safe(one.words)}</title>",
                shape(SHAPES[one.what], shown.x(one.at), MARKS + 6, 1),
                "</g>",
            )
    _time(canvas, shown)
    return canvas.svg(f"How {name} keeps", described(told, way, shown.ruler))


def ends_early(told: KeepingRead) -> bool:
    """Whether what lies ahead is shown in part alone."""
    if told.share is None or told.curve is None:
        return False
    share = (told.share.expected, told.share.low, told.share.high)
    return len(_ahead(told, told.curve, share)) < len(ahead(told.curve, told.as_of, share))


def _ahead(told: KeepingRead, curve: KeepingCurve, share: Share) -> Moments:
    """Of a group with few judged grafts as far as a good part is expected to be left: farther on general numbers tell too little."""
    first, *weeks = ahead(curve, told.as_of, share)
    if told.share_first:
        return [first, *weeks]
    return [first, *itertools.takewhile(lambda one: one[1][0] >= GENERAL_ENDS, weeks)]


@dataclass(frozen=True)
class Week:
    """A line of the table behind the picture."""

    at: datetime
    store: str
    words: str  # of a hundred: expected, low, high
    when: str


def weeks_of(told: KeepingRead, way: WayRead) -> list[Week]:
    """The same week by week: what is behind us, how it stands now, what follows if the store stays as it was."""
    if told.share is None or told.curve is None:
        return []
    share = (told.share.expected, told.share.low, told.share.high)
    past, later = behind(told.curve, told.as_of, share), _ahead(told, told.curve, share)
    here = way.spans[-1].store_name if way.spans else ""
    rows = [(at, each, "so far") for at, each in past[:-1]]
    rows += [(told.as_of, share, "now")] + [(at, each, "ahead") for at, each in later[1:]]
    return [
        Week(
            at, next((one.store_name for one in way.spans if one.from_at <= at < one.until_at), here),
            band_words(round(100 * each[0]), round(100 * each[1]), round(100 * each[2])), when,
        )
        for at, each, when in rows
    ]  # fmt: skip


def _scale(canvas: Canvas, shown: Shown) -> None:
    for hundredth in (0, 25, 50, 75, 100):
        y = shown.y(hundredth / 100)
        ink = "quiet" if hundredth == 0 else "hair"
        canvas.add(path(f"M{number(LEFT)} {number(y)}H{number(canvas.width - RIGHT)}", ink=ink, width=1))
        canvas.add(text(LEFT - 6, y + 4, str(hundredth), ink="quiet", anchor="end", size=12))
    canvas.add(text(0, 14, "of 100 sticks fit to graft", ink="quiet", size=12.5))


def _too_warm(canvas: Canvas, shown: Shown, marks: Sequence[WayMark]) -> None:
    """Each spell as a hatched column with its word; where two stand close, the second word is left to the table."""
    last = -100.0
    for one in marks:
        if one.until_at is None:
            continue
        left = shown.x(one.at)
        wide = max(3.0, shown.x(one.until_at) - left)
        box = f"M{number(left)} {number(TOP)}h{number(wide)}V{number(STORES + STRIP)}h{number(-wide)}z"
        canvas.add(path(box, ink="stop", width=0.8, fill=canvas.hatch, more=' fill-opacity=".45"'))
        word = "frost" if one.what == "freezing" else "heat"
        if left - last > width_of(word, 12) + 6:
            canvas.add(text(left, TOP - 3, word, ink="stop", size=12))
            last = left


def _band(canvas: Canvas, shown: Shown) -> None:
    for moments, dashed in ((shown.past, False), (shown.ahead, True)):
        if len(moments) < 2:
            continue
        expected, low, high = (
            [f"{number(shown.x(at))} {number(shown.y(share[place]))}" for at, share in moments]
            for place in (0, 1, 2)
        )
        more = ' stroke-dasharray="5 4"' if dashed else ""
        filled = ' fill-opacity=".1"' if dashed else ' fill-opacity=".28"'
        canvas.add(path("M" + "L".join([*high, *reversed(low)]) + "z", width=0, fill="bud", more=filled))
        for edge in (low, high):
            canvas.add(path("M" + "L".join(edge), ink="bud", width=1, more=more))
        canvas.add(path("M" + "L".join(expected), ink="ink", width=2.4, more=more))


def _today(canvas: Canvas, shown: Shown, as_of: datetime) -> None:
    x = shown.x(as_of)
    canvas.add(path(f"M{number(x)} {number(TOP - 6)}V{number(STORES + STRIP)}", ink="ink", width=1.2))
    anchor = "end" if x > canvas.width / 2 else "start"
    shift = -4 if anchor == "end" else 4
    canvas.add(text(x + shift, FLOOR - 6, "today", size=13, bold=True, anchor=anchor))


def _have_room(shown: Shown, way: WayRead) -> bool:
    """Whether every store's name stands whole in its part of the strip."""
    named = [one for one in way.spans if one.store_name]
    return all(
        width_of(one.store_name, 12.5) <= shown.x(one.until_at) - shown.x(one.from_at) - 8 for one in named
    )


def _stores(canvas: Canvas, shown: Shown, way: WayRead, names: Sequence[str]) -> None:
    """A strip of stores: filled where it lay in one, open where in none. Where a name has no room all are numbers, told below."""
    last = -100.0
    for one in way.spans:
        left, right = shown.x(one.from_at), shown.x(one.until_at)
        wide = max(1.0, right - left)
        box = f"M{number(left)} {number(STORES)}h{number(wide)}v{number(STRIP)}h{number(-wide)}z"
        if not one.store_name:
            canvas.add(path(box, ink="quiet", width=1, more=' stroke-dasharray="2 3"'))
            continue
        canvas.add(
            f"<g><title>{safe(one.store_name)}</title>",
            path(box, ink="water", width=1.4, fill="card"),
            "</g>",
        )
        if not names:
            canvas.add(text(left + 5, STORES + 17, one.store_name, size=12.5))
            continue
        # In a part too thin for its number it stands under it.
        y = STORES + (17 if wide >= 14 else STRIP + 13)
        if left + wide / 2 - last >= 9 or wide >= 14:
            canvas.add(
                text(left + wide / 2, y, str(names.index(one.store_name) + 1), size=12.5, anchor="middle")
            )
            last = left + wide / 2
    for place, name in enumerate(names[:MOST_NAMES]):
        words = f"{place + 1} {name}"
        if place == MOST_NAMES - 1 and len(names) > MOST_NAMES:
            words = f"{words}; {len(names) - MOST_NAMES} more in the table"
        canvas.add(text(LEFT, HEIGHT + LINE * place + 8, words, size=13, room=canvas.width - LEFT - RIGHT))


def _time(canvas: Canvas, shown: Shown) -> None:
    last = -100.0
    for x, word in shown.ruler.ticks():
        if x - last >= 36 and x <= canvas.width - 24:
            canvas.add(path(f"M{number(x)} {number(STORES + STRIP)}v6", ink="quiet", width=1))
            canvas.add(text(x + 2, STORES + STRIP + 26, word, ink="quiet", size=12.5))
            last = x


def described(told: KeepingRead, way: WayRead, ruler: Ruler) -> str:
    """The picture in words."""
    lay = "; ".join(
        f"{one.store_name or 'in no store'} from {ruler.day(one.from_at, year=True)} to {ruler.day(one.until_at, year=True)}"
        for one in way.spans[:20]
    )
    marks = " ".join(f"{ruler.day(one.at, year=True)}: {one.words}" for one in way.marks[:20])
    return f"{told.share_words} {told.keeps_words} It lay: {lay}. {marks}".strip()
