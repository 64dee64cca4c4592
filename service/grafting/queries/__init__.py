"""Every SELECT of the bench: grafts, plants, takes, and what must be known before a graft is written down."""

from service.grafting.queries.bench import (
    Method,
    PlantAsStock,
    TreeAsStock,
    areas_of_sites,
    flags_of,
    lock_plants,
    methods_at_bench,
    plants_at_bench,
    rootstocks_at_bench,
    trees_at_bench,
    woods_at_bench,
)
from service.grafting.queries.carried import get_plant
from service.grafting.queries.grafts import (
    get_graft,
    graft_to_change,
    grafts_of_bundles,
    grafts_on_plants,
    grafts_on_trees,
    list_grafts,
    list_takes_due,
)
from service.grafting.queries.joins import JoinAsked, Sort, advise_all
from service.grafting.queries.plants import (
    PlantFacts,
    facts_for_plants,
    list_plants,
    lock_plant,
    plant_to_plant,
    plants_bound_by,
    plants_of_grafts,
    stops_on_plants,
)
from service.grafting.queries.takes import (
    GraftToJudge,
    count_takes,
    grafts_to_judge,
    latest_graft_of_plants,
    looks_at,
    plants_touched,
    takes_of,
    varieties_that_took,
)

__all__ = [
    "GraftToJudge", "JoinAsked", "Method", "PlantAsStock", "PlantFacts", "Sort", "TreeAsStock", "advise_all", "areas_of_sites",
    "count_takes", "facts_for_plants", "flags_of", "get_graft", "get_plant", "graft_to_change", "grafts_of_bundles", "grafts_on_plants",
    "grafts_on_trees", "grafts_to_judge", "latest_graft_of_plants", "list_grafts", "list_plants", "list_takes_due", "lock_plant",
    "lock_plants", "looks_at", "methods_at_bench", "plant_to_plant", "plants_at_bench", "plants_bound_by",
    "plants_of_grafts", "plants_touched", "rootstocks_at_bench", "stops_on_plants", "takes_of", "trees_at_bench",
    "varieties_that_took", "woods_at_bench",
]  # fmt: skip
