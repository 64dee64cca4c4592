"""Growth stages of the leaf bud: which list a kind has, and what a stage means for cutting.

The codes of both BBCH lists: Meier (ed.), Growth stages of mono- and dicotyledonous plants, BBCH Monograph, as read
in two concordant public copies. 07 is a pome stage only; 02, 04, 05, 06, 08 and 12 are in neither list.
"""

from __future__ import annotations

from enum import StrEnum

from service.lib.errors import Unusable


class WoodUse(StrEnum):
    """What a stage means for wood that is cut at it (common practice, no source)."""

    KEEP = "keep"
    USE_FIRST = "use_first"
    SAME_DAY = "same_day"
    DO_NOT_CUT = "do_not_cut"


_BBCH = {"00": WoodUse.KEEP, "01": WoodUse.USE_FIRST, "03": WoodUse.SAME_DAY}
_LATE = WoodUse.DO_NOT_CUT
STAGES: dict[str, dict[str, WoodUse]] = {
    "pome": {**_BBCH, "07": _LATE, "09": _LATE, "10": _LATE, "11": _LATE},
    "stone": {**_BBCH, "09": _LATE, "10": _LATE, "11": _LATE},
    "plain": {"tight": WoodUse.KEEP, "swelling": WoodUse.USE_FIRST, "green": _LATE},
}
STAGE_CODES: dict[str, tuple[str, ...]] = {scale: tuple(codes) for scale, codes in STAGES.items()}
# The three plain words of a bundle check go for every kind.
PLAIN = STAGE_CODES["plain"]


class NoSuchStage(Unusable):
    title = "This kind has no such growth stage"
    todo = "Choose a stage from the list of this kind."


def check_stage(scale: str, code: str) -> None:
    """A stage must stand in the list of its kind, or be one of the plain words. Raises `NoSuchStage`."""
    if not can_be_stage(scale, code):
        allowed = list(STAGE_CODES[scale])
        plain = "" if scale == "plain" else f"; {', '.join(PLAIN)} go for every kind"
        raise NoSuchStage(
            f"“{code}” is not in the {scale} list: {', '.join(allowed)}{plain}.",
            field="stage",
            scale=scale,
            allowed=allowed,
        )


def can_be_stage(scale: str, code: str) -> bool:
    return code in STAGES[scale] or code in PLAIN


def wood_use(scale: str, code: str) -> WoodUse:
    """What wood cut at this stage is good for."""
    check_stage(scale, code)
    return STAGES[scale].get(code) or STAGES["plain"][code]


def can_cut_for_store(scale: str, code: str) -> bool:
    """Whether wood cut at this stage may go into store."""
    return wood_use(scale, code) in (WoodUse.KEEP, WoodUse.USE_FIRST)
