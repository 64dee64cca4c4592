"""A printed tag before a camera: a real browser is shown the very label that the service printed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
import qrcode
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from service.lib.codes import group_code
from service.lib.write import Writer
from service.members.signin import SESSION_COOKIE
from service.tags import actions as tags
from service.tags import queries
from service.tags.rules.sheets import SHEETS
from service.tags.schemas import LabelSheetCreate, PublicAddressCreate
from tests.builders.provenance import Yard, make_yard
from tests.infra import chromium as chromium_programs
from tests.infra.browser_checks import PHONE, check_page
from tests.infra.camera import ALLOWED, DEVICE, film_of, labels_of, shown_by
from tests.infra.cast import Cast

pytestmark = pytest.mark.databases("sqlite")
HOST = "TAGS.CLUB.EXAMPLE"
Opener = Callable[..., Page]


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    made = make_yard(writer, cast)
    address = writer.write_now(tags.propose_address, cast.administrator, PublicAddressCreate(host=HOST))
    writer.write_now(tags.confirm_address, cast.administrator, address.id)
    return made


def printed(yard: Yard, codes: Sequence[str]) -> list[Image.Image]:
    """The labels of these codes as they leave a printer of 203 dots an inch."""
    body = LabelSheetCreate(codes=list(codes), sheet="a4-3x7")
    batch = yard.writer.write_now(tags.print_labels, yard.cast.host, body)
    with yard.database.reading() as session:
        return labels_of(queries.draw_sheet(session, batch.id), SHEETS["a4-3x7"], len(codes))


def symbol(text: str) -> Image.Image:
    return qrcode.make(text, box_size=8, border=4).get_image()


@pytest.fixture
def camera(chromium: Browser, live_server: str, tmp_path: Path, cast: Cast) -> Iterator[Opener]:
    """A phone whose camera sees these pictures, one after another: `camera([label], "/scan", who="host")`."""
    opened: list[Browser] = []

    def of(
        pictures: Sequence[Image.Image],
        path: str,
        *,
        who: str = "",
        switches: list[str] | None = None,
        **seen: Any,
    ) -> Page:
        film = shown_by(film_of(pictures, tmp_path / f"{len(opened)}.y4m", **seen)) if pictures else []
        browser = chromium.browser_type.launch(
            executable_path=chromium_programs.find(),
            args=[*chromium_programs.ARGS, *(film or switches or [])],
        )
        opened.append(browser)
        context = browser.new_context(**PHONE)
        if who:
            context.add_cookies(
                [{"name": SESSION_COOKIE, "value": cast.token(who) or "", "url": live_server}]
            )
        page = context.new_page()
        page.asked = []  # type: ignore[attr-defined]
        page.on("request", lambda request: page.asked.append(request.url))  # type: ignore[attr-defined]
        page.goto(f"{live_server}{path}")
        return page

    yield of
    for browser in opened:
        browser.close()


def test_a_printed_tag_before_the_camera_leads_a_stranger_to_its_answer(yard, camera, live_server):
    (bundle,) = yard.cut(12)
    page = camera(printed(yard, [bundle.code]), "/scan")

    page.wait_for_url(f"**/T/{bundle.code}")

    assert group_code(bundle.code) in page.inner_text("main")
    assert {url.split("/")[2] for url in page.asked if not url.startswith(("data:", "blob:"))} == {
        live_server.split("/")[2]
    }


@pytest.mark.parametrize(
    ("says", "told"),
    [
        ("HTTPS://TAGS.OTHER.EXAMPLE/T/0000000B", "a code of tags.other.example, not of this club"),
        ("https://shop.example/pears?buy=1", "not a tag of this club"),
        ("WIFI:S:orchard;T:WPA;P:secret;;", "not a tag of this club"),
    ],
)
def test_a_code_of_somebody_else_is_told_and_not_opened(yard, camera, says, told):
    page = camera([symbol(says)], "/scan")

    expect(page.locator("[data-said]")).to_contain_text(told)
    assert page.url.endswith("/scan")


@pytest.mark.parametrize(
    ("switches", "told"),
    [([], "No camera was found"), ([DEVICE], "The camera was refused")],
    ids=["absent", "refused"],
)
def test_without_a_camera_the_page_says_what_else_to_do(yard, camera, switches, told):
    page = camera([], "/scan", switches=switches)

    expect(page.locator("[data-said]")).to_contain_text(told)
    page.fill("#code", "0000")
    page.click("text=Look it up")
    expect(page.locator("[role=alert]")).to_contain_text("8 signs")


def test_a_camera_in_use_is_told_and_can_be_opened_again(yard, camera):
    page = camera([], "/", switches=[DEVICE, ALLOWED])
    page.add_init_script(
        "navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('busy', 'NotReadableError'))"
    )
    page.goto(page.url + "scan")

    expect(page.locator("[data-said]")).to_contain_text("in use by something else")
    expect(page.locator('[data-part="open"]')).to_be_visible()


def test_where_the_decoder_does_not_load_the_page_says_so_and_not_for_ever(yard, camera, tmp_path):
    page = camera([symbol("HTTPS://TAGS.OTHER.EXAMPLE/T/0000000B")], "/")
    page.context.route("**/decoder/**", lambda route: route.abort())
    page.goto(page.url + "scan")

    expect(page.locator("[data-said]")).to_contain_text(
        "Pictures cannot be read here: its decoder did not load"
    )
    expect(page.locator('[data-part="open"]')).to_be_visible()
    file = tmp_path / "tag.png"
    symbol("HTTPS://TAGS.OTHER.EXAMPLE/T/0000000B").save(file)
    page.set_input_files('[data-part="picture"]', str(file))
    expect(page.locator("[data-said]")).to_contain_text("its decoder did not load")
    page.context.unroute("**/decoder/**")
    page.set_input_files('[data-part="picture"]', str(file))
    expect(page.locator("[data-said]")).to_contain_text("not of this club")


def test_a_shelf_is_counted_with_the_camera_one_tag_after_another(yard, camera, writer, cast):
    first, second, third = yard.cut(4, 5, 6)
    _box, count = begin_count(yard, first, second)
    page = camera(
        printed(yard, [first.code, third.code, second.code]), f"/store/count/{count}", who="host", each=8
    )
    page.click("text=Scan with the camera")

    tally = page.locator('[data-part="tally"]')
    expect(tally).to_have_text("3", timeout=20_000)
    page.wait_for_timeout(500)
    page.click("text=Show what is there")

    words = page.inner_text("main")
    assert "2 of 2 bundles scanned" in words and "1 not expected here" in words
    assert page.locator("h2", has_text="Not expected here").count() == 1


def begin_count(yard: Yard, *inside: Any) -> tuple[Any, Any]:
    """A box in a store with these bundles in it, and a count of it that was begun."""
    from service.storage import actions, schemas

    write = yard.writer.write_now
    host = yard.cast.host
    store = write(actions.add_store, host, schemas.StoreCreate(name="Garage fridge", host_id=host.party_id))
    box = write(actions.add_box, host, schemas.BoxCreate(name="Blue crate"))
    body = [schemas.PutAwayCreate(box_id=box.id, store_id=store.id)]
    body += [schemas.PutAwayCreate(bundle_id=one.id, into_box_id=box.id) for one in inside]
    write(actions.put_away, host, body)
    return box, write(actions.begin_count, host, schemas.ShelfCountCreate(box_id=box.id)).id


def test_the_camera_fills_a_field_and_a_list(yard, camera):
    first, second = yard.cut(4, 5)
    labels = printed(yard, [first.code, second.code])
    page = camera(labels, "/store/put-away", who="host")
    page.click("text=Scan them")

    expect(page.locator("#things")).to_have_value(
        f"{group_code(first.code)}\n{group_code(second.code)}", timeout=15_000
    )


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_scanning_page_has_no_known_fault(yard, camera, scheme):
    page = camera([symbol("HTTPS://TAGS.OTHER.EXAMPLE/T/0000000B")], "/scan")
    page.emulate_media(color_scheme=scheme)

    expect(page.locator("[data-said]")).to_contain_text("not of this club")
    check_page(page)


def test_a_trees_tag_opens_its_cut_form_and_keeps_the_blank(client, yard, writer, cast):
    from service.tags.rules.words import TagKind
    from service.tags.schemas import TagCreate

    (tag,) = writer.write_now(
        tags.add_tags, cast.steward, [TagCreate(kind=TagKind.TREE, thing_id=yard.tree_id)]
    )
    (bundle,) = yard.cut(3)
    collector = client("collector")

    tree = collector.get(
        "/cut", params={"code": tag.code, "tag": "7K3P W9XF"}, headers={"Accept": "text/html"}
    )
    other = collector.get("/cut", params={"code": bundle.code}, headers={"Accept": "text/html"})

    assert (tree.status_code, tree.headers["location"]) == (303, f"/cut/{yard.tree_id}?tag=7K3P%20W9XF")
    assert other.status_code == 409 and "is the tag of a bundle" in other.text
