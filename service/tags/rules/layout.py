"""Where every mark of a label stands: words fitted to their boxes, the symbol on whole modules, in millimetres.

Two arrangements serve all sizes. A tall label stacks the code in two groups under the symbol; a low one sets it
in one line under the facts. The symbol always stands at the right, clear of the words, on its full quiet zone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from service.lib.codes import GROUP, group_code
from service.lib.qr import MODULES, QUIET_ZONE
from service.tags.rules.fitting import (
    LEADING,
    MM_PER_PT,
    Fitted,
    fit_text,
    line_height_mm,
    runs_right_to_left,
)
from service.tags.rules.labels import SCAN_WORDS, Label, LabelWords
from service.tags.rules.sheets import Box, SheetDoesNotFit
from service.tags.rules.words import Placement

MODULE_MM = 0.5
SYMBOL_MM = MODULES * MODULE_MM
SYMBOL_WITH_QUIET_MM = (MODULES + 2 * QUIET_ZONE) * MODULE_MM
EDGE_MM = 1.0
PADDING_MM = 2.5
_BETWEEN_MM = 1.2
_TALL_FROM_MM = 34.0
_LOW_FROM_MM = 24.0
_LEAST_WORDS_MM = 24.0
_WIDE_WORDS_MM = 35.5  # from here on the low arrangement serves, and a pencil has room
_FOLD_TICK_MM = 1.5
_BASELINE = (
    0.93  # of the type size, from the top of its line: the height of the faces' tallest common accents
)


class Face(StrEnum):
    """The three faces of a label."""

    PLAIN = "plain"
    BOLD = "bold"
    CODE = "code"


@dataclass(frozen=True)
class TextMark:
    """One line of text on its baseline; aligned within `w_mm` from `x_mm`."""

    x_mm: float
    baseline_mm: float
    w_mm: float
    text: str
    size_pt: float
    face: Face
    align: str = "left"  # left, centre, right
    right_to_left: bool = False


@dataclass(frozen=True)
class SymbolMark:
    """A QR symbol, its dark modules beginning at this corner."""

    x_mm: float
    y_mm: float
    module_mm: float
    payload: str


@dataclass(frozen=True)
class LineMark:
    """A straight line."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    width_mm: float


Mark = TextMark | SymbolMark | LineMark
MeasureFace = Callable[[str, Face], float]  # width of a text in a face at a size of one


@dataclass(frozen=True)
class _Slot:
    """A box for words, and how large they may stand in it."""

    y_mm: float
    h_mm: float
    largest_pt: float
    smallest_pt: float
    face: Face = Face.PLAIN
    most_lines: int = 1


def check_label_size(w_mm: float, h_mm: float) -> None:
    """The label must have room for the symbol, the code and readable words."""
    if _words_room(w_mm) < _LEAST_WORDS_MM or h_mm < _LOW_FROM_MM:
        raise SheetDoesNotFit(
            f"A label of {w_mm:g} × {h_mm:g} mm has no room for the code and its words; at least "
            f"{SYMBOL_WITH_QUIET_MM + EDGE_MM + PADDING_MM + _BETWEEN_MM + _LEAST_WORDS_MM:g} × {_LOW_FROM_MM:g} mm is needed.",
        )


def has_pencil_room(w_mm: float, h_mm: float) -> bool:
    """Whether a blank can be written on by pencil."""
    return _words_room(w_mm) >= _WIDE_WORDS_MM and h_mm >= _LOW_FROM_MM


def check_pencil_room(w_mm: float, h_mm: float) -> None:
    """The same. Raises `SheetDoesNotFit`."""
    check_label_size(w_mm, h_mm)
    if not has_pencil_room(w_mm, h_mm):
        raise SheetDoesNotFit(
            f"On a label of {w_mm:g} mm a pencil has no room; blank tags need {w_mm - _words_room(w_mm) + _WIDE_WORDS_MM:g} mm at least.",
            todo="Choose a wider label for blank tags.", field="sheet",
        )  # fmt: skip


def _words_room(w_mm: float) -> float:
    return w_mm - SYMBOL_WITH_QUIET_MM - EDGE_MM - PADDING_MM - _BETWEEN_MM


