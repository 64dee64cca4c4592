"""How wood is wrapped. Apart from what is reckoned by it, so that what only writes it down need not load arrays."""

from __future__ import annotations

from enum import StrEnum


class Packing(StrEnum):
    """How a bundle is wrapped; each has its packing factor, wetness and ethylene factor in the table of parameters."""

    DAMP_PAPER = "damp_paper"
    SEALED = "sealed"
    WET = "wet"
    SAND = "sand"
    LOOSE = "loose"
    BARE = "bare"
