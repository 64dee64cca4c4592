"""The limits that ring, and how far what was read reaches, as the page of all numbers lists them: read where they are used."""

from __future__ import annotations

from dataclasses import dataclass

from service.lib.logged import STUCK_READINGS, STUCK_SECONDS, STUCK_SECONDS_COARSE
from service.lib.readings import HOUR_SECONDS
from service.storage.rules.excursions import (
    COLD_HOURS,
    FREEZING_ABOVE_KILL10_C,
    FREEZING_BACK_C,
    FREEZING_HOURS,
    HEAT_BACK_C,
    HOT_C,
    HOT_DAYS,
    HOT_HOURS,
    RINGS_WITHIN_SECONDS,
    SAME_EXCURSION_SECONDS,
    TENDEREST_KILL10_C,
    VERY_HOT_C,
    VERY_HOT_HOURS,
)

JUDGEMENT = "judgement"
_FOUR_PARTS = (
    "The four-part form is that of the WHO, Step-by-step interpretation of 10-day electronic temperature monitoring devices, "
    "2007-2009, for vaccines; the limits for wood are judgement"
)


@dataclass(frozen=True)
class Number:
    """One number of keeping: in which set it stands, its name there, and how it is known."""

    key: str
    name: str
    value: float
    unit: str
    note: str = ""
    source: str = "Judgement"
    mark: str = JUDGEMENT


TITLES = {
    "rings": "What rings in a store",
    "reach": "How far what was read reaches",
    "stuck": "Readings that look stuck",
}


def keeping_numbers() -> list[Number]:
    """Every one of them. A store may have limits of its own instead; its page tells them."""
    from service.storage.rules.doses import DIAL_REACHES_HOURS
    from service.storage.rules.keeping import LONGEST_OUT_HOURS

    kill = "above what kills a tenth of the buds of the tenderest wood there; at or below it rings"
    return [
        _rings("heat", HOT_C, "°C", "at it or more; a thermometer read by hand rings at it at once"),
        _rings("heat_hours", HOT_HOURS, "hours", "so long at the heat limit, added up"),
        _rings("heat_days", HOT_DAYS, "days", "within which those hours are added up"),
        _rings("high_heat", VERY_HOT_C, "°C", "at it or more; by hand, since its memory was reset"),
        _rings("high_heat_hours", VERY_HOT_HOURS, "hours", "so long on end"),
        _rings("frost_above_kill", FREEZING_ABOVE_KILL10_C, "°C", kill),
        _rings("frost_hours", FREEZING_HOURS, "hours", "so long on end"),
        _rings("frost_kill_unknown", TENDEREST_KILL10_C, "°C", "taken to kill a tenth of unknown wood: as of fig and kiwi"),
        _rings("cold_hours", COLD_HOURS, "hours", "colder than the wood is kept at for so long is told, and rings nobody"),
        _rings("heat_back", HEAT_BACK_C, "°C", "so much below the limit and it is over"),
        _rings("frost_back", FREEZING_BACK_C, "°C", "so much above the limit and it is over"),
        _rings("same_within", SAME_EXCURSION_SECONDS / HOUR_SECONDS, "hours", "what begins again within them is the same"),
        _rings("rings_within", RINGS_WITHIN_SECONDS / HOUR_SECONDS, "hours", "what was over earlier stands in the weekly letter alone"),
        Number("reach", "dial", DIAL_REACHES_HOURS / 24, "days", "read by hand it stands for the hours nearest to it, so far either way"),
        Number("reach", "out_of_store", LONGEST_OUT_HOURS / 24, "days", "of wood that lay longer in no store nothing is reckoned"),
        Number("stuck", "readings", STUCK_READINGS, "readings", "all the same, at the least: then somebody is asked"),
        Number("stuck", "hours", STUCK_SECONDS / HOUR_SECONDS, "hours", "the same for so long"),
        Number("stuck", "hours_coarse", STUCK_SECONDS_COARSE / HOUR_SECONDS, "hours", "where it shows whole or half degrees alone"),
    ]  # fmt: skip


def _rings(name: str, value: float, unit: str, note: str) -> Number:
    return Number("rings", name, value, unit, note, _FOUR_PARTS)
