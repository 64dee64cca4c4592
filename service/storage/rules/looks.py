"""What a look at stored wood says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from service.storage.rules.words import Buds, NothingSeen

COMMON_PRACTICE = "common practice, no source"
GROWERS = "growers' reports"


NOTHING_FOUND = 9
# What a look can find, the worst first: past use, then what gets worse each day, then what water may mend. Judgement.
GREEN_BUDS, BROWN_SCRATCH, MOULDY, SWELLING_BUDS, WRINKLED_BARK = range(5)


class Call(StrEnum):
    """What a finding asks for."""

    FINE = "fine"
    USE_FIRST = "use_first"
    WARNING = "warning"


@dataclass(frozen=True)
class Finding:
    """One thing a look says about stored dormant wood, in words, and how it is known."""

    call: Call
    words: str
    mark: str = COMMON_PRACTICE
    rank: int = NOTHING_FOUND  # 0 is the worst


@dataclass(frozen=True)
class Look:
    """What a person saw. None: not looked at."""

    buds: Buds | None = None
    wrinkled: bool | None = None
    mould: bool | None = None
    green_under_scratch: bool | None = None
    bag_grams: float | None = None


def check_saw_something(look: Look) -> None:
    """Raises `NothingSeen`."""
    if all(
        value is None
        for value in (look.buds, look.wrinkled, look.mould, look.green_under_scratch, look.bag_grams)
    ):
        raise NothingSeen("Nothing was said of the buds, the bark, mould, the scratch or the weight.")


_FINDINGS = (
    Finding(Call.USE_FIRST, "The buds swell: it was kept too warm. Use it first.", rank=SWELLING_BUDS),
    Finding(
        Call.WARNING,
        "The buds show green: doubtful even on the same day, and not for bark grafting.",
        rank=GREEN_BUDS,
    ),
    Finding(
        Call.USE_FIRST,
        "The bark is wrinkled: it dried. A fresh cut and water may revive it.",
        GROWERS,
        WRINKLED_BARK,
    ),
    Finding(
        Call.WARNING,
        "Mould: it was kept too wet. Look at what lies beside it; pack moist, not wet.",
        GROWERS,
        MOULDY,
    ),
    Finding(
        Call.WARNING,
        "No green under the scratch: scratch a second stick before you decide.",
        rank=BROWN_SCRATCH,
    ),
)


def judge_look(look: Look, *, dormant: bool = True) -> list[Finding]:
    """What a look means. It warns and sorts; whether wood is kept back stays with the person who looked.

    Stored buds that swell are used first, green ones are past bark grafting (common practice). A wrinkled stick can
    revive with a fresh cut and water; mould comes of wood kept too wet (growers' reports).
    """
    seen = {
        GREEN_BUDS: dormant and look.buds is Buds.GREEN, BROWN_SCRATCH: look.green_under_scratch is False, MOULDY: look.mould,
        SWELLING_BUDS: dormant and look.buds is Buds.SWELLING, WRINKLED_BARK: look.wrinkled,
    }  # fmt: skip
    found = [one for one in _FINDINGS if seen[one.rank]]
    if not found:
        found.append(Finding(Call.FINE, "Nothing wrong was seen."))
    return found
