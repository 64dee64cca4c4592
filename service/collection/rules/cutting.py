"""Whether wood may be cut from a tree, and what whoever cuts should know.

What is refused: a stopped or felled tree, an owner's no, an owner who was not asked, more sticks than the owner said,
wood under a no-propagation contract or a breeder's right. Everything else is told, and a person decides.
"""

from __future__ import annotations

from datetime import date, timedelta

from service.catalogue.rules import (
    CultivarFacts,
    WoodUse,
    can_share_rights,
    check_share_rights,
    check_stage,
    share_warning,
    wood_use,
)
from service.collection.rules.facts import Cutting, Warn
from service.collection.rules.words import Wood
from service.lib.clock import day_words
from service.lib.errors import Refused, Unusable
from service.trees.rules import (
    CheckResult,
    MayCut,
    TreeFacts,
    TreeFelled,
    check_not_stopped,
    is_in_the_ground,
    is_seen_in_leaf,
    is_stopped,
)

# A season of one kind of wood: dormant wood is cut within about five months, summer budwood within three (common
# practice, no source). Counted this way round it needs no hemisphere.
SEASON = timedelta(days=180)


class OwnerSaysNo(Refused):
    title = "The owner does not want this tree cut"
    lift_words = "Write down what the owner says now"
    lift_right = "act-for"
    todo = "Leave the tree alone. Its owner can change that on the tree's page, and a steward for them."


class OwnerNotAsked(Refused):
    title = "The owner wants to be asked first"
    lift_words = "Write down what the owner says for every cut"
    lift_right = "act-for"
    todo = "Ask, then write down how the owner agreed, for instance “by telephone on Sunday”."


class MoreThanOwnerSaid(Refused):
    title = "These are more sticks than the owner said for a season"
    lift_words = "Write down how many the owner says now"
    lift_right = "act-for"
    todo = "Ask the owner; if more may be cut, write down how the owner agreed."


class NoPropagation(Refused):
    title = "This tree was bought under a contract against propagation"
    lift_words = "Record that the seller agreed in writing"
    lift_right = "people"
    todo = "Cut and share nothing of it. If the seller agreed in writing since, record that on the tree's page first."


class NotOnThisTree(Unusable):
    title = "This tree does not carry that variety"
    todo = "Choose one of the tree's varieties, or correct the tree's record first."


class NoStageInSummer(Unusable):
    title = "Summer budwood has no dormancy stage"
    todo = "Leave the stage and the fallen leaves out; say instead whether the leaves were taken off."


def can_cut_by_owner(tree: TreeFacts, wanted: Cutting) -> bool:
    """Whether the owner's word covers this cut. An owner who cuts has asked themselves."""
    agreed = bool(wanted.owner_agreed) or tree.owner_id in wanted.asker_ids
    if tree.may_cut is MayCut.NO:
        return tree.owner_id in wanted.asker_ids
    if tree.may_cut is MayCut.ASK and not agreed:
        return False
    return agreed or tree.most_sticks is None or wanted.cut_this_season + wanted.sticks <= tree.most_sticks


def _owners_word(tree: TreeFacts) -> str:
    return f"/trees/{tree.id}/may-cut"


def check_owner(tree: TreeFacts, wanted: Cutting) -> None:
    if can_cut_by_owner(tree, wanted):
        return
    who = f"Tree {tree.number} belongs to {tree.owner_name}"
    if tree.may_cut is MayCut.NO:
        raise OwnerSaysNo(
            f"{who}, who said that it may not be cut.", lift=_owners_word(tree), tree=tree.number
        )
    if tree.may_cut is MayCut.ASK and not wanted.owner_agreed:
        raise OwnerNotAsked(
            f"{who}, who is to be asked before each cut.",
            field="owner_agreed",
            lift=_owners_word(tree),
            tree=tree.number,
        )
    assert tree.most_sticks is not None
    raise MoreThanOwnerSaid(
        f"{who}, who said at most {tree.most_sticks} sticks a season; {wanted.cut_this_season} were cut and {wanted.sticks} are asked.",
        field="sticks", lift=_owners_word(tree), tree=tree.number, most=tree.most_sticks, cut=wanted.cut_this_season, asked=wanted.sticks,
        left=max(0, tree.most_sticks - wanted.cut_this_season),
    )  # fmt: skip


