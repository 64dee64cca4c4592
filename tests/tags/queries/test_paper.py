"""Label sheets measured on paper: rendered, decoded by an independent reader, and looked at for ink where none may be."""

from __future__ import annotations

import hashlib
import itertools
import os
import subprocess
import sys
import unicodedata
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from service.lib.codes import group_code
from service.tags.queries.paper import draw_pdf, measure_on, paper
from service.tags.rules.fitting import MM_PER_PT
from service.tags.rules.labels import SCAN_WORDS, Label, blank_label_words
from service.tags.rules.layout import (
    MODULE_MM,
    SYMBOL_MM,
    LineMark,
    Mark,
    MeasureFace,
    SymbolMark,
    TextMark,
    compose_label,
    has_pencil_room,
)
from service.tags.rules.pages import compose_pages
from service.tags.rules.sheets import SHEETS, Box, PrintChoice, Sheet, plan_places
from service.tags.rules.words import Placement
from tests.builders.tags import NAMES, make_codes, make_hard_labels, make_label, make_wood_name

HOST = "TAGS.MARSH-END.EXAMPLE"
CLUB = "Marsh End Grafters"
MADE_AT = datetime(2026, 2, 14, 10, 0, tzinfo=UTC)
PT = MM_PER_PT
CHOICES = [
    PrintChoice(SHEETS["a4-3x7"]),
    PrintChoice(SHEETS["a4-3x7"], first_label=5, nudge_x_mm=1.5, nudge_y_mm=-1.0),
    PrintChoice(SHEETS["letter-3x10"]),
    PrintChoice(SHEETS["letter-3x10"], first_label=29, copies=2, nudge_x_mm=-0.5),
    PrintChoice(SHEETS["a4-2x7"]),
    PrintChoice(SHEETS["a4-4x10"]),
    PrintChoice(SHEETS["roll-76x25"]),
    PrintChoice(SHEETS["roll-57x32"]),
    PrintChoice(SHEETS["roll-50x25"], nudge_y_mm=0.5),
    PrintChoice(SHEETS["flag-100x25"]),
]
WITH_A_RULE = [choice for choice in CHOICES if not choice.sheet.is_roll]


def _print(labels: list[Label], choice: PrintChoice) -> bytes:
    return draw_pdf(
        lambda measure: compose_pages(
            labels, choice, host=HOST, club=CLUB, said="Labels of 14 Feb 2026", measure=measure
        ),
        made_at=MADE_AT,
        title="Labels",
    )


@lru_cache(maxsize=8)
def _hard(choice: PrintChoice) -> bytes:
    return _print(make_hard_labels(), choice)


@lru_cache(maxsize=8)
def _rendered(choice: PrintChoice, dpi: int) -> tuple[Image.Image, ...]:
    document = pypdfium2.PdfDocument(_hard(choice))
    return tuple(page.render(scale=dpi / 72, grayscale=True).to_pil() for page in document)


def _places(choice: PrintChoice) -> list[tuple[int, Box, Label]]:
    labels = [label for label in make_hard_labels() for _ in range(choice.copies)]
    return [
        (p.page, p.box, label)
        for p, label in zip(plan_places(choice, len(make_hard_labels())), labels, strict=True)
    ]


@pytest.fixture(scope="module")
def measure() -> Iterator[MeasureFace]:
    with paper(MADE_AT, "Measure") as pdf:
        yield measure_on(pdf)


# -- every code read back ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bits", ["grey", "1 bit"])
@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("choice", CHOICES, ids=range(len(CHOICES)))
def test_every_code_is_read_back_from_its_own_label(choice: PrintChoice, dpi: int, bits: str) -> None:
    for number, picture in enumerate(_rendered(choice, dpi)):
        seen = picture if bits == "grey" else picture.point(lambda v: 255 if v > 127 else 0)
        found = zxingcpp.read_barcodes(seen, formats=zxingcpp.BarcodeFormat.QRCode)
        wanted = [(box, label.code) for page, box, label in _places(choice) if page == number]
        assert sorted(f.text for f in found) == sorted(f"HTTPS://{HOST}/T/{code}" for _, code in wanted)
        for read in found:
            corner = read.position.top_left
            x, y = corner.x * 25.4 / dpi, corner.y * 25.4 / dpi
            own = [
                code
                for box, code in wanted
                if box.x_mm < x < box.x_mm + box.w_mm and box.y_mm < y < box.y_mm + box.h_mm
            ]
            assert [read.text[-8:]] == own


