"""Labels, codes and tags for tests."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date
from typing import Any

from service.lib.codes import ALPHABET, RANDOM_SIGNS, check_sign
from service.tags.rules.labels import (
    Label,
    LabelWords,
    WoodName,
    box_words,
    bundle_words,
    plant_words,
    store_words,
    tree_words,
)
from service.tags.rules.words import Placement

TODAY = date(2026, 2, 14)
CUT_ON = date(2026, 1, 14)

# Names of real varieties and made-up hard ones: accents, other scripts, right to left, far too long.
NAMES = (
    "‘Ashmead’s Kernel’", "‘Doyenné du Comice’", "‘Reine-Claude d’Oullins’", "‘Апорт Александр’", "‘Φιρίκι Πηλίου’",
    "‘תאנה שחורה של יריחו’", "‘مشمش حموي’", "‘Ősi Šampion Ľubovňa’", "‘Ế Ǻngström Ữ’", "‘Kordia’",
    "‘Schöner aus Boskoop (älterer Klon der Baumschule zu Überlingen am Bodensee, zweite Aufzucht)’",
    f"‘{'W' * 298}’", "‘" + "lang und breit " * 20 + "’", "‘שלום Kordia 12 עולם (ישן)’", "‘🍏 幸水’", "‘Z̷̧̡a̶̢̛l̵̨̛g̸̢o̷’",
)  # fmt: skip


def make_codes(count: int, seed: int = 5) -> list[str]:
    """Sound codes, the same for the same seed."""
    chance = random.Random(seed)
    bodies = ("".join(chance.choice(ALPHABET) for _ in range(RANDOM_SIGNS)) for _ in range(count))
    return [body + check_sign(body) for body in bodies]


def make_wood_name(**changes: Any) -> WoodName:
    return WoodName(**{"kind": "Apple", "variety": "‘Ashmead’s Kernel’", **changes})


def make_label(code: str = "", *, words: LabelWords | None = None, placement: Placement = Placement.BAG, **changes: Any) -> Label:
    """A bundle's label; `changes` are those of `bundle_words`."""
    name = changes.pop("name", None) or make_wood_name()
    facts = {"cut_on": CUT_ON, "sticks": 12, "tree": "tree 7", "today": TODAY, **changes}
    return Label(code or make_codes(1)[0], words or bundle_words(name, **facts), placement)


def make_hard_labels(seed: int = 5) -> list[Label]:
    """Bundles with every hard name, and one label for each of the other things, with and without marks."""
    codes: Iterator[str] = iter(make_codes(len(NAMES) * 2 + 8, seed))
    protected = {"protection": "protected", "protected_until": date(2031, 3, 1)}
    labels = [make_label(next(codes), name=make_wood_name(variety=name)) for name in NAMES]
    labels += [
        make_label(
            next(codes), name=make_wood_name(variety=name, trade_designation="PINK LADY", **protected), no_propagation=True,
            sticks=1203, tree="tree 12034", summer=True, placement=Placement.WOOD,
        )
        for name in NAMES
    ]  # fmt: skip
    long = make_wood_name(variety=NAMES[10], **protected)
    others = [
        tree_words(long, number=1203, planted_year=1998, today=TODAY, stands_on="seedling of unknown origin", no_propagation=True),
        tree_words(make_wood_name(), number=7, planted_year=None, today=TODAY),
        box_words("Blue crate 3"), box_words(NAMES[12]), store_words("Garage fridge", kind="fridge"),
        store_words(NAMES[11], kind="cold room"), plant_words(long, stock="M.9 T337", grafted_on=date(2026, 4, 12), number=23, today=TODAY),
        plant_words(make_wood_name(), stock="seedling", grafted_on=date(2026, 4, 2), number=9, today=TODAY),
    ]  # fmt: skip
    return labels + [Label(next(codes), words) for words in others]
