"""Label sheets in millimetres: where each label lies on its page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

from service.lib.errors import Unusable

NUDGE_LIMIT_MM = 5.0
CHECK_RULE_MM = 100.0
CHECK_RULE_ROOM_MM = 10.0
_TOLERANCE_MM = 0.05


class SheetDoesNotFit(Unusable):
    title = "The labels do not fit their page"
    todo = "Measure the sheet again and correct its numbers, or nudge less."


class NoSuchSheet(Unusable):
    title = "There is no such sheet of labels"
    todo = "Choose one of the sheets that are listed."


class NoSuchLabel(Unusable):
    title = "The sheet has no such label"
    todo = "Count the labels from 1 at the top left, row by row."


@dataclass(frozen=True)
class Box:
    """A rectangle on a page, from the page's top left corner."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float


@dataclass(frozen=True)
class Sheet:
    """A page of equal labels in columns and rows."""

    name: str
    title: str
    page_w_mm: float
    page_h_mm: float
    columns: int
    rows: int
    label_w_mm: float
    label_h_mm: float
    top_mm: float
    left_mm: float
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    tail_mm: float = (
        0.0  # of a flag: its blank right end, which goes around a stick and is stuck to the back of the rest
    )

    @property
    def is_roll(self) -> bool:
        """One label is a page: the printer finds where the next begins."""
        return self.labels == 1

    @property
    def face_w_mm(self) -> float:
        """As much of a label's width as is printed on."""
        return self.label_w_mm - self.tail_mm

    @property
    def labels(self) -> int:
        return self.columns * self.rows

    @property
    def bottom_margin_mm(self) -> float:
        return self.page_h_mm - self.top_mm - self.rows * self.label_h_mm - (self.rows - 1) * self.gap_y_mm

    def box(self, place: int) -> Box:
        """The label at a place counted from 0, row by row."""
        row, column = divmod(place, self.columns)
        x = self.left_mm + column * (self.label_w_mm + self.gap_x_mm)
        y = self.top_mm + row * (self.label_h_mm + self.gap_y_mm)
        return Box(round(x, 4), round(y, 4), self.label_w_mm, self.label_h_mm)


MEASURES = tuple(field.name for field in fields(Sheet) if field.name != "name")  # and its title
_A4, _LETTER = (210.0, 297.0), (215.9, 279.4)


def _roll(name: str, w_mm: float, h_mm: float, tail_mm: float = 0.0) -> Sheet:
    kind = (
        f"Flags of {w_mm:g} × {h_mm:g} mm on a roll, {tail_mm:g} mm of it to wrap"
        if tail_mm
        else f"Roll, labels of {w_mm:g} × {h_mm:g} mm"
    )
    return Sheet(name, kind, w_mm, h_mm, 1, 1, w_mm, h_mm, 0.0, 0.0, tail_mm=tail_mm)


# Sizes of the first two as seen on template pages for label sheets; all others from memory. There is no standard for them.
SHEETS: dict[str, Sheet] = {
    s.name: s
    for s in (
        Sheet("a4-3x7", "A4, 21 labels of 63.5 × 38.1 mm", *_A4, 3, 7, 63.5, 38.1, 15.15, 7.2, 2.5),
        Sheet("letter-3x10", "Letter, 30 labels of 66.7 × 25.4 mm (2⅝ × 1 in)", *_LETTER, 3, 10, 66.675, 25.4, 12.7, 4.76, 3.175),
        Sheet("a4-2x7", "A4, 14 labels of 99.1 × 38.1 mm", *_A4, 2, 7, 99.1, 38.1, 15.15, 4.65, 2.5),
        Sheet("a4-4x10", "A4, 40 labels of 48.5 × 25.4 mm", *_A4, 4, 10, 48.5, 25.4, 21.5, 8.0),
        _roll("roll-76x25", 76.0, 25.0),
        _roll("roll-57x32", 57.0, 32.0),
        _roll("roll-50x25", 50.0, 25.0),
        _roll("flag-100x25", 100.0, 25.0, 36.0),
    )
}  # fmt: skip


def get_sheet(name: str) -> Sheet:
    """The sheet of this name. Raises `NoSuchSheet`."""
    if name not in SHEETS:
        raise NoSuchSheet(f"There is no sheet called “{name[:40]}”.", field="sheet", sheets=sorted(SHEETS))
    return SHEETS[name]


@dataclass(frozen=True)
class Place:
    """Which page, and where on it, one label goes."""

    page: int
    box: Box


@dataclass(frozen=True)
class PrintChoice:
    """How a person wants a sheet printed."""

    sheet: Sheet
    first_label: int = 1
    copies: int = 1
    nudge_x_mm: float = 0.0
    nudge_y_mm: float = 0.0


def check_sheet(sheet: Sheet) -> None:
    """The labels must lie on the page and not on each other."""
    right = sheet.left_mm + sheet.columns * sheet.label_w_mm + (sheet.columns - 1) * sheet.gap_x_mm
    bottom = sheet.page_h_mm - sheet.bottom_margin_mm
    least = min(sheet.columns, sheet.rows, sheet.face_w_mm, sheet.label_h_mm)
    if least <= 0 or min(sheet.left_mm, sheet.top_mm, sheet.gap_x_mm, sheet.gap_y_mm, sheet.tail_mm) < 0:
        raise SheetDoesNotFit(
            f"{sheet.title}: sizes must be above nothing, and labels may not overlap.", sheet=sheet.name
        )
    if right > sheet.page_w_mm + _TOLERANCE_MM or bottom > sheet.page_h_mm + _TOLERANCE_MM:
        raise SheetDoesNotFit(
            f"{sheet.title}: the labels end at {right:.1f} × {bottom:.1f} mm, the page at {sheet.page_w_mm} × {sheet.page_h_mm} mm.",
            sheet=sheet.name, right_mm=round(right, 2), bottom_mm=round(bottom, 2),
        )  # fmt: skip


def check_choice(choice: PrintChoice) -> None:
    """What a person chose must be possible on this sheet."""
    check_sheet(choice.sheet)
    if not 1 <= choice.first_label <= choice.sheet.labels:
        raise NoSuchLabel(
            f"The first free label is given as {choice.first_label}; this sheet has labels 1 to {choice.sheet.labels}.",
            field="first_label", labels=choice.sheet.labels,
        )  # fmt: skip
    for field, nudge in (("nudge_x_mm", choice.nudge_x_mm), ("nudge_y_mm", choice.nudge_y_mm)):
        if abs(nudge) > NUDGE_LIMIT_MM:
            raise SheetDoesNotFit(
                f"A nudge goes up to {NUDGE_LIMIT_MM:g} mm either way; {nudge:g} mm was asked.", field=field
            )


def plan_places(choice: PrintChoice, labels: int) -> Iterator[Place]:
    """A place for each copy of each label, copies side by side, the first sheet begun at the first free label."""
    check_choice(choice)
    sheet = choice.sheet
    for n in range(choice.first_label - 1, choice.first_label - 1 + labels * choice.copies):
        page, place = divmod(n, sheet.labels)
        box = sheet.box(place)
        yield Place(page, Box(box.x_mm + choice.nudge_x_mm, box.y_mm + choice.nudge_y_mm, box.w_mm, box.h_mm))


def count_pages(choice: PrintChoice, labels: int) -> int:
    taken = choice.first_label - 1 + labels * choice.copies
    return -(-taken // choice.sheet.labels) if labels else 0
