"""What is said of a bundle in another store."""

from __future__ import annotations

from datetime import date
from typing import Protocol

from service.lib.clock import day_words

STOPPED = "It is stopped: it stays where it lies, whatever is reckoned"


class Compared(Protocol):
    """What a store gains or costs, in days; `more`: at least so many."""

    @property
    def days(self) -> int: ...
    @property
    def low(self) -> int: ...
    @property
    def high(self) -> int: ...
    @property
    def more(self) -> bool: ...


def until_words(until: date | None, early: date | None, late: date | None, today: date) -> str:
    """Until when three quarters would be left, never without both ends."""
    if until is not None and until <= today:
        return "less than three quarters are left by now"
    if until is None:
        return (
            "over two years" if early is None else f"until {day_words(early)} at least, likely over two years"
        )
    first = "now" if early is None or early <= today else day_words(early)
    return (
        f"until {day_words(until)} (between {first} and {day_words(late) if late else 'two years from now'})"
    )


def gained_words(gained: Compared | None) -> str:
    """Days against where it lies, with both ends: `14 days more (7 to 21)`, `7 days fewer (from 14 fewer to 7 more)`.

    Where the expected days are one of the ends themselves, the range alone is told: they are no middle of it.
    """
    if gained is None:
        return ""
    if not (gained.days or gained.low or gained.high):
        return "no day more or less"
    if not gained.low < gained.days < gained.high:
        return _range_alone(gained)
    least = "at least " if gained.more else ""
    if gained.low < 0 < gained.high:
        ends = f"from {-gained.low} fewer to {gained.high} more"
    else:
        ends = " to ".join(str(each) for each in sorted((abs(gained.low), abs(gained.high))))
    fewer = gained.days < 0
    days = _days(abs(gained.days)) if gained.days else "less than a day"
    return f"{least}{days} {'fewer' if fewer else 'more'} ({ends})"


def _range_alone(gained: Compared) -> str:
    """`from 14 days fewer to 28 more`, `7 to 28 days more`, `up to 7 days fewer`."""
    low, high, longer = gained.low, gained.high, ", or longer" if gained.more else ""
    if low < 0 < high:
        return f"from {_days(-low)} fewer to {high} more{longer}"
    least, most = sorted((abs(low), abs(high)))
    side = "more" if high > 0 else "fewer"
    if least == most:
        return f"about {_days(most)} {side}{longer or ' (its range is narrower than is told)'}"
    told = f"{least} to {_days(most)}" if least else f"up to {_days(most)}"
    return f"{told} {side}{longer}"


def _days(days: int) -> str:
    return f"{days} {'day' if days == 1 else 'days'}"


class Best(Protocol):
    """The store that is proposed."""

    @property
    def store_name(self) -> str: ...
    @property
    def until_words(self) -> str: ...
    @property
    def gained_words(self) -> str: ...


def answer_words(best: Best | None, *, lies: bool, must_go: bool, others: int) -> str:
    """The one sentence that stands first."""
    if best is None:
        if must_go:
            return "It is too cold where it lies, and no other store can be proposed"
        if not others:
            return "There is no other store to compare with"
        return "No other store is sure to keep it longer" if lies else "No store can be proposed"
    if must_go:
        return f"It is too cold where it lies: in {best.store_name} it would keep {best.until_words}"
    if lies:
        return f"It would keep longer in {best.store_name}: {best.gained_words}"
    return f"It would keep longest in {best.store_name}: {best.until_words}"
