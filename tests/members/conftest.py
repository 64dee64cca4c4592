"""Browsers and programs of people the standing cast does not have."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack

import pytest
from anyio.from_thread import BlockingPortal
from fastapi import FastAPI

from service.members.schemas import SignedInNow
from service.members.signin import SESSION_COOKIE
from tests.infra.web import Client


@pytest.fixture
def opened(app: FastAPI, portal: BlockingPortal) -> Iterator[Callable[..., Client]]:
    """A browser with a session of its own, or with none: `opened(make_session(writer, asker))`."""
    with ExitStack() as stack:

        def browser(signed_in: SignedInNow | None = None) -> Client:
            cookie = (SESSION_COOKIE, signed_in.token) if signed_in else None
            csrf = signed_in.csrf_token if signed_in else ""
            return stack.enter_context(Client(app, portal, cookie=cookie, csrf_token=csrf))

        yield browser


@pytest.fixture
def program(app: FastAPI, portal: BlockingPortal) -> Iterator[Callable[[str], Client]]:
    """A program that sends a token, and neither cookie nor Origin."""
    with ExitStack() as stack:

        def of(token: str) -> Client:
            made = stack.enter_context(Client(app, portal))
            del made.headers["Origin"]
            made.headers["Authorization"] = f"Bearer {token}"
            return made

        yield of
