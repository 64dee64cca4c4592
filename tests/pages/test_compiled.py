"""Templates are compiled once, and what was kept is used only where it is the same template, whole."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from jinja2 import Environment, FileSystemLoader

from service.pages.compiled import CompiledTemplates


@pytest.fixture
def templates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "kept"))
    folder = tmp_path / "templates"
    (folder / "store").mkdir(parents=True)
    (folder / "store" / "box.html").write_text("{{ name }} has {{ 2 + 3 }} bundles", encoding="utf-8")
    return folder


def shown(folder: Path) -> str:
    environment = Environment(
        loader=FileSystemLoader(folder), bytecode_cache=CompiledTemplates(), autoescape=True
    )
    return environment.get_template("store/box.html").render(name="Garage 2")


def kept(folder: Path) -> list[Path]:
    return [path for path in folder.parent.rglob("*") if path.is_file() and path.suffix != ".html"]


def test_a_template_is_compiled_once(templates: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = shown(templates)
    assert len(kept(templates)) == 1
    monkeypatch.setattr(Environment, "_compile", None)  # so that compiling would fail

    assert shown(templates) == first == "Garage 2 has 5 bundles"


def test_a_changed_template_is_compiled_anew(templates: Path) -> None:
    shown(templates)
    (templates / "store" / "box.html").write_text("{{ name }} is empty", encoding="utf-8")

    assert shown(templates) == "Garage 2 is empty"


@pytest.mark.parametrize("left", [0, 5, 20, 60, 120], ids="nothing sign version digest code".split())
def test_a_damaged_file_is_compiled_anew(templates: Path, left: int) -> None:
    shown(templates)
    (file,) = kept(templates)
    whole = file.read_bytes()
    file.write_bytes(whole[:left])

    assert shown(templates) == "Garage 2 has 5 bundles"
    assert file.read_bytes() == whole


def test_nothing_is_kept_where_python_keeps_nothing(templates: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)

    assert shown(templates) == "Garage 2 has 5 bundles"
    assert kept(templates) == []


def test_a_folder_that_cannot_be_written_to_only_costs_time(templates: Path) -> None:
    (templates.parent / "kept").write_text("a file stands where the folder belongs", encoding="utf-8")

    assert shown(templates) == "Garage 2 has 5 bundles"
