"""Every SELECT of keeping: stores and boxes, what lies where, what lay beside what, looks at bundles."""

from service.storage.queries.acting import (
    BoxFacts,
    Destination,
    acts_of,
    bundles_to_keep,
    find_names_in_use,
    lock_boxes,
    lock_bundles,
    lying_in_boxes,
    parties_that_stand,
    resolve_codes,
    targets_of,
    where_grown,
)
from service.storage.queries.beside import beside, beside_all, stays_of, stays_of_all
from service.storage.queries.contents import (
    contents_of_box,
    contents_of_place,
    contents_of_store,
    lying_in_stores,
    store_page,
    wood_left_in,
)
from service.storage.queries.counting import expected_in, get_count, recent_counts, scan_facts
from service.storage.queries.due import (
    StoreLook,
    checks_due,
    checks_due_everywhere,
    looks_to_come,
)
from service.storage.queries.files import list_files, look_at_file, prepare_file
from service.storage.queries.hand import dials_between, fruit_in, fruit_now, get_dial, last_dials, list_dials
from service.storage.queries.in_hand import WoodInHand, record_changed, wood_in_hand
from service.storage.queries.limits import store_limits, store_with_limits
from service.storage.queries.loggers import (
    find_logger,
    get_logger,
    left_out_of,
    list_loggers,
    lock_logger,
    loggers_in_boxes,
    loggers_in_store,
    offsets_of,
    spells_of_loggers,
)
from service.storage.queries.looks import last_checks, list_checks, neighbours_in_box
from service.storage.queries.lying import whereabouts, whereabouts_at
from service.storage.queries.packing import get_packings, packings_of, packings_of_all
from service.storage.queries.quiet import quiet_in_store
from service.storage.queries.readings import (
    hours_in_store,
    kept_days,
    readings_as_came,
    readings_of_logger,
    record_of_logger,
    records_in_store,
    records_in_stores,
    records_of_loggers,
)
from service.storage.queries.ringing import (
    list_rings,
    rung_in,
    see_store,
    stores_of_logger,
)
from service.storage.queries.stores import (
    facts_for_stores,
    get_box,
    get_store,
    list_boxes,
    list_stores,
    places_of,
    stores_of_host,
)
from service.storage.queries.temps import (
    limits_here,
    limits_of,
    store_temps,
)
from service.storage.queries.week import (
    came_and_went,
)
from service.storage.queries.weekly import (
    hosts_to_write_to,
    last_weekly_moment,
    weeks_of_host,
)
from service.storage.queries.weights import get_weighing, get_weighings, weighings_of

__all__ = [
    "BoxFacts",
    "Destination",
    "StoreLook",
    "WoodInHand",
    "acts_of",
    "beside",
    "beside_all",
    "bundles_to_keep",
    "came_and_went",
    "checks_due",
    "checks_due_everywhere",
    "contents_of_box",
    "contents_of_place",
    "contents_of_store",
    "dials_between",
    "expected_in",
    "facts_for_stores",
    "find_logger",
    "find_names_in_use",
    "fruit_in",
    "fruit_now",
    "get_box",
    "get_count",
    "get_dial",
    "get_logger",
    "get_packings",
    "get_store",
    "get_weighing",
    "get_weighings",
    "hosts_to_write_to",
    "hours_in_store",
    "kept_days",
    "last_checks",
    "last_dials",
    "last_weekly_moment",
    "left_out_of",
    "limits_here",
    "limits_of",
    "list_boxes",
    "list_checks",
    "list_dials",
    "list_files",
    "list_loggers",
    "list_rings",
    "list_stores",
    "lock_boxes",
    "lock_bundles",
    "lock_logger",
    "loggers_in_boxes",
    "loggers_in_store",
    "look_at_file",
    "looks_to_come",
    "lying_in_boxes",
    "lying_in_stores",
    "neighbours_in_box",
    "offsets_of",
    "packings_of",
    "packings_of_all",
    "parties_that_stand",
    "places_of",
    "prepare_file",
    "quiet_in_store",
    "readings_as_came",
    "readings_of_logger",
    "recent_counts",
    "record_changed",
    "record_of_logger",
    "records_in_store",
    "records_in_stores",
    "records_of_loggers",
    "resolve_codes",
    "rung_in",
    "scan_facts",
    "see_store",
    "spells_of_loggers",
    "stays_of",
    "stays_of_all",
    "store_limits",
    "store_page",
    "store_temps",
    "store_with_limits",
    "stores_of_host",
    "stores_of_logger",
    "targets_of",
    "weeks_of_host",
    "weighings_of",
    "where_grown",
    "whereabouts",
    "whereabouts_at",
    "wood_in_hand",
    "wood_left_in",
]  # fmt: skip
