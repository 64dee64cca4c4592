"""The tags of a picture of a shelf, as boxes drawn over it: numbered, and told apart by their outline too."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from service.storage.rules import Found
from service.storage.schemas import SeenTag, ShelfPhotoRead

WIDE = 1000  # units of the drawing across the picture
_CLASS = {Found.PRESENT: "there", Found.NOT_EXPECTED: "not-expected", None: "else"}


def boxes_over(photo: ShelfPhotoRead) -> Markup:
    """An SVG as wide and high as the picture, to lie over it. The list beside it says the same in words."""
    high = round(WIDE * photo.height / photo.width)
    drawn = [_box(one, high) for one in photo.seen]
    return Markup(  # noqa: S704 - made of numbers and fixed words alone
        f'<svg class="boxes" viewBox="0 0 {WIDE} {high}" aria-hidden="true">{"".join(drawn)}</svg>'
    )


def _box(one: SeenTag, high: int) -> str:
    points = [(x * WIDE, y * high) for x, y in one.corners]
    middle_x, middle_y = (sum(axis) / 4 for axis in zip(*points, strict=True))
    size = _size(points)
    outline = " ".join(f"{x:.0f},{y:.0f}" for x, y in points)
    return (
        f'<g class="{_CLASS[one.finding]}"><polygon points="{outline}"/>'
        f'<text x="{middle_x:.0f}" y="{middle_y:.0f}" font-size="{size:.0f}">{one.number}</text></g>'
    )


def _size(points: Sequence[tuple[float, float]]) -> float:
    wide = max(x for x, _ in points) - min(x for x, _ in points)
    return min(60.0, max(16.0, wide * 0.6))
