"""What the import contracts cannot say: who writes whose rows, how long things are, which words are used."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import grimp
import pytest
from sqlmodel import SQLModel

import service

CHECKOUT = Path(__file__).resolve().parents[1]
STAGE_WORDS = {"routes", "signin", "actions", "queries", "schemas", "tables", "rules"}
MOST_LINES = 400
# Of what it does: neither its arguments nor what it says of itself. A test may tell a longer story.
MOST_FUNCTION_LINES = {"service": 40, "deploy": 40, "tests": 60}
TEXT = {
    ".py",
    ".html",
    ".js",
    ".css",
    ".md",
    ".toml",
    ".txt",
    ".csv",
    ".svg",
    ".webmanifest",
    ".service",
    ".sh",
    "",
}


@cache
def _contracts() -> dict[str, Any]:
    with (CHECKOUT / "pyproject.toml").open("rb") as file:
        return {
            contract["name"]: contract for contract in tomllib.load(file)["tool"]["importlinter"]["contracts"]
        }


@cache
def _stages() -> list[str]:
    """The stages from the last of the wood's life to the first, as the first contract orders them."""
    layers = [layer.strip("()") for layer in _contracts()["The wood's life runs one way"]["layers"]]
    return layers[layers.index("provenance") : layers.index("members") + 1]


def _files(*tops: str) -> list[Path]:
    found = [
        path
        for top in tops
        for path in ([CHECKOUT / top] if (CHECKOUT / top).is_file() else (CHECKOUT / top).rglob("*"))
    ]
    return sorted(
        path for path in found if path.is_file() and path.suffix in TEXT and "__pycache__" not in path.parts
    )


def _name(path: Path) -> str:
    return str(path.relative_to(CHECKOUT))


def _stage_of(module: str) -> str:
    return module.split(".")[1]


def _all_modules() -> None:
    for found in pkgutil.walk_packages(service.__path__, "service."):
        if found.name.endswith((".tables", ".write", ".jobs")) or ".tables." in found.name:
            importlib.import_module(found.name)


# -- who may touch what ------------------------------------------------------------------------------------------


def test_no_action_imports_the_tables_of_another_stage() -> None:
    graph = grimp.build_graph("service", cache_dir=None)
    actions = {name for name in graph.modules if re.fullmatch(r"service\.\w+\.actions(\..+)?", name)}
    wrong = [
        f"{action} imports {imported}"
        for action in sorted(actions)
        for imported in graph.find_modules_directly_imported_by(action)
        if re.fullmatch(r"service\.\w+\.tables(\..+)?", imported) and _stage_of(imported) != _stage_of(action)
    ]

    assert actions
    assert wrong == []


def test_every_foreign_key_points_to_the_same_or_an_earlier_stage() -> None:
    _all_modules()
    stage_of_table = {
        mapper.local_table.name: _stage_of(mapper.class_.__module__)
        for mapper in SQLModel._sa_registry.mappers
    }
    order = {stage: place for place, stage in enumerate([*_stages(), "lib"])}
    wrong = [
        f"{table.name}.{key.parent.name} points up to {key.column.table.name}"
        for table in SQLModel.metadata.sorted_tables
        for key in table.foreign_keys
        if order[stage_of_table[key.column.table.name]] < order[stage_of_table[table.name]]
    ]

    assert len(stage_of_table) > 20
    assert wrong == []


def test_every_stage_is_under_the_contract_of_the_six_words() -> None:
    listed = {
        name.removeprefix("service.")
        for name in _contracts()["Inside a stage, six words in one order"]["containers"]
    }
    standing = {stage for stage in _stages() if (CHECKOUT / "service" / stage).is_dir()}

    assert listed == standing


def test_the_service_imports_nothing_that_only_the_tests_install() -> None:
    from importlib.metadata import packages_distributions

    from tests.infra.house import prepare_script

    # A kept graph was once seen to miss an import that had just been written.
    graph = grimp.build_graph("service", include_external_packages=True, cache_dir=None)
    outside = {name for name in graph.modules if graph.is_module_squashed(name)}
    lock = (CHECKOUT / "deploy" / "requirements.lock").read_text()
    part = prepare_script().needed_by_service(lock)
    installed = {name.lower().replace("_", "-") for name in re.findall(r"(?m)^([\w.-]+)==", part)}
    bringing = packages_distributions()
    missing = [
        name for name in sorted(outside)
        if name in bringing and not installed & {made.lower().replace("_", "-") for made in bringing[name]}
    ]  # fmt: skip

    assert "fastapi" in outside
    assert missing == []


# Imported by name, but asked for through another: those whose own interface they are.
COMES_WITH = {
    "anyio": "starlette", "starlette": "fastapi", "pydantic": "fastapi", "pydantic_core": "pydantic", "markupsafe": "jinja2",
    "fontTools": "fpdf2",
}  # fmt: skip


