"""Facts of the reference files, checked against the outside. The source stands beside each check."""

from __future__ import annotations

import re

import pytest

from service.catalogue.rules import STAGE_CODES, ReferenceSet, check_epithet
from service.catalogue.rules.reference import GRAMMAR, read_reference
from tests.builders.catalogue import REFERENCE


@pytest.fixture(scope="module")
def files() -> ReferenceSet:
    return read_reference({name: (REFERENCE / name).read_text("utf-8") for name in GRAMMAR})


# EPPO Global Database (gd.eppo.int), pages read: hosts of PHYPPR, PSECOB, APRIJA, XYLBGE, ASPV00, PNRSV0; pages MSPGE, PRNAV, PRNTO, CYLMA.
EPPO_PLANTS = {
    "Malus domestica": "MABSD", "Malus": "1MABG", "Pyrus communis": "PYUCO", "Cydonia oblonga": "CYDOB", "Mespilus germanica": "MSPGE",
    "Eriobotrya japonica": "EIOJA", "Chaenomeles japonica": "CNMJA", "Crataegus": "1CSCG", "Corylus avellana": "CYLAV",
    "Corylus maxima": "CYLMA", "Prunus avium": "PRNAV", "Prunus cerasus": "PRNCE", "Prunus domestica": "PRNDO",
    "Prunus armeniaca": "PRNAR", "Prunus salicina": "PRNSC", "Prunus persica": "PRNPS", "Prunus cerasifera": "PRNCF",
    "Prunus mahaleb": "PRNMH", "Prunus tomentosa": "PRNTO", "Prunus": "1PRNG", "Juglans regia": "IUGRE", "Juglans nigra": "IUGNI",
    "Carya illinoinensis": "CYAIL", "Castanea sativa": "CSNSA", "Castanea crenata × C. sativa": "CSNHY", "Diospyros kaki": "DOSKA",
    "Ficus carica": "FIUCA", "Morus alba": "MORAL", "Vitis vinifera": "VITVI", "Vitis": "1VITG",
}  # fmt: skip
# Read in EPPO pages or in laws that print the code: see the source of each row.
EPPO_AGENTS = {
    "fire-blight": "ERWIAM", "plum-pox": "PPV000", "apple-proliferation": "PHYPMA", "european-stone-fruit-yellows": "PHYPPR",
    "xylella": "XYLEFA", "cherry-leaf-roll": "CLRV00", "european-canker": "NECTGA", "chestnut-blight": "ENDOPA",
    "tomato-ringspot": "TORSV0", "san-jose-scale": "QUADPE", "silver-leaf": "STERPU", "crown-gall": "AGRBTU",
}  # fmt: skip


def test_the_codes_marked_verified_are_those_that_were_read(files: ReferenceSet) -> None:
    verified = {
        row["botanical_name"]: row["eppo_code"] for row in files["taxa.csv"] if row["eppo_mark"] == "verified"
    }

    assert verified == EPPO_PLANTS


def test_the_codes_of_agents_are_those_that_were_read(files: ReferenceSet) -> None:
    agents = {row["slug"]: row for row in files["agents.csv"]}

    for slug, code in EPPO_AGENTS.items():
        assert (agents[slug]["eppo_code"], agents[slug]["eppo_mark"]) == (code, "verified")


def test_fire_blight_names_the_host_genera_of_its_eppo_sheet(files: ReferenceSet) -> None:
    # EPPO RNQP summary sheet ERWIAM: most frequent host genera (EFSA PLH, 2014), without Stranvaesia, now Photinia.
    sheet = {
        "Chaenomeles",
        "Cotoneaster",
        "Crataegus",
        "Cydonia",
        "Eriobotrya",
        "Malus",
        "Mespilus",
        "Pyrus",
        "Photinia",
        "Pyracantha",
        "Sorbus",
    }
    genera = next(
        row["host_genera"].split("; ") for row in files["agents.csv"] if row["slug"] == "fire-blight"
    )

    assert sheet <= set(genera)


def test_the_lists_of_stages_are_those_of_the_rule(files: ReferenceSet) -> None:
    # Codes 07 for pome only, 02, 04, 05, 06, 08 and 12 for neither: BBCH Monograph, 2nd edition 2001, read in two concordant public copies.
    for scale, codes in STAGE_CODES.items():
        rows = [row for row in files["growth_stages.csv"] if row["scale"] == scale]
        assert tuple(row["code"] for row in sorted(rows, key=lambda row: int(row["place"]))) == codes


@pytest.mark.parametrize(
    ("name", "other", "kind"),
    [
        # UN/ECE Standard for Apples and Pears, list of varieties, TRADE/WP.7/2000/3.
        ("Bramley's Seedling", "Triomphe de Kiel", "synonym"),
        ("Akane", "Prime Rouge", "synonym"),
        ("Boskoop Rouge", "Red Boskoop", "translation"),
        # Encyclopaedia Britannica, Williams' Bon Chrétien pear.
        ("Williams' Bon Chrétien", "Bartlett", "synonym"),
        # Good Fruit Grower (issue of 1 June), New apple varieties from A to Z.
        ("Milwa", "JUNAMI", "trade_designation"),
        ("Milwa", "DIWA", "trade_designation"),
        ("Scifresh", "JAZZ", "trade_designation"),
        ("WA 38", "COSMIC CRISP", "trade_designation"),
        ("Minneiska", "SWEETANGO", "trade_designation"),
        # Encyclopaedia page on Cripps Pink, read in a copy.
        ("Cripps Pink", "PINK LADY", "trade_designation"),
        # ICNCP, example of a rose with three selling names, in a public summary.
        ("Korbin", "ICEBERG", "trade_designation"),
        ("Korbin", "SCHNEEWITTCHEN", "trade_designation"),
        # From memory.
        ("Belle de Boskoop", "Schöner aus Boskoop", "translation"),
        ("Gravensteiner", "Gravenstein", "synonym"),
    ],
)
def test_a_variety_has_its_other_names(files: ReferenceSet, name: str, other: str, kind: str) -> None:
    slugs = {row["slug"] for row in files["cultivars.csv"] if row["epithet"] == name}

    assert [
        row["kind"]
        for row in files["cultivar_names.csv"]
        if row["cultivar"] in slugs and row["name"] == other
    ] == [kind]


