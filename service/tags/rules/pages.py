"""Whole pages of labels, with a rule to check the scale and a line that says what the sheet is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.tags.rules.addresses import tag_address
from service.tags.rules.fitting import tidy
from service.tags.rules.labels import Label, LabelWords
from service.tags.rules.layout import (
    Face,
    LineMark,
    Mark,
    MeasureFace,
    TextMark,
    check_label_size,
    compose_label,
)
from service.tags.rules.sheets import CHECK_RULE_MM, CHECK_RULE_ROOM_MM, PrintChoice, count_pages, plan_places

_TICK_MM = 2.0
_FOOT_PT = 6.5


@dataclass(frozen=True)
class PrintedPage:
    w_mm: float
    h_mm: float
    marks: tuple[Mark, ...]


def compose_pages(
    labels: Sequence[Label], choice: PrintChoice, *, host: str, club: str, said: str, measure: MeasureFace
) -> list[PrintedPage]:
    """Every page of a batch; `said` stands in the margin so that sheets can be told apart."""
    sheet = choice.sheet
    check_label_size(sheet.face_w_mm, sheet.label_h_mm)
    pages = count_pages(choice, len(labels))
    marks: list[list[Mark]] = [
        _margin(choice, f"{said} · sheet {n + 1} of {pages}", measure) for n in range(pages)
    ]
    tidied = [_tidied(label) for label in labels for _ in range(choice.copies)]
    club = tidy(club)
    for label, place in zip(tidied, plan_places(choice, len(labels)), strict=True):
        marks[place.page].extend(
            compose_label(
                label, place.box, tag_address(host, label.code), club, measure, tail_mm=sheet.tail_mm
            )
        )
    return [PrintedPage(sheet.page_w_mm, sheet.page_h_mm, tuple(m)) for m in marks]


def _margin(choice: PrintChoice, said: str, measure: MeasureFace) -> list[Mark]:
    """A rule of 100 mm under the labels: where it measures otherwise, the printer has changed the scale."""
    sheet = choice.sheet
    if sheet.bottom_margin_mm < CHECK_RULE_ROOM_MM or sheet.page_w_mm < CHECK_RULE_MM + 20:
        return []
    x1 = (sheet.page_w_mm - CHECK_RULE_MM) / 2
    x2 = x1 + CHECK_RULE_MM
    y = sheet.page_h_mm - sheet.bottom_margin_mm / 2 - 1.5
    words = (
        f"This line is {CHECK_RULE_MM:g} mm long. If it is not, print at 100 % (actual size). {tidy(said)}"
    )
    size = _FOOT_PT
    while measure(words, Face.PLAIN) * size * 25.4 / 72 > sheet.page_w_mm - 30 and size > 3:
        size -= 0.5
    return [
        LineMark(x1, y, x2, y, 0.2),
        LineMark(x1, y - _TICK_MM / 2, x1, y + _TICK_MM / 2, 0.2),
        LineMark(x2, y - _TICK_MM / 2, x2, y + _TICK_MM / 2, 0.2),
        TextMark(10, y + 3.6, sheet.page_w_mm - 20, words, size, Face.PLAIN, "centre"),
    ]


def _tidied(label: Label) -> Label:
    words = label.words
    clean = LabelWords(
        tidy(words.heading), tidy(words.name), tidy(words.second), tidy(words.lead), tidy(words.large),
        tuple(tidy(d) for d in words.details), tidy(words.rights), tuple(tidy(p) for p in words.pencil),
    )  # fmt: skip
    return Label(label.code, clean, label.placement)
