"""What somebody may do with what they scanned: asked of the same rules that the actions ask, so that a button never lies."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import partial

from service.bundles.rules import BundleFacts, check_can_return, check_can_take
from service.lib.errors import Problem
from service.members.rules import May
from service.storage.rules import WoodToMove, check_can_move
from service.tags.rules.words import TagKind


class Level(StrEnum):
    """How much somebody sees."""

    STRANGER = "stranger"
    MEMBER = "member"
    VOLUNTEER = "volunteer"


class Act(StrEnum):
    """What can be done with what was scanned."""

    LOOK = "look"
    PUT_AWAY = "put_away"
    SPLIT = "split"
    HAND_OVER = "hand_over"
    TAKE_BACK = "take_back"
    GRAFT = "graft"
    CUT_TO_LENGTH = "cut_to_length"
    COUNT = "count"
    DISCARD = "discard"
    STOP = "stop"
    COLLECT = "collect"
    CHECK_TREE = "check_tree"
    MOVE = "move"
    TAKE = "take"
    CHANGE_HANDS = "change_hands"
    PLANT = "plant"
    PRINT = "print"
    TIE_TO_CUT = "tie_to_cut"
    TIE_TO_THING = "tie_to_thing"


WORDS = {
    Act.LOOK: "Note how it looks",
    Act.PUT_AWAY: "Put it away",
    Act.SPLIT: "Split sticks off",
    Act.HAND_OVER: "Hand sticks over",
    Act.TAKE_BACK: "Take it back",
    Act.GRAFT: "Graft with it",
    Act.CUT_TO_LENGTH: "Cut it to length",
    Act.COUNT: "Count it",
    Act.DISCARD: "Throw sticks away",
    Act.STOP: "Stop it",
    Act.COLLECT: "Cut wood from it",
    Act.CHECK_TREE: "Note a look at the tree",
    Act.MOVE: "Move it, with all that lies in it",
    Act.TAKE: "Note whether it took",
    Act.CHANGE_HANDS: "Pass it on",
    Act.PLANT: "Make it a source tree",
    Act.PRINT: "Print its label",
    Act.TIE_TO_CUT: "Tie it to a cut",
    Act.TIE_TO_THING: "It hangs on something else",
}
_NEEDS = {
    Act.LOOK: May.BUNDLE_CHECKS,
    Act.PUT_AWAY: May.STORE,
    Act.SPLIT: May.STICKS,
    Act.HAND_OVER: May.HAND_OVER,
    Act.TAKE_BACK: May.HAND_OVER,
    Act.GRAFT: May.GRAFT,
    Act.CUT_TO_LENGTH: May.STICKS,
    Act.COUNT: May.STICKS,
    Act.DISCARD: May.STICKS,
    Act.STOP: May.STOP,
    Act.COLLECT: May.COLLECT,
    Act.CHECK_TREE: May.TREE_CHECKS,
    Act.MOVE: May.STORE,
    Act.TAKE: May.GRAFT,
    Act.CHANGE_HANDS: May.GRAFT,
    Act.PLANT: May.TREES,
    Act.PRINT: May.LABELS,
    Act.TIE_TO_CUT: May.COLLECT,
    Act.TIE_TO_THING: May.LABELS,
}


@dataclass(frozen=True)
class Offer:
    """One thing that can be done, or why it cannot be done now."""

    act: Act
    allowed: bool
    why_not: str = ""

    @property
    def words(self) -> str:
        return WORDS[self.act]


def level_of(rights: frozenset[May] | None) -> Level:
    if rights is None:
        return Level.STRANGER
    return Level.VOLUNTEER if May.STICKS in rights else Level.MEMBER


def offers_for_bundle(
    rights: frozenset[May], bundle: BundleFacts, *, own: bool, now: datetime
) -> list[Offer]:
    """What may be done with a bundle now. A member may graft wood of their own."""
    found = []
    for act in (
        Act.LOOK, Act.PUT_AWAY, Act.SPLIT, Act.HAND_OVER, Act.GRAFT, Act.TAKE_BACK, Act.CUT_TO_LENGTH, Act.COUNT, Act.DISCARD,
        Act.STOP, Act.PRINT,
    ):  # fmt: skip
        if _NEEDS[act] not in rights or (act is Act.GRAFT and May.STICKS not in rights and not own):
            continue
        if act is Act.TAKE_BACK and bundle.holder_id is None:
            continue
        found.append(_offer(act, partial(_check, act, bundle, now)))
    return found


def offers_for_blank(rights: frozenset[May]) -> list[Offer]:
    """What may be done with a tag that was printed ahead: a cut first, for whoever cuts."""
    return [Offer(act, True) for act in (Act.TIE_TO_CUT, Act.TIE_TO_THING) if _NEEDS[act] in rights]


def _offer(act: Act, check: Callable[[], None]) -> Offer:
    try:
        check()
    except Problem as problem:
        return Offer(act, False, problem.detail)
    return Offer(act, True)


def _check(act: Act, bundle: BundleFacts, now: datetime) -> None:
    if act in {Act.SPLIT, Act.HAND_OVER, Act.GRAFT, Act.CUT_TO_LENGTH, Act.DISCARD}:
        check_can_take(bundle, 1)
    elif act is Act.TAKE_BACK:
        check_can_return(bundle)
    elif act is Act.PUT_AWAY:
        wood = WoodToMove(bundle.id, bundle.code or "this bundle", now if bundle.open_stops else None)
        check_can_move([wood], now, to_isolate=False, may_isolate=False)


def offers_for(
    kind: TagKind,
    rights: frozenset[May],
    *,
    stopped: bool,
    took: bool = False,
    planted: bool = False,
    gone: bool = False,
) -> Iterator[Offer]:
    """What may be done with a tree, a box, a store or a plant now."""
    acts = {
        TagKind.TREE: (Act.COLLECT, Act.CHECK_TREE, Act.STOP, Act.PRINT),
        TagKind.BOX: (Act.MOVE, Act.PRINT),
        TagKind.STORE: (Act.PRINT,),
        TagKind.PLANT: (Act.TAKE, Act.CHANGE_HANDS, Act.PLANT, Act.PRINT),
    }.get(kind, ())
    for act in acts:
        if _NEEDS[act] not in rights:
            continue
        if act in {Act.CHANGE_HANDS, Act.PLANT} and planted:
            continue
        if act in {Act.COLLECT, Act.MOVE, Act.CHANGE_HANDS, Act.PLANT} and stopped:
            yield Offer(act, False, "A stop binds it, or something in it.")
        elif act is Act.CHANGE_HANDS and gone:
            yield Offer(act, False, "It is no longer there.")
        elif act is Act.PLANT and not took:
            yield Offer(act, False, "Write down first that it took.")
        else:
            yield Offer(act, True)