def test_rubens_is_a_variety_and_also_the_selling_name_of_another(files: ReferenceSet) -> None:
    # Encyclopaedia page on Civni, read in a copy: not to be confused with the Dutch Rubens.
    rubens = next(row for row in files["cultivars.csv"] if row["epithet"] == "Rubens")
    civni = next(row for row in files["cultivars.csv"] if row["epithet"] == "Civni")

    assert rubens["slug"] != civni["slug"] and civni["trade_designation"] == "RUBENS"


def test_there_are_enough_varieties_of_enough_kinds(files: ReferenceSet) -> None:
    taxa = {row["slug"]: row for row in files["taxa.csv"]}
    kinds = [taxa[row["taxon"]]["kind"] for row in files["cultivars.csv"]]

    assert len(kinds) >= 150 and len(set(kinds)) >= 30
    assert kinds.count("Apple") >= 60 and kinds.count("Pear") >= 25


def test_no_variety_is_said_to_be_protected_on_the_strength_of_this_file(files: ReferenceSet) -> None:
    assert {row["protection"] for row in files["cultivars.csv"]} == {"free", "unknown"}


def test_no_epithet_of_the_file_is_written_against_the_code(files: ReferenceSet) -> None:
    serious = {"quotation_marks", "cv", "too_short", "signs", "trade_designation", "capitals"}
    wrong = {
        row["epithet"]: points
        for row in files["cultivars.csv"]
        if (points := serious & {p.word for p in check_epithet(row["epithet"])})
    }

    assert wrong == {}


def test_every_stock_named_in_a_join_of_fruit_is_a_taxon_or_a_known_name_of_plants(
    files: ReferenceSet,
) -> None:
    known = {row["botanical_name"] for row in files["taxa.csv"]} | {row["genus"] for row in files["taxa.csv"]}
    fruit = {
        "Malus",
        "Pyrus",
        "Cydonia",
        "Mespilus",
        "Juglans",
        "Castanea",
        "Corylus",
        "Diospyros",
        "Ficus",
        "Actinidia",
    }
    rows = [row for row in files["compatibility.csv"] if row["scion_taxon"].split()[0] in fruit]
    missing = {name for row in rows for name in row["stock_taxon"].split("; ")} - known

    assert missing == set()


def test_weeks_of_a_verdict_run_forward(files: ReferenceSet) -> None:
    for row in files["methods.csv"]:
        if row["verdict_weeks_from"]:
            assert 1 <= int(row["verdict_weeks_from"]) <= int(row["verdict_weeks_to"]) <= 12


def test_no_key_of_a_note_is_left_unread(files: ReferenceSet) -> None:
    for name in GRAMMAR:
        for row in files[name]:
            assert not re.search(r"\((M|GROW|TXIN|UCL|SOCQ|NDSU)\)", " ".join(row.values())), row


# Penn State Extension, Orchard Frost: Critical Temperatures for Various Fruits; Michigan State University Extension,
# Critical Spring Temperatures for Tree Fruit Bud Development Stages (European plum): 10 % kill at the first swelling
# stage. The degrees Fahrenheit of those tables are from memory.
TENTH_KILLED_F = {
    "apple": 15,
    "pear_european": 15,
    "cherry_sweet": 17,
    "peach": 18,
    "plum_european": 14,
    "apricot": 15,
}


def test_the_freezing_limits_marked_published_are_those_of_the_extension_tables(files: ReferenceSet) -> None:
    limits = {row["species_group"]: row for row in files["storage_limits.csv"]}

    assert {name for name, row in limits.items() if row["freeze_mark"].startswith("published")} == set(
        TENTH_KILLED_F
    )
    for group, fahrenheit in TENTH_KILLED_F.items():
        assert float(limits[group]["freeze_kill10_c"]) == round((fahrenheit - 32) / 1.8, 1)


def test_the_published_store_temperatures_are_those_their_sources_print(files: ReferenceSet) -> None:
    """Auer, GC-310/311: 32-40 °F for fruit and nut scions; Sci Agric 2008, 65(4): citrus at 5±1 °C; Menoud et al. 1991: rose 0-2 °C."""
    limits = {
        row["species_group"]: (float(row["store_temp_min_c"]), float(row["store_temp_max_c"]))
        for row in files["storage_limits.csv"]
    }

    for group in ("apple", "pear_european", "plum_european", "plum_japanese", "peach", "pecan"):
        assert limits[group] == (0.0, round((40 - 32) / 1.8, 1))
    assert limits["citrus"] == (4.0, 6.0)
    assert limits["rose"] == (0.0, 2.0)


def test_no_store_is_ever_set_below_what_its_wood_bears(files: ReferenceSet) -> None:
    for row in files["storage_limits.csv"]:
        assert (
            float(row["freeze_kill10_c"]) < float(row["store_temp_min_c"]) <= float(row["store_temp_max_c"])
        ), row
        assert int(row["keep_weeks_min"]) < int(row["keep_weeks_max"]), row
