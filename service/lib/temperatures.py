"""Temperatures as people and instruments write them: in °C or °F, and which of them no air can have."""

from __future__ import annotations

from enum import StrEnum

_SIGNS = str.maketrans(
    {"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{FULLWIDTH HYPHEN-MINUS}": "-", "\N{FULLWIDTH COMMA}": ","}
)
KELVIN = (223.0, 343.0)  # what -50 to 70 °C are in kelvin


class TempUnit(StrEnum):
    C = "C"
    F = "F"


class WhereDiffering(StrEnum):
    """What to do where what is sent says another value of the same time than what stands."""

    REFUSE = "refuse"
    KEEP = "keep"
    REPLACE = "replace"


def no_kelvin(given: object) -> object:
    """What is sent as °C. Raises `ValueError` where it is kelvin, which no air has in °C."""
    try:
        number = float(given) if isinstance(given, int | float | str) else 0.0
    except ValueError:
        return given
    if KELVIN[0] <= number <= KELVIN[1]:
        raise ValueError(f"{number:g} looks like kelvin: tell it in °C, {number - 273.15:.1f}")
    return given


def plain_number(typed: str) -> str:
    """A number as it is typed, with a comma, a minus sign or blanks, as a program reads it; anything else as it was."""
    told = "".join(typed.split()).translate(_SIGNS)
    return told.replace(",", ".") if told.count(",") == 1 and "." not in told else told


def as_typed(given: object) -> object:
    """A number that came as text, as it was typed."""
    return plain_number(given) if isinstance(given, str) else given


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


def doubt_of_unit(mean: float, unit: str, likely: tuple[float, float]) -> str:
    """Why numbers with this mean [°C, as read in `unit`] may be written in the other unit; empty where it need not be asked.

    `likely`: the coldest and the warmest that such a mean may well be [°C].
    """
    coldest, warmest = likely
    if unit == "C" and mean > warmest:
        return (
            f"On average it says {mean:.1f} °C, which is {(mean - 32) / 1.8:.1f} °C if it is written in °F."
        )
    if unit == "F" and mean < coldest:
        return f"On average it says {mean * 1.8 + 32:.1f} °F, which is {mean:.1f} °C: is it written in °C?"
    return ""


def signed(celsius: float) -> str:
    """To a tenth, with a true minus sign."""
    return f"{celsius:.1f}".removesuffix(".0").replace("-", "−")
