"""Whether wood may be cut, kept or grafted now: a table of what the air says, what was seen, and what is known.

Plain Python. The table and its reasons: docs/decisions/0021-dormancy-verdict.md. A verdict warns and sorts; it takes no
wood off any list.
"""

from __future__ import annotations

from enum import StrEnum

from service.science.parameters import value

_PARA_SHARE, _MOVING = value("phases", "para_share"), 1 / value("phases", "budbreak_share")
_SPREAD = value("phases", "need_spread")


class Phase(StrEnum):
    """What holds buds back (Lang et al. 1987), and buds that nothing holds any more."""

    PARA = "para"  # the growing plant around them
    ENDO = "endo"  # they themselves: chill is not met
    ECO = "eco"  # the cold: every warm hour counts
    MOVING = "moving"


class Seen(StrEnum):
    """What a look at the leaf buds said."""

    TIGHT = "tight"
    SWELLING = "swelling"
    GREEN = "green"
    NOT_LOOKED = "not_looked"


class Verdict(StrEnum):
    FIT_TO_STORE = "fit_to_store"
    FIT_USE_FIRST = "fit_use_first"
    GRAFT_AT_ONCE = "graft_at_once"
    DO_NOT_CUT_YET = "do_not_cut_yet"
    NOT_KNOWN = "not_known"


def phase_of(
    portions_cp: float, need_cp: float, bud_dose: float, *, leaves_down: bool | None = None
) -> Phase:
    """The phase by chill, warmth and leaves.

    Parameters
    ----------
    portions_cp : chill portions since late summer [CP].
    need_cp : chill portions that end the rest [CP]; 0 for wood without rest, which is then always ecodormant or moving.
    bud_dose : forcing after rest over the forcing that costs half a stored bundle [-] (`hazards`).
    leaves_down : whether the leaves had fallen; None where nobody looked.

    Returns
    -------
    Moving once warmth comes to the days to budbreak, a dose of 1/0.6; else ecodormant from the need on; else para- with
    leaves on, or where nobody looked with less than a quarter of the need; else endo- (judgement, but for the need).
    """
    if bud_dose >= _MOVING:
        return Phase.MOVING
    if portions_cp >= need_cp:
        return Phase.ECO
    early = portions_cp < _PARA_SHARE * need_cp if leaves_down is None else not leaves_down
    return Phase.PARA if early else Phase.ENDO
