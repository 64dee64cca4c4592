"""Answers somebody has already: ETags over whole answers, and 304 (RFC 9110, 8.8.3 and 13.1.2)."""

from __future__ import annotations

import hashlib
import re

from fastapi import Request, Response
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import Message, Send

# What an answer says depends on who asks, and for whom.
VARY = "Accept, Cookie, Authorization, On-Behalf-Of"
LARGEST_TAGGED = 256_000  # bytes; what is larger is sent again rather than held back to be weighed


def digest_of(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()[:32]


# How a proxy compressed an answer: it writes that into the tag, and need not take it out when the tag comes back.
_CODING = re.compile(r"[-;+]+(?:gzip|br|zstd|deflate)(?=\"?$)")


def as_given(etag: str) -> str:
    """A tag as this service gave it, whatever a proxy on the way wrote behind it."""
    return _CODING.sub("", etag.strip())


def is_known(etag: str, if_none_match: str) -> bool:
    """Whether `If-None-Match` names this very answer (weak comparison, RFC 9110, 13.1.2)."""
    known = {as_given(part).removeprefix("W/") for part in if_none_match.split(",")}
    return etag in known or "*" in known


def tagged(request: Request, body: bytes, media_type: str = "application/json") -> Response:
    """The bytes with their ETag; 304 for whoever has them. Each asker's answer is kept by their own browser only."""
    etag = f'"{digest_of(body)}"'
    headers = {"ETag": etag, "Vary": VARY, "Cache-Control": "private, no-cache"}
    if is_known(etag, request.headers.get("if-none-match", "")):
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers, media_type=media_type)


class Tagger:
    """Gives every JSON answer to a GET under /api its ETag, and 304 to whoever has it.

    A version alone says what an edit rests on, but not all that an answer tells: a look at a tree changes the answer and
    not the tree. So the tag holds the version, where there is one, and what the bytes add up to.
    """

    def __init__(self, send: Send, if_none_match: str) -> None:
        self.passed_on = send
        self.if_none_match = if_none_match
        self.start: Message | None = None

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start" and _may_be_tagged(message):
            self.start = message
            return
        if self.start is not None:
            await self._begin(message)
            return
        await self.passed_on(message)

    async def _begin(self, message: Message) -> None:
        start, self.start = self.start, None
        assert start is not None
        body = message.get("body", b"")
        if not message.get("more_body", False) and len(body) <= LARGEST_TAGGED:
            headers = MutableHeaders(raw=start["headers"])
            version = re.fullmatch(r'"(v\d+)"', headers.get("etag", ""))
            if version or "etag" not in headers:
                headers["etag"] = f'"{version[1]}-{digest_of(body)}"' if version else f'"{digest_of(body)}"'
            headers["vary"] = VARY
            headers.setdefault("cache-control", "private, no-cache")
            if is_known(headers["etag"], self.if_none_match):
                del headers["content-length"], headers["content-type"]
                start, message = {**start, "status": 304}, {**message, "body": b""}
            start["headers"] = headers.raw
        await self.passed_on(start)
        await self.passed_on(message)


def _may_be_tagged(start: Message) -> bool:
    headers = Headers(raw=start["headers"])
    kept = "no-store" not in headers.get("cache-control", "")
    return start["status"] == 200 and kept and headers.get("content-type", "").startswith("application/json")
