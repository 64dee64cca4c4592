"""Browsers of the people in the cast."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from service.members.signin import SESSION_COOKIE
from tests.builders.members import (
    make_asker,
    make_session,
)
from tests.infra.web import Client


@pytest.fixture
def browser(app, portal) -> Callable[..., Client]:
    """Somebody's browser: `browser(asker)` signed in, `browser()` a stranger's."""
    opened = []

    def of(signed_in=None):
        cookie = (SESSION_COOKIE, signed_in.token) if signed_in else None
        csrf = signed_in.csrf_token if signed_in else ""
        opened.append(Client(app, portal, cookie=cookie, csrf_token=csrf))
        opened[-1].headers["Accept"] = "text/html"
        return opened[-1]

    yield of
    for one in opened:
        one.close()


@pytest.fixture
def as_(writer, browser):
    """A browser of somebody with these roles: `as_(Role.STEWARD)`."""
    return lambda *roles, **told: browser(make_session(writer, make_asker(writer, *roles, **told)))
