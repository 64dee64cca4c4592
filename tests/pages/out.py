"""A phone at a live server, with and without reception: what tests of the page without reception share."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page, expect
from sqlalchemy import func, select
from sqlmodel import col

from service.collection.tables import Collection
from service.members.signin import SESSION_COOKIE
from tests.builders.provenance import Yard
from tests.infra import chromium as chromium_programs
from tests.infra.browser_checks import PHONE

READY = "() => navigator.serviceWorker.ready.then(() => Boolean(navigator.serviceWorker.controller))"


def sign_in(context: BrowserContext, yard: Yard, who: str, address: str) -> None:
    token = yard.cast.token(who) or ""
    context.add_cookies([{"name": SESSION_COOKIE, "value": token, "url": address}])


@contextmanager
def kept_phone(chromium: Browser, folder: Path, **seen: Any) -> Iterator[BrowserContext]:
    """A phone with a memory of its own in a folder, so that it can be put off and on again."""
    context = chromium.browser_type.launch_persistent_context(
        folder, executable_path=chromium_programs.find(), args=chromium_programs.ARGS, **{**PHONE, **seen}
    )
    try:
        yield context
    finally:
        context.close()


def open_out(page: Page, address: str, path: str = "/out") -> Page:
    """The page without reception, once its worker keeps it."""
    page.goto(f"{address}{path}")
    page.wait_for_function(READY)
    return page


def take_along(page: Page) -> None:
    page.get_by_role("button", name="Take today’s tags along").click()
    expect(page.locator("[data-taking]")).to_contain_text("Taken along")


def cut(page: Page, sticks: int, *, clicks: int = 1, **told: str) -> None:
    """Fill in the form of a cut at the first tree, and keep it."""
    form = page.locator("form[data-deed=cut]")
    if not form.is_visible():
        page.get_by_text("Cut at a tree").click()
    form.locator("[name=tree_id]").select_option(index=1)
    form.locator("[name=sticks]").fill(str(sticks))
    for name, value in told.items():
        form.locator(f"[name={name}]").fill(value)
    form.get_by_role("button", name="Keep it on this phone").click(click_count=clicks)


def cuts(yard: Yard) -> int:
    with yard.database.reading() as session:
        return session.execute(select(func.count()).select_from(Collection)).scalar_one()


def sticks_cut(yard: Yard) -> list[int]:
    with yard.database.reading() as session:
        return list(
            session.execute(select(col(Collection.sticks)).order_by(col(Collection.number))).scalars()
        )


def online(page: Page, *, reception: bool = True) -> None:
    page.context.set_offline(not reception)


def entries(page: Page) -> list[dict[str, Any]]:
    """What waits on the phone, as it is kept."""
    found = page.evaluate("() => Out.kept.all('entries').then((all) => JSON.stringify(all))")
    return list(json.loads(found))


class Weather:
    """Stands before the app: breaks off requests to its own rules, and counts what came."""

    def __init__(self, app: FastAPI) -> None:
        self.app = app
        self.posts = 0
        self.rule: Any = None

    def __getattr__(self, name: str) -> Any:
        return getattr(self.app, name)

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "http" or scope["method"] != "POST" or not scope["path"].startswith("/api/"):
            await self.app(scope, receive, send)
            return
        self.posts += 1
        if self.rule is None:
            await self.app(scope, receive, send)
        else:
            await self.rule(self.app, scope, receive, send)
