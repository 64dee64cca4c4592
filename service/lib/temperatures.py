"""Temperatures as people and instruments write them: in °C or °F, and which of them no air can have."""

from __future__ import annotations

from enum import StrEnum

KELVIN = (223.0, 343.0)  # what -50 to 70 °C are in kelvin


class TempUnit(StrEnum):
    C = "C"
    F = "F"


class WhereDiffering(StrEnum):
    """What to do where what is sent says another value of the same time than what stands."""

    REFUSE = "refuse"
    KEEP = "keep"
    REPLACE = "replace"


def humidity_fault(percent: float, dampest: float) -> str:
    return "" if 0 <= percent <= dampest else f"{percent:g} is no humidity in percent"


def celsius_of(given: float, unit: str) -> float:
    """In °C, to the hundredth; `unit` is C or F."""
    return round((given - 32) / 1.8 if unit == "F" else given, 2)


def fault_of_temperature(celsius: float, given: float, limits: tuple[float, float], of: str) -> str:
    """Why a temperature cannot be true, or nothing. `given` is the number as it was written, in whatever unit."""
    coldest, warmest = limits
    if coldest <= celsius <= warmest:
        return ""
    if KELVIN[0] <= given <= KELVIN[1]:
        return f"{given:g} looks like kelvin"
    return f"{given:g} is no temperature of {of} (from {coldest:g} to {warmest:g} °C)"
