"""Which models are used is told on a page; here it is found by walking from what stands outside of the science.

A model is used where its function is reached, or where one of its numbers is: a rule that computes it in another way uses it too.
"""

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


@cache
def read_of() -> frozenset[str]:
    """The models of whose numbers something outside of the science takes one: reached constants that are read by `value`."""
    found = set()
    for module in {module for module, _ in reached()}:
        for node in tree_of(SERVICE / "science" / f"{module}.py").body:
            if isinstance(node, ast.Assign):
                names = set[str]().union(*map(named_in, node.targets))
                if any((module, name) in taken_outside() for name in names):
                    found |= {
                        str(call.args[0].value)
                        for call in ast.walk(node.value)
                        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "value"
                        and isinstance(call.args[0], ast.Constant)
                    }  # fmt: skip
    return frozenset(found)


@cache
def taken_outside() -> frozenset[Name]:
    outside = [path for path in SERVICE.rglob("*.py") if path.parent.name != "science"]
    return frozenset(name for path in outside for name in imported(tree_of(path)).values())


def is_called(function: str) -> bool:
    """Whether a function that stands outside of the science is called there."""
    name = function.rpartition(".")[2]
    return any(
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name
        for path in SERVICE.rglob("*.py")
        for node in ast.walk(tree_of(path))
    )


@pytest.mark.parametrize("key", MODELS)
def test_a_model_names_the_function_that_computes_it_and_tells_whether_it_is_used(key: str) -> None:
    function = MODELS[key].function
    module, _, name = function.rpartition(".")
    stands_outside = function.startswith("service.")

    assert callable(getattr(import_module(module if stands_outside else PACKAGE + module), name))
    assert MODELS[key].used is (is_called(function) if stands_outside else (module, name) in reached())


def test_a_model_whose_numbers_are_read_outside_of_the_science_is_used() -> None:
    assert {key for key in read_of() & set(MODELS) if not MODELS[key].used} == set()
    assert "days_left" in read_of()


def test_the_walk_finds_what_is_used_and_what_is_not() -> None:
    assert ("dormancy", "judge_dormancy") in reached()
    assert ("chill", "utah_units") not in reached()
