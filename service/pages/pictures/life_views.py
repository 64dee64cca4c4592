"""The life line in its three sizes: small for a row, middle for a bundle's page, large for a whole store."""

from __future__ import annotations

from collections.abc import Sequence

from service.pages.pictures.drawing import Canvas, number, path, text
from service.pages.pictures.life import ROW, Ruler, labels, line_of_life, ruler_for
from service.pages.pictures.model import Life

SMALL_WIDTH, SMALL_HEIGHT = 400.0, 32.0  # shown 300 wide and 24 high
END_ROOM = 104.0  # right of the line: how many sticks there are, and the words of the last marks
LABEL_ROWS_WIDE, LABEL_ROWS_NARROW = 4, 7


def described(life: Life, zone: str = "UTC") -> str:
    """The picture in words."""
    if not life.happenings:
        return "Nothing is recorded yet."
    ruler = ruler_for([life], 100, zone=zone)
    told = "; ".join(
        f"{ruler.day(each.at, year=True)}: {each.words or each.mark.value}" for each in life.happenings[:30]
    )
    more = len(life.happenings) - 30
    state = ". Stopped" if life.stopped else ""
    return (
        told
        + (f"; and {more} more" if more > 0 else "")
        + (f". {life.end_words}" if life.end_words else "")
        + state
    )


def small(life: Life, name: str, *, ruler: Ruler | None = None, most: int = 0) -> str:
    """One row of a list, without words. Rows of one list share a ruler and the most sticks."""
    canvas = Canvas(name, SMALL_WIDTH, SMALL_HEIGHT)
    line_of_life(canvas, life, ruler or ruler_for([life], SMALL_WIDTH), 16, thickest=8, most=most)
    return canvas.svg(f"Life line of {life.name}", described(life))


def middle(life: Life, name: str, *, width: float = 720, zone: str = "UTC") -> str:
    """For a bundle's page: the line, its time, and the words of its marks."""
    canvas = Canvas(name, width)
    ruler = ruler_for([life], width, zone=zone, right=END_ROOM)
    y = 54.0 if life.expected else 34.0
    rows = LABEL_ROWS_WIDE if width >= 600 else LABEL_ROWS_NARROW
    drawn, used, left_out = labels(life, ruler, width, rows)
    floor = y + 50
    canvas.add(f'<g transform="translate(0 {number(floor)})">', *drawn, "</g>")
    line_of_life(canvas, life, ruler, y)
    canvas.add(
        text(
            ruler.x(life.until) + 18,
            y + 5,
            life.end_words,
            bold=True,
            size=14,
            ink="stop" if life.stopped else "ink",
        )
    )
    _time(canvas, ruler, y + 34, width)
    canvas.height = floor + used * ROW + 4
    if left_out:
        canvas.height += 18
        canvas.add(
            text(0, canvas.height - 6, f"and {left_out} more, told in the record", ink="quiet", size=13)
        )
    return canvas.svg(f"Life line of {life.name}", described(life, zone))


def _time(canvas: Canvas, ruler: Ruler, y: float, width: float) -> None:
    canvas.add(path(f"M{number(ruler.left)} {number(y - 11)}H{number(ruler.right)}", ink="hair", width=1))
    last = ruler.left - 12
    for x, word in ruler.ticks():
        if x - last >= 34 and x <= width - 26:
            canvas.add(
                path(f"M{number(x)} {number(y - 14)}v6", ink="quiet", width=1),
                text(x + 3, y + 2, word, ink="quiet", size=12.5),
            )
            last = x


def large(
    lives: Sequence[Life], name: str, *, width: float = 960, zone: str = "UTC", title: str = "Life lines"
) -> str:
    """Many lines under each other on one scale, in the order given: what must be used first stands first."""
    narrow = width < 600
    left = LEFT_NARROW if narrow else LEFT_WIDE
    row = 58.0 if narrow else 40.0
    canvas = Canvas(name, width)
    ruler = ruler_for(lives, width, zone=zone, left=left, right=18 if narrow else 110) if lives else None
    most = max((count.sticks for life in lives for count in life.counts), default=1)
    if ruler is not None:
        for x, word in ruler.ticks():
            canvas.add(
                path(f"M{number(x)} 20V{number(24 + row * len(lives))}", ink="hair", width=1),
                text(x, 14, word, ink="quiet", size=12.5, anchor="middle"),
            )
        for place, life in enumerate(lives):
            _row_of_many(canvas, life, ruler, 24 + row * place, row=row, most=most, narrow=narrow)
    canvas.height = 30 + row * len(lives)
    told = "; ".join(f"{life.name}: {life.end_words or 'recorded'}" for life in lives[:40])
    return canvas.svg(f"{title}, {len(lives)} under each other", told or "Nothing is in store.")


LEFT_WIDE, LEFT_NARROW = 232.0, 12.0


def _row_of_many(
    canvas: Canvas, life: Life, ruler: Ruler, top: float, *, row: float, most: int, narrow: bool
) -> None:
    canvas.add(path(f"M0 {number(top + row)}H{number(canvas.width)}", ink="hair", width=0.7))
    if narrow:
        canvas.add(text(0, top + 16, life.name, size=13.5, bold=True, room=canvas.width * 0.66))
        canvas.add(
            text(
                canvas.width,
                top + 16,
                life.end_words,
                size=12.5,
                anchor="end",
                ink="stop" if life.stopped else "quiet",
                room=canvas.width * 0.32,
            )
        )
    else:
        canvas.add(text(0, top + 24, life.name, size=14, bold=True, room=LEFT_WIDE - 24))
        canvas.add(
            text(
                canvas.width,
                top + 24,
                life.end_words,
                size=13,
                anchor="end",
                ink="stop" if life.stopped else "quiet",
                room=92,
            )
        )
    line_of_life(canvas, life, ruler, top + (38 if narrow else 19), thickest=8, most=most)
