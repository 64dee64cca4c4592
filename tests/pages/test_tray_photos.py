"""One picture of a box: every printed tag in it read on the server, compared with what should lie there, and settled."""

from __future__ import annotations

import io
import os
import signal
from typing import Any

import pytest
import qrcode
from PIL import Image

from service.lib import symbols
from service.lib.codes import group_code
from service.lib.pictures import BrokenPicture, NoPicture, TooManyPixels
from service.lib.symbols import see_symbols
from service.members.signin import SESSION_COOKIE
from service.storage import queries
from service.storage.rules import Found
from service.storage.rules.counting import TooManySeen, check_seen
from service.tags import actions as tags
from service.tags.schemas import TagCreate
from tests.bad_input.desk import PAGE, words_of
from tests.infra.browser_checks import check_page
from tests.infra.trays import as_file, tray_of
from tests.pages.desk import opened, read, send, told_next
from tests.pages.test_scanning import HOST, begin_count, printed, symbol, yard

__all__ = ["yard"]


@pytest.fixture
def host(browser, cast):
    one = browser()
    one.cookies.set(SESSION_COOKIE, cast.token("host"))
    return one


def post_picture(client: Any, path: str, form: dict[str, str], raw: bytes, name: str = "tray.jpg") -> Any:
    return client.post(path, data=form, files={"picture": (name, raw, "image/jpeg")}, headers=PAGE)


def test_a_picture_of_a_box_counts_all_tags_and_settles_what_is_strange_with_one_tap(yard, host, database):
    bundles = yard.cut(*range(3, 15))
    inside, strange = bundles[:9], bundles[9:]
    box, count = begin_count(yard, *inside, bundles[0])
    there = [*inside[1:], *strange]
    tray = tray_of([*printed(yard, [one.code for one in there]), symbol("https://shop.example/twine")])
    page = f"/store/count/{count}"

    answer = post_picture(host, f"{page}/photo", opened(host, page), as_file(tray))
    told = told_next(host, answer)
    shown = read(host, page)
    with database.reading() as session:
        (photo,) = queries.photos_of_count(session, count)
        counted = queries.get_count(session, count)

    assert "12 tags were read: 8 bundles there as they should be, 3 not expected here." in told
    assert {one.bundle_id for one in counted.present} == {one.id for one in inside[1:]}
    assert {one.bundle_id for one in counted.not_expected} == {one.id for one in strange}
    assert [one.bundle_id for one in counted.missing] == [inside[0].id]
    assert [one.code for one in photo.seen if one.code] == [group_code(one.code) for one in there]
    assert [one.words for one in photo.seen if not one.bundle_id] == ["no tag of this club"]
    assert {one.finding for one in photo.seen} == {Found.PRESENT, Found.NOT_EXPECTED, None}
    assert shown.text.count("<polygon") == 12
    _boxes_hold_their_symbols(photo, host.get(photo.address).content)
    settled = send(
        host,
        f"{page}/settle",
        {**opened(host, page), "act": "here", "bundle_id": [str(one.id) for one in strange]},
    )
    assert "3 bundles are written down as lying here" in told_next(host, settled)
    with database.reading() as session:
        assert {queries.whereabouts(session, [one.id])[one.id].box_id for one in strange} == {box.id}


def _boxes_hold_their_symbols(photo: Any, small: bytes) -> None:
    """What is drawn stands where the symbol is: in the middle of each box the kept picture is as contrasty as a symbol."""
    picture = Image.open(io.BytesIO(small)).convert("L")
    assert picture.size == (photo.width, photo.height)
    for one in photo.seen:
        xs, ys = ([corner[axis] for corner in one.corners] for axis in (0, 1))
        inside = picture.crop(
            (
                round(min(xs) * photo.width),
                round(min(ys) * photo.height),
                round(max(xs) * photo.width),
                round(max(ys) * photo.height),
            )
        )
        low, high = inside.getextrema()
        assert high - low > 90, one


