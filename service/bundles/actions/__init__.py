"""What people do with sticks: label, split, pass on, cut, count, throw away, graft, stop."""

from service.bundles.actions.labelling import begin_at, change_bundle, set_codes, start_bundles
from service.bundles.actions.ledger import check_takings
from service.bundles.actions.passing import (
    Passing,
    TableCount,
    count_back_from_table,
    count_out_to_table,
    give_outside,
    pass_on,
    return_bundle,
)
from service.bundles.actions.sticks import (
    cut_to_length,
    discard_sticks,
    recount_bundle,
    undo_graft_use,
    use_in_graft,
)
from service.bundles.actions.stopping import bind_bundle_stop, lift_bundle_stop, release_bundles

__all__ = [
    "Passing",
    "TableCount",
    "begin_at",
    "bind_bundle_stop",
    "change_bundle",
    "check_takings",
    "count_back_from_table",
    "count_out_to_table",
    "cut_to_length",
    "discard_sticks",
    "give_outside",
    "lift_bundle_stop",
    "pass_on",
    "recount_bundle",
    "release_bundles",
    "return_bundle",
    "set_codes",
    "start_bundles",
    "undo_graft_use",
    "use_in_graft",
]
