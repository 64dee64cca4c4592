"""Rules of the bench: words, what may be grafted on what, whether it took."""

from service.grafting.rules.bench import (
    FlagHeld,
    Judged,
    StockAtBench,
    WoodAtBench,
    can_be_stock,
    can_graft_wood,
    check_can_be_stock,
    check_can_graft_wood,
    check_counted,
    check_parts,
    check_plants,
    combine_verdicts,
    own_flag,
    plan_judging,
    state_after_graft,
    warn_of_join,
)
from service.grafting.rules.seeing import any_wood, check_may_see, sees_only
from service.grafting.rules.takes import (
    PlantOfGraft,
    Take,
    TakeLook,
    check_not_before,
    check_take,
    plan_plant_state,
    standing_take,
)
from service.grafting.rules.trees import (
    CarriedOn,
    PlantToPlant,
    can_become_tree,
    check_can_become_tree,
    plan_tree,
)
from service.grafting.rules.words import (
    CAUTIONS,
    AlreadyATree,
    BeforeTheGraft,
    CountsDoNotFit,
    GroupBy,
    NoNewPlant,
    NoSuchGraft,
    NoSuchMethod,
    NoSuchPlant,
    NoSuchStock,
    NoSuchWood,
    NotForGrafting,
    NothingCounted,
    NotTakenYet,
    NotYourGraft,
    NotYourWood,
    Part,
    PlantIsStopped,
    PlantOfAnotherGraft,
    PlantState,
    StockIsGone,
    StockIsStopped,
    TooManyPlants,
    WoodIsStopped,
)

__all__ = [
    "CAUTIONS", "AlreadyATree", "BeforeTheGraft", "CarriedOn", "CountsDoNotFit", "FlagHeld", "GroupBy", "Judged", "NoNewPlant",
    "NoSuchGraft", "NoSuchMethod", "NoSuchPlant", "NoSuchStock", "NoSuchWood", "NotForGrafting", "NotTakenYet", "NotYourGraft",
    "NotYourWood", "NothingCounted", "Part", "PlantIsStopped", "PlantOfAnotherGraft", "PlantOfGraft", "PlantState", "PlantToPlant",
    "StockAtBench", "StockIsGone", "StockIsStopped", "Take", "TakeLook", "TooManyPlants", "WoodAtBench", "WoodIsStopped", "any_wood",
    "can_be_stock", "can_become_tree", "can_graft_wood", "check_can_be_stock", "check_can_become_tree", "check_can_graft_wood",
    "check_counted", "check_may_see", "check_not_before", "check_parts", "check_plants", "check_take", "combine_verdicts", "own_flag",
    "plan_judging", "plan_plant_state", "plan_tree", "sees_only", "standing_take", "state_after_graft", "warn_of_join",
]  # fmt: skip
