"""Pictures of trays: printed labels laid out as somebody lays them, turned, a little out of focus, in uneven light."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np
from PIL import Image, ImageFilter


def tray_of(
    labels: Sequence[Image.Image], *, columns: int = 6, wide: int = 0, turned: float = 20, blur: float = 1.0,
    seed: int = 5,
) -> Image.Image:  # fmt: skip
    """The labels in rows, each turned by up to `turned` degrees either way, in a picture of 4 to 3; some 500 pixels for each."""
    wide = wide or min(4000, 500 * columns)
    high = wide * 3 // 4
    rng = np.random.default_rng(seed)
    ground = (112, 96, 78)
    tray = Image.new("RGB", (wide, high), ground)
    rows = -(-len(labels) // columns)
    step_x, step_y = wide // columns, high // max(rows, 1)
    for number, label in enumerate(labels):
        shown = label.convert("RGB")
        shown.thumbnail((int(step_x * 0.8), int(step_y * 0.8)))
        laid = shown.convert("RGBA").rotate(
            float(rng.uniform(-turned, turned)), expand=True, resample=Image.Resampling.BICUBIC
        )
        row, column = divmod(number, columns)
        at = (column * step_x + (step_x - laid.width) // 2, row * step_y + (step_y - laid.height) // 2)
        tray.paste(laid, at, laid)
    soft = np.asarray(tray.filter(ImageFilter.GaussianBlur(blur))).astype(np.float32)
    light = np.linspace(0.65, 1.05, wide, dtype=np.float32)[None, :, None]
    noise = rng.normal(0, 4, soft.shape).astype(np.float32)
    return Image.fromarray((soft * light + noise).clip(0, 255).astype(np.uint8))


def as_file(picture: Image.Image, kind: str = "JPEG", **how: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **({"quality": 88} if kind == "JPEG" else {}), **how)
    return out.getvalue()
