"""Answers of corrections: how much followed."""

from __future__ import annotations

from datetime import date

from pydantic import Field

from service.collection.schemas import CollectionRead
from service.lib.schemas import Answer
from service.trees.rules import NameChange
from service.trees.schemas import TreeRead


class Renamed(Answer):
    """A name put right, and how much followed it."""

    from_words: str
    words: str
    on_day: date
    cuts: int
    bundles: int = Field(description="their tags still say the old name; a scan says both")
    plants: int
    trees: int = Field(description="grown of its wood, or bearing it on a branch")


class TreeRenamed(Renamed):
    """A tree under its new name, and how much followed it."""

    tree: TreeRead
    what: NameChange


class CutRenamed(Renamed):
    """A cut or a receipt under its right name, and how much followed it."""

    collection: CollectionRead


class CutMoved(Renamed):
    """A cut at the tree it really came from, and what that brings."""

    collection: CollectionRead
    from_tree_number: int
    tree_number: int
    stays_stopped: int = Field(description="bundles that a stop of the other tree still binds")
    stopped_now: int = Field(description="bundles that a stop of this tree binds from now on")
    elsewhere: int = Field(description="holders of its wood in another plant-health area than this tree's")


class TreeFinished(Answer):
    """A tree that was met on the way, finished; and how much that took its name from it has the new one."""

    tree: TreeRead
    from_words: str
    words: str
    cuts: int = 0
    bundles: int = Field(default=0, description="their tags still say the name as told; a scan says both")
    plants: int = 0
    trees: int = 0
