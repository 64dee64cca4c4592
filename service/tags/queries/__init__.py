"""Every SELECT of tags and label sheets, and the drawing of what was printed."""

from service.tags.queries.blanks import get_blank_batch, list_blank_batches, list_blanks_left
from service.tags.queries.sheets import (
    accepted_hosts,
    current_address,
    draw_sheet,
    get_address,
    get_label_sheet,
    list_addresses,
    list_label_sheets,
    list_sheet_sizes,
)
from service.tags.queries.tags import (
    TagFacts,
    facts_for_codes,
    facts_for_things,
    find_tag,
    get_tag,
    get_typed_tag,
    get_typed_tags,
    list_tags_of,
    list_waiting_labels,
    match_known,
    unknown_tag,
)
from service.tags.queries.words import ClubOnLabels, club_on_labels, label_words, supply_words

__all__ = [
    "ClubOnLabels", "TagFacts", "accepted_hosts", "club_on_labels", "current_address", "draw_sheet", "facts_for_codes",
    "facts_for_things", "find_tag", "get_address", "get_blank_batch", "get_label_sheet", "get_tag", "get_typed_tag",
    "get_typed_tags", "label_words", "list_addresses", "list_blank_batches", "list_blanks_left", "list_label_sheets",
    "list_sheet_sizes", "list_tags_of", "list_waiting_labels", "match_known", "supply_words", "unknown_tag",
]  # fmt: skip
