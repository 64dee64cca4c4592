"""Rules of lists: sorts and states, what columns can mean, cells as values."""

from service.lists.rules.columns import (
    FIELDS,
    ListField,
    check_columns,
    fields_of,
    fold_heading,
    guess_columns,
)
from service.lists.rules.values import (
    CannotRead,
    DayOrder,
    count_of,
    day_of,
    flag_of,
    order_of,
    text_of,
    year_of,
)
from service.lists.rules.words import (
    LIST_STEPS,
    WAITS_DAYS,
    ListChanged,
    ListHasRefusedRows,
    ListIsRestedOn,
    ListNeedsAnswers,
    ListSettled,
    ListSort,
    ListState,
    NoSuchColumn,
    NoSuchList,
    NothingInTheList,
    Rest,
    RowState,
    ThingKind,
    can_step,
    can_take,
    check_can_step,
    check_can_take,
    check_nothing_rests,
    check_ready,
    digest_of_list,
    pack_list,
    unpack_list,
)

__all__ = [
    "FIELDS", "LIST_STEPS", "WAITS_DAYS", "CannotRead", "DayOrder", "ListChanged", "ListField",
    "ListHasRefusedRows", "ListIsRestedOn", "ListNeedsAnswers", "ListSettled", "ListSort", "ListState", "NoSuchColumn", "NoSuchList",
    "NothingInTheList", "Rest", "RowState", "ThingKind", "can_step", "can_take", "check_can_step", "check_can_take", "check_columns",
    "check_nothing_rests",
    "check_ready", "count_of", "day_of", "digest_of_list", "fields_of", "flag_of", "fold_heading", "guess_columns", "order_of",
    "pack_list", "text_of", "unpack_list", "year_of",
]  # fmt: skip
