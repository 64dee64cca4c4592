"""A thermometer read by hand: what its numbers may be, and which of them one asks about twice."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.lib.errors import NotFound, Refused, Unusable
from service.lib.temperatures import KELVIN, TempUnit
from service.storage.rules.loggers import COLDEST_C, WARMEST_C

# A store is seldom outside of these, and a slip of the finger often is. Judgement.
USUAL_C = (-5.0, 20.0)
WIDEST_C = 25.0


class NoSuchDialReading(NotFound):
    title = "There is no such reading of a dial"


class DialTakenBack(Refused):
    title = "This reading was taken back before"
    todo = "Type the right one as a new reading, with its own time."


class NothingRead(Unusable):
    title = "A reading needs a number"
    todo = "Type what the thermometer shows now, or its lowest and highest."


class DialContradicts(Unusable):
    title = "These numbers cannot stand on one thermometer"
    todo = "Look again: the lowest is the smallest of the three, the highest the largest."


class NoTemperature(Unusable):
    title = "This is no temperature of a store"
    todo = "Look at the sign, the decimal point and the unit."


class AreYouSure(Unusable):
    title = "Is this right?"
    todo = "If it is what the thermometer or the scale shows, say that it is right and save it again."


@dataclass(frozen=True)
class Dial:
    """What was read, in hundredths of a degree of its unit. None: not read."""

    now: int | None
    lowest: int | None
    highest: int | None
    unit: TempUnit

    def celsius(self, name: str) -> float | None:
        value: int | None = getattr(self, name)
        if value is None:
            return None
        return (value / 100 - 32) / 1.8 if self.unit is TempUnit.F else value / 100


NAMES = {"now": "now", "lowest": "lowest", "highest": "highest"}


def hundredths(value: Decimal | None) -> int | None:
    """A typed number as hundredths. Raises `NoTemperature` where it is finer."""
    if value is None:
        return None
    whole = value * 100
    if whole != int(whole):
        raise NoTemperature(f"{value} has more than two decimals.")
    return int(whole)


def check_dial(dial: Dial, *, sure: bool) -> None:
    """Refuse what cannot be; ask about what hardly is. Raises `NothingRead`, `NoTemperature`, `DialContradicts`, `AreYouSure`."""
    told = {name: celsius for name in NAMES if (celsius := dial.celsius(name)) is not None}
    if not told:
        raise NothingRead("None of the three numbers was told.", field="now")
    for name, celsius in told.items():
        if not COLDEST_C <= celsius <= WARMEST_C:
            given = getattr(dial, name) / 100
            kelvin = " It looks like kelvin." if KELVIN[0] <= given <= KELVIN[1] else ""
            raise NoTemperature(f"{given:g} °{dial.unit} is no temperature of a store.{kelvin}", field=name)
    _check_order(dial)
    doubts = doubts_of(dial)
    if doubts and not sure:
        name, words = doubts[0]
        raise AreYouSure(words, field=name, doubts=[each for _, each in doubts])


def _check_order(dial: Dial) -> None:
    for low, high in (("lowest", "now"), ("now", "highest"), ("lowest", "highest")):
        first, second = getattr(dial, low), getattr(dial, high)
        if first is not None and second is not None and first > second:
            raise DialContradicts(
                f"The {low if low != 'now' else 'present'} is {first / 100:g}, but the "
                f"{high if high != 'now' else 'present'} is {second / 100:g}.",
                field=low if low != "now" else high,
            )


def doubts_of(dial: Dial) -> list[tuple[str, str]]:
    """Numbers that are possible and hardly likely: each with the question to ask."""
    found = []
    for name in NAMES:
        celsius = dial.celsius(name)
        if celsius is not None and not USUAL_C[0] <= celsius <= USUAL_C[1]:
            given = getattr(dial, name) / 100
            other = "F" if dial.unit is TempUnit.C else "C"
            found.append((name, f"{given:g} °{dial.unit} is far from what a store has: is it in °{other}, or mistyped?"))  # fmt: skip
    lowest, highest = dial.celsius("lowest"), dial.celsius("highest")
    if lowest is not None and highest is not None and highest - lowest > WIDEST_C:
        found.append(
            ("highest", f"From {lowest:g} to {highest:g} °C is very wide: was it carried about before it was reset?")
        )  # fmt: skip
    return found


def can_be_dial(dial: Dial, *, sure: bool) -> bool:
    try:
        check_dial(dial, sure=sure)
    except (NothingRead, NoTemperature, DialContradicts, AreYouSure):
        return False
    return True
