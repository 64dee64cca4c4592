"""What the counters of a bundle, or of a line of its ledger, come to."""

from __future__ import annotations

from typing import Any

from sqlmodel import col

from service.bundles.tables import Bundle


def left_of(of: Any) -> Any:
    """What is left of the sticks that came in: of a bundle what is on hand, of a line of the ledger what it changed."""
    return col(of.came_in) - col(of.passed_on) - col(of.grafted) - col(of.discarded)


ON_HAND = left_of(Bundle)
FREE = ON_HAND - col(Bundle.promised) - col(Bundle.claimed)
