"""Browsers of the people in the cast."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from service.members.signin import SESSION_COOKIE
from tests.builders.members import (
    make_asker,
    make_session,
)
from tests.builders.provenance import Yard, make_yard
from tests.conftest import TODAY
from tests.infra.web import Client
from tests.pages.out import open_out, sign_in


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


@pytest.fixture
def yard(writer, cast) -> Yard:
    return make_yard(writer, cast)


@pytest.fixture
def out(phone: Page, live_server: str, yard: Yard) -> Page:
    """The collector's phone on the page without reception, with nothing taken along yet."""
    phone.context.clock.set_system_time(TODAY)
    sign_in(phone.context, yard, "collector", live_server)
    return open_out(phone, live_server)
