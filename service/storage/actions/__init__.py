"""What people do with stores: set them up, put wood away, take it out, look at it."""

from service.storage.actions.looking import record_bundle_checks
from service.storage.actions.putting import lay_with_parents, put_away, take_out
from service.storage.actions.stores import add_box, add_place, add_store, change_box, change_store, set_codes

__all__ = [
    "add_box", "add_place", "add_store", "change_box", "change_store", "lay_with_parents", "put_away", "record_bundle_checks",
    "set_codes", "take_out",
]  # fmt: skip
