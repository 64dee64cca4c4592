"""Every page of the demo club that a link leads to opens for each role, and none has a fault axe-core knows."""

from __future__ import annotations

import calendar
import contextlib
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Page

from service.cli.demonstrating import load_demo
from service.cli.season import DEMO_DIR, read_settings
from tests.infra.browser_checks import check_page
from tests.infra.demo import kept_demo
from tests.infra.web import live

ROLES = ("linnea", "wenna", "bram", "odhran", "ifeoma", "jarmila")
IDENTITY = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|(?<=/T/)\w+")
PAGES_OF_A_SHAPE = 2
MONTHS = "|".join(calendar.month_name[1:])


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("demo")
    with live(load_demo(kept_demo(folder)).app) as address:
        yield address


def _password() -> str:
    return str(read_settings(DEMO_DIR)["club"].get("password") or read_settings(DEMO_DIR).get("password"))


def _sign_in(address: str, name: str) -> httpx.Client:
    headers = {"accept": "text/html", "origin": address}
    browser = httpx.Client(base_url=address, headers=headers, follow_redirects=True, timeout=30)
    found = re.search(r'name="form_key" value="([^"]+)"', browser.get("/sign-in").text)
    assert found is not None
    told = {"form_key": found[1], "name": name, "password": _password(), "then": "/"}
    assert browser.post("/sign-in", data=told).status_code == 200
    return browser


def _bare_dates(page: str) -> list[str]:
    """Days that stand outside `<time>`, or as programs write them."""
    told = re.sub(r"<(time|svg|datalist|select|textarea|title)\b.*?</\1>", "", page, flags=re.DOTALL)
    return re.findall(
        rf"\b\d{{4}}-\d\d-\d\d\b|\b\d{{1,2}} (?:{MONTHS}) \d{{4}}\b", re.sub(r"<[^>]*>", " ", told)
    )


@pytest.mark.parametrize("name", ROLES)
def test_every_link_opens_for_this_person_with_its_dates_marked(demo: str, name: str) -> None:
    wrong, waiting, seen, shapes = [], ["/"], {"/sign-out"}, dict[str, int]()
    with contextlib.closing(_sign_in(demo, name)) as browser:
        while waiting:
            path = waiting.pop(0)
            shape = IDENTITY.sub("…", path.split("?")[0])
            if path in seen or shapes.get(shape, 0) >= PAGES_OF_A_SHAPE:
                continue
            seen.add(path)
            shapes[shape] = shapes.get(shape, 0) + 1
            answer = browser.get(path)
            if answer.status_code != 200:
                wrong.append(f"{answer.status_code} {path}")
            wrong += [f"{path}: {day}" for day in _bare_dates(answer.text)]
            found = re.findall(r'href="(/[^"#]*)"', answer.text)
            waiting += [
                link.replace("&amp;", "&") for link in found if not link.startswith(("/static", "/api"))
            ]

    assert wrong == []
    assert len(shapes) > 12


def test_wood_in_ones_own_hands_is_said_to_be_with_you_and_its_name_is_set_alike_everywhere(
    demo: str,
) -> None:
    with contextlib.closing(_sign_in(demo, "linnea")) as browser:
        start = browser.get("/").text
        held = start.partition("Wood in your hands")[2].partition("</section>")[0]
        pages = [browser.get(path).text for path in re.findall(r'href="(/bundles/[^"#]+)"', held)]
    usable = [page for page in pages if "stopped, do not use" not in page]

    assert usable
    assert [page for page in usable if not re.search(r"\d sticks? with you\b", page)] == []
    assert re.findall(r"‘[^’<]*(?:&#39;|')[^<]*’", start) == []


def test_a_stranger_is_told_no_stock_for_stopped_wood(demo: str) -> None:
    with contextlib.closing(_sign_in(demo, "ifeoma")) as browser:
        listed = browser.get("/api/bundles?stopped=true&on_hand=true").json()["items"]
    code = next(bundle["code"] for bundle in listed if bundle["code"])
    page = httpx.get(f"{demo}/T/{code}", headers={"accept": "text/html"}).text

    assert httpx.get(f"{demo}/T/{code}").json()["card"]["state"] == "stopped"
    assert "may be joined to" not in page


def test_no_page_has_a_known_fault_on_a_phone(demo: str, phone: Page) -> None:
    """Every shape of page the administrator can reach, by light and by dark."""
    phone.goto(f"{demo}/sign-in")
    phone.fill("[name=name]", "jarmila")
    phone.fill("[name=password]", _password())
    phone.click("main button[type=submit]")
    waiting, shapes, dark = ["/"], set[str](), False
    while waiting:
        path = waiting.pop(0)
        shape = IDENTITY.sub("…", path.split("?")[0])
        if shape in shapes or path.startswith(("/static", "/api")):
            continue
        shapes.add(shape)
        dark = not dark
        phone.emulate_media(color_scheme="dark" if dark else "light")
        phone.goto(f"{demo}{path}")
        check_page(phone)
        waiting += phone.eval_on_selector_all(
            "a[href^='/']", "links => links.map(link => link.getAttribute('href'))"
        )

    assert len(shapes) > 40
