"""Every look into the catalogue: kinds, varieties by any spelling, stocks, stages, methods, agents, joins."""

from service.catalogue.queries.joins import advice_for_wood, advise_join, stocks_for_woods
from service.catalogue.queries.kinds import (
    NoSuchEntry,
    facts_for_kinds,
    find_taxon,
    get_taxon,
    list_kinds,
    list_taxa,
)
from service.catalogue.queries.science import list_storage_limits, science
from service.catalogue.queries.stocks import (
    facts_for_rootstocks,
    get_agent,
    get_method,
    get_rootstock,
    hosts_of,
    list_agents,
    list_growth_stages,
    list_methods,
    list_rootstocks,
    meant_by,
    reference_taken,
    search_agents,
)
from service.catalogue.queries.varieties import (
    LEAST_SCORE,
    cultivars_spelled,
    facts_for_cultivars,
    find_cultivar,
    get_cultivar,
    list_cultivars,
    search_cultivars,
)

__all__ = [
    "LEAST_SCORE",
    "NoSuchEntry",
    "advice_for_wood",
    "advise_join",
    "cultivars_spelled",
    "facts_for_cultivars",
    "facts_for_kinds",
    "facts_for_rootstocks",
    "find_cultivar",
    "find_taxon",
    "get_agent",
    "get_cultivar",
    "get_method",
    "get_rootstock",
    "get_taxon",
    "hosts_of",
    "list_agents",
    "list_cultivars",
    "list_growth_stages",
    "list_kinds",
    "list_methods",
    "list_rootstocks",
    "list_storage_limits",
    "list_taxa",
    "meant_by",
    "reference_taken",
    "science",
    "search_agents",
    "search_cultivars",
    "stocks_for_woods",
]
