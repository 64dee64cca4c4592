"""A camera for tests: a real Chromium is shown a film in place of one.

Switches and the film's form: https://webrtc.github.io/webrtc-org/testing/ (`--use-fake-device-for-media-stream`,
`--use-file-for-fake-video-capture`); YUV4MPEG2, whose head and frames are as mjpegtools' yuv4mpeg(5) tells them.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pypdfium2  # type: ignore[import-untyped]
from PIL import Image

from service.tags.rules.sheets import Sheet

WIDE, HIGH = 1280, 720
DEVICE = "--use-fake-device-for-media-stream"
ALLOWED = "--use-fake-ui-for-media-stream"


def film_of(pictures: Sequence[Image.Image], path: Path, *, each: int = 5, per_second: int = 5) -> Path:
    """A film that shows each picture for `each` frames, and begins again at its end."""
    with path.open("wb") as film:
        film.write(f"YUV4MPEG2 W{WIDE} H{HIGH} F{per_second}:1 Ip A1:1 C420jpeg\n".encode())
        for picture in pictures:
            shown = Image.new("RGB", (WIDE, HIGH), (96, 84, 70))
            small = picture.copy()
            small.thumbnail((WIDE, HIGH))
            shown.paste(small.convert("RGB"), ((WIDE - small.width) // 2, (HIGH - small.height) // 2))
            planes = np.asarray(shown.convert("YCbCr"))
            half = planes.reshape(HIGH // 2, 2, WIDE // 2, 2, 3).mean(axis=(1, 3)).astype(np.uint8)
            frame = planes[:, :, 0].tobytes() + half[:, :, 1].tobytes() + half[:, :, 2].tobytes()
            film.write((b"FRAME\n" + frame) * each)
    return path


def shown_by(film: Path) -> list[str]:
    """The switches under which a browser takes a film for its camera, and nobody is asked."""
    return [DEVICE, ALLOWED, f"--use-file-for-fake-video-capture={film.resolve()}"]


def labels_of(pdf: bytes, sheet: Sheet, count: int, *, dpi: int = 203) -> list[Image.Image]:
    """The first labels of a page, each cut out as a printer of so many dots an inch prints it, and twice as large."""
    page = pypdfium2.PdfDocument(pdf)[0].render(scale=dpi / 72).to_pil()
    dots = dpi / 25.4
    found = []
    for place in range(count):
        box = sheet.box(place)
        corners = (box.x_mm, box.y_mm, box.x_mm + box.w_mm, box.y_mm + box.h_mm)
        label = page.crop(tuple(round(each * dots) for each in corners))
        found.append(label.resize((label.width * 2, label.height * 2), Image.Resampling.BICUBIC))
    return found