# -- geometry ------------------------------------------------------------------------------------------------------


def _paths(page: pypdfium2.PdfPage) -> Iterator[tuple[float, float, float, float]]:
    """Bounds of drawn paths as x, y, width, height in mm from the top left corner."""
    height = page.get_height()
    for thing in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH]):
        left, bottom, right, top = thing.get_bounds()
        yield left * PT, (height - top) * PT, (right - left) * PT, (top - bottom) * PT


@pytest.mark.parametrize("choice", CHOICES, ids=range(len(CHOICES)))
def test_symbols_stand_where_the_sheet_says_to_a_tenth_of_a_millimetre(choice: PrintChoice) -> None:
    document = pypdfium2.PdfDocument(_hard(choice))
    measured = [
        (n, *path[:2])
        for n, page in enumerate(document)
        for path in _paths(page)
        if path[2] > 14 and path[3] > 14
    ]

    wanted = [
        (page, box.x_mm + box.w_mm - choice.sheet.tail_mm - 1 - 18.5 + 2, box.y_mm + 1 + 2)
        for page, box, _ in _places(choice)
    ]  # 1 mm from the edge, then a quiet zone of 4 modules of 0.5 mm
    assert len(measured) == len(wanted)
    for (page, x, y), (wanted_page, wanted_x, wanted_y) in zip(sorted(measured), sorted(wanted), strict=True):
        assert page == wanted_page
        assert abs(x - wanted_x) < 0.1 and abs(y - wanted_y) < 0.1


@pytest.mark.parametrize("choice", CHOICES, ids=range(len(CHOICES)))
def test_the_symbol_is_one_path_of_29_modules_of_half_a_millimetre(choice: PrintChoice) -> None:
    for page in pypdfium2.PdfDocument(_hard(choice)):
        sizes = [path[2:] for path in _paths(page) if path[3] > 5]
        assert all(abs(w - SYMBOL_MM) < 0.02 and abs(h - SYMBOL_MM) < 0.02 for w, h in sizes)
    assert MODULE_MM == 0.5 and SYMBOL_MM == 14.5


@pytest.mark.parametrize("choice", CHOICES, ids=range(len(CHOICES)))
def test_the_page_has_the_sheets_size(choice: PrintChoice) -> None:
    for page in pypdfium2.PdfDocument(_hard(choice)):
        assert page.get_width() * PT == pytest.approx(choice.sheet.page_w_mm, abs=0.01)
        assert page.get_height() * PT == pytest.approx(choice.sheet.page_h_mm, abs=0.01)


@pytest.mark.parametrize("choice", WITH_A_RULE, ids=range(len(WITH_A_RULE)))
def test_a_page_of_labels_has_a_rule_of_100_mm(choice: PrintChoice) -> None:
    for page in pypdfium2.PdfDocument(_hard(choice)):
        ticks = sorted(x + w / 2 for x, _, w, h in _paths(page) if 1.9 < h < 3 and w < 1)
        assert len(ticks) == 2 and ticks[1] - ticks[0] == pytest.approx(100, abs=0.02)


# -- ink only where it may be --------------------------------------------------------------------------------------


def _ink(picture: Image.Image) -> Image.Image:
    """White where there is the least trace of ink."""
    return picture.point(lambda v: 255 if v < 250 else 0)


@pytest.mark.parametrize("choice", CHOICES, ids=range(len(CHOICES)))
def test_nothing_is_printed_outside_the_labels_but_the_rule_below(choice: PrintChoice) -> None:
    k, inside = 300 / 25.4, 0.4
    for number, picture in enumerate(_rendered(choice, 300)):
        ink = _ink(picture)
        eraser = ImageDraw.Draw(ink)
        for page, box, _ in _places(choice):
            if page == number:
                x1, y1 = box.x_mm + inside, box.y_mm + inside
                x2, y2 = box.x_mm + box.w_mm - inside, box.y_mm + box.h_mm - inside
                eraser.rectangle((x1 * k, y1 * k, x2 * k, y2 * k), fill=0)
        if choice.sheet.is_roll:
            assert ink.getbbox() is None
            continue
        margin = int((choice.sheet.page_h_mm - choice.sheet.bottom_margin_mm + 1.5) * k)
        assert ink.crop((0, margin, ink.width, ink.height)).getbbox(), "the rule and its words are missing"
        assert ink.crop((0, 0, ink.width, margin)).getbbox() is None


