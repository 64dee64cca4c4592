"""Answers that are sent as bytes: with an ETag over them, and nothing sent twice."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any, TypeVar

import anyio.to_thread
import orjson
from fastapi import Request, Response
from sqlmodel import Session

T = TypeVar("T")
VARY = "Accept, Cookie, Authorization"


async def read_now(request: Request, query: Callable[[Session], T]) -> T:
    """A short indexed read: inline where no network is waited for."""
    database = request.app.state.database

    def look() -> T:
        with database.reading() as session:
            return query(session)

    return look() if database.is_sqlite else await anyio.to_thread.run_sync(look)


def tagged(request: Request, body: bytes, media_type: str = "application/json") -> Response:
    """The bytes with their ETag; 304 for whoever has them. Each asker's answer is kept by their own browser only."""
    etag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    headers = {"ETag": etag, "Vary": VARY, "Cache-Control": "private, no-cache"}
    known = {part.strip().removeprefix("W/") for part in request.headers.get("if-none-match", "").split(",")}
    if etag in known or "*" in known:
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers, media_type=media_type)


def dumped(value: Any) -> bytes:
    return orjson.dumps(value)
