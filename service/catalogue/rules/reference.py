"""The grammar of the reference files: readable CSV whose first lines, marked with #, explain the columns to people.

Every file is checked whole before a row of it is used; a mistake is told with its file, line and column.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from service.catalogue.rules.joins import Verdict
from service.catalogue.rules.rights import Protection
from service.catalogue.rules.spellings import NameKind
from service.catalogue.rules.stages import STAGES, WoodUse
from service.catalogue.rules.words import EppoMark, Mark
from service.lib.errors import Unusable

Row = dict[str, str]
Check = Callable[[str], str]  # what is wrong with a value, or nothing


class ReferenceFileWrong(Unusable):
    title = "A reference file cannot be used as it stands"
    todo = "Nothing of the files was taken over. Mend the line and start again."


@dataclass(frozen=True)
class ReferenceSet:
    """All files, checked, as rows of text with the line each stands on under `line`."""

    files: Mapping[str, list[Row]]

    def __getitem__(self, name: str) -> list[Row]:
        return self.files[name]


def one_of(*words: str) -> Check:
    return lambda value: (
        "" if value in words else f"“{value}” is none of: {', '.join(word or '(empty)' for word in words)}"
    )


def text(longest: int, *, needed: bool = True) -> Check:
    def check(value: str) -> str:
        if needed and not value:
            return "is empty"
        if value != value.strip():
            return "begins or ends with a blank"
        return f"is longer than {longest} signs" if len(value) > longest else ""

    return check


def shaped(pattern: str, meant: str, *, needed: bool = True) -> Check:
    return lambda value: (
        "" if (not value and not needed) or re.fullmatch(pattern, value) else f"“{value}” is not {meant}"
    )


def _day(value: str) -> str:
    try:
        if value:
            date.fromisoformat(value)
    except ValueError:
        return f"“{value}” is not a day as year-month-day"
    return ""


def _degrees(value: str) -> str:
    return "" if re.fullmatch(r"-?\d{1,2}(\.\d)?", value) else f"“{value}” is not a temperature in °C"


SLUG = shaped(r"[a-z0-9]+(-+[a-z0-9]+)*", "a name of small letters, digits and hyphens")
NUMBER = shaped(r"\d{1,4}", "a whole number", needed=False)
BOTANICAL = r"[A-Z][a-z]+( [a-z-]+| × [a-z-]+)?( × ([A-Z]\.|[A-Z][a-z]+) [a-z-]+)?"
NAME = shaped(BOTANICAL, "a botanical name")
NAMES = shaped(rf"{BOTANICAL}(; {BOTANICAL})*", "botanical names split by “; ”")
EPPO_PLANT = shaped(r"1[A-Z]{3}G|[A-Z]{5}", "a plant code of five capitals or a genus code", needed=False)
EPPO_AGENT = shaped(r"[A-Z0-9]{6}(; [A-Z0-9]{6})*", "a code of six signs", needed=False)
GENERA = shaped(r"[A-Z][a-z]+(; [A-Z][a-z]+)*", "genera split by “; ”")
MARKED: dict[str, Check] = {"source": text(500), "mark": one_of(*Mark)}
EPPO_MARKS = one_of("", *EppoMark)


@dataclass(frozen=True)
class FileGrammar:
    """A file's columns in order, which of them name a row, and which point to another file's first column."""

    columns: Mapping[str, Check]
    key: Sequence[str]
    points_to: Mapping[str, str] = field(default_factory=dict)


GRAMMAR: dict[str, FileGrammar] = {
    "taxa.csv": FileGrammar(
        {
            "slug": SLUG, "botanical_name": NAME, "genus": shaped("[A-Z][a-z]+", "a genus"), "kind": text(100),
            "eppo_code": EPPO_PLANT, "eppo_mark": EPPO_MARKS, "species_group": text(40, needed=False),
            "stage_scale": one_of(*STAGES), "summer_budwood": one_of("", "yes"), "used_as": one_of("scion", "stock", "both"),
            **MARKED,
        },
        ("slug",),
    ),
    "cultivars.csv": FileGrammar(
        {
            "slug": SLUG, "taxon": SLUG, "epithet": text(300), "group": text(100, needed=False),
            "trade_designation": text(200, needed=False), "sport_of": text(200, needed=False),
            "protection": one_of(*Protection), "protected_until": _day, "protection_note": text(1000, needed=False), **MARKED,
        },
        ("slug",),
        {"taxon": "taxa.csv", "sport_of": "cultivars.csv"},
    ),
    "cultivar_names.csv": FileGrammar(
        {"cultivar": SLUG, "name": text(300), "kind": one_of(*(kind for kind in NameKind if kind is not NameKind.EPITHET)), **MARKED},
        ("cultivar", "name"),
        {"cultivar": "cultivars.csv"},
    ),
    "rootstocks.csv": FileGrammar(
        {
            "slug": SLUG, "name": text(200), "taxon": SLUG, "form": one_of("clone", "seedling"),
            "vigour": one_of("very dwarfing", "dwarfing", "semi-dwarfing", "semi-vigorous", "vigorous"),
            "note": text(1000, needed=False), "other_names": text(500, needed=False), **MARKED,
        },
        ("slug",),
        {"taxon": "taxa.csv"},
    ),
    "growth_stages.csv": FileGrammar(
        {
            "scale": one_of(*STAGES), "code": text(10), "place": shaped(r"\d{1,3}", "a whole number"), "seen": text(500),
            "collecting": text(500), "stored_wood": text(500), "wood_use": one_of(*WoodUse), **MARKED,
        },
        ("scale", "code"),
    ),
    "methods.csv": FileGrammar(
        {
            "slug": SLUG, "name": text(100), "family": one_of("graft", "bud", "repair", "operation"),
            "unit": one_of("stick", "bud", "rooted_plant"), "units_per_graft": text(200, needed=False),
            "buds_per_unit": text(200, needed=False), "wood": text(200), "bark_must_slip": text(100, needed=False),
            "season": text(300, needed=False), "stock_mm_from": NUMBER, "stock_mm_to": NUMBER, "scion_mm_from": NUMBER,
            "scion_mm_to": NUMBER, "first_look_weeks": NUMBER, "verdict_weeks_from": NUMBER, "verdict_weeks_to": NUMBER,
            "verdict_mark": one_of("", *Mark), "tie": text(500, needed=False), "stock_cut_back": text(500, needed=False),
            "note": text(1000, needed=False), "source": text(1000), "mark": one_of(*Mark),
        },
        ("slug",),
    ),
    "agents.csv": FileGrammar(
        {
            "slug": SLUG, "name": text(200), "other_names": text(500, needed=False), "kind": text(40),
            "eppo_code": EPPO_AGENT, "eppo_mark": EPPO_MARKS,
            "hosts": text(500), "host_genera": GENERA, "spread": text(1000), "latency": text(1000, needed=False),
            "latency_source": text(500, needed=False), "caution": text(1000), "source": text(1000), "mark": one_of(*Mark),
        },
        ("slug",),
    ),
    "compatibility.csv": FileGrammar(
        {
            "place": shaped(r"\d{1,5}", "a whole number"), "scion_taxon": NAMES, "scion_cultivar": text(300, needed=False),
            "scion_condition": text(300, needed=False), "stock_taxon": NAMES, "stock": text(300, needed=False),
            "stock_condition": text(300, needed=False), "verdict": one_of(*Verdict), "bridge": text(300, needed=False),
            "note": text(1000, needed=False), "source": text(1000), "mark": one_of(*Mark),
        },
        ("place",),
    ),
    "storage_limits.csv": FileGrammar(
        {
            "species_group": text(40), "wood": one_of("deciduous", "evergreen"), "examples": text(200),
            "store_temp_min_c": _degrees, "store_temp_max_c": _degrees, "store_temp_mark": text(60),
            "store_temp_source": text(500, needed=False), "humidity_rh_min_pct": NUMBER, "humidity_mark": text(60),
            "packing": text(200), "keep_weeks_min": NUMBER, "keep_weeks_max": NUMBER, "keep_conditions": text(100),
            "keep_mark": text(60), "keep_source": text(500, needed=False), "freeze_kill10_c": _degrees,
            "freeze_stage": text(60, needed=False), "freeze_mark": text(60), "freeze_source": text(500, needed=False),
            "ethylene": text(300),
        },
        ("species_group",),
    ),
}  # fmt: skip


def read_reference(texts: Mapping[str, str]) -> ReferenceSet:
    """Check all files and give their rows. Raises `ReferenceFileWrong` at the first mistake."""
    for name in GRAMMAR:
        if name not in texts:
            raise ReferenceFileWrong(f"{name} is missing.", file=name)
    files = {name: read_file(name, texts[name]) for name in GRAMMAR}
    for name, grammar in GRAMMAR.items():
        for column, target in grammar.points_to.items():
            known = {row["slug"] for row in files[target]}
            for row in files[name]:
                if row[column] and row[column] not in known:
                    raise wrong(name, row["line"], f"{column}: no “{row[column]}” in {target}")
    _check_pairs(files)
    return ReferenceSet(files)


def wrong(name: str, line: int | str, what: str) -> ReferenceFileWrong:
    return ReferenceFileWrong(f"{name} line {line}, {what}.", file=name, line=int(line))


def read_file(name: str, content: str) -> list[Row]:
    """Check one file by itself and give its rows."""
    grammar = GRAMMAR[name]
    lines = content.lstrip("\ufeff").splitlines()
    head = next((i for i, line in enumerate(lines) if not line.startswith("#")), len(lines))
    if head == 0:
        raise wrong(name, 1, "the file begins with lines marked # that explain its columns")
    columns = list(grammar.columns)
    if head == len(lines) or next(csv.reader([lines[head]])) != columns:
        raise wrong(name, head + 1, f"the columns are: {','.join(columns)}")
    rows: list[Row] = []
    seen: dict[tuple[str, ...], int] = {}
    for number, line in enumerate(lines[head + 1 :], start=head + 2):
        row = _read_line(name, number, line, columns)
        for column, check in grammar.columns.items():
            if mistake := check(row[column]):
                raise wrong(name, number, f"{column} {mistake}")
        key = tuple(row[column] for column in grammar.key)
        if key in seen:
            raise wrong(name, number, f"{', '.join(grammar.key)}: the same as on line {seen[key]}")
        seen[key] = number
        rows.append({**row, "line": str(number)})
    return rows


def _read_line(name: str, number: int, line: str, columns: list[str]) -> Row:
    try:
        values = next(csv.reader([line], strict=True), [])
    except csv.Error as error:
        raise wrong(name, number, f"is not CSV: {error}") from error
    if len(values) != len(columns):
        raise wrong(name, number, f"has {len(values)} values, not {len(columns)}")
    return dict(zip(columns, values, strict=True))


def _check_pairs(files: Mapping[str, list[Row]]) -> None:
    """What one column says of another."""
    for name in ("taxa.csv", "agents.csv"):
        for row in files[name]:
            if bool(row["eppo_code"]) != bool(row["eppo_mark"]):
                raise wrong(name, row["line"], "eppo_mark: a code needs a mark, and a mark a code")
    for row in files["taxa.csv"]:
        if row["botanical_name"].split()[0] != row["genus"]:
            raise wrong(
                "taxa.csv", row["line"], f"genus: “{row['genus']}” is not that of {row['botanical_name']}"
            )
    for row in files["growth_stages.csv"]:
        if STAGES[row["scale"]].get(row["code"]) != row["wood_use"]:
            raise wrong(
                "growth_stages.csv",
                row["line"],
                f"code: {row['code']} with {row['wood_use']} is not what the rule of {row['scale']} says",
            )
    for row in files["methods.csv"]:
        if len({bool(row[c]) for c in ("verdict_weeks_from", "verdict_weeks_to", "verdict_mark")}) > 1:
            raise wrong(
                "methods.csv",
                row["line"],
                "verdict_weeks_from, verdict_weeks_to and verdict_mark go together",
            )
    groups = {row["species_group"] for row in files["storage_limits.csv"]} | {""}
    for row in files["taxa.csv"]:
        if row["species_group"] not in groups:
            raise wrong(
                "taxa.csv",
                row["line"],
                f"species_group: no “{row['species_group']}” in storage_limits.csv",
            )
    _check_once(files, "taxa.csv", ("botanical_name",))
    _check_once(files, "cultivars.csv", ("taxon", "epithet"))
    _check_once(files, "rootstocks.csv", ("taxon", "name"))


def _check_once(files: Mapping[str, list[Row]], name: str, columns: Sequence[str]) -> None:
    seen: dict[tuple[str, ...], str] = {}
    for row in files[name]:
        key = tuple(row[column] for column in columns)
        if key in seen:
            raise wrong(name, row["line"], f"{', '.join(columns)}: the same as on line {seen[key]}")
        seen[key] = row["line"]
