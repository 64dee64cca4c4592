"""Every SELECT of provenance: traces, what a stop reaches, cards, answers, timelines, whom to tell."""

from service.provenance.queries.around import trace_around
from service.provenance.queries.bound import (
    BoundBundle,
    BoundPlant,
    Released,
    list_bound_bundles,
    list_bound_plants,
    list_released,
)
from service.provenance.queries.cards import all_bundles, bundles_of_cultivars, facts_for_cards
from service.provenance.queries.closure import (
    Reach,
    parents_of,
    reach_of_bundles,
    reach_of_trees,
    reach_released,
)
from service.provenance.queries.corrections import (
    FirstEvent,
    NamedAfter,
    NameReach,
    count_holders_elsewhere,
    count_named,
    count_stopped,
    first_after_cut,
    name_reach,
    named_after,
)
from service.provenance.queries.day_pack import day_pack_for
from service.provenance.queries.lives import LifeEvent, lives_of
from service.provenance.queries.proposals import bound_by, count_bound, proposals_for
from service.provenance.queries.recalls import (
    find_recall_of,
    get_recall,
    list_recalls,
    parties_of_recall,
    stop_of_recall,
)
from service.provenance.queries.scan import answer_for
from service.provenance.queries.stops import (
    check_bundles_stand,
    get_bundle_to_stop,
    get_stop_on_wood,
    stop_on_wood,
    writes_alone,
)
from service.provenance.queries.taking_away import write_everything
from service.provenance.queries.telling import (
    has_unrecalled_wood,
    open_recalls_not_told,
    parties_to_tell,
    unknown_takers,
)
from service.provenance.queries.timeline import get_timeline, timeline
from service.provenance.queries.trace import Trace, trace_back, trace_forward, trace_of

__all__ = [
    "BoundBundle",
    "BoundPlant",
    "FirstEvent",
    "LifeEvent",
    "NameReach",
    "NamedAfter",
    "Reach",
    "Released",
    "Trace",
    "all_bundles",
    "answer_for",
    "bound_by",
    "bundles_of_cultivars",
    "check_bundles_stand",
    "count_bound",
    "count_holders_elsewhere",
    "count_named",
    "count_stopped",
    "day_pack_for",
    "facts_for_cards",
    "find_recall_of",
    "first_after_cut",
    "get_bundle_to_stop",
    "get_recall",
    "get_stop_on_wood",
    "get_timeline",
    "has_unrecalled_wood",
    "list_bound_bundles",
    "list_bound_plants",
    "list_recalls",
    "list_released",
    "lives_of",
    "name_reach",
    "named_after",
    "open_recalls_not_told",
    "parents_of",
    "parties_of_recall",
    "parties_to_tell",
    "proposals_for",
    "reach_of_bundles",
    "reach_of_trees",
    "reach_released",
    "stop_of_recall",
    "stop_on_wood",
    "timeline",
    "trace_around",
    "trace_back",
    "trace_forward",
    "trace_of",
    "unknown_takers",
    "write_everything",
    "writes_alone",
]
