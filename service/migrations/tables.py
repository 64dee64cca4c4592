"""Imports every stage's tables, so that the whole schema is known."""

from service.bundles import tables as bundles
from service.catalogue import tables as catalogue
from service.collection import tables as collection
from service.grafting import tables as grafting
from service.lib import jobs, write
from service.lists import tables as lists
from service.members import tables as members
from service.provenance import tables as provenance
from service.storage import tables as storage
from service.tags import tables as tags
from service.trees import tables as trees

__all__ = [
    "bundles",
    "catalogue",
    "collection",
    "grafting",
    "jobs",
    "lists",
    "members",
    "provenance",
    "storage",
    "tags",
    "trees",
    "write",
]
