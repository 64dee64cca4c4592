"""What a store is said to have: what its dial is set to, or what its host tells, where nothing measured."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from service.lib.errors import Unusable
from service.storage.rules.loggers import fault_of_store


class NoSuchNominal(Unusable):
    title = "No store is set to this"
    todo = "Look at the sign and the unit (°C), or leave it empty: then nothing is said of it."


@dataclass(frozen=True)
class NominalFrom:
    """°C from an hour on (since the beginning of 1970); none: nothing is said of it any more."""

    from_hour: int
    temp_c: float | None


def check_nominal(temp_c: float | None) -> None:
    """Raises `NoSuchNominal`."""
    if temp_c is not None and (fault := fault_of_store(temp_c, temp_c)):
        raise NoSuchNominal(f"{fault[0].upper()}{fault[1:]}.", field="temp_c")


def plan_nominal(told: Iterable[tuple[int, int, float | None]]) -> tuple[NominalFrom, ...]:
    """By hour, number and °C, in the order of time; of those told for the same hour the last told counts."""
    by_hour = {hour: temp_c for hour, _, temp_c in sorted(told, key=lambda one: one[:2])}
    return tuple(NominalFrom(hour, temp_c) for hour, temp_c in by_hour.items())
