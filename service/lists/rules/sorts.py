"""What a club can have lists of: how each sort is called, what it says of itself, and a sample of it."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

from service.lists.rules.columns import FIELDS
from service.lists.rules.words import ListSort


@dataclass(frozen=True)
class SortWords:
    """A sort in the words of its pages."""

    name: str
    one: str
    many: str
    says: str
    home: str  # the page where what it brought stands
    home_words: str
    rests: str  # what keeps it, once it is taken


SORTS: Mapping[ListSort, SortWords] = {
    ListSort.TREES: SortWords(
        "trees", "tree", "trees", "One tree a row. Sites, people and plant-health areas that nobody knows yet are made with them.",
        "/trees", "All trees",
        "no tree of it was cut, looked at, stopped, changed or tagged, nothing else stands on its sites, and none of its people "
        "signed in or holds anything",
    ),
    ListSort.PEOPLE: SortWords(
        "people", "person", "people",
        "One person or club a row. Nobody is entered twice, nobody is given a role or a way to sign in by a list.",
        "/people", "All people",
        "nobody of it was changed, signed in, looks after a tree or holds wood",
    ),
    ListSort.WOOD: SortWords(
        "wood", "bundle", "bundles",
        "Wood that is still kept, or was handed on: one bundle a row. With the number of a tree of the record it becomes a cut of "
        "that tree on its day, else wood received from outside. Each bundle gets a new tag; the code of its old label stands in its note.",
        "/store", "The stores",
        "no stick of it was moved since, and no bundle of it was looked at, stopped or put elsewhere",
    ),
    ListSort.GRAFTS: SortWords(
        "grafts", "row of grafts", "rows of grafts",
        "Grafts that were made: one wood on one stock on one day a row. Wood of the record is told by its code and is taken from its "
        "bundle; other wood is taken in with the graft, as a receipt that says so.",
        "/bench", "The bench",
        "nobody looked at a graft of it since, no plant of it went on, and no tree carries a variety by it",
    ),
}  # fmt: skip


def columns_told(sort: ListSort) -> list[str]:
    """What a list of this sort can tell, as a page says it; what must be told says so."""
    return [f"{one.words} (needed)" if one.needed else one.words for one in FIELDS[sort]]


def sample_of(sort: ListSort) -> str:
    """A table of this sort with two invented rows, CSV: the headings that a newcomer needs."""
    shown = [one for one in FIELDS[sort] if one.samples]
    told = io.StringIO(newline="")
    rows = zip(*(one.samples for one in shown), strict=True)
    csv.writer(told).writerows([[one.words for one in shown], *rows])
    return told.getvalue()
