"""QR symbols, read back by an independent decoder (zxing-cpp)."""

import random
from xml.etree import ElementTree

import pytest
import zxingcpp
from PIL import Image, ImageDraw

from service.lib import codes, qr

HOST = "CLUB.EXAMPLE"


def _payloads(count: int) -> list[str]:
    chance = random.Random(3)
    made = []
    for _ in range(count):
        body = "".join(chance.choice(codes.ALPHABET) for _ in range(7))
        host = "X" * chance.randint(1, 28)
        made.append(f"HTTPS://{host}/T/{body}{codes.check_sign(body)}")
    return made


def _picture(payload: str, scale: int = 4) -> Image.Image:
    """Fill the outlines by the even-odd rule, as a renderer would."""
    side = (qr.MODULES + 2 * qr.QUIET_ZONE) * scale
    picture = Image.new("1", (side, side), 0)
    for outline in qr.outlines(payload):
        layer = Image.new("1", (side, side), 0)
        corners = [((x + qr.QUIET_ZONE) * scale, (y + qr.QUIET_ZONE) * scale) for x, y in outline]
        ImageDraw.Draw(layer).polygon(corners, fill=1)
        picture = Image.frombytes(
            "1", picture.size, bytes(a ^ b for a, b in zip(picture.tobytes(), layer.tobytes(), strict=True))
        )
    return picture.point(lambda v: 0 if v else 255).convert("L")


def _cells(payload: str) -> set[tuple[int, int]]:
    """Modules inside an odd number of outlines, counted along each row: what the outlines enclose."""
    dark = set()
    for y in range(qr.MODULES):
        crossings = []
        for outline in qr.outlines(payload):
            for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1], strict=True):
                if ax == bx and min(ay, by) <= y < max(ay, by):
                    crossings.append(ax)
        for x in range(qr.MODULES):
            if sum(c <= x for c in crossings) % 2:
                dark.add((x, y))
    return dark


def test_the_symbol_is_29_modules_wide_with_a_quiet_zone_of_4() -> None:
    assert len(qr.matrix(f"HTTPS://{HOST}/T/7K3P9M2A")) == qr.MODULES == 29
    assert qr.QUIET_ZONE == 4


def test_every_symbol_is_read_back_by_zxing_as_level_q() -> None:
    for payload in _payloads(150):
        found = zxingcpp.read_barcodes(_picture(payload), formats=zxingcpp.BarcodeFormat.QRCode)
        assert [f.text for f in found] == [payload]
        assert found[0].ec_level == "Q"


def test_the_outlines_enclose_exactly_the_dark_modules() -> None:
    for payload in _payloads(30):
        modules = qr.matrix(payload)
        assert _cells(payload) == {(x, y) for y, row in enumerate(modules) for x, m in enumerate(row) if m}


def test_no_two_outlines_share_an_edge_and_none_crosses_itself() -> None:
    for payload in _payloads(30):
        steps: list[frozenset[tuple[int, int]]] = []
        for outline in qr.outlines(payload):
            for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1], strict=True):
                assert (ax == bx) != (ay == by)
                ux, uy = (bx > ax) - (bx < ax), (by > ay) - (by < ay)
                for i in range(abs(bx - ax) + abs(by - ay)):
                    a = (ax + ux * i, ay + uy * i)
                    steps.append(frozenset({a, (a[0] + ux, a[1] + uy)}))
        assert len(steps) == len(set(steps))


def test_dark_areas_turn_one_way_and_holes_the_other_so_both_fill_rules_agree() -> None:
    for payload in _payloads(10):
        signed = 0.0
        for outline in qr.outlines(payload):
            signed += (
                sum(
                    ax * by - bx * ay
                    for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1], strict=True)
                )
                / 2
            )
        assert signed == sum(sum(row) for row in qr.matrix(payload))


def test_the_svg_is_one_path_on_white_with_words_for_those_who_cannot_see_it() -> None:
    picture = qr.svg(f"HTTPS://{HOST}/T/7K3P9M2A", text='Tag 7K3P "9M2A" <b>')
    root = ElementTree.fromstring(picture)
    paths = root.findall("{http://www.w3.org/2000/svg}path")

    assert root.get("viewBox") == "0 0 37 37"
    assert root.get("aria-label") == 'Tag 7K3P "9M2A" <b>'
    assert [p.get("fill") for p in paths] == ["#fff", "#000"]
    assert len(picture) < 3500


@pytest.mark.parametrize(
    "payload", ["https://club.example/T/7K3P9M2A", f"HTTPS://{'X' * 29}/T/7K3P9M2A", "HTTPS://É/T/7K3P9M2A"]
)
def test_what_does_not_fit_the_symbol_is_refused(payload: str) -> None:
    with pytest.raises(ValueError, match="at most 47"):
        qr.matrix(payload)
