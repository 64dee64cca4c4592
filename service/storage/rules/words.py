"""Words of keeping, and what can be wrong with them."""

from __future__ import annotations

from enum import StrEnum

from service.lib.errors import NotAllowed, NotFound, Refused, Unusable

# The name of the place every store has from the start: somewhere in it, no shelf told.
ANYWHERE = ""


class StoreKind(StrEnum):
    FRIDGE = "fridge"
    COLD_ROOM = "cold_room"
    CELLAR = "cellar"


class Buds(StrEnum):
    """How the leaf buds look; empty where nobody looked."""

    TIGHT = "tight"
    SWELLING = "swelling"
    GREEN = "green"


class Closeness(StrEnum):
    """How near two bundles lay, the nearest first."""

    BOX = "box"
    PLACE = "place"
    STORE = "store"


NEARER_FIRST = tuple(Closeness)


class NoSuchStore(NotFound):
    title = "There is no such store"


class NoSuchPlace(NotFound):
    title = "There is no such place in a store"


class NoSuchBox(NotFound):
    title = "There is no such box"


class NoSuchHost(Unusable):
    title = "There is no such person to stand as host"


class NotForStoring(Unusable):
    title = "This code does not fit here"


class BoxInBox(Refused):
    title = "A box cannot lie in a box"
    todo = "Put the box on a place of a store."


class StoreClosed(Refused):
    title = "This store is closed"
    todo = "Choose another store, or open it again first."


class StoreNotEmpty(Refused):
    title = "There is still wood in this store"
    todo = "Put it elsewhere or take it out first; an empty box may stay."


class NameInUse(Refused):
    title = "This name is in use"
    todo = "Choose a name that differs from the others."


class StoppedWoodStays(Refused):
    title = "Stopped wood may not be moved"
    todo = "Leave it where it lies. A health steward may move it aside, to keep it apart from other wood."


class NotApart(Refused):
    title = "That would not keep it apart"
    todo = "Choose a box in which nothing else lies but stopped wood, or a place."


class OnlyToIsolate(NotAllowed):
    title = "Only a health steward may move stopped wood aside"


class NothingSeen(Unusable):
    title = "A look needs something that was seen"
    todo = "Say how the buds are, or tick what you found, or give the weight of the bag."


FRUIT_CAUTION = (
    "Ripening fruit gives off ethylene, which makes stored buds swell and bark split (published, no safe amount is known): "
    "keep fruit out of this store."
)
