"""Numbers in sentences."""

from __future__ import annotations


def counted(count: int, one: str, many: str) -> str:
    """The sentence of one as it is written out, that of several after its number: `One row was …`, `12 rows were …`."""
    return one if count == 1 else f"{count:,} {many}"


def several(count: int, one: str, many: str = "") -> str:
    """`1 stick`, `12 sticks`."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"