_ALREADY_CUT = "If the wood is cut already, it exists and must be known: say 'already cut', and it is recorded and stopped at once."


def was_cut_before_stop(tree: TreeFacts, wanted: Cutting) -> bool:
    """Whether a cut on a stopped tree is only written down late: it was made before the first of its open stops."""
    return (
        wanted.done_at is not None and tree.stopped_since is not None and wanted.done_at < tree.stopped_since
    )


def can_cut_by_stop(tree: TreeFacts, wanted: Cutting) -> bool:
    """Whether no stop keeps this cut from being recorded. What is recorded of a stopped tree is bound at once."""
    return not is_stopped(tree) or wanted.already_cut or was_cut_before_stop(tree, wanted)


def check_stop_on_cut(tree: TreeFacts, wanted: Cutting) -> None:
    """Raises `StoppedTree`, which says what to do with wood that is cut already."""
    if not can_cut_by_stop(tree, wanted):
        check_not_stopped(tree, _ALREADY_CUT)


def can_cut(tree: TreeFacts, wanted: Cutting, variety: CultivarFacts | None) -> bool:
    """The same question as `check_may_cut`, for buttons and lists."""
    return (
        can_cut_by_stop(tree, wanted)
        and is_in_the_ground(tree.felled_on, wanted.cut_on)
        and not tree.no_propagation_contract
        and (variety is None or can_share_rights(variety.rights, wanted.cut_on))
        and can_cut_by_owner(tree, wanted)
    )


def check_may_cut(tree: TreeFacts, wanted: Cutting, variety: CultivarFacts | None) -> None:
    """Raises the first thing that forbids the cut: `StoppedTree` before all others. `variety` is what is cut of the tree."""
    check_stop_on_cut(tree, wanted)
    if not is_in_the_ground(tree.felled_on, wanted.cut_on):
        raise TreeFelled(
            f"Tree {tree.number} was felled on {day_words(tree.felled_on)}.",
            tree=tree.number,
            felled_on=str(tree.felled_on),
        )
    if tree.no_propagation_contract:
        raise NoPropagation(
            f"Tree {tree.number} may not be propagated.", lift=f"/trees/{tree.id}/contract", tree=tree.number
        )
    if variety is not None:
        check_share_rights(variety.rights, wanted.cut_on, variety.id)
    check_owner(tree, wanted)


def sticks_left(tree: TreeFacts, cut_this_season: int) -> int | None:
    """How many sticks the owner's word leaves for this season; None where the owner set no limit."""
    return None if tree.most_sticks is None else max(0, tree.most_sticks - cut_this_season)


def may_be_listed(tree: TreeFacts, cut_this_season: int, today: date) -> bool:
    """Whether a cut list names this tree: `can_cut` for one stick more, once an owner who is to be asked has said yes."""
    asked = "to be asked" if tree.may_cut is MayCut.ASK else ""
    wanted = Cutting(Wood.DORMANT, 1, today, frozenset(), cut_this_season, owner_agreed=asked)
    return sticks_left(tree, cut_this_season) != 0 and can_cut(tree, wanted, tree.cultivar)


def check_wood(
    scale: str, wood: Wood, stage: str | None, leaves_down: bool | None, leaves_off: bool | None
) -> None:
    """What is told of the wood fits its kind: a stage of the kind's list for dormant wood, none for summer budwood."""
    if wood is Wood.SUMMER and (stage is not None or leaves_down is not None):
        raise NoStageInSummer(
            "It is cut from shoots in leaf.", field="stage" if stage is not None else "leaves_down"
        )
    if wood is Wood.DORMANT and leaves_off is not None:
        raise Unusable(
            "Only summer budwood has its leaves taken off; say whether the tree’s leaves are down.",
            field="leaves_off",
        )
    if stage is not None:
        check_stage(scale, stage)


# -- what to know ----------------------------------------------------------------------------------------------------

_STAGE_WARNINGS = {
    WoodUse.USE_FIRST: "The buds begin to swell: chill this wood at once and use it first.",
    WoodUse.SAME_DAY: "The buds have swollen: this wood is too late for the store; graft it the same day.",
    WoodUse.DO_NOT_CUT: "The buds have opened: this wood is not fit for keeping, and dormant grafts with it fail; do not cut more.",
}