def compose_label(
    label: Label, box: Box, payload: str, club: str, measure: MeasureFace, *, tail_mm: float = 0.0
) -> list[Mark]:
    """All marks of one label in its box on the page; the tail of a flag stays blank but for ticks at its fold."""
    pen = _Pen(Box(box.x_mm, box.y_mm, box.w_mm - tail_mm, box.h_mm), measure)
    pen.symbol(payload)
    if box.h_mm >= _TALL_FROM_MM and pen.left_w >= _WIDE_WORDS_MM:
        _compose_tall(pen, label, club)
    elif pen.left_w >= _WIDE_WORDS_MM:
        _compose_low(pen, label, club)
    else:
        _compose_slim(pen, label, club)
    if tail_mm:
        pen.fold_ticks()
    return pen.marks


def _compose_slim(pen: _Pen, label: Label, club: str) -> None:
    """Half as much room for words: one thing a line, and the day and the code as large as the line allows."""
    words, h = label.words, pen.box.h_mm
    code_y = h - 7.4
    details_y = code_y - (2.9 if words.details else 0.0)
    day_y = details_y - (4.3 if words.large else 0.0)
    rights_y = day_y - (2.5 if words.rights else 0.0)
    second_h = 2.5 if words.second else 0.0
    heading = " · ".join(filter(None, (words.heading, _where(label))))
    pen.left(heading, _Slot(1.3, 2.7, 6.5, 4))
    fitted = pen.left(words.name, _Slot(4.0, rights_y - second_h - 4.0, 15, 5, Face.BOLD, 3))
    pen.left(words.second, _Slot(4.0 + fitted.height_mm, second_h, 6, 4))
    pen.left(words.rights, _Slot(rights_y, 2.5, 6, 3.5, Face.BOLD))
    pen.lead_and_large(words.lead, words.large, pen.left_x, pen.left_w, day_y, 10.5)
    pen.left(" · ".join(filter(None, words.details)), _Slot(details_y, 2.9, 7, 3.5, Face.BOLD))
    pen.left(group_code(label.code), _Slot(code_y + 0.2, 6.6, 15, 10, Face.CODE))
    pen.under_symbol(club)


def _compose_tall(pen: _Pen, label: Label, club: str) -> None:
    foot = pen.box.h_mm - 5.0
    if label.words.pencil:
        pen.pencil_lines(label.words.pencil, 1.0, foot - 2.2, fields_on_last=2)
    else:
        _tall_words(pen, label.words, foot)
    pen.cut_line(pen.left_x, foot, pen.left_w)
    pen.left(_foot(club), _Slot(foot + 0.6, 2.9, 6.5, 4))
    groups = [label.code[i : i + GROUP] for i in range(0, len(label.code), GROUP)]
    y = EDGE_MM + SYMBOL_WITH_QUIET_MM
    for group in groups:
        pen.centred(group, y, 19.5, Face.CODE)
        y += 6.5
    pen.centred(_where(label), foot + 0.6, 6.5, Face.PLAIN)


def _tall_words(pen: _Pen, words: LabelWords, foot: float) -> None:
    second_h = 3.6 if words.second else 0.0
    large_h = 6.6 if words.large else 0.0
    rights_h = 3.4 if words.rights else 0.0
    details_h = 3.6 if words.details else 0.0
    name_y = 5.6
    name_h = foot - 0.8 - rights_h - details_h - large_h - second_h - name_y
    pen.left(words.heading, _Slot(2.0, 3.5, 8.5, 5.5))
    y = name_y + pen.left(words.name, _Slot(name_y, name_h, 23, 6.5, Face.BOLD, 5)).height_mm
    if words.second:
        pen.left(words.second, _Slot(y, second_h, 9, 5.5))
    y = foot - 0.8 - rights_h - details_h - large_h
    pen.lead_and_large(words.lead, words.large, pen.left_x, pen.left_w, y, 16)
    pen.left(" · ".join(words.details), _Slot(foot - 0.8 - rights_h - details_h, 3.6, 8.5, 5, Face.BOLD))
    pen.left(words.rights, _Slot(foot - 0.8 - rights_h, 3.4, 7.5, 4.5, Face.BOLD))


def _compose_low(pen: _Pen, label: Label, club: str) -> None:
    code_y = pen.box.h_mm - 8.4
    if label.words.pencil:
        pen.pencil_lines(label.words.pencil, 0.5, code_y - 0.8, fields_on_last=3)
    else:
        _low_words(pen, label.words, code_y)
    on_wood = _where(label)
    beside = 9.0 if on_wood else 0.0
    pen.within(group_code(label.code), pen.left_x, pen.left_w - beside, _Slot(code_y, 7.4, 19, 12, Face.CODE))
    pen.within(
        on_wood,
        pen.left_x + pen.left_w - beside + 0.8,
        beside - 0.8,
        _Slot(code_y + 0.9, 5, 6.5, 4, Face.BOLD, 2),
    )
    pen.under_symbol(club)


