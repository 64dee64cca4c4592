"""What can be wrong with saying that a cut came from another tree."""

from __future__ import annotations

from service.lib.errors import Unusable


class NoTreeOfOurs(Unusable):
    title = "This wood was not cut from a tree of the record"
    todo = "Write on its page from which tree it was cut, as told."


class SameTree(Unusable):
    title = "That is the tree that stands in the record"
    todo = "Choose the tree the wood was really cut from, or leave it as it is."
