"""Forty codes in one picture of a tray, against the bare decoder in the same run, the decoding of the JPEG counted in both."""

from __future__ import annotations

import io
import time
from functools import partial

import qrcode
import zxingcpp
from PIL import Image

from service.lib.symbols import see_symbols
from tests.bench.figures import Figures, by_turns, ms
from tests.infra.trays import as_file, tray_of

CODES = 40
MOST_OVER_BARE = 1.5


def a_tray() -> bytes:
    texts = [f"HTTPS://TAGS.CLUB.EXAMPLE/T/{number:08d}" for number in range(CODES)]
    labels = [
        qrcode.make(text, box_size=6, error_correction=qrcode.constants.ERROR_CORRECT_Q).get_image()
        for text in texts
    ]
    return as_file(tray_of(labels, columns=8, wide=4000))


def bare(raw: bytes) -> int:
    picture = Image.open(io.BytesIO(raw))
    return len(
        zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    )


def seconds_of(work: partial[object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def test_a_tray_of_forty_takes_little_more_than_the_bare_decoder(figures: Figures) -> None:
    raw = a_tray()
    assert bare(raw) == len(see_symbols(raw).symbols) == CODES
    took = by_turns(
        9,
        {
            "ours": partial(seconds_of, partial(see_symbols, raw)),
            "bare": partial(seconds_of, partial(bare, raw)),
        },
    )
    ratio = took["ours"] / took["bare"]
    figures.add(
        f"{CODES} codes in a picture of {len(raw) / 1e6:.1f} MB",
        ms(took["ours"]),
        ms(took["bare"]),
        ratio,
        f"<= {MOST_OVER_BARE}",
    )

    assert ratio <= MOST_OVER_BARE
