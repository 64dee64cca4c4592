"""Composed pages as a PDF: fonts embedded, text shaped, every symbol one filled path, the same bytes each time."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from service.lib.qr import outlines
from service.tags.rules.layout import Face, LineMark, Mark, MeasureFace, SymbolMark, TextMark
from service.tags.rules.pages import PrintedPage

if TYPE_CHECKING:
    from fpdf import FPDF

FONTS = Path(__file__).resolve().parents[1] / "fonts"
FONT_FILES = {
    Face.PLAIN: "DejaVuSansCondensed.ttf",
    Face.BOLD: "DejaVuSansCondensed-Bold.ttf",
    Face.CODE: "DejaVuSansMono-Bold.ttf",
}
MISSING = "□"
_REFERENCE_PT = 100.0
_ALIGN = {"left": "L", "centre": "C", "right": "R"}
# Scripts whose letters stand side by side as they come: set without shaping, at a third of the cost and size.
_PLAIN = re.compile(
    "[\u0020-\u02ff\u0370-\u0482\u048a-\u052f\u1e00-\u1fff\u2010-\u2027\u2030-\u205e\u20a0-\u21ff\u25a1]*"
)
Compose = Callable[[MeasureFace], Sequence[PrintedPage]]


def draw_pdf(compose: Compose, *, made_at: datetime, title: str) -> bytes:
    """The pages that `compose` plans with this paper's own measure of text."""
    with paper(made_at, title) as pdf:
        measure = measure_on(pdf)
        for page in compose(measure):
            pdf.add_page(format=(page.w_mm, page.h_mm))
            for mark in page.marks:
                _draw(pdf, mark, page.h_mm, measure)
        return bytes(pdf.output())


@contextmanager
def paper(made_at: datetime, title: str) -> Iterator[FPDF]:
    """An empty document with its fonts, whose files are closed again afterwards."""
    from fpdf.fonts import TTFFont

    pdf = _new_pdf(made_at, title)
    try:
        yield pdf
    finally:
        for font in pdf.fonts.values():
            if isinstance(font, TTFFont):
                font.close()


def _new_pdf(made_at: datetime, title: str) -> FPDF:
    # Imported here: printing is rare, and the import costs more than all other work of a request.
    from fpdf import FPDF

    pdf = FPDF(unit="mm")
    pdf.set_creation_date(made_at)
    pdf.set_title(title)
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.c_margin = 0
    for face, file in FONT_FILES.items():
        pdf.add_font(face, fname=FONTS / file)
    pdf.set_text_shaping(True)
    return pdf


def measure_on(pdf: FPDF) -> MeasureFace:
    """Widths as this document will set them, shaped and kerned."""

    @lru_cache(maxsize=65536)
    def measure(text: str, face: Face) -> float:
        pdf.set_font(face, size=_REFERENCE_PT)
        shown = covered(text, face)
        pdf.set_text_shaping(_needs_shaping(shown))
        return float(pdf.get_string_width(shown)) * 72 / 25.4 / _REFERENCE_PT

    return measure


@lru_cache(maxsize=4)
def _signs_of(face: Face) -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(FONTS / FONT_FILES[face], lazy=True) as font:
        return frozenset(font.getBestCmap())


def covered(text: str, face: Face) -> str:
    """The text with a visible mark for every sign that the face does not have."""
    have = _signs_of(face)
    return "".join(sign if ord(sign) in have else MISSING for sign in text)


def _needs_shaping(text: str) -> bool:
    return not _PLAIN.fullmatch(text)


def _draw(pdf: FPDF, mark: Mark, page_h_mm: float, measure: MeasureFace) -> None:
    if isinstance(mark, TextMark):
        _draw_text(pdf, mark, measure)
    elif isinstance(mark, LineMark):
        pdf.set_line_width(mark.width_mm)
        pdf.line(mark.x1_mm, mark.y1_mm, mark.x2_mm, mark.y2_mm)
    else:
        # The public way to draw a path costs ten times as much; tests decode every symbol drawn this way.
        pdf._out(_symbol_operators(mark, page_h_mm, pdf.k))  # noqa: SLF001


def _draw_text(pdf: FPDF, mark: TextMark, measure: MeasureFace) -> None:
    text = covered(mark.text, mark.face)
    size_mm = mark.size_pt * 25.4 / 72
    if _needs_shaping(text):
        pdf.set_font(mark.face, size=mark.size_pt)
        pdf.set_text_shaping(True, direction="rtl" if mark.right_to_left else "ltr")
        # A cell of the type's own height sets its baseline at 0.8 of it.
        pdf.set_xy(mark.x_mm, mark.baseline_mm - 0.8 * size_mm)
        pdf.cell(mark.w_mm, size_mm, text, align=_ALIGN[mark.align])
        return
    spare = mark.w_mm - measure(mark.text, mark.face) * size_mm
    pdf.set_font(mark.face, size=mark.size_pt)
    pdf.set_text_shaping(False)
    pdf.text(
        mark.x_mm + spare * {"left": 0.0, "centre": 0.5, "right": 1.0}[mark.align], mark.baseline_mm, text
    )


def _symbol_operators(mark: SymbolMark, page_h_mm: float, k: float) -> str:
    """One path for the whole symbol: separate squares leave hairlines that decoders stumble over."""
    step = mark.module_mm * k
    x, y = mark.x_mm * k, (page_h_mm - mark.y_mm) * k
    return f"q 0 g {step:.5f} 0 0 {-step:.5f} {x:.3f} {y:.3f} cm {_path(mark.payload)} f Q"


@lru_cache(maxsize=4096)
def _path(payload: str) -> str:
    """The symbol's outlines in modules, downwards from its corner."""
    parts = []
    for outline in outlines(payload):
        first, *rest = (f"{x} {y}" for x, y in outline)
        parts.append(f"{first} m {' l '.join(rest)} l h")
    return " ".join(parts)