def cutting_warnings(tree: TreeFacts, wanted: Cutting, variety: CultivarFacts | None) -> list[Warn]:
    """What whoever cuts should know of the tree, the gravest first; `wood_warnings` tells of the wood."""
    return [*_health_warnings(tree, wanted), *_name_warnings(tree, wanted, variety)]


def wood_warnings(
    scale: str, wood: Wood, stage: str | None, leaves_down: bool | None, leaves_off: bool | None
) -> list[Warn]:  # fmt: skip
    """What the state of the wood means (common practice, no source; growth stages after the BBCH lists)."""
    if wood is Wood.SUMMER:
        told = [
            Warn(
                "use_within_days",
                "Summer budwood keeps for days only: bud with it the day it is cut if you can.",
            )
        ]
        if leaves_off is not True:
            told.append(
                Warn(
                    "take_leaves_off",
                    "Take the leaves off at once and keep a stub of each stalk; keep the wood cool and moist.",
                )
            )
        return told
    told = []
    use = wood_use(scale, stage) if stage is not None else WoodUse.KEEP
    if use in _STAGE_WARNINGS:
        told.append(Warn(f"stage_{use.value}", _STAGE_WARNINGS[use]))
    if leaves_down is False:
        told.append(
            Warn(
                "leaves_still_on",
                "The tree still had its leaves: its wood may not be dormant yet, and keeps less well.",
            )
        )
    return told


def _health_warnings(tree: TreeFacts, wanted: Cutting) -> list[Warn]:
    told = _stop_warnings(tree, wanted)
    last = tree.last_leaf_check
    if last is None:
        told.append(
            Warn(
                "never_seen_in_leaf",
                "Nobody has recorded seeing this tree in leaf; a tree without leaves hides most diseases.",
            )
        )
    elif last.result is CheckResult.SYMPTOM:
        told.append(
            Warn(
                "symptom_seen",
                f"A symptom was seen on this tree on {day_words(last.seen_on)}. Ask the health steward before the wood is shared.",
            )
        )
    elif not is_seen_in_leaf(last.seen_on, wanted.cut_on):
        told.append(
            Warn(
                "not_seen_in_leaf_lately",
                f"This tree was last seen in leaf on {day_words(last.seen_on)}, and healthy then.",
            )
        )
    if wanted.disinfected is False:
        told.append(
            Warn(
                "not_disinfected",
                "The tools were not disinfected before this tree: keep its wood apart, and disinfect before the next.",
            )
        )
    return told


def _stop_warnings(tree: TreeFacts, wanted: Cutting) -> list[Warn]:
    if not is_stopped(tree):
        return []
    leave = "Leave it where it is, apart from other wood; throw nothing away, and tell the health steward that it is there."
    if was_cut_before_stop(tree, wanted):
        return [
            Warn(
                "cut_before_stop",
                f"This tree was stopped after the cut, so the wood is stopped too, from now on. {leave}",
            )
        ]
    return [
        Warn(
            "cut_against_stop",
            f"This tree was stopped when it was cut, so the wood is stopped at once. {leave}",
        )
    ]


def _name_warnings(tree: TreeFacts, wanted: Cutting, variety: CultivarFacts | None) -> list[Warn]:
    told = []
    fruit = tree.last_fruit_check
    if fruit is not None and fruit.result is CheckResult.WRONG:
        told.append(
            Warn(
                "wrong_in_fruit",
                f"The fruit was found wrong for this name on {day_words(fruit.seen_on)}: the wood may be of another variety.",
            )
        )
    if tree.planted_year is not None and wanted.cut_on.year < tree.planted_year:
        told.append(
            Warn(
                "before_planting",
                f"The record says that this tree was planted in {tree.planted_year}; one of the two is wrong.",
            )
        )
    if tree.provisional:
        told.append(
            Warn(
                "provisional_tree",
                "This tree was entered on the way; a steward still has to look at its record.",
            )
        )
    if variety is None:
        told.append(Warn("unnamed", f"The club does not know this variety: the tags will say “{tree.name}”."))
    else:
        told += rights_warnings(variety, wanted.cut_on)
    return told


def rights_warnings(variety: CultivarFacts, day: date) -> list[Warn]:
    words = share_warning(variety.rights, day)
    return [Warn("rights", words)] if words else []
