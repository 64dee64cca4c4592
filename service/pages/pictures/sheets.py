"""Sheets of labels as pictures: how the labels lie on a page, and a page as it will be printed."""

from __future__ import annotations

from html import escape

from markupsafe import Markup

from service.lib.qr import outlines
from service.tags.rules.layout import Face, LineMark, Mark, SymbolMark, TextMark
from service.tags.rules.pages import PrintedPage
from service.tags.rules.sheets import Sheet

_FACES = {
    Face.PLAIN: 'font-family="DejaVu Sans Condensed, DejaVu Sans, Arial Narrow, sans-serif"',
    Face.BOLD: 'font-family="DejaVu Sans Condensed, DejaVu Sans, Arial Narrow, sans-serif" font-weight="700"',
    Face.CODE: 'font-family="DejaVu Sans Mono, ui-monospace, monospace" font-weight="700"',
}
_ANCHOR = {"left": "start", "centre": "middle", "right": "end"}
_MM_PER_PT = 25.4 / 72


def geometry(sheet: Sheet) -> Markup:
    """Where the labels lie on their page, to scale."""
    boxes = [sheet.box(place) for place in range(sheet.labels)]
    drawn = [
        f'<rect class="label" x="{b.x_mm:g}" y="{b.y_mm:g}" width="{b.w_mm:g}" height="{b.h_mm:g}"/>'
        for b in boxes
    ]
    if sheet.tail_mm:
        drawn += [
            f'<path class="fold" d="M{b.x_mm + sheet.face_w_mm:g} {b.y_mm:g}v{b.h_mm:g}"/>' for b in boxes
        ]
    words = escape(
        f"{sheet.title}: how its {sheet.labels} {'label lies' if sheet.is_roll else 'labels lie'} on the page, to scale"
    )
    return Markup(  # noqa: S704 - made of numbers and an escaped title alone
        f'<svg class="geometry" role="img" aria-label="{words}" viewBox="0 0 {sheet.page_w_mm:g} {sheet.page_h_mm:g}">'
        f'<rect class="page" width="{sheet.page_w_mm:g}" height="{sheet.page_h_mm:g}"/>{"".join(drawn)}</svg>'
    )


def preview(page: PrintedPage) -> str:
    """A printed page as an SVG document; words are squeezed to the width they will have on paper."""
    drawn = "".join(_mark(mark) for mark in page.marks)
    size = f'viewBox="0 0 {page.w_mm:g} {page.h_mm:g}" width="{page.w_mm:g}mm" height="{page.h_mm:g}mm"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><rect width="100%" height="100%" fill="#fff"/>{drawn}</svg>'


def _mark(mark: Mark) -> str:
    if isinstance(mark, SymbolMark):
        return _symbol(mark)
    if isinstance(mark, LineMark):
        ends = f'x1="{mark.x1_mm:.2f}" y1="{mark.y1_mm:.2f}" x2="{mark.x2_mm:.2f}" y2="{mark.y2_mm:.2f}"'
        return f'<line {ends} stroke="#000" stroke-width="{mark.width_mm:g}"/>'
    return _text(mark)


def _text(mark: TextMark) -> str:
    share = {"left": 0.0, "centre": 0.5, "right": 1.0}[mark.align]
    x, size = mark.x_mm + share * mark.w_mm, mark.size_pt * _MM_PER_PT
    anchor = _ANCHOR[mark.align]
    direction = ""
    if mark.right_to_left:  # the start of such a line is its right end
        anchor, direction = {"start": "end", "end": "start"}.get(anchor, anchor), ' direction="rtl"'
    return (
        f'<text x="{x:.2f}" y="{mark.baseline_mm:.2f}" font-size="{size:.2f}" text-anchor="{anchor}"{direction} {_FACES[mark.face]}>'
        f"{escape(mark.text)}</text>"
    )


def _symbol(mark: SymbolMark) -> str:
    path = "".join("M" + "L".join(f"{x} {y}" for x, y in outline) + "Z" for outline in outlines(mark.payload))
    return (
        f'<path transform="translate({mark.x_mm:.3f} {mark.y_mm:.3f}) scale({mark.module_mm:g})" d="{path}"/>'
    )
