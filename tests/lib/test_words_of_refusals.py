"""Refusals are read by people: their apostrophes are curly, as on the pages."""

from __future__ import annotations

import ast
import re
from pathlib import Path

SERVICE = Path(__file__).parents[2] / "service"
STRAIGHT = re.compile(r"[a-z]'(s|t|re|ll)\b")


def words_raised(path: Path) -> list[str]:
    return [
        part.value
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)
        for part in ast.walk(node.exc)
        if isinstance(part, ast.Constant) and isinstance(part.value, str)
    ]


def test_no_refusal_of_a_stage_has_a_straight_apostrophe() -> None:
    found = [
        words
        for path in SERVICE.rglob("*.py")
        if path.parent.name != "science"
        for words in words_raised(path)
    ]

    assert len(found) > 100
    assert [words for words in found if STRAIGHT.search(words)] == []
