"""Counting SQL: what a request, a query or an action sends to the database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from service.lib.database import Database

# Opening, closing and nesting transactions is the unit of work's affair, the same for every action.
UNCOUNTED = ("BEGIN", "SAVEPOINT", "RELEASE", "ROLLBACK", "COMMIT", "PRAGMA", "SET ")


class Statements(list[str]):
    """The statements sent since the last `clear`, in order; `len` is their number."""

    def __str__(self) -> str:
        return (
            "\n".join(f"{place + 1}. {' '.join(text.split())}" for place, text in enumerate(self)) or "none"
        )

    @contextmanager
    def at_most(self, budget: int) -> Iterator[None]:
        """Fail, listing what was sent, where the block sends more than its budget."""
        before = len(self)
        yield
        sent = Statements(self[before:])
        assert len(sent) <= budget, f"{len(sent)} statements, the budget is {budget}:\n{sent}"

    @contextmanager
    def exactly(self, number: int) -> Iterator[None]:
        """Fail, listing what was sent, where the block sends another number."""
        before = len(self)
        yield
        sent = Statements(self[before:])
        assert len(sent) == number, f"{len(sent)} statements, expected {number}:\n{sent}"


@contextmanager
def counting(database: Database) -> Iterator[Statements]:
    """Count on both engines of a database, readers and writer alike."""
    statements = Statements()

    def heard(_connection: Any, _cursor: Any, text: str, *_rest: Any) -> None:
        if not text.lstrip().upper().startswith(UNCOUNTED):
            statements.append(text)

    engines = (database.writer, database.reader)
    for engine in engines:
        event.listen(engine, "before_cursor_execute", heard)
    try:
        yield statements
    finally:
        for engine in engines:
            event.remove(engine, "before_cursor_execute", heard)