@pytest.mark.parametrize(
    ("turned", "orientation"),
    [(Image.Transpose.ROTATE_90, 6), (Image.Transpose.ROTATE_180, 3), (Image.Transpose.ROTATE_270, 8)],
)
def test_a_picture_that_only_says_how_it_was_held_has_its_boxes_upright(yard, turned, orientation):
    """EXIF orientation: CIPA DC-008, tag 0x0112; 6 is a picture to be turned by 90 degrees clockwise to be upright."""
    (bundle,) = yard.cut(4)
    upright = Image.new("RGB", (900, 600), "white")
    upright.paste(symbol(f"HTTPS://{HOST}/T/{bundle.code}"), (30, 20))
    exif = Image.Exif()
    exif[0x0112] = orientation
    held = upright.transpose(turned)

    seen = see_symbols(as_file(held, exif=exif))

    (found,) = seen.symbols
    assert found.text.endswith(bundle.code)
    assert max(x for x, _ in found.corners) < 0.45 and max(y for _, y in found.corners) < 0.65
    assert seen.width > seen.height


def test_nothing_that_the_sender_wrote_into_a_picture_is_kept():
    exif = Image.Exif()
    exif[0x010E] = "the gate code is 4711"
    sent = as_file(
        symbol("ANYTHING").convert("RGB"),
        exif=exif,
        comment=b"the gate code is 4711",
        icc_profile=b"gate 4711" * 20,
    )

    assert b"4711" in sent and b"4711" not in see_symbols(sent).jpeg


def test_more_codes_than_are_read_at_once_are_refused_and_none_is_left_out_in_silence():
    tray = tray_of(
        [symbol(f"HTTPS://{HOST}/T/{number:08d}") for number in range(225)], columns=15, turned=0, blur=0.5
    )
    seen = see_symbols(as_file(tray))

    assert (len(seen.symbols), seen.in_all) == (200, 225)
    with pytest.raises(TooManySeen) as refused:
        check_seen(seen.in_all)
    assert "225 were found; 200 are read at once" in refused.value.detail


def test_two_tags_of_one_bundle_count_once_and_what_was_settled_is_told_as_there(yard, host, writer, cast):
    first, second = yard.cut(4, 5)
    _, count = begin_count(yard, first)
    (extra,) = writer.write_now(
        tags.add_tags, cast.host, [TagCreate(kind="bundle", thing_id=first.id, placement="wood")]
    )
    page = f"/store/count/{count}"
    tray = as_file(tray_of(printed(yard, [first.code, extra.code, second.code]), columns=3))

    told = told_next(host, post_picture(host, f"{page}/photo", opened(host, page), tray))
    before = read(host, page).text
    send(host, f"{page}/settle", {**opened(host, page), "act": "here", "bundle_id": str(second.id)})
    after = read(host, page).text

    assert "3 tags were read: 1 bundle there as they should be, 1 not expected here." in told
    assert "not expected here" in before.partition("What each number is")[2].partition("</ol>")[0]
    assert "not expected here" not in after.partition("What each number is")[2].partition("</ol>")[0]


def test_a_scanned_bundle_without_a_stick_is_not_put_anywhere(yard, host, writer):
    first, empty = yard.cut(4, 1)
    _, count = begin_count(yard, first)
    yard.graft(empty.id, 1)
    page = f"/store/count/{count}"

    send(host, f"{page}/scan", opened(host, page, code=empty.code))
    shown = words_of(read(host, page))

    assert "no stick of it is left: take its tag off" in shown and "It lies here now" not in shown


def test_a_stranger_sends_so_many_pictures_a_minute_and_no_more(yard, browser):
    stranger, blank = browser(), as_file(Image.new("RGB", (40, 40), "white"))
    answers = [post_picture(stranger, "/scan", {}, blank).status_code for _ in range(12)]

    assert answers[0] == 422 and answers[-1] == 429


def test_sixty_codes_are_read_at_once(yard):
    texts = [f"HTTPS://{HOST}/T/{number:08d}" for number in range(60)]
    tray = tray_of([symbol(text) for text in texts], columns=10)

    assert sorted(one.text for one in see_symbols(as_file(tray)).symbols) == texts


def test_a_picture_of_forty_million_pixels_is_read(yard):
    text = f"HTTPS://{HOST}/T/00000000"
    large = Image.new("RGB", (8000, 5000), (120, 100, 80))
    large.paste(qrcode.make(text, box_size=20).get_image(), (5000, 2000))

    assert [one.text for one in see_symbols(as_file(large)).symbols] == [text]


