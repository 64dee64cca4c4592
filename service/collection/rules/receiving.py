"""Wood from outside: what must be known before it is taken in."""

from __future__ import annotations

from datetime import date

from service.lib.clock import day_words
from service.lib.errors import Unusable
from service.members.rules import AreaFacts, AreaNotKnown, AreaPermitFacts, Receiver, check_may_cross


class CutAfterItCame(Unusable):
    title = "Wood cannot come before it was cut"
    todo = "Check the day it was cut and the day it came."


class OriginNotKnown(AreaNotKnown):
    title = "It is not known in which plant-health area this wood grew"
    lift_words = "Record the area it grew in"
    lift_right = "trees"
    todo = "Ask the giver where the tree stands, and tell the area with the receipt. Until then keep the wood apart and give none of it away."  # noqa: E501


def check_cut_before_it_came(cut_on: date, came_on: date) -> None:
    if cut_on > came_on:
        raise CutAfterItCame(
            f"It is said to be cut on {day_words(cut_on)}, but it came on {day_words(came_on)}.",
            field="cut_on",
        )


def check_may_take_in(
    origin: AreaFacts | None, here: AreaFacts | None, permit: AreaPermitFacts | None, *, genus: str = "",
    receiver: Receiver | None = None,
) -> None:  # fmt: skip
    """Wood from another area needs the authority’s answer before it is taken in."""
    if origin is None and here is not None:
        raise OriginNotKnown(
            f"It comes to {here.name}.", field="area_id", lift="/areas/new", to_area=here.name
        )
    check_may_cross(origin, here, permit, genus=genus, receiver=receiver)


def check_may_carry(
    origin: AreaFacts, cutter: AreaFacts | None, permit: AreaPermitFacts | None, *, genus: str = ""
) -> None:
    """Whoever cuts in another area than their own takes the wood across its boundary; an unknown area is only told."""
    if cutter is not None:
        check_may_cross(origin, cutter, permit, genus=genus)