def _low_words(pen: _Pen, words: LabelWords, code_y: float) -> None:
    facts_h = 5.0
    facts_y = code_y - facts_h
    second_h = 3.0 if words.second else 0.0
    marked = (
        pen.at_right(words.rights, 1.5, 26.0, _Slot(1.5, 3.1, 7, 4.5, Face.BOLD)) if words.rights else 0.0
    )
    pen.within(words.heading, pen.left_x, pen.left_w - marked, _Slot(1.5, 3.1, 7.5, 4.5))
    name_y = 4.6
    if not words.large and not words.details:
        facts_y = code_y
    fitted = pen.left(words.name, _Slot(name_y, facts_y - second_h - name_y, 17, 5.5, Face.BOLD, 3))
    if words.second:
        pen.left(words.second, _Slot(name_y + fitted.height_mm, second_h, 7.5, 4.5))
    used = pen.lead_and_large(words.lead, words.large, pen.left_x, pen.left_w * 0.58, facts_y, 12.5)
    x = pen.left_x + (used + 1.8 if used else 0.0)
    pen.stack(words.details, x, pen.left_x + pen.left_w - x, facts_y + 0.2, facts_h)


def _foot(club: str) -> str:
    return " · ".join(filter(None, (club, SCAN_WORDS)))


def _where(label: Label) -> str:
    return "tag on the wood" if label.placement is Placement.WOOD else ""


