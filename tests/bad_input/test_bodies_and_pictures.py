"""Bodies that are not what they claim: not UTF-8, too large, no sound JSON, a kind not taken; broken pictures."""

from __future__ import annotations

import io
import re
import socket
from collections.abc import Iterator

import httpx
import pytest
from PIL import Image

from service.lib.errors import TooLarge, Unreadable, WrongKind
from service.lib.pictures import BrokenPicture, NoPicture, TooManyPixels
from tests.bad_input.desk import PAGE, Club, check_page, check_problem
from tests.infra.web import live
from tests.trees.test_pictures import _bomb, picture

JSON = {"Content-Type": "application/json"}
MEGABYTES_21 = b"x" * 21_000_000


# -- JSON --------------------------------------------------------------------------------------------------------------


def broken(bundle_id: str) -> dict[str, tuple[bytes, str]]:
    """Bodies that are no sound JSON, each with the words that say why."""
    known = f'"bundle_id": "{bundle_id}", "sticks": 1'
    return {
        "Latin-1": (f'{{{known}, "reason": "dürr"}}'.encode("latin-1"), "not UTF-8"),
        "UTF-16": (f'{{{known}, "reason": "dry"}}'.encode("utf-16"), "not UTF-8"),
        "cut off": (f'{{{known}, "reason": "dr'.encode(), "Unterminated string"),
        "nothing like it": (b"sticks=1", "Expecting value"),
        "a name twice": (f'{{{known}, "reason": "dry", "sticks": 9}}'.encode(), "'sticks' stands twice"),
        "a name twice, deep inside": (b'[{"a": {"b": 1, "b": 1}}]', "'b' stands twice"),
        # As many that differ: who looks for the pair by comparing all with all would hold up everybody else for minutes.
        "a name twice among 100,000": (
            b'{%s, "99999": 1}' % b", ".join(b'"%d": 0' % n for n in range(100_000)),
            "'99999' stands",
        ),
        "NaN": (f'{{{known}, "reason": NaN}}'.encode(), "NaN is not a number"),
        "Infinity": (f'{{{known}, "reason": -Infinity}}'.encode(), "Infinity is not a number"),
        "half a sign": (f'{{{known}, "reason": "\\ud83c"}}'.encode(), "surrogate"),
        "5,000 digits": (f'{{{known}, "reason": {"9" * 5000}}}'.encode(), "limit"),
        "100,000 deep": (b"[" * 100_000 + b"]" * 100_000, "deep"),
    }


BROKEN = tuple(broken(""))


@pytest.mark.parametrize("which", BROKEN)
def test_a_body_that_is_no_sound_json_is_refused_with_the_reason(club: Club, which: str) -> None:
    content, why = broken(club.bundle(3)["id"])[which]

    with club.nothing_written():
        answer = club.browser().post("/api/discards", content=content, headers=JSON)

    told = check_problem(answer, 400, Unreadable)
    assert why in told["detail"], told
    assert "UTF-8" in told["todo"]


@pytest.mark.databases("sqlite")
def test_every_route_that_takes_json_wants_it_sound(club: Club) -> None:
    browser = club.browser("administrator")
    nobody = "00000000-0000-4000-8000-000000000000"
    heard = {}
    for path, methods in club.app.openapi()["paths"].items():
        for method, told in methods.items():
            if "application/json" in told.get("requestBody", {}).get("content", {}):
                address = re.sub(r"\{\w+\}", nobody, path)
                answer = browser.request(method, address, content=b'{"a": 1, "a": 1}', headers=JSON)
                other = browser.request(
                    method, address, content=b"a=1", headers={"Content-Type": "text/plain"}
                )
                heard[f"{method} {path}"] = (answer.status_code, other.status_code)

    assert len(heard) > 40
    assert {route: both for route, both in heard.items() if both != (400, 415)} == {}


