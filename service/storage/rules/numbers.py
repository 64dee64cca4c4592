"""The limits that ring, and how far what was read reaches, as the page of all numbers lists them: read where they are used."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from service.lib.logged import STUCK_READINGS, STUCK_SECONDS, STUCK_SECONDS_COARSE
from service.lib.readings import HOUR_SECONDS
from service.storage.rules.costs import LEAST_OTHER_HOURS, LEAST_TOLD_DAYS, Q10_FROM_TO, STEEP_FROM_TO
from service.storage.rules.dials import USUAL_C, WIDEST_C
from service.storage.rules.due import LOOK_AGAIN_DAYS, LOOK_EVERY_DAYS
from service.storage.rules.elsewhere import LEAST_C
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
    WARM_HOURS,
)
from service.storage.rules.keeping_words import FEW
from service.storage.rules.loggers import (
    COLDEST_C,
    DAMPEST_PCT,
    LARGEST_OFFSET_C,
    SILENT_AFTER,
    SILENT_STEPS,
    WARMEST_C,
)
from service.storage.rules.odd_readings import LOOK_BACK_DAYS
from service.storage.rules.reading_files import LIKELY_C
from service.storage.rules.remembered import ALL_BUT, SAME_C
from service.storage.rules.temps import COLDEST_FRIDGE_C, NARROWEST_GOOD_C
from service.storage.rules.warning import FREEZES_C, HARDY_KILL10_C
from service.storage.rules.weekly import LATE_WEEKS, LEAST_HOURS, SOON_WEEKS
from service.storage.rules.weights import HALF_STEP_TENTHS, PAIR_REACHES

JUDGEMENT = "judgement"
HOUR = timedelta(hours=1)
_FOUR_PARTS = (
    "The four-part form is that of the WHO, Step-by-step interpretation of 10-day electronic temperature monitoring devices, "
    "2007-2009, for vaccines; the limits for wood are judgement"
)

_VARIED = "for the range in brackets of what a spell cost: from the one to the other"
_MENOUD = "Menoud, Mauget and Frossard 1991, Acta Hortic 298:237-245: rose plants broke bud 7 days sooner in 84 to 112"


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
    "memory": "A thermometer’s memory of frost",
    "look_days": "When wood is to be looked at",
    "told": "What is told, and from when on",
    "asked": "What is asked about, or not taken",
    "shunned": "How cold a store is proposed, and how steady",
}


def keeping_numbers() -> list[Number]:
    """Every one of them. A store may have limits of its own instead; its page tells them."""
    return [*_of_stores(), *_of_looks(), *_of_telling(), *_of_asking()]


def _of_stores() -> list[Number]:
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
        _rings("warm_hours", WARM_HOURS, "hours", "warmer than the wood is kept at for so long within 7 days is told, and rings nobody"),
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


def _of_looks() -> list[Number]:
    practice = "common practice, no source"
    return [
        Number("memory", "same", SAME_C, "°C", "a lowest told again and nearer to it than this is the same frost"),
        Number("memory", "all_but", ALL_BUT, "of the time", "since the reset: wood there for so much of it was there all the while"),
        Number("look_days", "every", LOOK_EVERY_DAYS, "days", "a look into each box", "No source is named.", practice),
        Number("look_days", "again", LOOK_AGAIN_DAYS, "days", "at a bundle of which something was found", "No source is named.", practice),
        Number("look_days", "weighed_pair", PAIR_REACHES / HOUR, "hours", "sticks taken so near two weighings count as taken between"),
        Number("look_days", "scale", HALF_STEP_TENTHS / 10, "g", "by which a reading of a kitchen scale may be off"),
    ]  # fmt: skip


def _of_telling() -> list[Number]:
    return [
        Number("told", "few", FEW, "of a hundred", "fewer are told as a few, so that none is read as a verdict"),
        Number("told", "cost_least", LEAST_TOLD_DAYS, "days", "of keeping that a spell must have cost to be told"),
        Number("told", "cost_rest", LEAST_OTHER_HOURS, "hours", "outside of the spell; with fewer nothing says what would have been"),
        Number("told", "cost_steep_low", STEEP_FROM_TO[0], "per °C", f"the forcing curve’s steepness {_VARIED}", _MENOUD, "derived"),
        Number("told", "cost_steep_high", STEEP_FROM_TO[1], "per °C", f"the forcing curve’s steepness {_VARIED}", _MENOUD, "derived"),
        Number("told", "cost_q10_low", Q10_FROM_TO[0], "-", f"Q10 of reserves {_VARIED}", "Ceschia et al. 2002 (beech stems)", "published"),
        Number("told", "cost_q10_high", Q10_FROM_TO[1], "-", f"Q10 of reserves {_VARIED}", "Gardea et al. (grape buds)", "published"),
        Number("told", "soon", SOON_WEEKS, "weeks", "before its time a letter tells to use wood first"),
        Number("told", "late", LATE_WEEKS, "weeks", "before a day of the club a letter tells what hardly keeps until then"),
        Number("told", "beyond", LEAST_HOURS, "hours", "outside of what suits the wood for which a letter goes out"),
        Number("told", "silent", SILENT_AFTER / HOUR, "hours", "a logger that sends by itself and wrote nothing for so long is silent"),
        Number("told", "silent_steps", SILENT_STEPS, "times", "as long as it usually takes between two readings, where that is longer"),
        Number("told", "hardy", HARDY_KILL10_C, "°C", "wood that loses buds only below it is told to be hardy"),
        Number("told", "freezes", FREEZES_C, "°C", "what was no colder is not told to have frozen"),
    ]  # fmt: skip


def _of_asking() -> list[Number]:
    return [
        Number("asked", "dial_low", USUAL_C[0], "°C", "a dial that shows less is asked about"),
        Number("asked", "dial_high", USUAL_C[1], "°C", "a dial that shows more is asked about"),
        Number("asked", "dial_span", WIDEST_C, "°C", "from lowest to highest; a wider one is asked about"),
        Number("asked", "mean_low", LIKELY_C[0], "°C", "a logger’s file with a lower mean is asked about"),
        Number("asked", "mean_high", LIKELY_C[1], "°C", "a logger’s file with a higher mean is asked about"),
        Number("asked", "back", LOOK_BACK_DAYS, "days", "of readings beside which new ones are looked at"),
        Number("asked", "coldest", COLDEST_C, "°C", "no store is colder: it is not taken"),
        Number("asked", "warmest", WARMEST_C, "°C", "no store is warmer: it is not taken"),
        Number("asked", "dampest", DAMPEST_PCT, "%", "no humidity is more: it is not taken"),
        Number("asked", "offset", LARGEST_OFFSET_C, "°C", "no larger correction of a sensor is taken"),
        Number("shunned", "fridge", COLDEST_FRIDGE_C, "°C", "a household fridge set below it freezes what lies at its back"),
        Number("shunned", "narrowest", NARROWEST_GOOD_C, "°C", "no fridge is steadier: what suits all kinds must leave it room"),
        Number("shunned", "unnamed", LEAST_C, "°C", "where no lowest temperature of the group is named"),
    ]  # fmt: skip


def _rings(name: str, value: float, unit: str, note: str) -> Number:
    return Number("rings", name, value, unit, note, _FOUR_PARTS)
