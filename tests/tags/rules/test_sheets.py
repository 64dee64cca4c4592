"""Where labels lie on their page."""

import pytest

from service.tags.rules.sheets import (
    SHEETS,
    Box,
    NoSuchLabel,
    NoSuchSheet,
    PrintChoice,
    Sheet,
    SheetDoesNotFit,
    check_choice,
    check_sheet,
    count_pages,
    get_sheet,
    plan_places,
)

A4, LETTER = SHEETS["a4-3x7"], SHEETS["letter-3x10"]


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda s: s.name)
def test_every_sheet_adds_up_to_its_page_with_equal_margins(sheet: Sheet) -> None:
    # Template pages for label sheets give equal margins to 0.1 mm; common practice, no source.
    check_sheet(sheet)
    last = sheet.box(sheet.labels - 1)

    assert sheet.page_w_mm - (last.x_mm + last.w_mm) == pytest.approx(sheet.left_mm, abs=0.11)
    assert sheet.page_h_mm - (last.y_mm + last.h_mm) == pytest.approx(sheet.top_mm, abs=0.11)


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda s: s.name)
def test_no_two_labels_overlap(sheet: Sheet) -> None:
    boxes = [sheet.box(n) for n in range(sheet.labels)]
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            apart_x = a.x_mm + a.w_mm <= b.x_mm + 1e-6 or b.x_mm + b.w_mm <= a.x_mm + 1e-6
            apart_y = a.y_mm + a.h_mm <= b.y_mm + 1e-6 or b.y_mm + b.h_mm <= a.y_mm + 1e-6
            assert apart_x or apart_y


def test_labels_are_counted_row_by_row() -> None:
    assert A4.box(0) == Box(7.2, 15.15, 63.5, 38.1)
    assert A4.box(1) == Box(73.2, 15.15, 63.5, 38.1)
    assert A4.box(3) == Box(7.2, 53.25, 63.5, 38.1)
    assert LETTER.box(29) == Box(pytest.approx(144.46), pytest.approx(241.3), 66.675, 25.4)


def test_printing_begins_at_the_first_free_label_and_goes_on_to_the_next_page() -> None:
    places = list(plan_places(PrintChoice(A4, first_label=20), 3))

    assert [(p.page, p.box) for p in places] == [(0, A4.box(19)), (0, A4.box(20)), (1, A4.box(0))]


def test_copies_lie_side_by_side() -> None:
    places = list(plan_places(PrintChoice(A4, copies=2), 2))

    assert [p.box for p in places] == [A4.box(n) for n in range(4)]


def test_a_nudge_moves_every_label_alike() -> None:
    places = list(plan_places(PrintChoice(A4, nudge_x_mm=1.5, nudge_y_mm=-0.5), 2))

    assert places[1].box == Box(73.2 + 1.5, 15.15 - 0.5, 63.5, 38.1)


@pytest.mark.parametrize(
    ("labels", "first", "copies", "pages"),
    [(0, 1, 1, 0), (21, 1, 1, 1), (22, 1, 1, 2), (21, 2, 1, 2), (7, 1, 3, 1)],
)
def test_pages_are_counted(labels: int, first: int, copies: int, pages: int) -> None:
    assert count_pages(PrintChoice(A4, first, copies), labels) == pages


@pytest.mark.parametrize("first", [0, 22, -1])
def test_a_label_the_sheet_does_not_have_is_refused(first: int) -> None:
    with pytest.raises(NoSuchLabel, match="labels 1 to 21"):
        check_choice(PrintChoice(A4, first_label=first))


def test_a_nudge_off_the_page_is_refused() -> None:
    with pytest.raises(SheetDoesNotFit, match="up to 5 mm"):
        check_choice(PrintChoice(A4, nudge_y_mm=5.5))


@pytest.mark.parametrize("change", [
    {"columns": 4}, {"rows": 8}, {"label_w_mm": 70.0}, {"label_h_mm": 0.0}, {"gap_x_mm": -3.0}, {"left_mm": -1.0}, {"rows": 0},
])  # fmt: skip
def test_a_sheet_that_does_not_fit_its_page_is_refused(change: dict) -> None:
    with pytest.raises(SheetDoesNotFit):
        check_sheet(Sheet(**{**A4.__dict__, **change}))


def test_an_unknown_sheet_is_refused_with_the_ones_there_are() -> None:
    with pytest.raises(NoSuchSheet) as caught:
        get_sheet("a5")

    assert caught.value.facts["sheets"] == sorted(SHEETS)


@pytest.mark.parametrize("field", ["nudge_x_mm", "nudge_y_mm"])
@pytest.mark.parametrize("nudge", [-5.0, 5.0], ids=["back", "on"])
def test_a_nudge_goes_as_far_either_way(field: str, nudge: float) -> None:
    sheet = get_sheet("a4-3x7")
    check_choice(PrintChoice(sheet, **{field: nudge}))

    with pytest.raises(SheetDoesNotFit):
        check_choice(PrintChoice(sheet, **{field: nudge * 1.02}))
