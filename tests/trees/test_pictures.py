"""Pictures over HTTP: what is kept of them, and what is refused."""

from __future__ import annotations

import hashlib
import io
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from service.lib.errors import TooLarge
from service.lib.pictures import (
    BrokenPicture,
    NoPicture,
    NoSuchPicture,
    TooManyPixels,
    keep_picture,
    path_of_picture,
)
from service.lib.write import Writer
from tests.builders.trees import make_orchard, make_tree
from tests.infra.cast import Cast
from tests.infra.web import Client

Browsers = Callable[[str], Client]


def picture(
    kind: str = "JPEG",
    size: tuple[int, int] = (60, 40),
    colour: object = "green",
    mode: str = "RGB",
    **saved: object,
) -> bytes:
    out = io.BytesIO()
    Image.new(mode, size, colour).save(out, kind, **saved)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_is_kept_as_a_jpeg_under_the_digest_of_its_bytes(data_dir: Path, kind: str) -> None:
    kept = keep_picture(data_dir, picture(kind))

    raw = path_of_picture(data_dir, kept.sha256).read_bytes()
    assert hashlib.sha256(raw).hexdigest() == kept.sha256 and len(raw) == kept.size_bytes
    with Image.open(io.BytesIO(raw)) as opened:
        assert (opened.format, opened.size) == ("JPEG", (60, 40)) == ("JPEG", (kept.width, kept.height))


def test_nothing_of_the_senders_file_but_its_pixels_is_kept(data_dir: Path) -> None:
    exif = Image.Exif()
    exif[0x010F] = "A telling camera"  # maker
    exif[0x0112] = 6  # to be turned by a quarter: EXIF 2.3, tag Orientation
    exif.get_ifd(0x8825)[1] = "N"  # the place

    kept = keep_picture(data_dir, picture(exif=exif, comment=b"a hidden word"))

    raw = path_of_picture(data_dir, kept.sha256).read_bytes()
    assert b"telling" not in raw and b"hidden" not in raw
    with Image.open(io.BytesIO(raw)) as opened:
        assert opened.size == (40, 60) and not opened.getexif()


def test_a_large_picture_is_made_smaller_and_a_clear_one_gets_a_white_ground(data_dir: Path) -> None:
    large = keep_picture(data_dir, picture("PNG", (3000, 1500)))
    clear = keep_picture(data_dir, picture("PNG", colour=(0, 0, 0, 0), mode="RGBA"))

    assert (large.width, large.height) == (2000, 1000)
    with Image.open(path_of_picture(data_dir, clear.sha256)) as opened:
        assert opened.getpixel((5, 5)) == (255, 255, 255)


def test_the_same_picture_is_kept_once(data_dir: Path) -> None:
    first, again = (keep_picture(data_dir, picture()) for _ in range(2))

    assert first == again
    assert [path.name for path in (data_dir / "pictures").rglob("*") if path.is_file()] == [
        f"{first.sha256}.jpg"
    ]