@pytest.mark.parametrize(
    ("raw", "kind", "words"),
    [
        (b"", BrokenPicture, "No bytes"),
        (b"not a picture at all", NoPicture, "no picture of these kinds"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 400, NoPicture, "HEIC"),
        (as_file(Image.new("L", (8000, 7000))), TooManyPixels, "50 million"),
        (as_file(Image.new("RGB", (300, 300)))[:600], BrokenPicture, "damaged"),
        (as_file(Image.new("RGB", (30, 30)), "GIF"), NoPicture, "no picture of these kinds"),
    ],
    ids=["empty", "text", "heic", "too many pixels", "cut off", "gif"],
)
def test_what_is_no_picture_is_refused_in_words(raw, kind, words):
    with pytest.raises(kind) as refused:
        see_symbols(raw)

    assert words in refused.value.detail and refused.value.todo


def test_a_picture_without_a_tag_and_a_picture_twice(yard, host):
    (bundle,) = yard.cut(4)
    _, count = begin_count(yard, bundle)
    page = f"/store/count/{count}"
    form = opened(host, page)
    good = as_file(tray_of(printed(yard, [bundle.code]), columns=2))

    bare = post_picture(host, f"{page}/photo", form, as_file(Image.new("RGB", (800, 600), "white")))
    none = host.post(f"{page}/photo", data=form, headers=PAGE)
    first = post_picture(host, f"{page}/photo", form, good)
    again = post_picture(host, f"{page}/photo", form, good)

    assert bare.status_code == 422 and "No tag was found in this picture" in words_of(bare)
    assert none.status_code == 422 and "Choose a picture" in words_of(none)
    assert first.status_code == again.status_code == 303
    assert read(host, page).text.count('class="shelf"') == 1


def test_a_count_that_was_ended_takes_no_picture(yard, host):
    (bundle,) = yard.cut(4)
    _, count = begin_count(yard, bundle)
    page = f"/store/count/{count}"
    form = opened(host, page)
    assert send(host, f"{page}/end", opened(host, page)).status_code == 303

    late = post_picture(
        host, f"{page}/photo", form, as_file(tray_of(printed(yard, [bundle.code]), columns=2))
    )

    assert late.status_code == 409 and "This count was ended" in words_of(late)


def test_the_program_that_reads_pictures_may_die_and_the_next_is_read_all_the_same():
    picture = as_file(symbol("ANYTHING"))
    assert see_symbols(picture).symbols[0].text == "ANYTHING"
    program = symbols._reader.program
    assert program is not None
    os.kill(program.pid, signal.SIGKILL)
    program.wait()

    assert see_symbols(picture).symbols[0].text == "ANYTHING"
    assert symbols._reader.program is not program


def test_a_stranger_sends_a_picture_and_reaches_the_tag(yard, browser):
    first, second = yard.cut(4, 5)
    stranger = browser()
    symbols._reader.end()

    one = post_picture(stranger, "/scan", {}, as_file(tray_of(printed(yard, [first.code]), columns=2)))
    two = post_picture(
        stranger, "/scan", {}, as_file(tray_of(printed(yard, [first.code, second.code]), columns=2))
    )
    foreign = post_picture(stranger, "/scan", {}, as_file(symbol("HTTPS://TAGS.OTHER.EXAMPLE/T/00000000")))

    assert symbols._reader.program is None  # what reads the club's pictures has seen none of them
    assert (one.status_code, one.headers["location"]) == (303, f"/T/{first.code}")
    assert "2 tags in this picture" in words_of(two) and group_code(second.code) in words_of(two)
    assert foreign.status_code == 404 and "tags.other.example, which is no address of this club" in words_of(
        foreign
    )


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_of_a_photographed_box_has_no_known_fault(yard, live_server, phone, cast, scheme, tmp_path):
    bundles = yard.cut(4, 5, 6, 7)
    _, count = begin_count(yard, *bundles[:3])
    file = tmp_path / "tray.jpg"
    file.write_bytes(as_file(tray_of(printed(yard, [one.code for one in bundles]), columns=2)))
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": cast.token("host"), "url": live_server}])
    phone.emulate_media(color_scheme=scheme)
    phone.goto(f"{live_server}/store/count/{count}")

    phone.click("text=One picture of all that lies here")
    phone.set_input_files("#picture", str(file))
    phone.click("text=Read all tags")
    phone.wait_for_selector(".shelf img")

    assert "4 tags were read" in phone.inner_text("main")
    check_page(phone)
    if folder := os.environ.get("SCION_TEST_SHOTS"):
        phone.screenshot(path=f"{folder}/tray-{scheme}.png", full_page=True)
