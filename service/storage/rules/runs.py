"""Stretches of readings at or beyond a limit, and how long each reading stands."""

from __future__ import annotations

from dataclasses import dataclass

from service.lib.logged import HELD_HOURS, usual_step
from service.lib.readings import HOUR_SECONDS, Column


@dataclass(frozen=True)
class Run:
    """A stretch beyond a limit: from the first reading beyond to the first that is well back, or to the last there is."""

    begin: int
    end: int
    ended: bool
    hours: float  # beyond the limit; a reading counts until the next, at most 3 hours
    extreme_c: float


def seconds_of(at: Column) -> Column:
    """How long each reading stands: until the next, at most 3 hours; the last for as long as readings usually do."""
    import numpy as np

    steps = np.diff(at, append=at[-1] + usual_step(at) if len(at) else 0)
    return np.asarray(np.minimum(steps, HELD_HOURS * HOUR_SECONDS))


def runs_beyond(at: Column, temp_c: Column, limit_c: float, back_c: float, *, above: bool) -> list[Run]:
    """Every stretch at or beyond a limit, over when it is back by more than `back_c`."""
    import numpy as np

    if not len(at):
        return []
    past = temp_c >= limit_c if above else temp_c <= limit_c
    back = temp_c < limit_c - back_c if above else temp_c > limit_c + back_c
    told = np.flatnonzero(past | back)
    if not len(told):
        return []
    # Between the two nothing changes: what was beyond stays beyond until it is well back.
    last_told = np.searchsorted(told, np.arange(len(at)), "right") - 1
    inside = (last_told >= 0) & past[told[np.maximum(last_told, 0)]]
    edges = np.diff(np.concatenate([[0], inside.astype(np.int8), [0]]))
    lasts = seconds_of(at)
    runs = []
    for begin, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        part = slice(int(begin), int(end))
        extreme = temp_c[part].max() if above else temp_c[part].min()
        ended = int(end) < len(at)
        until = int(at[end]) if ended else int(at[-1] + lasts[-1])
        hours = float((lasts[part] * past[part]).sum()) / HOUR_SECONDS
        runs.append(Run(int(at[begin]), until, ended, hours, float(extreme)))
    return runs
