"""A phone at a live server, with and without reception: what tests of the page without reception share."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, expect
from sqlalchemy import func, select
from sqlmodel import col

from service.collection.tables import Collection
from service.members.signin import SESSION_COOKIE
from service.tags import actions as tags
from service.tags.queries import list_blanks_left
from service.tags.schemas import BlankBatchCreate, PublicAddressCreate
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
    open_form(page, "cut")
    expect(form).not_to_have_attribute("data-busy", "true")
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


def blanks(yard: Yard, how_many: int) -> list[str]:
    """Blank tags printed ahead, with the address they carry."""
    proposed = yard.writer.write_now(
        tags.propose_address, yard.cast.administrator, PublicAddressCreate(host="TAGS.CLUB.EXAMPLE")
    )
    yard.writer.write_now(tags.confirm_address, yard.cast.administrator, proposed.id)
    batch = yard.writer.write_now(tags.print_blanks, yard.cast.host, BlankBatchCreate(blanks=how_many))
    with yard.database.reading() as session:
        return list_blanks_left(session, batch.id)


NAMES = {"cut": "Cut at a tree", "tie": "Tie a blank tag", "look": "Look at a bundle"}


def open_form(page: Page, deed: str) -> None:
    if not page.locator(f"form[data-deed={deed}]").is_visible():
        page.locator("summary", has_text=NAMES[deed]).click()
    expect(page.locator(f"form[data-deed={deed}]")).to_be_visible()


def look(page: Page, code: str, grams: str = "") -> None:
    """Write down that a bundle's buds swell."""
    open_form(page, "look")
    form = page.locator("form[data-deed=look]")
    form.locator("[name=code]").fill(code)
    form.locator(".chip", has_text="swelling").click()
    form.locator("[name=bag_grams]").fill(grams)
    form.get_by_role("button", name="Keep it on this phone").click()


def say(page: Page, typed: str) -> None:
    page.locator("#ask [name=code]").fill(typed)
    page.locator("#ask").get_by_role("button", name="Say it").click()


def waits(page: Page, count: int) -> None:
    expect(page.locator("#waiting li")).to_have_count(count)
