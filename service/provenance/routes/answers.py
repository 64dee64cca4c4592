"""Short reads, inline where no network is waited for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import anyio.to_thread
import orjson
from fastapi import Request
from sqlmodel import Session

T = TypeVar("T")


async def read_now(request: Request, query: Callable[[Session], T]) -> T:
    """A short indexed read: inline where no network is waited for."""
    database = request.app.state.database

    def look() -> T:
        with database.reading() as session:
            return query(session)

    return look() if database.is_sqlite else await anyio.to_thread.run_sync(look)


def dumped(value: Any) -> bytes:
    return orjson.dumps(value)
