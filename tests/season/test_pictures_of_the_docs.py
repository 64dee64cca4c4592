"""The pictures in the documents are taken from the demo, and the words on them are compared, so that none can age.

`SCION_TEST_PICTURES=1 deploy/test tests/season/test_pictures_of_the_docs.py` takes them anew.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from service.cli.demonstrating import Loaded, load_demo
from service.lib.settings import CHECKOUT
from tests.infra.demo import kept_demo
from tests.infra.web import live

PICTURES = CHECKOUT / "docs" / "pictures"
WORDS = Path(__file__).parent / "words_of_pictures"
TAKING = os.environ.get("SCION_TEST_PICTURES") == "1"
PHONE, DESK = (390, 844), (1100, 760)


def _cut(page: Page) -> None:
    """Two more sticks, buds tight, tools disinfected: as it is done at the tree."""
    page.get_by_role("button", name="One more").click()
    page.get_by_role("button", name="One more").click()
    for name, value in (("stage", "tight"), ("disinfected", "true")):
        page.locator(f".chip:has([name={name}][value={value}])").click()


def _save_cut(page: Page) -> None:
    _cut(page)
    page.get_by_role("button", name="Cut, and give it a code").click()
    page.wait_for_selector(".code-large")


OLD_TREES = """No,Sort,Where,Orchard,Gardener,Year
1,Bramleys Sedling,row 1,Far Bank orchard,Tilde Ashgrove,1962
2,Cox Orange,row 1,Far Bank orchard,Tilde Ashgrove,1962
3,Victoria,by the gate,Far Bank orchard,Bo Fenwick,19xx
"""


def _send_list(page: Page) -> None:
    """Three trees of an old table: a spelling that is not sure, and a year that is none."""
    page.locator(".chip:has([name=sort][value=trees])").click()
    page.set_input_files(
        "[name=file]", {"name": "far-bank.csv", "mimeType": "text/csv", "buffer": OLD_TREES.encode()}
    )
    page.locator("main form button[type=submit]").first.click()
    page.wait_for_url(re.compile(r"/lists/[0-9a-f-]{36}"))


@dataclass(frozen=True)
class Shot:
    """A page of the demo as somebody sees it: `{bundle:cox-26.1}` is an id, `{code:cox-26.1}` what its tag says."""

    name: str
    who: str
    path: str
    size: tuple[int, int] = PHONE
    act: Callable[[Page], None] | None = None
    changes: bool = (
        False  # it writes, so it has a demo of its own: the others show the season whatever ran before
    )


SHOTS = (
    Shot("trees", "wenna", "/trees", DESK),
    Shot("tree", "wenna", "/trees/{tree:bramley-1}"),
    Shot("cut", "wenna", "/cut/{tree:bramley-2}", act=_cut),
    Shot("cut-saved", "wenna", "/cut/{tree:bramley-2}", act=_save_cut, changes=True),
    Shot("to-finish", "wenna", "/to-finish"),
    Shot("labels", "wenna", "/labels", DESK),
    Shot("store", "bram", "/store/{store:fridge}"),
    Shot("look", "bram", "/store/look/{bundle:cox-26.1}"),
    Shot("my-fridge", "bram", "/my-fridge"),
    Shot("temperature", "bram", "/store/{store:fridge}/temperature", DESK),
    Shot("looks-due", "odhran", "/looks-due"),
    Shot("list", "odhran", "/lists", DESK, act=_send_list, changes=True),
    Shot("paper", "wenna", "/paper"),
    Shot("from-paper", "wenna", "/cut/from-paper?site={site:otterlea}"),
    Shot("hand-over", "odhran", "/hand-over/{bundle:cox-26.1}"),
    Shot("scan", "", "/T/{code:cox-26.1}"),
    Shot("bundle", "linnea", "/bundles/{bundle:cox-26.1}"),
    Shot("graft", "linnea", "/bench/graft/{bundle:cox-26.1}"),
    Shot("stopped", "", "/T/{code:williams-26.1}"),
    Shot("stop", "ifeoma", "/stops/{stop:blight}", DESK),
    Shot("people", "jarmila", "/people", DESK),
    Shot("back-up", "jarmila", "/club/back-up"),
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Loaded, str]]:
    loaded = load_demo(kept_demo(tmp_path_factory.mktemp("pictured")))
    with live(loaded.app) as address:
        yield loaded, address


@pytest.fixture
def demo_for(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[[Shot], tuple[Loaded, str]]]:
    with ExitStack() as opened:

        def of(shot: Shot) -> tuple[Loaded, str]:
            if not shot.changes:
                shared: tuple[Loaded, str] = request.getfixturevalue("demo")
                return shared
            loaded = load_demo(kept_demo(tmp_path / "own"))
            return loaded, opened.enter_context(live(loaded.app))

        yield of


def _filled(path: str, loaded: Loaded) -> str:
    def put(found: re.Match[str]) -> str:
        kind, key = found[1], found[2]
        return loaded.season.codes[key] if kind == "code" else str(loaded.season.ids[kind, key])

    return re.sub(r"\{(\w+):([^}]+)\}", put, path)


def _page(browser: Browser, loaded: Loaded, address: str, shot: Shot) -> Page:
    width, height = shot.size
    page = browser.new_context(
        viewport={"width": width, "height": height}, locale="en-GB", reduced_motion="reduce"
    ).new_page()
    if shot.who:
        page.goto(f"{address}/sign-in")
        page.fill("[name=name]", shot.who)
        page.fill("[name=password]", loaded.season.password)
        page.click("main button[type=submit]")
    page.goto(address + _filled(shot.path, loaded))
    if shot.act:
        shot.act(page)
    return page


def words_of(page: Page, address: str) -> str:
    """The lines of a page, but for codes, addresses and clock times, which differ from telling to telling. Of equals,
    codes decide which stands first: so the order of the lines is left out.
    """
    said = page.locator("main").inner_text().replace(address, "")
    said = re.sub(r"\b[0-9A-HJKMNP-TV-Z]{4}[  ][0-9A-HJKMNP-TV-Z]{4}\b", "CODE CODE", said)
    said = re.sub(r"\b\d{2}:\d{2}\b", "00:00", said)
    return "\n".join(sorted(line.strip() for line in said.splitlines() if line.strip()))


@pytest.mark.parametrize("shot", SHOTS, ids=lambda shot: shot.name)
def test_a_picture_of_the_docs_shows_the_page_as_it_is(
    demo_for: Callable[[Shot], tuple[Loaded, str]], chromium: Browser, shot: Shot
) -> None:
    loaded, address = demo_for(shot)
    page = _page(chromium, loaded, address, shot)
    words, told = words_of(page, address), WORDS / f"{shot.name}.txt"
    if TAKING:
        told.parent.mkdir(exist_ok=True)
        told.write_text(words + "\n", encoding="utf-8")
        page.screenshot(path=PICTURES / f"page-{shot.name}.png")
    page.context.close()

    assert (PICTURES / f"page-{shot.name}.png").stat().st_size > 5_000
    assert words == told.read_text(encoding="utf-8").rstrip("\n"), "take the pictures anew, and look at them"


def test_the_docs_show_every_picture_that_is_taken_and_no_other() -> None:
    shown = {
        name
        for path in (CHECKOUT / "docs").rglob("*.md")
        for name in re.findall(r"\(\.\./pictures/page-([\w-]+)\.png\)", path.read_text(encoding="utf-8"))
    }

    assert shown == {shot.name for shot in SHOTS}
    assert {path.name for path in PICTURES.glob("page-*.png")} == {f"page-{shot.name}.png" for shot in SHOTS}
    assert {path.stem for path in WORDS.glob("*.txt")} == {shot.name for shot in SHOTS}