@pytest.mark.parametrize("number", ["1e400", "1e30", "9223372036854775808", "1.0000001", "-0", "null", "[]"])
def test_a_number_that_is_no_count_of_sticks_is_refused_at_its_field(club: Club, number: str) -> None:
    content = f'{{"bundle_id": "{club.bundle(3)["id"]}", "sticks": {number}, "reason": "dry"}}'.encode()

    with club.nothing_written():
        answer = club.browser().post("/api/discards", content=content, headers=JSON)

    told = check_problem(answer, 422, "unusable")
    assert [wrong["at"] for wrong in told["errors"]] == ["body.sticks"]


KINDS = (
    "text/plain",
    "application/xml",
    "application/x-www-form-urlencoded",
    "multipart/form-data; boundary=x",
    "",
)


@pytest.mark.parametrize("kind", KINDS)
def test_json_that_says_it_is_something_else_is_not_read(club: Club, kind: str) -> None:
    content = f'{{"bundle_id": "{club.bundle(3)["id"]}", "sticks": 1, "reason": "dry"}}'.encode()
    browser = club.browser()

    with club.nothing_written():
        answer = browser.post(
            "/api/discards",
            content=content,
            headers={"Content-Type": kind, "X-CSRF-Token": browser.csrf_token},
        )

    check_problem(answer, 415, WrongKind)


# -- forms ---------------------------------------------------------------------------------------------------------------

FORMS = {
    "Latin-1 bytes": ("application/x-www-form-urlencoded", "code=dürr".encode("latin-1")),
    "Latin-1 as %FC": ("application/x-www-form-urlencoded", b"code=d%FCrr"),
    "a part": (
        "multipart/form-data; boundary=cut",
        b'--cut\r\nContent-Disposition: form-data; name="code"\r\n\r\nd\xfcrr\r\n--cut--\r\n',
    ),
    "a broken form": ("multipart/form-data", b"--cut\r\n"),
}


@pytest.mark.parametrize("which", FORMS)
def test_a_form_that_cannot_be_read_is_told_on_a_page(club: Club, which: str) -> None:
    kind, content = FORMS[which]
    browser = club.browser()
    headers = PAGE | {"Content-Type": kind, "X-CSRF-Token": browser.csrf_token}

    with club.nothing_written():
        page = browser.post("/hand-over", content=content, headers=headers)

    check_page(page, 400, "The request could not be read", "Nothing was written.", "UTF-8")


# -- 21 MB ---------------------------------------------------------------------------------------------------------------

WHERE = {
    "JSON": ("/api/discards", "application/json", {}),
    "a form": ("/hand-over", "application/x-www-form-urlencoded", PAGE),
    "a picture": ("/api/pictures", "image/jpeg", {}),
    "a picture in a form": ("/api/pictures", "multipart/form-data; boundary=cut", {}),
}


@pytest.mark.parametrize("which", WHERE)
def test_twenty_one_megabytes_are_refused_before_they_are_read(club: Club, which: str) -> None:
    path, kind, more = WHERE[which]
    browser = club.browser()
    headers = {"Content-Type": kind, "X-CSRF-Token": browser.csrf_token, **more}

    with club.nothing_written():
        answer = browser.post(path, content=MEGABYTES_21, headers=headers)

    if more:
        check_page(
            answer, 413, "This is too large", "More than 20 MB", "Nothing was written.", "Send less at once."
        )
    else:
        assert check_problem(answer, 413, TooLarge)["facts"]["limit_bytes"] == 20_000_000


@pytest.mark.parametrize("which", WHERE)
@pytest.mark.databases("sqlite")
def test_twenty_one_megabytes_in_pieces_of_untold_length_are_refused_too(
    live_club: str, club: Club, which: str
) -> None:
    path, kind, more = WHERE[which]
    browser = club.browser()
    cookie = "; ".join(f"{name}={value}" for name, value in browser.cookies.items())
    headers = {
        "Content-Type": kind,
        "X-CSRF-Token": browser.csrf_token,
        "Cookie": cookie,
        "Idempotency-Key": "a-key-of-its-own",
        **more,
    }

    with club.nothing_written():
        status, kind_of_answer = sent_in_pieces(live_club, path, {**headers, "Origin": live_club})

    assert (status, kind_of_answer) == (
        413,
        "text/html; charset=utf-8" if more else "application/problem+json",
    )