def _bomb() -> bytes:
    """A small file that claims 40,000 by 40,000 pixels."""

    def chunk(name: bytes, told: bytes) -> bytes:
        return len(told).to_bytes(4, "big") + name + told + zlib.crc32(name + told).to_bytes(4, "big")

    head = (40_000).to_bytes(4, "big") * 2 + bytes([8, 0, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


BAD = {
    "nothing": (b"", BrokenPicture),
    "text": (b"this is no picture", BrokenPicture),
    "cut off": (picture(size=(400, 400))[:400], BrokenPicture),
    "a drawing in text": (b'<svg xmlns="http://www.w3.org/2000/svg"/>', BrokenPicture),
    "another kind": (picture("BMP"), NoPicture),
    "too many pixels": (_bomb(), TooManyPixels),
}


@pytest.mark.parametrize("which", BAD)
def test_a_broken_picture_is_told_and_nothing_is_kept(data_dir: Path, which: str) -> None:
    raw, problem = BAD[which]

    with pytest.raises(problem) as refused:
        keep_picture(data_dir, raw)

    assert refused.value.todo
    assert not [path for path in data_dir.rglob("*") if path.is_file()]


def test_more_than_twenty_megabytes_are_not_looked_at(data_dir: Path) -> None:
    with pytest.raises(TooLarge):
        keep_picture(data_dir, bytes(20_000_001))


@pytest.mark.parametrize("name", ["", "..", "../secret", "0" * 64, "A" * 64, "0" * 63 + "/"])
def test_only_a_digest_names_a_picture(data_dir: Path, name: str) -> None:
    (data_dir / "secret").write_text("hush")

    with pytest.raises(NoSuchPicture):
        path_of_picture(data_dir, name)


# -- over HTTP -----------------------------------------------------------------------------------------------------

pytest_plain = pytest.mark.databases("sqlite")


@pytest_plain
def test_a_picture_is_sent_alone_or_in_a_form_and_comes_back(client: Browsers) -> None:
    host = client("host")
    csrf = {"X-CSRF-Token": host.csrf_token}

    alone = host.post("/api/pictures", content=picture(), headers={"Content-Type": "image/jpeg", **csrf})
    in_form = host.post("/api/pictures", files={"picture": ("a.jpg", picture(), "image/jpeg")}, headers=csrf)
    back = client("member").get(alone.json()["address"])

    assert (alone.status_code, in_form.status_code) == (201, 201) and alone.json() == in_form.json()
    assert back.status_code == 200 and hashlib.sha256(back.content).hexdigest() == alone.json()["sha256"]
    assert (
        back.headers["Content-Type"] == "image/jpeg" and back.headers["X-Content-Type-Options"] == "nosniff"
    )
    assert "private" in back.headers["Cache-Control"] and "immutable" in back.headers["Cache-Control"]


@pytest_plain
@pytest.mark.parametrize(
    "content, kind, status, problem",
    [
        (b"no picture", "image/jpeg", 422, "/problems/broken-picture"),
        (picture("BMP"), "image/png", 415, "/problems/no-picture"),
        (_bomb(), "image/png", 422, "/problems/too-many-pixels"),
        (b"<svg/>", "image/svg+xml", 415, "/problems/wrong-kind"),
        (b"{}", "application/json", 415, "/problems/wrong-kind"),
        (bytes(21_000_000), "image/jpeg", 413, "/problems/too-large"),
    ],
    ids=["broken", "a bitmap", "a bomb", "a drawing", "JSON", "21 MB"],
)
def test_a_bad_picture_has_a_clear_problem(
    client: Browsers, data_dir: Path, content: bytes, kind: str, status: int, problem: str
) -> None:
    answer = client("host").post("/api/pictures", content=content, headers={"Content-Type": kind})

    assert (answer.status_code, answer.json()["type"]) == (status, problem) and answer.json()["todo"]
    assert not [path for path in (data_dir / "pictures").rglob("*.jpg")]  # noqa: C416


@pytest_plain
def test_a_form_without_its_picture_is_told(client: Browsers) -> None:
    host = client("host")

    answer = host.post(
        "/api/pictures",
        files={"photo": ("a.jpg", picture(), "image/jpeg")},
        headers={"X-CSRF-Token": host.csrf_token},
    )

    assert answer.status_code == 422 and answer.json()["field"] == "picture"


@pytest_plain
def test_who_may_not_look_at_trees_sends_no_picture_and_a_stranger_sees_none(client: Browsers) -> None:
    kept = (
        client("host").post("/api/pictures", content=picture(), headers={"Content-Type": "image/jpeg"}).json()
    )

    assert (
        client("member")
        .post("/api/pictures", content=picture(), headers={"Content-Type": "image/jpeg"})
        .status_code
        == 403
    )
    assert client("stranger").get(kept["address"]).status_code == 401


@pytest_plain
def test_a_look_names_only_a_picture_that_was_sent(client: Browsers, writer: Writer, cast: Cast) -> None:
    orchard = make_orchard(writer, cast.steward)
    tree = make_tree(writer, cast.steward, orchard)
    look = {"kind": "leaf", "result": "healthy"}
    host = client("host")
    kept = host.post("/api/pictures", content=picture(), headers={"Content-Type": "image/jpeg"}).json()[
        "sha256"
    ]
    never = "0" * 64

    for path, body in (
        (f"/api/trees/{tree.id}/checks", look),
        ("/api/tree-checks", {**look, "tree_id": str(tree.id)}),
    ):
        refused = host.post(path, json=[{**body, "picture": kept}, {**body, "picture": never}])
        assert (refused.status_code, refused.json()["type"]) == (422, "/problems/picture-not-sent")
        assert refused.json()["field"] == "picture" and refused.json()["facts"]["sha256"] == never
        assert host.post(path, json=[{**body, "picture": kept}, body]).status_code == 201
    assert client("host").get(f"/api/trees/{tree.id}/checks").json()["count"] == 4
