"""Run as a program of its own: pictures come in one after another, what their QR symbols say goes out.

A picture comes as its length (8 bytes, the greatest first) and its bytes. The answer is the length of a line of JSON, the
line, and then the picture made small and clean: `{"width", "height", "symbols": [[text, [x, y] × 4]], "in_all", "small": bytes,
"small_width", "small_height"}`, or `{"fault": "broken" | "pixels" | "kind"}`. Corners are pixels of the picture as it is
looked at, from the top left, clockwise around the symbol. It ends by itself when nothing has come for a minute.
"""

import contextlib
import io
import json
import select
import sys
import time
from typing import Any, BinaryIO

MOST_PIXELS = 50_000_000
MOST_SYMBOLS = 200
SMALL_SIDE = 1600
READERS = (
    "JPEG",
    "PNG",
    "WEBP",
)  # the first reads pictures with further ones behind them too, as some phones make them
MEMORY = 2_000_000_000
IDLE_SECONDS = 60
SECONDS = 30


def _limit_self() -> None:
    """So much memory, and so many seconds of the processor for the next picture."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
        resource.setrlimit(resource.RLIMIT_CPU, (int(time.process_time()) + SECONDS, hard))


def read_symbols(raw: bytes) -> tuple[dict[str, Any], bytes]:
    """What the symbols of a picture say and where they stand, and the picture made small."""
    import zxingcpp
    from PIL import Image, ImageOps, UnidentifiedImageError

    Image.MAX_IMAGE_PIXELS = None  # we count ourselves, before anything is decoded
    try:
        found_kind = Image.open(io.BytesIO(raw), formats=READERS)  # no other reader sees a stranger's bytes
    except UnidentifiedImageError:
        return {"fault": "kind"}, b""
    with found_kind as opened:
        if opened.width * opened.height > MOST_PIXELS:
            return {"fault": "pixels"}, b""
        picture: Any = ImageOps.exif_transpose(opened) or opened
        picture.load()
    if picture.mode not in ("RGB", "L"):
        clear = picture.convert("RGBA")
        picture = Image.new("RGB", clear.size, "white")
        picture.paste(clear, mask=clear.getchannel("A"))
    grey = picture.convert("L")
    found = zxingcpp.read_barcodes(grey, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    sound = [one for one in found if one.valid]
    symbols = [
        [one.text, [[corner.x, corner.y] for corner in _corners(one.position)]]
        for one in sound[:MOST_SYMBOLS]
    ]
    small = picture.reduce(max(1, -(-max(picture.size) // SMALL_SIDE)))
    out = io.BytesIO()
    # From the bare pixels: the sender's comments and the like are left behind.
    Image.frombytes(small.mode, small.size, small.tobytes()).save(out, "JPEG", quality=80)
    told = {
        "width": picture.width, "height": picture.height, "symbols": symbols, "in_all": len(sound), "small_width": small.width,
        "small_height": small.height,
    }  # fmt: skip
    return told, out.getvalue()


def _corners(position: Any) -> tuple[Any, ...]:
    return (position.top_left, position.top_right, position.bottom_right, position.bottom_left)


def _one(raw: bytes) -> tuple[dict[str, Any], bytes]:
    try:
        return read_symbols(raw)
    except Exception:  # noqa: BLE001 - whatever a broken picture raises, it is a broken picture
        return {"fault": "broken"}, b""


def _put(out: BinaryIO, told: dict[str, Any], small: bytes) -> None:
    line = json.dumps({**told, "small": len(small)}).encode()
    out.write(len(line).to_bytes(8) + line + small)
    out.flush()


def main() -> None:
    """Serve until nothing comes any more."""
    come, go = sys.stdin.buffer, sys.stdout.buffer
    while select.select([come], [], [], IDLE_SECONDS)[0]:
        head = come.read(8)
        if len(head) < 8:
            return
        raw = come.read(int.from_bytes(head))
        _limit_self()
        _put(go, *_one(raw))


if __name__ == "__main__":
    main()
