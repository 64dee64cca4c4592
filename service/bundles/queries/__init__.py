"""Every SELECT about bundles and their ledger."""

from service.bundles.queries.audit import audit, balance_of_collection
from service.bundles.queries.bundles import (
    bundle_read,
    bundles_of_collections,
    bundles_of_trees,
    check_deeds,
    facts_for_bundles,
    find_bundle_by_code,
    get_bundle,
    get_facts,
    list_bundles,
    list_moves,
    stop_words,
    table_sticks_out,
)
from service.bundles.queries.counters import ON_HAND, left_of

__all__ = [
    "ON_HAND",
    "audit",
    "balance_of_collection",
    "bundle_read",
    "bundles_of_collections",
    "bundles_of_trees",
    "check_deeds",
    "facts_for_bundles",
    "find_bundle_by_code",
    "get_bundle",
    "get_facts",
    "left_of",
    "list_bundles",
    "list_moves",
    "stop_words",
    "table_sticks_out",
]