def test_the_service_imports_only_what_the_project_names() -> None:
    from importlib.metadata import packages_distributions, requires

    def plain(name: str) -> str:
        return re.sub(r"[-_.]+", "-", name).lower()

    graph = grimp.build_graph("service", include_external_packages=True, cache_dir=None)
    with (CHECKOUT / "pyproject.toml").open("rb") as file:
        named = {
            plain((re.match(r"[\w.-]+", told) or [""])[0])
            for told in tomllib.load(file)["project"]["dependencies"]
        }
    bringing = packages_distributions()
    outside = {name for name in graph.modules if graph.is_module_squashed(name) and name in bringing}
    unnamed = {name for name in outside if not {plain(made) for made in bringing[name]} & named}

    assert unnamed <= set(COMES_WITH)
    for name, through in COMES_WITH.items():
        asked = {plain((re.match(r"[\w.-]+", told) or [""])[0]) for told in requires(through) or []}
        assert plain(bringing[name][0]) in asked, f"{through} no longer asks for {name}"


# -- how long ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "home"),
    [
        ("def __str__(", ["lib/sent_files.py"]),  # by what a repeat knows the file that was read for it
        ("sqlalchemy.dialects.", ["lib/database.py"]),  # in whose words an insert is said
        ("came_in) - ", ["bundles/queries/counters.py"]),  # how many sticks are left of what came in
    ],
)
def test_what_is_decided_once_stands_in_one_place(words: str, home: list[str]) -> None:
    root = Path(service.__file__).parent
    found = [
        path.relative_to(root).as_posix()
        for path in sorted(root.rglob("*.py"))
        if words in path.read_text(encoding="utf-8") and "versions" not in path.parts
    ]

    assert found == home


@pytest.mark.parametrize("top", ["service", "tests", "deploy", "docs"])
def test_no_file_passes_400_lines(top: str) -> None:
    kinds = {".py", ".html", ".js", ".css", ".md"}
    long = {
        _name(path): lines
        for path in _files(top)
        if path.suffix in kinds
        and "vendor" not in path.parts
        and (lines := len(path.read_text().splitlines())) > MOST_LINES
    }

    assert long == {}


def test_no_function_is_too_long() -> None:
    long = {}
    for path in _files("service", "tests", "deploy"):
        if path.suffix == ".py" and "versions" not in path.parts:
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                    begins = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
                    lines = (node.end_lineno or 0) - begins[0].lineno + 1
                    if lines > MOST_FUNCTION_LINES[_name(path).split("/")[0]]:
                        long[f"{_name(path)}: {node.name}"] = lines

    assert long == {}


# -- which words -----------------------------------------------------------------------------------------------------

# A letter before or after makes another word; an underscore does not, so names in code are read too.
UNUSED_WORDS = {
    "allotment": r"(?<![a-z])allotments?(?![a-z])",
    "keeper": r"(?<![a-z])keepers?(?![a-z])",
    "inspection": r"(?<![a-z])inspections?(?![a-z])",
    "passport": r"(?<![a-z])passports?(?![a-z])",
    "draft": r"(?<!internet-)(?<![a-z])draft(s|ed|ing)?(?![a-z]|-ietf)",
    "a hold (say: a stop)": r"(?<![a-z])((on|a|the|health|open)[ _]hold|hold_(id|on|at|reason|by)|on_holds?)(?![a-z])",
}


def wrong_words(text: str) -> list[str]:
    """The words of a text that have another meaning here, or none."""
    return [word for word, pattern in UNUSED_WORDS.items() if re.search(pattern, text, re.IGNORECASE)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Put the tree on hold", ["a hold (say: a stop)"]),
        ("class Stop: hold_reason: str", ["a hold (say: a stop)"]),
        ("who can hold wood; the holder; edits that hold for a version", []),
        ("on_hand", []),
        ("their plant_passport", ["passport"]),
        ("draft-ietf-httpapi-idempotency-key-header-07", []),
        ("save as draft", ["draft"]),
        ("timekeeper", []),
    ],
)
def test_the_watch_over_words_sees_what_it_should(text: str, found: list[str]) -> None:
    assert wrong_words(text) == found


def test_code_pages_and_docs_use_the_words_of_the_glossary() -> None:
    glossary = CHECKOUT / "docs" / "glossary.md"
    wrong = [
        f"{_name(path)}:{number}: {', '.join(words)}"
        for path in _files("service", "docs", "README.md", "DEVELOPERS.md")
        if path != glossary and "vendor" not in path.parts and path.suffix != ".csv"
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if (words := wrong_words(line))
    ]

    assert wrong == []


# Written with brackets, so that this file does not find itself.
MACHINE = r"/wor[k]/|/far[m]/|/hom[e]/\w|/User[s]/\w|/tm[p]/\w|/roo[t]/"
HOSTS = r"py[p]i\.org|python[h]osted\.org|npm[j]s\.org|deb\.de[b]ian\.org|registry\.yar[n]pkg|un[p]kg\.com|jsde[l]ivr"


def test_nothing_names_this_machine_or_a_package_host() -> None:
    tops = (
        "service",
        "tests",
        "deploy",
        "docs",
        "fixtures",
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        ".ci",
        ".githooks",
    )
    wrong = [
        f"{_name(path)}:{number}"
        for path in _files(*tops)
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if re.search(f"{MACHINE}|{HOSTS}", line)
    ]

    assert wrong == []
