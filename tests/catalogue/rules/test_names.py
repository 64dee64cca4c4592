"""Names as the ICNCP (9th edition, 2016) writes them. The examples are those the Code or its public summaries give."""

from __future__ import annotations

import pytest

from service.catalogue.rules import (
    check_epithet,
    clean_epithet,
    format_botanical_name,
    format_cultivar_name,
    page_name,
)

ICNCP = "International Code of Nomenclature for Cultivated Plants, 9th edition, Brickell et al. 2016, Scripta Horticulturae 18"


@pytest.mark.parametrize(
    ("botanical", "epithet", "group", "trade", "plain"),
    [
        # ICNCP as above, in public summaries: single quotation marks; a genus alone will do.
        ("Malus domestica", "Bramley", "", "", "Malus domestica ‘Bramley’"),
        ("Malus", "Golden Delicious", "", "", "Malus ‘Golden Delicious’"),
        # ICNCP example, in a summary by Floricode: the Group in round brackets before an epithet.
        ("Hydrangea macrophylla", "Fire Work Roze", "Teller", "", "Hydrangea macrophylla (Teller Group) ‘Fire Work Roze’"),
        ("Hydrangea macrophylla", "Fire Work Roze", "Teller Group", "", "Hydrangea macrophylla (Teller Group) ‘Fire Work Roze’"),
        ("Hydrangea macrophylla", "", "Teller", "", "Hydrangea macrophylla Teller Group"),
        # ICNCP examples, in public summaries: selling names in another type and without quotation marks.
        ("Rosa", "Korbin", "", "Iceberg", "Rosa ‘Korbin’ ICEBERG"),
        ("Rosa", "Madame A. Meilland", "", "Peace", "Rosa ‘Madame A. Meilland’ PEACE"),
        ("Syringa vulgaris", "Andenken an Ludwig Späth", "", "Ludwig Spaeth", "Syringa vulgaris ‘Andenken an Ludwig Späth’ LUDWIG SPAETH"),
        # ICNCP, 8th edition, names this apple as an example.
        ("Malus domestica", "Mère de Ménage", "", "", "Malus domestica ‘Mère de Ménage’"),
        # ICNCP as above: a rootstock clone is a cultivar too.
        ("Malus domestica", "M.9", "", "", "Malus domestica ‘M.9’"),
        # An apostrophe is no quotation mark (common practice, no source).
        ("Malus domestica", "Cox's Orange Pippin", "", "", "Malus domestica ‘Cox’s Orange Pippin’"),
        ("Pyrus communis", "Williams' Bon Chrétien", "", "", "Pyrus communis ‘Williams’ Bon Chrétien’"),
    ],
)  # fmt: skip
def test_a_name_is_written_as_the_code_writes_it(
    botanical: str, epithet: str, group: str, trade: str, plain: str
) -> None:
    assert format_cultivar_name(botanical, epithet, group, trade).plain == plain


def test_only_the_botanical_name_is_in_italics_and_the_sign_of_a_hybrid_is_not() -> None:
    # ICNCP as above: the epithet is not in italics. The multiplication sign stands upright: from memory.
    html = format_cultivar_name("Citrus x meyeri", "Improved", "", "Bright").html

    assert html == (
        '<i class="botanical" lang="la">Citrus</i> × <i class="botanical" lang="la">meyeri</i> '
        '<bdi class="epithet">‘Improved’</bdi> <bdi class="trade">Bright</bdi>'
    )


@pytest.mark.parametrize("nasty", ["<script>alert(1)</script>", 'a" onload="x', "A & B"])
def test_a_name_cannot_break_out_of_the_page(nasty: str) -> None:
    html = format_cultivar_name("Malus domestica", nasty, nasty, nasty).html

    assert "<script" not in html and ' onload="' not in html and "A & B" not in html


def test_ranks_below_the_species_stand_upright() -> None:
    parts = format_botanical_name("Prunus domestica subsp. syriaca").parts

    assert [text for _, text in parts] == ["Prunus domestica", "subsp.", "syriaca"]
    assert [str(style) for style, _ in parts] == ["botanical", "upright", "botanical"]


@pytest.mark.parametrize(
    ("epithet", "trade", "written"),
    [
        ("Cripps Pink", "Pink Lady", "‘Cripps Pink’ PINK LADY"),
        ("Belle de Boskoop", "", "‘Belle de Boskoop’"),
        ("", "Pink Lady", "PINK LADY"),
        ("", "", ""),
    ],
)
def test_the_short_name_of_tags_has_no_botanical_name(epithet: str, trade: str, written: str) -> None:
    assert page_name(epithet, trade) == written


@pytest.mark.parametrize(
    ("typed", "bare"),
    [
        ("'Bramley'", "Bramley"),
        ('"Bramley"', "Bramley"),
        ("„Schöner aus Boskoop“", "Schöner aus Boskoop"),
        ("cv. Bramley", "Bramley"),
        ("  Cox’s   Orange Pippin ", "Cox's Orange Pippin"),
        ("Williams'", "Williams'"),
        ("''", "''"),
    ],
)
def test_quotation_marks_that_were_typed_are_left_out(typed: str, bare: str) -> None:
    assert clean_epithet(typed) == bare


@pytest.mark.parametrize(
    ("epithet", "points"),
    [
        ("Bramley", []),
        ("Reine Claude d'Oullins", []),
        ("Schneiders Späte Knorpelkirsche", []),
        ("Geisenheim 26", []),
        ("J. H. Hale", []),
        ("Köstliche von Charneux", []),
        # ICNCP as above, in a public summary: at most 30 signs without spaces since 1996.
        ("A" + "b" * 29, []),
        ("A" + "b" * 30, ["too_long"]),
        ("Reine Claude Tardive de Chambourcy", []),
        # Double quotation marks and “cv.” are wrong; each important word has a capital.
        ('"Elegans"', ["quotation_marks"]),
        ("'Bramley'", ["quotation_marks"]),
        ("cv. Crimson Pygmy", ["cv"]),
        ("golden delicious", ["capitals"]),
        ("Golden delicious", ["capitals"]),
        # Not a single letter, nor numerals alone; no superlatives (the Code's own example, in a summary).
        ("A", ["too_short"]),
        ("12", ["too_short"]),
        ("Earliest of All", ["superlative"]),
        # Banned words: that there are such words was read in a summary; which, from memory.
        ("Improved Bramley", ["banned_word"]),
        ("Bramley Strain", ["banned_word"]),
        # FAO, summary of the Code for the naming of poplars: which signs may stand since 1996.
        ("Wow!", []),
        ("Star*Gold", ["signs"]),
        ("Apple 🍎", ["signs"]),
        ("PINK LADY", ["trade_designation"]),
    ],
)
def test_an_epithet_is_looked_at_by_the_points_of_the_code(epithet: str, points: list[str]) -> None:
    assert [point.word for point in check_epithet(epithet)] == points


@pytest.mark.parametrize("odd", ["", "   ", "'", "''", "🍎", "שלום", "م" * 300, "\u202eabc"])
def test_no_typed_text_makes_the_check_stumble(odd: str) -> None:
    assert isinstance(check_epithet(odd), list) and isinstance(
        format_cultivar_name("Malus", odd, odd, odd).html, str
    )
