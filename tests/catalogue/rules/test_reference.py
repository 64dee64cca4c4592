"""The grammar of the reference files: every mistake is told with its file and line."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from service.catalogue.rules import Mark, ReferenceFileWrong, read_reference
from service.catalogue.rules.reference import GRAMMAR, read_file
from tests.builders.catalogue import REFERENCE


def texts() -> dict[str, str]:
    return {name: (REFERENCE / name).read_text("utf-8") for name in GRAMMAR}


# Its figures are known in different ways: each has a mark and a source of its own.
BY_FIGURE = "storage_limits.csv"
ONE_SOURCE = [name for name in GRAMMAR if name != BY_FIGURE]


def line_of(text: str, begins: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), start=1) if line.startswith(begins))


def test_the_files_are_right_and_every_row_has_a_source_and_a_mark() -> None:
    files = read_reference(texts()).files

    rows = [row for name in ONE_SOURCE for row in files[name]]

    assert len(rows) > 1000
    assert all(row["source"].strip() and row["mark"] in list(Mark) for row in rows)


def test_every_file_of_the_folder_is_read() -> None:
    assert {path.name for path in REFERENCE.glob("*.csv")} == set(GRAMMAR)


@pytest.mark.parametrize("name", list(GRAMMAR))
def test_every_file_explains_its_columns_at_its_head(name: str) -> None:
    head = [line for line in texts()[name].splitlines() if line.startswith("#")]

    assert all(any(column in line for line in head) for column in GRAMMAR[name].columns), [
        column for column in GRAMMAR[name].columns if not any(column in line for line in head)
    ]


def test_a_row_from_memory_names_no_source_and_a_published_row_names_one() -> None:
    files = read_reference(texts()).files
    for row in (row for name in ONE_SOURCE for row in files[name]):
        unsourced = row["source"] in ("from memory, unverified", "common practice, no source")
        assert not (row["mark"] == Mark.PUBLISHED and unsourced), row


def test_a_published_limit_of_storage_names_its_source_and_a_guessed_one_says_so() -> None:
    known = ("published", "common practice, no source", "judgement", "from memory, unverified")
    rows = read_reference(texts())[BY_FIGURE]

    assert len(rows) == 26
    for row in rows:
        for figure in ("store_temp", "keep", "freeze"):
            mark, source = row[f"{figure}_mark"], row[f"{figure}_source"]
            assert mark.startswith(known), row
            assert source or not mark.startswith("published"), (row["species_group"], figure)


TAXON = "malus-domestica,Malus domestica,Malus,Apple,MABSD,verified,apple,pome,yes,both,a page,published"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("MABSD", "mabsd", "eppo_code “mabsd” is not a plant code"),
        ("MABSD", "", "eppo_mark: a code needs a mark"),
        ("verified", "certain", "eppo_mark “certain” is none of"),
        (",pome,", ",nuts,", "stage_scale “nuts” is none of"),
        ("published", "true", "mark “true” is none of"),
        ("a page", "", "source is empty"),
        ("Malus domestica", "malus domestica", "botanical_name “malus domestica” is not a botanical name"),
        (",Malus,", ",Pyrus,", "genus: “Pyrus” is not that of Malus domestica"),
        ("Apple", " Apple", "kind begins or ends with a blank"),
        ("Apple", "A" * 101, "kind is longer than 100 signs"),
        (",both", "", "has 11 values, not 12"),
        ("malus-domestica", "Malus domestica", "slug “Malus domestica” is not a name of small letters"),
        ("Apple", '"Apple', "is not CSV"),
    ],
)  # fmt: skip
def test_a_wrong_row_is_told_with_its_file_and_line(old: str, new: str, says: str) -> None:
    mine = texts()
    lines = mine["taxa.csv"].splitlines()
    number = line_of(mine["taxa.csv"], "malus-domestica,")
    lines[number - 1] = TAXON.replace(old, new, 1)
    mine["taxa.csv"] = "\n".join(lines)

    with pytest.raises(ReferenceFileWrong) as refused:
        read_reference(mine)

    assert f"taxa.csv line {number}, " in refused.value.detail and says in refused.value.detail
    assert refused.value.facts == {"file": "taxa.csv", "line": number}


@pytest.mark.parametrize(
    ("name", "row", "says"),
    [
        ("cultivars.csv", "x--y,no-such-kind,Y,,,,free,,,a page,published", "taxon: no “no-such-kind” in taxa.csv"),
        ("cultivars.csv", "x--y,malus-domestica,Y,,,no-one,free,,,a page,published", "sport_of: no “no-one” in cultivars.csv"),
        ("cultivars.csv", "x--y,malus-domestica,Y,,,,free,31.1.2030,,a page,published", "protected_until “31.1.2030” is not a day"),
        ("cultivars.csv", "x--y,malus-domestica,Gravensteiner,,,,free,,,a page,published", "taxon, epithet: the same as on line"),
        ("cultivars.csv", "malus-domestica--gala,malus-domestica,Y,,,,free,,,a page,published", "slug: the same as on line"),
        ("cultivar_names.csv", "x--y,Why,synonym,a page,published", "cultivar: no “x--y” in cultivars.csv"),
        ("cultivar_names.csv", "malus-domestica--gala,Why,epithet,a page,published", "kind “epithet” is none of"),
        ("growth_stages.csv", "stone,07,9,seen,no,no,do_not_cut,a page,published", "code: 07 with do_not_cut is not what the rule"),
        ("methods.csv", "new,New,bud,bud,,,dry,no,,,,,,,6,,published,,,,a,published", "verdict_mark go together"),
        ("agents.csv", "new,New,,virus,12345,memory,Malus,Malus,a,,,b,c,published", "eppo_code “12345” is not a code of six signs"),
        ("agents.csv", "new,New,,virus,,,Malus,malus,a,,,b,c,published", "host_genera “malus” is not genera"),
        ("compatibility.csv", "999,M. domestica,,,Malus,,,compatible,,,a,published", "scion_taxon “M. domestica” is not botanical names"),
        ("compatibility.csv", "999,Malus,,,Malus,,,perfect,,,a,published", "verdict “perfect” is none of"),
        ("rootstocks.csv", "new,New,malus-domestica,clone,huge,,,a,published", "vigour “huge” is none of"),
    ],
)  # fmt: skip
def test_a_row_that_is_added_wrongly_is_refused(name: str, row: str, says: str) -> None:
    mine = texts()
    mine[name] = mine[name].rstrip("\n") + "\n" + row + "\n"

    with pytest.raises(ReferenceFileWrong) as refused:
        read_reference(mine)

    assert says in refused.value.detail and refused.value.facts["line"] == len(mine[name].splitlines())


def test_a_file_without_its_head_its_columns_or_itself_is_refused() -> None:
    mine = texts()
    bare = "\n".join(line for line in mine["agents.csv"].splitlines() if not line.startswith("#"))
    with pytest.raises(ReferenceFileWrong, match=r"agents\.csv line 1, the file begins with lines marked #"):
        read_file("agents.csv", bare)
    with pytest.raises(ReferenceFileWrong, match=r"agents\.csv line 2, the columns are: slug,name"):
        read_file("agents.csv", "# only a head\nslug,nom")
    with pytest.raises(ReferenceFileWrong, match=r"agents\.csv is missing"):
        read_reference({name: text for name, text in mine.items() if name != "agents.csv"})


def test_a_file_that_is_not_utf_8_is_told_with_its_line(tmp_path: Path) -> None:
    from service.catalogue.actions import read_folder

    for name, text in texts().items():
        (tmp_path / name).write_text(text, "utf-8")
    (tmp_path / "taxa.csv").write_bytes("# head\n# more\nß".encode("latin-1"))

    with pytest.raises(ReferenceFileWrong, match=r"taxa\.csv line 3, is not UTF-8"):
        read_folder(tmp_path)


def test_a_spreadsheet_can_read_every_file_without_its_head() -> None:
    for name, text in texts().items():
        body = [line for line in text.splitlines() if not line.startswith("#")]
        assert {len(row) for row in csv.reader(body)} == {len(GRAMMAR[name].columns)}
