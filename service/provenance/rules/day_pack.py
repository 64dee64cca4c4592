"""What a phone takes along to where nothing answers: which tags and trees, how long it holds, what is said of a tree."""

from __future__ import annotations

from datetime import date

from service.provenance.rules.words import day
from service.science.seasons import next_winter_begins, winter_begins
from service.trees.rules import MayCut

PACK_VERSION = 1
# What a club has in one season lies far below; more would fill a phone for nothing.
MOST_TAGS, MOST_BLANKS, MOST_TREES = 5000, 2000, 5000
# Where no site tells its latitude, or all lie between the tropics: a season of dormant wood and of what is grafted with it
# (common practice, no source).
SEASON_DAYS = 180


def good_for_days(latitudes: list[float], today: date) -> int:
    """For how many days what is taken along today is of this season: until the next winter's wood begins to count."""
    ends = [
        next_winter_begins(each, begins)
        for each in latitudes
        if (begins := winter_begins(each, today)) is not None
    ]
    return (min(ends) - today).days if ends else SEASON_DAYS


def why_not_cut(
    may_cut: MayCut, *, stop: str, contract: bool, protected: bool, protected_until: date | None, yours: bool
) -> str:
    """Why whoever asks may cut nothing of a tree, the gravest reason first; empty where they may, or may ask."""
    if stop:
        return f"Cut nothing: {stop}."
    if contract:
        return "Cut nothing: this tree was bought under a contract against propagation."
    if protected:
        until = f" until {day(protected_until)}" if protected_until else ""
        return f"Cut nothing: the variety is protected{until}."
    if may_cut is MayCut.NO and not yours:
        return "Cut nothing: its owner does not want this tree cut."
    return ""


def rule_for(may_cut: MayCut, *, yours: bool) -> MayCut:
    """The owner's word as it binds whoever asks: an owner who cuts has asked themselves."""
    return MayCut.YES if yours else may_cut
