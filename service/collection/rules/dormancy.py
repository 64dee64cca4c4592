"""The dormancy of a cut in words: what is needed, why the air may say nothing, and what a verdict means.

The verdict itself is `science.dormancy`; its table and reasons: docs/decisions/0021-dormancy-verdict.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.catalogue.rules import WoodUse
from service.lib.clock import day_words
from service.science.dormancy import (
    About,
    Change,
    Evidence,
    Judged,
    Phase,
    Seen,
    Verdict,
    need_spread,
    warmth_share,
)
from service.science.groups import GROUPS
from service.science.parameters import Mark
from service.science.requirements import needs_of_group, own_need

_SEEN = {
    WoodUse.KEEP: Seen.TIGHT,
    WoodUse.USE_FIRST: Seen.SWELLING,
    WoodUse.SAME_DAY: Seen.GREEN,
    WoodUse.DO_NOT_CUT: Seen.GREEN,
}


def seen_of(use: WoodUse | None) -> Seen:
    """What a growth stage says of the leaf buds; swollen buds are grafted the same day, as green ones are."""
    return Seen.NOT_LOOKED if use is None else _SEEN[use]


@dataclass(frozen=True)
class Need:
    """What a kind of wood needs. `forcing_days` is None for evergreen wood; `spread`: how far it may be out [of the need]."""

    portions_cp: float
    forcing_days: float | None
    is_own: bool
    mark: str
    source: str
    least: float | None = None
    most: float | None = None
    spread: float = 0

    @property
    def rests(self) -> bool:
        return self.forcing_days is not None and self.portions_cp > 0


def need_of(group: str, variety: str = "") -> Need | None:
    """What a variety is said to need, else its group; None where no group of that kind was studied."""
    if group not in GROUPS:
        return None
    kind, own = GROUPS[group], own_need(group, variety) if variety else None
    told = needs_of_group(group)
    least, most = min((each.least for each in told), default=None), max((each.most for each in told), default=None)  # fmt: skip
    spread = need_spread(group, own)
    if own is not None:
        return Need(own.middle, kind.forcing_days, True, str(own.mark), own.source, least, most, spread)
    source = told[0].source if told else ""
    return Need(
        kind.chill_need_cp, kind.forcing_days, False, str(Mark.JUDGEMENT), source, least, most, spread
    )


class NoChill(StrEnum):
    """Why the air says nothing of the chill of some wood."""

    NO_SITE = "no_site"
    NO_LATITUDE = "no_latitude"
    NO_WINTER = "no_winter"
    NO_AIR = "no_air"
    TOO_FEW_DAYS = "too_few_days"
    STALE = "stale"
    UNMET = "unmet"
    NO_NEED = "no_need"
    NO_REST = "no_rest"


def why_no_chill(
    reason: NoChill, *, kind: str = "", measured: int = 0, asked: int = 0, begins: date | None = None, last: date | None = None
) -> str:  # fmt: skip
    """The reason as a sentence."""
    since = f" since {day_words(begins)}" if begins else ""
    ended = f" on {day_words(last)}" if last else ""
    words = {
        NoChill.NO_SITE: "It came from outside, and the air where it grew is not in the record.",
        NoChill.NO_LATITUDE: "The site has no latitude in the record, so its winter and the hours of its days are not known; "
        "enter it on the site’s page.",
        NoChill.NO_WINTER: "The site lies between the tropics, where the sun makes no winter: chill is not counted there.",
        NoChill.NO_AIR: f"No day of air was told for this site{since}.",
        NoChill.TOO_FEW_DAYS: f"Only {measured} of the {asked} days{since} were measured: too few to count chill by.",
        NoChill.STALE: f"The record of this site’s air ended{ended}: what the air has done since then nobody knows.",
        NoChill.UNMET: "The winter is long over and the air never brought the chill it needs: of its rest the air says nothing "
        "more.",
        NoChill.NO_NEED: f"How much chill {kind.lower() or 'this kind'} needs is not known here.",
        NoChill.NO_REST: f"{kind or 'This kind'} keeps its leaves and has no rest that chill would end.",
    }
    return words[reason]


LABELS = {
    Verdict.FIT_TO_STORE: "Fit to store",
    Verdict.FIT_USE_FIRST: "Fit, use it first",
    Verdict.GRAFT_AT_ONCE: "Graft it at once",
    Verdict.DO_NOT_CUT_YET: "Cut too early",
    Verdict.NOT_KNOWN: "Dormancy not known",
}
SUMMER_LABEL = "Summer budwood"
SUMMER_WORDS = (
    "It is cut from shoots in leaf and used within days: dormancy is not asked of it, and it gets no verdict."
)


def sentence_of(judged: Judged, seen: Seen, reason: NoChill | None = None) -> str:
    """What the verdict means for whoever holds the wood."""
    if judged.verdict is Verdict.DO_NOT_CUT_YET:
        return "The wood was hardly ripe and its buds not yet at rest: it keeps badly. Better wood comes once the leaves are down."
    if judged.verdict is Verdict.NOT_KNOWN:
        if judged.phase is Phase.MOVING:
            return "By the air the buds could have begun to move, and nobody wrote down how they looked. Look at them."
        if judged.phase is Phase.ECO:
            return "By the air the buds are not far from moving, and nobody wrote down how they looked. Look at them."
        if seen is Seen.TIGHT:
            return (
                "The buds were tight, and tight buds look the same in autumn and in March: whether it was at rest neither air nor "
                "leaves tell. Keep it cold, and look at it again soon."
            )
        return (
            "Nobody wrote down enough to tell. Look at the buds: tight and dark ones may go into the store."
        )
    if judged.verdict is Verdict.GRAFT_AT_ONCE:
        if seen is Seen.SWELLING:
            return "The buds swell, and by the air they are moving: too late for the store. Graft it the same day."
        return "The buds have swollen or opened: too late for the store. Graft it the same day, or leave it."
    if judged.verdict is Verdict.FIT_USE_FIRST:
        if seen is Seen.TIGHT:
            return "The buds are tight, but by the air they could begin to move: it may go into the store, and is used first."
        return "The buds begin to swell: chill it at once, and use it before other wood."
    if reason is NoChill.NO_REST:
        return "By its buds it may go into the store. It keeps its leaves and has no rest to wait for."
    return _FIT[judged.phase]


_FIT = {
    Phase.ENDO: "The buds rest by themselves: they do not push even in a warm spell, and go on counting cold in the store.",
    Phase.ECO: "Their rest is over and only the cold holds them: it keeps while it is kept cold, and every warm hour counts.",
    None: "By buds and leaves it may go into the store; the air says nothing of how far its rest is.",
}


def evidence_words(one: Evidence, *, begins: date | None, need: Need | None) -> str:
    """One piece of evidence as a line, its number with its unit."""
    told = one.value
    if isinstance(told, str):
        return _SEEN_WORDS[one.about, told]
    since = f" since {day_words(begins)}" if begins else ""
    if one.about is About.PORTIONS:
        return f"{told:.0f} chill portions counted{since}"
    if one.about is About.NEED:
        return _need_words(told, need)
    if one.about is About.BUD_DOSE:
        return f"{warmth_share(told):.0%} of the warmth that brings buds to move, counted since rest ended"
    return f"{told / 24:.0f} days without air{since}, counted as neither cold nor warm"


def _need_words(portions: float, need: Need | None) -> str:
    words = f"about {portions:g} chill portions end its rest"
    if need is None:
        return words
    words += ", told of this variety" if need.is_own else ", taken for its kind"
    if need.least is not None and need.most is not None and not need.is_own:
        return words + f" (published of varieties: {_range(need.least, need.most)})"
    return words if need.is_own else words + " (no published range)"


def _range(least: float, most: float) -> str:
    return f"{least:g}" if least == most else f"{least:g} to {most:g}"


_SEEN_WORDS = {
    (About.BUDS, "tight"): "the buds were tight",
    (About.BUDS, "swelling"): "the buds began to swell",
    (About.BUDS, "green"): "the buds had swollen or opened",
    (About.LEAVES, "down"): "the leaves were down",
    (About.LEAVES, "on"): "the leaves were still on",
    (
        About.CALENDAR,
        "midwinter",
    ): "nobody wrote down the leaves; so near the shortest day they count as fallen",
}

CHANGES = {
    Change.LOOK_AT_BUDS: "a look at the leaf buds",
    Change.LOOK_AT_LEAVES: "whether the leaves were down",
    Change.AIR_RECORD: "the daily air of its site",
    Change.FILL_GAPS: "the days that are missing in the air of its site",
    Change.OWN_NEED: "what this variety itself needs, and not only its kind",
    Change.LEAVES_FALL: "the leaves falling",
    Change.MORE_CHILL: "more cold days before the next cut",
    Change.BUDS_SWELL: "buds that begin to swell",
}
LATITUDE_TOLD = ("latitude", "the latitude of its site")
NEED_TOLD = (str(Change.OWN_NEED), "what its kind needs of chill")


def changes_of(judged: Judged, reason: NoChill | None) -> list[tuple[str, str]]:
    """What would change the verdict; where no chill is counted, what is missing for it."""
    left_out = {Change.AIR_RECORD}
    if reason is NoChill.NO_SITE:
        left_out |= {
            Change.LOOK_AT_LEAVES,
            Change.LEAVES_FALL,
        }  # of wood from outside nobody here saw the tree
    words = [(str(each), CHANGES[each]) for each in judged.would_change if each not in left_out]
    missing = {
        NoChill.NO_LATITUDE: LATITUDE_TOLD,
        NoChill.NO_NEED: NEED_TOLD,
        NoChill.NO_AIR: (str(Change.AIR_RECORD), CHANGES[Change.AIR_RECORD]),
        NoChill.TOO_FEW_DAYS: (str(Change.FILL_GAPS), CHANGES[Change.FILL_GAPS]),
        NoChill.STALE: (str(Change.FILL_GAPS), CHANGES[Change.FILL_GAPS]),
    }
    return [*words, *([missing[reason]] if reason in missing else [])]
