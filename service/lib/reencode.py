"""Run as a program of its own: a picture comes in, a clean JPEG goes out, whatever the picture tries to do.

Reads bytes from standard input; writes `WIDTH HEIGHT` on a line and then the JPEG. Ends with 3 where the bytes are
no picture, 4 where it has too many pixels, 5 where its kind is not taken. Nothing of the sender's file is passed
on: no place, no camera, no hidden text.
"""

import contextlib
import io
import sys

LONGEST_SIDE = 2000
MOST_PIXELS = 50_000_000
KINDS = (
    "JPEG",
    "PNG",
    "WEBP",
    "MPO",
)  # the last is a JPEG with further pictures behind it, as some phones make them
MEMORY = 1_500_000_000
SECONDS = 30


def _limit_self() -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def reencode(raw: bytes) -> tuple[int, int, bytes]:
    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = None  # we count ourselves, before anything is decoded
    with Image.open(io.BytesIO(raw), formats=None) as opened:
        if opened.format not in KINDS:
            raise SystemExit(5)
        if opened.width * opened.height > MOST_PIXELS:
            raise SystemExit(4)
        picture = ImageOps.exif_transpose(opened) or opened
        picture.load()
        picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        clear = picture.convert("RGBA")
        flat = Image.new("RGB", clear.size, "white")
        flat.paste(clear, mask=clear.getchannel("A"))
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=85, optimize=True, progressive=True)
    return flat.width, flat.height, out.getvalue()


def main() -> None:
    _limit_self()
    raw = sys.stdin.buffer.read()
    try:
        width, height, jpeg = reencode(raw)
    except Exception:  # noqa: BLE001 - whatever a broken picture raises, it is a broken picture
        raise SystemExit(3) from None
    sys.stdout.buffer.write(f"{width} {height}\n".encode() + jpeg)


if __name__ == "__main__":
    main()
