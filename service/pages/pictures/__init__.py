"""Pictures of wood, drawn on the server: the life line of a bundle, and the same line forking through its lineage."""

from service.pages.pictures.air import AirOfDay, air_over, months_of
from service.pages.pictures.from_record import (
    Row,
    both_widths,
    life_line_of,
    life_line_of_card,
    lineage_of,
    small_lines_of,
)
from service.pages.pictures.temps import closer_over, temps_of

NARROW = 360.0  # what fits a phone without shrinking its words

__all__ = [
    "NARROW",
    "AirOfDay",
    "Row",
    "air_over",
    "both_widths",
    "closer_over",
    "life_line_of",
    "life_line_of_card",
    "lineage_of",
    "months_of",
    "small_lines_of",
    "temps_of",
]
