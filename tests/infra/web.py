"""Asking the app over HTTP: without a network for most tests, and on a live server for browsers and streams."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from uuid import uuid4

import httpx
import uvicorn
from anyio.from_thread import BlockingPortal
from fastapi import FastAPI

ORIGIN = "http://club.test"
CHANGING = ("POST", "PUT", "PATCH", "DELETE")


class PortalTransport(httpx.BaseTransport):
    """Lets a plain, synchronous client ask an app that runs on a loop in another thread."""

    def __init__(self, app: FastAPI, portal: BlockingPortal) -> None:
        self.app = app
        self.portal = portal

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        return self.portal.call(self._ask, request)

    async def _ask(self, request: httpx.Request) -> httpx.Response:
        inner = httpx.ASGITransport(app=self.app, raise_app_exceptions=True, client=("127.0.0.1", 50000))
        asked = httpx.Request(request.method, request.url, headers=request.headers, content=request.read())
        answer = await inner.handle_async_request(asked)
        assert isinstance(answer.stream, httpx.AsyncByteStream)
        body = b"".join([part async for part in answer.stream])
        return httpx.Response(answer.status_code, headers=answer.headers, content=body)


class Client(httpx.Client):
    """A browser or program of one person. Changes under /api get a fresh key, unless the test gives one."""

    def __init__(
        self,
        app: FastAPI,
        portal: BlockingPortal,
        *,
        cookie: tuple[str, str] | None = None,
        csrf_token: str = "",
    ) -> None:
        super().__init__(
            transport=PortalTransport(app, portal),
            base_url=ORIGIN,
            headers={"Origin": ORIGIN},
            cookies=dict([cookie]) if cookie else None,
        )
        self.csrf_token = csrf_token

    def request(self, method: str, url: httpx.URL | str, **given: Any) -> httpx.Response:
        if method.upper() in CHANGING and str(url).startswith("/api"):
            headers = httpx.Headers(given.pop("headers", None))
            headers.setdefault("Idempotency-Key", str(uuid4()))
            given["headers"] = headers
        return super().request(method, url, **given)

    def submit(self, url: str, form: dict[str, Any] | None = None, **given: Any) -> httpx.Response:
        """Send a page's form as its browser would, with the page's own token."""
        return self.post(url, data={"csrf_token": self.csrf_token, **(form or {})}, **given)


@contextmanager
def running(app: FastAPI, portal: BlockingPortal) -> Iterator[FastAPI]:
    """The app with its start-up done, and its shut-down after."""
    with portal.wrap_async_context_manager(app.router.lifespan_context(app)):
        yield app


@contextmanager
def live(app: FastAPI) -> Iterator[str]:
    """The app on a real server and a free port of this machine; gives its address."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    config = uvicorn.Config(app, log_level="warning", ws="none", lifespan="on", timeout_graceful_shutdown=2)
    server = uvicorn.Server(config)
    thread = threading.Thread(
        target=server.run, kwargs={"sockets": [listener]}, name="live server", daemon=True
    )
    thread.start()
    give_up = time.monotonic() + 20
    while not server.started:
        if not thread.is_alive() or time.monotonic() > give_up:
            raise RuntimeError("the live server did not start")
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)
        listener.close()
