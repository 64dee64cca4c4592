"""Every SELECT about sites, trees, looks at trees, and stops."""

from service.trees.queries.air import air_at_site, air_days, air_records, days_that_stand, last_air
from service.trees.queries.air_files import list_air_files, look_at_air_file, prepare_air_file
from service.trees.queries.naming import list_name_changes, name_on
from service.trees.queries.owning import owner_words
from service.trees.queries.rounds import NoSuchLook, get_look, site_round
from service.trees.queries.sites import (
    NoSuchSite,
    get_site,
    list_sites,
    list_tree_checks,
    lock_site,
    sites_by_id,
)
from service.trees.queries.stops import (
    NoSuchStop,
    find_agent,
    get_stop,
    hosts_on_site,
    list_stops,
    open_stops_for_trees,
    stop_reads,
)
from service.trees.queries.trees import (
    NoSuchTree,
    facts_for_cutting,
    get_facts,
    get_tree,
    list_trees,
    trees_of_site,
)

__all__ = [
    "NoSuchLook",
    "NoSuchSite",
    "NoSuchStop",
    "NoSuchTree",
    "air_at_site",
    "air_days",
    "air_records",
    "days_that_stand",
    "facts_for_cutting",
    "find_agent",
    "get_facts",
    "get_look",
    "get_site",
    "get_stop",
    "get_tree",
    "hosts_on_site",
    "last_air",
    "list_air_files",
    "list_name_changes",
    "list_sites",
    "list_stops",
    "list_tree_checks",
    "list_trees",
    "lock_site",
    "look_at_air_file",
    "name_on",
    "open_stops_for_trees",
    "owner_words",
    "prepare_air_file",
    "site_round",
    "sites_by_id",
    "stop_reads",
    "trees_of_site",
]