@pytest.mark.parametrize("choice", CHOICES, ids=range(len(CHOICES)))
def test_the_quiet_zone_is_blank_on_all_sides(choice: PrintChoice) -> None:
    k = 300 / 25.4
    for number, picture in enumerate(_rendered(choice, 300)):
        ink = _ink(picture)
        for page, box, _ in _places(choice):
            if page != number:
                continue
            x, y = (box.x_mm + box.w_mm - choice.sheet.tail_mm - 1 - 18.5) * k, (box.y_mm + 1) * k
            zone = ink.crop((int(x + 1), int(y + 1), int(x + 18.5 * k - 1), int(y + 18.5 * k - 1)))
            ImageDraw.Draw(zone).rectangle((1.9 * k, 1.9 * k, 16.55 * k, 16.55 * k), fill=0)
            assert zone.getbbox() is None


def _text_marks(marks: list[Mark]) -> list[TextMark]:
    return [mark for mark in marks if isinstance(mark, TextMark)]


def _check_inside(label: Label, box: Box, measure: MeasureFace) -> None:
    marks = compose_label(label, box, f"HTTPS://{HOST}/T/{label.code}", CLUB, measure)
    symbol = next(mark for mark in marks if isinstance(mark, SymbolMark))
    for mark in _text_marks(marks):
        width = measure(mark.text, mark.face) * mark.size_pt * MM_PER_PT
        assert width <= mark.w_mm + 0.01, mark
        assert mark.x_mm >= box.x_mm + 0.9 and mark.x_mm + mark.w_mm <= box.x_mm + box.w_mm - 0.9, mark
        em = mark.size_pt * MM_PER_PT
        assert (
            mark.baseline_mm - 0.76 * em > box.y_mm + 0.9
            and mark.baseline_mm + 0.24 * em < box.y_mm + box.h_mm - 0.4
        ), mark
        beside = mark.x_mm + mark.w_mm <= symbol.x_mm - 2.0 + 0.51
        below = mark.baseline_mm - 0.76 * em >= symbol.y_mm + SYMBOL_MM + 0.7
        assert beside or below, mark


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda s: s.name)
def test_every_hard_name_is_measured_to_stay_inside_its_label(sheet, measure: MeasureFace) -> None:
    for label in make_hard_labels():
        _check_inside(label, _face(sheet), measure)


def _face(sheet: Sheet) -> Box:
    """As much of the first label as is printed on."""
    box = sheet.box(0)
    return Box(box.x_mm, box.y_mm, box.w_mm - sheet.tail_mm, box.h_mm)


PENCILLED = [sheet for sheet in SHEETS.values() if has_pencil_room(sheet.face_w_mm, sheet.label_h_mm)]


@pytest.mark.parametrize("sheet", PENCILLED, ids=lambda s: s.name)
def test_a_blank_has_lines_for_a_pencil_clear_of_its_code(sheet, measure: MeasureFace) -> None:
    """Lines stand 7 mm apart, as on ruled paper (common practice, no source)."""
    blank, box = Label(make_codes(1)[0], blank_label_words()), _face(sheet)
    _check_inside(blank, box, measure)
    marks = compose_label(blank, box, f"HTTPS://{HOST}/T/{blank.code}", CLUB, measure)
    symbol = next(mark for mark in marks if isinstance(mark, SymbolMark))
    rules = [mark for mark in marks if isinstance(mark, LineMark) and mark.width_mm == 0.2]

    heights = [box.y_mm, *sorted({rule.y1_mm for rule in rules})]
    assert len(rules) == 4
    assert min(b - a for a, b in itertools.pairwise(heights)) >= 7
    assert all(rule.x2_mm <= symbol.x_mm - 2.0 and rule.x2_mm - rule.x1_mm >= 11 for rule in rules)
    assert all(rule.y1_mm == rule.y2_mm for rule in rules)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(variety=st.text(min_size=1, max_size=300), trade=st.text(max_size=60), tree=st.text(max_size=80))
def test_any_name_stays_inside_its_label(variety: str, trade: str, tree: str, measure: MeasureFace) -> None:
    label = make_label(name=make_wood_name(variety=variety, trade_designation=trade), tree=tree)
    for sheet in SHEETS.values():
        pages = compose_pages([label], PrintChoice(sheet), host=HOST, club=CLUB, said="", measure=measure)
        box = _face(sheet)
        for mark in pages[0].marks:
            if isinstance(mark, TextMark) and mark.baseline_mm < box.y_mm + box.h_mm:
                assert measure(mark.text, mark.face) * mark.size_pt * MM_PER_PT <= mark.w_mm + 0.01
                assert mark.x_mm + mark.w_mm <= box.x_mm + box.w_mm - 0.9


