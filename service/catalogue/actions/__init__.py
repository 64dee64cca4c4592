"""What may be done to the catalogue: name varieties, add spellings, note their protection, take over the reference files."""

from service.catalogue.actions.following import note_changed_cultivars, supply_bundles_of_cultivars
from service.catalogue.actions.loading import (
    LoadReport,
    digest_of_reference,
    load_reference,
    read_folder,
)
from service.catalogue.actions.varieties import add_spelling, change_cultivar, name_cultivar, note_protection

__all__ = [
    "LoadReport",
    "add_spelling",
    "change_cultivar",
    "digest_of_reference",
    "load_reference",
    "name_cultivar",
    "note_changed_cultivars",
    "note_protection",
    "read_folder",
    "supply_bundles_of_cultivars",
]
