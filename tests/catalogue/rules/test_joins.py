"""Which wood may be joined to which stock. Sources of the facts stand beside each check and in the file itself."""

from __future__ import annotations

from typing import Any

import pytest

from service.catalogue.rules import (
    JoinAdvice,
    JoinRow,
    StockFacts,
    Verdict,
    WoodFacts,
    advise,
    check_can_offer_join,
    fold_name,
    place_of_stock,
)
from service.catalogue.rules.joins import WouldNotLast, can_offer_join

PEAR, QUINCE, APPLE = "Pyrus communis", "Cydonia oblonga", "Malus domestica"


def row(place: int, scion: str, stock: str, verdict: Verdict, **given: Any) -> JoinRow:
    values = {
        "scion_cultivars": (), "scion_condition": "", "stocks": (), "stock_condition": "", "bridge": "", "note": f"row {place}",
        "source": "common practice, no source", "mark": "common practice, no source", **given,
    }  # fmt: skip
    return JoinRow(place, (scion,), stock_taxa=(stock,), verdict=verdict, **values)


def wood(kind: str, *names: str) -> WoodFacts:
    return WoodFacts(kind, frozenset(map(fold_name, names)))


def stock(kind: str, *names: str, seedling: bool = False) -> StockFacts:
    return StockFacts(kind, frozenset(map(fold_name, names)), seedling)


def test_a_row_is_never_read_backwards() -> None:
    rows = [row(1, PEAR, QUINCE, Verdict.COMPATIBLE)]

    assert advise(rows, wood(PEAR), stock(QUINCE)).verdict is Verdict.COMPATIBLE
    assert advise(rows, wood(QUINCE), stock(PEAR)).verdict is Verdict.UNKNOWN


def test_a_row_for_the_variety_goes_before_a_row_for_its_kind() -> None:
    rows = [
        row(1, PEAR, QUINCE, Verdict.COMPATIBLE),
        row(2, PEAR, QUINCE, Verdict.NEEDS_INTERSTEM, scion_cultivars=("Beurre Bosc",)),
    ]

    assert advise(rows, wood(PEAR, "Beurré Bosc"), stock(QUINCE)).note == "row 2"
    assert advise(rows, wood(PEAR, "Conference"), stock(QUINCE)).note == "row 1"
    assert advise(rows, wood(PEAR, "Beurré Bosc"), stock(QUINCE)).others == (rows[0],)


def test_a_variety_is_known_by_any_of_its_spellings() -> None:
    rows = [row(1, PEAR, QUINCE, Verdict.NEEDS_INTERSTEM, scion_cultivars=("Bartlett", "Winter Nelis"))]

    assert (
        advise(rows, wood(PEAR, "Williams' Bon Chrétien", "bartlett"), stock(QUINCE)).verdict
        is Verdict.NEEDS_INTERSTEM
    )


def test_a_named_stock_goes_before_any_stock_and_a_species_before_a_genus() -> None:
    rows = [
        row(1, APPLE, "Malus", Verdict.UNKNOWN),
        row(2, APPLE, APPLE, Verdict.COMPATIBLE),
        row(3, APPLE, APPLE, Verdict.COMPATIBLE_WITH_LIMITS, stocks=("G.16",)),
    ]

    assert advise(rows, wood(APPLE), stock(APPLE, "G.16")).note == "row 3"
    assert advise(rows, wood(APPLE), stock(APPLE, "M.9")).note == "row 2"
    assert advise(rows, wood(APPLE), stock("Malus", "Virginia Crab")).note == "row 1"


def test_where_rows_of_one_rank_disagree_the_graver_is_shown_and_the_other_beside_it() -> None:
    rows = [row(1, PEAR, QUINCE, Verdict.COMPATIBLE), row(2, PEAR, QUINCE, Verdict.DELAYED_INCOMPATIBILITY)]

    advice = advise(rows, wood(PEAR), stock(QUINCE))

    assert advice.verdict is Verdict.DELAYED_INCOMPATIBILITY and advice.others == (rows[0],)


def test_a_row_with_a_condition_decides_nothing_but_is_told() -> None:
    lotus, kaki = "Diospyros lotus", "Diospyros kaki"
    rows = [row(1, kaki, lotus, Verdict.COMPATIBLE, scion_condition="astringent cultivars")]

    advice = advise(rows, wood(kaki, "Hachiya"), stock(lotus))

    assert advice.verdict is Verdict.UNKNOWN and advice.depends_on == (rows[0],)


def test_a_row_for_another_stock_of_the_kind_is_told_as_related() -> None:
    rows = [
        row(
            1,
            PEAR,
            QUINCE,
            Verdict.COMPATIBLE,
            scion_cultivars=("Conference",),
            stocks=("Quince A", "Quince C"),
        )
    ]

    advice = advise(rows, wood(PEAR, "Conference"), stock(QUINCE, "BA 29"))

    assert advice.verdict is Verdict.UNKNOWN and advice.related == (rows[0],)


def test_seedling_stands_for_any_seedling_and_a_star_for_all_that_begin_so() -> None:
    plum, myrobalan = "Prunus domestica", "Prunus cerasifera"
    rows = [row(1, plum, myrobalan, Verdict.COMPATIBLE, stocks=("Myrobalan*", "seedling"))]

    assert advise(rows, wood(plum), stock(myrobalan, "Myrobalan 29C")).verdict is Verdict.COMPATIBLE
    assert (
        advise(rows, wood(plum), stock(myrobalan, "Cherry plum", seedling=True)).verdict is Verdict.COMPATIBLE
    )
    assert advise(rows, wood(plum), stock(myrobalan, "Adara")).verdict is Verdict.UNKNOWN


def test_within_one_species_the_default_is_compatible_but_not_within_a_genus_of_hybrids() -> None:
    # Common practice, no source.
    assert advise([], wood(QUINCE), stock(QUINCE)).verdict is Verdict.COMPATIBLE
    assert advise([], wood("Prunus"), stock("Prunus")).verdict is Verdict.UNKNOWN
    hybrid = "Castanea crenata × C. sativa"
    assert advise([], wood(hybrid), stock(hybrid)).verdict is Verdict.UNKNOWN


def test_nothing_recorded_is_not_known_and_is_never_refused() -> None:
    advice = advise([], wood("Malus domestica"), stock("Salix alba"))

    assert advice.verdict is Verdict.UNKNOWN and advice.note
    assert not can_offer_join(advice)
    check_can_offer_join(advice)


@pytest.mark.parametrize("verdict", list(Verdict))
def test_only_joins_that_are_known_to_fail_are_refused(verdict: Verdict) -> None:
    advice = JoinAdvice(verdict, "because")

    assert can_offer_join(advice) is (verdict in (Verdict.COMPATIBLE, Verdict.COMPATIBLE_WITH_LIMITS))
    if verdict in (Verdict.INCOMPATIBLE, Verdict.NEEDS_INTERSTEM):
        with pytest.raises(WouldNotLast, match="because"):
            check_can_offer_join(advice)
    else:
        check_can_offer_join(advice)


def test_stocks_told_of_in_print_stand_first_then_small_trees_before_large_and_nine_before_twenty_six():
    stocks = [
        ("A 2", "vigorous", "from memory"),
        ("M.26", "dwarfing", "published"),
        ("MM.106", "semi-dwarfing", "published"),
        ("M.9", "dwarfing", "published"),
        ("M.27", "very dwarfing", "from memory"),
    ]

    ordered = sorted(stocks, key=lambda one: place_of_stock(one[2], one[1], one[0]))

    assert [name for name, _, _ in ordered] == ["M.9", "M.26", "MM.106", "M.27", "A 2"]