class _Pen:
    """Sets words into one label and gathers the marks."""

    def __init__(self, box: Box, measure: MeasureFace) -> None:
        check_label_size(box.w_mm, box.h_mm)
        self.box = box
        self.measure = measure
        self.marks: list[Mark] = []
        self.left_x = PADDING_MM
        self.symbol_x = box.w_mm - EDGE_MM - SYMBOL_WITH_QUIET_MM
        self.left_w = self.symbol_x - _BETWEEN_MM - PADDING_MM

    def symbol(self, payload: str) -> None:
        quiet = QUIET_ZONE * MODULE_MM
        self.marks.append(
            SymbolMark(
                self.box.x_mm + self.symbol_x + quiet, self.box.y_mm + EDGE_MM + quiet, MODULE_MM, payload
            )
        )

    def cut_line(self, x: float, y: float, w: float) -> None:
        """The wood's line, with its slanting cut at the start."""
        x, y = self.box.x_mm + x, self.box.y_mm + y
        self.marks.append(LineMark(x + 0.6, y, x + w, y, 0.25))
        self.marks.append(LineMark(x, y + 0.3, x + 1.0, y - 0.8, 0.25))

    def pencil_lines(self, names: tuple[str, ...], top: float, bottom: float, *, fields_on_last: int) -> None:
        """Lines to write on, each with a small word at its start; the last line is shared by so many."""
        rows = [(name,) for name in names[:-fields_on_last]] + [names[-fields_on_last:]]
        each = (bottom - top) / len(rows)
        for n, row in enumerate(rows):
            y = top + (n + 1) * each
            w = (self.left_w - _BETWEEN_MM * (len(row) - 1)) / len(row)
            for m, name in enumerate(row):
                x = self.left_x + m * (w + _BETWEEN_MM)
                self.marks.append(
                    LineMark(
                        self.box.x_mm + x, self.box.y_mm + y, self.box.x_mm + x + w, self.box.y_mm + y, 0.2
                    )
                )
                self.within(name, x, w, _Slot(y - 2.6, 2.6, 6, 4))

    def left(self, text: str, slot: _Slot) -> Fitted:
        """Words in the wide column, as large as the slot allows."""
        return self._fit(text, self.left_x, self.left_w, slot)

    def within(self, text: str, x: float, w: float, slot: _Slot) -> Fitted:
        return self._fit(text, x, w, slot)

    def at_right(self, text: str, gap: float, most_w: float, slot: _Slot) -> float:
        """Words ending at the wide column's right edge; gives the width they and the gap before them use."""
        fitted = self._fitted(text, most_w, slot)
        for line in fitted.lines:
            self._line(
                line,
                self.left_x + self.left_w - most_w,
                slot.y_mm,
                most_w,
                fitted.size_pt,
                slot.face,
                "right",
            )
        return max(self.measure(line, slot.face) for line in fitted.lines) * fitted.size_pt * MM_PER_PT + gap

    def centred(self, text: str, y: float, size_pt: float, face: Face) -> None:
        """One line under the symbol, over its width."""
        w = SYMBOL_WITH_QUIET_MM - 0.6
        fitted = self._fitted(text, w, _Slot(y, 99, size_pt, 4, face))
        for line in fitted.lines:
            self._line(line, self.symbol_x + 0.3, y, w, fitted.size_pt, face, "centre")

    def under_symbol(self, club: str) -> None:
        y = (
            EDGE_MM + SYMBOL_WITH_QUIET_MM - 0.2
        )  # the first line's own room above its letters keeps the quiet zone
        for said in filter(None, (club, SCAN_WORDS)):
            self.centred(said, y, 5.5, Face.PLAIN)
            y += line_height_mm(5.2)

    def fold_ticks(self) -> None:
        """Two ticks at the edges of the face: the fold, a whole quiet zone and more away from the symbol."""
        x, top, bottom = (
            self.box.x_mm + self.box.w_mm,
            self.box.y_mm + 0.6,
            self.box.y_mm + self.box.h_mm - 0.6,
        )
        self.marks.append(LineMark(x, top, x, top + _FOLD_TICK_MM, 0.2))
        self.marks.append(LineMark(x, bottom - _FOLD_TICK_MM, x, bottom, 0.2))

    def stack(self, texts: tuple[str, ...], x: float, w: float, y: float, h: float) -> None:
        """Short facts, each on a line of its own in the room there is."""
        texts = tuple(filter(None, texts))
        if not texts:
            return
        if len(texts) == 1:
            self._fit(texts[0], x, w, _Slot(y + h * 0.16, h, 8.5, 4, Face.BOLD))
            return
        each = h / len(texts)
        slot = _Slot(y, each + 0.15, 7, 4, Face.BOLD)
        size = min(self._fitted(text, w, slot).size_pt for text in texts)
        for n, text in enumerate(texts):
            self._fit(text, x, w, _Slot(y + n * each, each + 0.15, size, 4, Face.BOLD))

    def lead_and_large(self, lead: str, large: str, x: float, w: float, y: float, largest_pt: float) -> float:
        """A small word and what follows it in large type on one baseline; gives the width used."""
        if not large:
            return 0.0
        size = largest_pt
        lead = f"{lead} " if lead else ""

        def width(size_pt: float) -> float:
            return (
                self.measure(lead, Face.PLAIN) * size_pt * 0.55 + self.measure(large, Face.BOLD) * size_pt
            ) * MM_PER_PT

        while size > 5 and width(size) > w:
            size -= 0.5
        lead_w = self.measure(lead, Face.PLAIN) * size * 0.55 * MM_PER_PT
        top = y + (largest_pt - size) * LEADING * MM_PER_PT / 2
        base = self.box.y_mm + top + size * _BASELINE * MM_PER_PT
        if lead:
            self.marks.append(
                TextMark(self.box.x_mm + x, base, lead_w + 0.5, lead.strip(), size * 0.55, Face.PLAIN)
            )
        self.marks.append(
            TextMark(self.box.x_mm + x + lead_w, base, width(size) - lead_w + 0.5, large, size, Face.BOLD)
        )
        return width(size)

    def _fit(self, text: str, x: float, w: float, slot: _Slot) -> Fitted:
        fitted = self._fitted(text, w, slot)
        for n, line in enumerate(fitted.lines):
            self._line(
                line,
                x,
                slot.y_mm + n * line_height_mm(fitted.size_pt),
                w,
                fitted.size_pt,
                slot.face,
                "",
                text,
            )
        return fitted

    def _fitted(self, text: str, w: float, slot: _Slot) -> Fitted:
        return fit_text(
            text, w, slot.h_mm, lambda part: self.measure(part, slot.face),
            largest_pt=slot.largest_pt, smallest_pt=slot.smallest_pt, most_lines=slot.most_lines,
        )  # fmt: skip

    def _line(
        self, line: str, x: float, y: float, w: float, size_pt: float, face: Face, align: str, whole: str = ""
    ) -> None:
        rtl = runs_right_to_left(whole or line)
        base = self.box.y_mm + y + size_pt * _BASELINE * MM_PER_PT
        align = align or ("right" if rtl else "left")
        self.marks.append(TextMark(self.box.x_mm + x, base, w, line, size_pt, face, align, rtl))
