"""The chain from a tree to a take and on: what kinds of things stand in it, and what leads from one to the next."""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum, StrEnum

from service.lib.errors import NotFound


class Direction(StrEnum):
    BACK = "back"
    FORWARD = "forward"


class Thing(StrEnum):
    """What stands in a lineage, and what a trace can start from."""

    TREE = "tree"
    COLLECTION = "collection"
    BUNDLE = "bundle"
    GRAFT = "graft"
    PLANT = "plant"


class Link(IntEnum):
    """A kind of thing while walking.

    A tree or plant that only carries the wood is not the wood's child: of what was cut from it, only what was cut after
    the graft belongs to the chain.
    """

    TREE = 1
    COLLECTION = 2
    BUNDLE = 3
    GRAFT = 4
    PLANT = 5
    CARRYING_TREE = 6
    CARRYING_PLANT = 7


LINK_OF: Mapping[Thing, Link] = {
    Thing.TREE: Link.TREE,
    Thing.COLLECTION: Link.COLLECTION,
    Thing.BUNDLE: Link.BUNDLE,
    Thing.GRAFT: Link.GRAFT,
    Thing.PLANT: Link.PLANT,
}
THING_OF: Mapping[int, Thing] = {
    **{link: thing for thing, link in LINK_OF.items()},
    Link.CARRYING_TREE: Thing.TREE,
    Link.CARRYING_PLANT: Thing.PLANT,
}

# What each step is called, from the earlier thing to the later one.
HOW: Mapping[tuple[int, int], str] = {
    (Link.TREE, Link.COLLECTION): "cut",
    (Link.COLLECTION, Link.BUNDLE): "labelled",
    (Link.BUNDLE, Link.BUNDLE): "split",
    (Link.BUNDLE, Link.GRAFT): "grafted",
    (Link.GRAFT, Link.PLANT): "became",
    (Link.GRAFT, Link.CARRYING_TREE): "grafted onto",
    (Link.GRAFT, Link.CARRYING_PLANT): "grafted onto",
    (Link.GRAFT, Link.COLLECTION): "cut later from what it was grafted onto",
    (Link.PLANT, Link.TREE): "planted as",
    (Link.CARRYING_PLANT, Link.CARRYING_TREE): "planted as",
    (Link.TREE, Link.PLANT): "made on it",
    (Link.CARRYING_TREE, Link.PLANT): "made on it",
    (Link.PLANT, Link.PLANT): "made on it",
    (Link.CARRYING_PLANT, Link.PLANT): "made on it",
}


class NoSuchThing(NotFound):
    title = "There is no such thing in the records"