# -- what is printed -----------------------------------------------------------------------------------------------


def _text(pdf: bytes, page: int = 0) -> str:
    read = pypdfium2.PdfDocument(pdf)[page].get_textpage().get_text_bounded()
    return " ".join(unicodedata.normalize("NFKC", read).split())


@pytest.mark.parametrize("choice", [CHOICES[0], CHOICES[2]], ids=["a4", "letter"])
def test_a_label_holds_all_its_facts_as_text(choice: PrintChoice) -> None:
    code = make_codes(1)[0]
    name = make_wood_name(variety="‘Cripps Pink’", trade_designation="PINK LADY", protection="protected")
    text = _text(_print([make_label(code, name=name)], choice))

    spelled = group_code(code)
    for fact in (
        "Apple · scionwood",
        "‘Cripps Pink’",
        "PINK LADY",
        "cut 14 Jan 2026",
        "12 sticks when cut",
        "tree 7",
        "Protected",
        CLUB,
    ):
        assert fact in text
    assert spelled in text or all(group in text.split() for group in spelled.split())
    assert SCAN_WORDS in text
    assert "100 mm" in text and "sheet 1 of 1" in text


@pytest.mark.parametrize("name", [n for n in NAMES if len(n) < 60 and "🍏" not in n and "Z" not in n])
def test_names_in_any_script_are_there_as_text(name: str) -> None:
    text = _text(_print([make_label(name=make_wood_name(variety=name))], CHOICES[2]))

    # A reader of PDF text may give right-to-left words in either order: compare the letters.
    there = Counter(sign for sign in text if sign.isalpha())
    assert not Counter(sign for sign in name if sign.isalpha()) - there


def test_a_sign_no_font_has_is_printed_as_a_box_not_left_out() -> None:
    text = _text(_print([make_label(name=make_wood_name(variety="‘🍏 幸水’"))], CHOICES[0]))

    assert "‘□ □□’" in text


def test_two_tags_of_one_bundle_say_which_sits_on_the_wood() -> None:
    for choice in (CHOICES[0], CHOICES[2]):
        assert "tag on the wood" in _text(_print([make_label(placement=Placement.WOOD)], choice))
        assert "tag on the wood" not in _text(_print([make_label()], choice))


def test_all_fonts_are_embedded_and_only_what_is_used_of_them() -> None:
    pdf = _hard(CHOICES[0])
    embedded = {
        thing.get_font().get_base_name(): thing.get_font().is_embedded
        for page in pypdfium2.PdfDocument(pdf)
        for thing in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT])
    }

    assert len(embedded) == 3 and all(embedded.values())
    assert len(pdf) < 250_000


# -- the same bytes ------------------------------------------------------------------------------------------------

_AGAIN = """
import hashlib, sys
sys.path.insert(0, {root!r})
from tests.builders.tags import make_hard_labels
from tests.tags.queries.test_paper import CHOICES, _print
print(hashlib.sha256(_print(make_hard_labels(), CHOICES[1])).hexdigest())
"""


def test_the_same_batch_gives_the_same_bytes_in_any_process() -> None:
    root = str(Path(__file__).resolve().parents[3])
    expected = hashlib.sha256(_hard(CHOICES[1])).hexdigest()
    for seed in ("1", "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": "Pacific/Auckland"}
        run = subprocess.run(
            [sys.executable, "-c", _AGAIN.format(root=root)],
            capture_output=True,
            text=True,
            env=environment,
            cwd=root,
            check=True,
        )
        assert run.stdout.strip() == expected


def test_printing_again_in_the_same_process_gives_the_same_bytes() -> None:
    labels = make_hard_labels()

    assert _print(labels, CHOICES[0]) == _print(labels, CHOICES[0])


_LOADED = "import sys, service.tags.queries; print([m for m in ('fpdf', 'qrcode', 'fontTools', 'PIL') if m in sys.modules])"


def test_the_program_that_only_answers_scans_never_loads_the_paper_libraries() -> None:
    root = Path(__file__).resolve().parents[3]
    run = subprocess.run(
        [sys.executable, "-c", _LOADED], capture_output=True, text=True, check=True, cwd=root
    )

    assert run.stdout.strip() == "[]"
