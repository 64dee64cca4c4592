"""The way of the wood as one picture, for the front page of the documentation: `python -m service.pages.pictures.flow FILE`."""

from __future__ import annotations

import sys
from pathlib import Path

from service.pages.pictures.drawing import path
from service.pages.pictures.lineage import described, draw_wide
from service.pages.pictures.model import Knot, Lineage, Step, Thing

TREE_FOOT = 126.0
WAY = Lineage(
    title="The way of the wood, from a tree to a tree",
    knots=(
        Knot("tree", Thing.TREE, "A source tree", "seen healthy, and true"),
        Knot("cut", Thing.COLLECTION, "Cut in winter", "dormant, sticks counted"),
        Knot("tag", Thing.BUNDLE, "A bundle under a tag", "kept cold, looked at", sticks=18),
        Knot("share", Thing.BUNDLE, "Handed over", "a tag of its own", sticks=7),
        Knot("stays", Thing.BUNDLE, "Still in the fridge", "to be used first", sticks=9),
        Knot("sick", Thing.BUNDLE, "From a sick tree", "holder found", stopped=True, sticks=4),
        Knot("graft", Thing.GRAFT, "Grafted in spring", "onto a stock it suits"),
        Knot("plant", Thing.PLANT, "It took", "next year a source tree"),
    ),
    steps=(
        Step("tree", "cut"), Step("cut", "tag"), Step("tag", "share"), Step("tag", "stays"), Step("tag", "sick"),
        Step("share", "graft"), Step("graft", "plant"),
    ),
)  # fmt: skip


def draw_way() -> str:
    """The picture as a file of its own, for light and dark pages."""
    canvas = draw_wide(WAY, "way")
    far, low = canvas.width - 24, canvas.height + 6
    back = f"M{far:g} 66V{low - 20:g}q0 20 -20 20H38q-20 0 -20 -20V{TREE_FOOT:g}"
    canvas.add(path(back, ink="quiet", width=1.6, more=' stroke-dasharray="6 5"'))
    canvas.height += 14
    return canvas.svg(WAY.title, described(WAY), standing_alone=True) + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(draw_way(), encoding="utf-8")
