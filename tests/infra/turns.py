"""Which of two databases a test meets where both would take too long."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from zlib import crc32

import pytest

from tests.infra.databases import KINDS

# Pages, lists and refusals stand on stages; of the stages these are the largest.
IN_TURN = tuple(
    f"tests/{folder}/"
    for folder in (
        "pages",
        "lists",
        "bad_input",
        "catalogue",
        "collection",
        "storage",
        "grafting",
        "provenance",
    )
)


def others_in_turn(items: Sequence[pytest.Item]) -> list[pytest.Item]:
    """Of tests that come in a pair, one for each database, those whose turn it is not."""
    pairs = defaultdict[str, dict[str | None, pytest.Item]](dict)
    for item in items:
        if item.nodeid.startswith(IN_TURN):
            pairs[re.sub("sqlite|postgres", "", item.nodeid)][kind_of(item)] = item
    return [
        pair[KINDS[crc32(name.encode()) % 2]] for name, pair in pairs.items() if pair.keys() == set(KINDS)
    ]


def kind_of(item: pytest.Item) -> str | None:
    return item.callspec.params.get("database_kind") if hasattr(item, "callspec") else None
