"""Rolls, flags and small labels: what must be large stays large, and a flag is folded clear of its symbol."""

from __future__ import annotations

import pytest

from service.tags.rules.layout import (
    MODULE_MM,
    SYMBOL_MM,
    LineMark,
    MeasureFace,
    SymbolMark,
    check_pencil_room,
    compose_label,
)
from service.tags.rules.sheets import SHEETS, SheetDoesNotFit
from tests.builders.tags import make_hard_labels, make_label
from tests.tags.queries.test_paper import CLUB, HOST, PENCILLED, _text_marks, measure

__all__ = ["measure"]


def test_the_tail_of_a_flag_is_blank_and_folded_clear_of_the_symbol(measure: MeasureFace) -> None:
    """Measured, n = 6 a cell: a code folded across is read hardly ever, one wrapped over more than 75 degrees seldom."""
    flag = SHEETS["flag-100x25"]
    fold = flag.label_w_mm - flag.tail_mm
    for label in make_hard_labels():
        marks = compose_label(
            label, flag.box(0), f"HTTPS://{HOST}/T/{label.code}", CLUB, measure, tail_mm=flag.tail_mm
        )
        symbol = next(mark for mark in marks if isinstance(mark, SymbolMark))
        ticks = [mark for mark in marks if isinstance(mark, LineMark) and mark.x1_mm == mark.x2_mm == fold]
        assert symbol.x_mm + SYMBOL_MM + 4 * MODULE_MM <= fold - 0.9
        assert all(mark.x_mm + mark.w_mm <= fold - 0.9 for mark in _text_marks(marks))
        assert sorted((tick.y1_mm, tick.y2_mm) for tick in ticks) == [
            (0.6, 2.1),
            (pytest.approx(22.9), pytest.approx(24.4)),
        ]


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda s: s.name)
def test_a_sheet_holds_the_code_in_large_type_and_the_day_whole(sheet, measure: MeasureFace) -> None:
    label = make_label()
    marks = compose_label(
        label, sheet.box(0), f"HTTPS://{HOST}/T/{label.code}", CLUB, measure, tail_mm=sheet.tail_mm
    )
    texts = _text_marks(marks)
    code = [
        mark
        for mark in texts
        if mark.text.replace(" ", "") in label.code and mark.text[:4] in (label.code[:4], label.code[4:])
    ]
    day = next(mark for mark in texts if mark.text == label.words.large)

    assert (
        min(mark.size_pt for mark in code) >= 12
        and "".join(mark.text for mark in code).replace(" ", "") == label.code
    )
    assert day.size_pt >= 8
    assert any(label.words.details[0] in mark.text for mark in texts)


def test_blanks_are_printed_on_what_a_pencil_can_write_on():
    assert {sheet.name for sheet in SHEETS.values()} - {sheet.name for sheet in PENCILLED} == {
        "a4-4x10", "roll-57x32", "roll-50x25",
    }  # fmt: skip
    with pytest.raises(SheetDoesNotFit) as refused:
        check_pencil_room(50, 25)
    assert "58.7 mm at least" in refused.value.detail
