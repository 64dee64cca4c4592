"""Composed pages as a PDF: fonts embedded, text shaped, every symbol one filled path, the same bytes each time."""

from __future__ import annotations

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
Compose = Callable[[MeasureFace], Sequence[PrintedPage]]


def draw_pdf(compose: Compose, *, made_at: datetime, title: str) -> bytes:
    """The pages that `compose` plans with this paper's own measure of text."""
    with paper(made_at, title) as pdf:
        for page in compose(measure_on(pdf)):
            pdf.add_page(format=(page.w_mm, page.h_mm))
            for mark in page.marks:
                _draw(pdf, mark, page.h_mm)
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
        return float(pdf.get_string_width(covered(text, face))) * 72 / 25.4 / _REFERENCE_PT

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


def _draw(pdf: FPDF, mark: Mark, page_h_mm: float) -> None:
    if isinstance(mark, TextMark):
        size_mm = mark.size_pt * 25.4 / 72
        pdf.set_font(mark.face, size=mark.size_pt)
        pdf.set_text_shaping(True, direction="rtl" if mark.right_to_left else "ltr")
        # A cell of the type's own height sets its baseline at 0.8 of it.
        pdf.set_xy(mark.x_mm, mark.baseline_mm - 0.8 * size_mm)
        pdf.cell(mark.w_mm, size_mm, covered(mark.text, mark.face), align=_ALIGN[mark.align])
    elif isinstance(mark, LineMark):
        pdf.set_line_width(mark.width_mm)
        pdf.line(mark.x1_mm, mark.y1_mm, mark.x2_mm, mark.y2_mm)
    else:
        # The public way to draw a path costs ten times as much; tests decode every symbol drawn this way.
        pdf._out(_symbol_operators(mark, page_h_mm, pdf.k))  # noqa: SLF001


def _symbol_operators(mark: SymbolMark, page_h_mm: float, k: float) -> str:
    """One path for the whole symbol: separate squares leave hairlines that decoders stumble over."""
    step = mark.module_mm * k
    x0, y0 = mark.x_mm * k, (page_h_mm - mark.y_mm) * k
    parts = ["q 0 g"]
    for outline in outlines(mark.payload):
        corners = [f"{x0 + x * step:.3f} {y0 - y * step:.3f}" for x, y in outline]
        parts.append(f"{corners[0]} m {' l '.join(corners[1:])} l h")
    parts.append("f Q")
    return " ".join(parts)