@pytest.fixture
def live_club(club: Club) -> Iterator[str]:
    """The shared club on a real server, which sees pieces as they come."""
    with live(club.app) as address:
        yield address
    club.writer.start()  # the server's end stopped it


def sent_in_pieces(address: str, path: str, headers: dict[str, str]) -> tuple[int, str]:
    """By hand, because a client stops listening once the server stops reading."""
    host = httpx.URL(address)
    with socket.create_connection((host.host, host.port or 80), timeout=20) as line:
        said = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
        line.sendall(
            f"POST {path} HTTP/1.1\r\nHost: {host.host}:{host.port}\r\nTransfer-Encoding: chunked\r\n{said}\r\n".encode()
        )
        piece = b"f4240\r\n" + b"x" * 1_000_000 + b"\r\n"  # a million signs
        try:
            for _ in range(21):
                line.sendall(piece)
            line.sendall(b"0\r\n\r\n")
        except OSError:
            pass  # it answered already
        heard = b""
        while b"\r\n\r\n" not in heard and (more := line.recv(65536)):
            heard += more
    head = heard.decode().splitlines()
    kinds = [text.partition(": ")[2] for text in head if text.lower().startswith("content-type")]
    return int(head[0].split()[1]), kinds[0]


# -- pictures --------------------------------------------------------------------------------------------------------------


def bomb_jpeg() -> bytes:
    """A JPEG of a few bytes that claims 65,500 by 65,500 pixels."""
    raw = bytearray(picture(size=(8, 8)))
    at = raw.index(b"\xff\xc0")
    raw[at + 5 : at + 9] = (65_500).to_bytes(2, "big") * 2
    return bytes(raw)


def animation() -> bytes:
    out = io.BytesIO()
    Image.new("P", (4, 4)).save(out, "GIF", save_all=True, append_images=[Image.new("P", (4, 4), 1)])
    return out.getvalue()


PICTURES = {
    "text under the name of a picture": (b"this is a text file\n" * 50, 422, BrokenPicture),
    "a picture cut off": (picture(size=(400, 400))[:900], 422, BrokenPicture),
    "a picture with its middle gone": (
        picture("PNG", (400, 400))[:200] + picture("PNG", (400, 400))[300:],
        422,
        BrokenPicture,
    ),
    "a bomb of a PNG": (_bomb(), 422, TooManyPixels),
    "a bomb of a JPEG": (bomb_jpeg(), 422, TooManyPixels),
    "a kind not taken": (animation(), 415, NoPicture),
    "nothing": (b"", 422, BrokenPicture),
}


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("which", PICTURES)
def test_a_bad_picture_is_told_and_nothing_is_kept(club: Club, which: str) -> None:
    raw, status, problem = PICTURES[which]
    browser = club.browser()
    headers = {"X-CSRF-Token": browser.csrf_token}

    with club.nothing_written():
        alone = browser.post("/api/pictures", content=raw, headers={"Content-Type": "image/jpeg", **headers})
        in_form = browser.post(
            "/api/pictures", files={"picture": ("tree.jpg", raw, "image/jpeg")}, headers=headers
        )

    check_problem(alone, status, problem)
    check_problem(in_form, status, problem)


@pytest.mark.databases("sqlite")
def test_a_picture_that_says_it_is_a_text_is_not_taken(club: Club) -> None:
    with club.nothing_written():
        answer = club.browser().post(
            "/api/pictures", content=picture(), headers={"Content-Type": "text/plain"}
        )

    check_problem(answer, 415, WrongKind)
