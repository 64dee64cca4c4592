"""Which models are used is told on a page; here it is found by walking from what stands outside of the science."""

from __future__ import annotations

import ast
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest

from service.science.parameters import MODELS

SERVICE = Path(__file__).resolve().parents[2] / "service"
PACKAGE = "service.science."
Name = tuple[str, str]  # a module of the science, and what stands there


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(tree: ast.Module) -> dict[str, Name]:
    """What a file takes of the science, by the name it has there."""
    return {
        each.asname or each.name: (node.module.removeprefix(PACKAGE), each.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(PACKAGE)
        for each in node.names
    }


def named_in(node: ast.AST) -> set[str]:
    return {each.id for each in ast.walk(node) if isinstance(each, ast.Name)}


def stands_in(module: str) -> dict[str, set[str]]:
    """Functions, classes and constants of a module, with the names each of them uses."""
    found: dict[str, set[str]] = {}
    for node in tree_of(SERVICE / "science" / f"{module}.py").body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found[node.name] = named_in(node)
        elif isinstance(node, ast.Assign):
            found |= {name: named_in(node.value) for target in node.targets for name in named_in(target)}
        elif isinstance(node, ast.AnnAssign) and node.value is not None:
            found |= {name: named_in(node.value) for name in named_in(node.target)}
    return found


@cache
def reached() -> frozenset[Name]:
    modules = {path.stem: stands_in(path.stem) for path in (SERVICE / "science").glob("*.py")}
    outside = [path for path in SERVICE.rglob("*.py") if path.parent.name != "science"]
    left = [name for path in outside for name in imported(tree_of(path)).values()]
    found: set[Name] = set()
    while left:
        module, name = left.pop()
        if (module, name) in found or name not in modules.get(module, {}):
            continue
        found.add((module, name))
        taken = imported(tree_of(SERVICE / "science" / f"{module}.py"))
        left += [taken.get(each, (module, each)) for each in modules[module][name]]
    return frozenset(found)


@pytest.mark.parametrize("key", MODELS)
def test_a_model_names_the_function_that_computes_it_and_tells_whether_it_is_used(key: str) -> None:
    module, _, name = MODELS[key].function.partition(".")

    assert callable(getattr(import_module(PACKAGE + module), name))
    assert MODELS[key].used is ((module, name) in reached())


def test_the_walk_finds_what_is_used_and_what_is_not() -> None:
    assert ("dormancy", "judge_dormancy") in reached()
    assert ("learning", "beta_quantile") not in reached()
