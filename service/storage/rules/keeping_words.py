"""How wood keeps, in words that nobody can take for a look: a reckoning warns and sorts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from service.lib.clock import day_words
from service.lib.counted import several

HAZARD_WORDS = {
    "reserve": "its reserves run down",
    "drying": "it dries",
    "mould": "mould",
    "budbreak": "the buds come on",
    "ethylene": "ripening fruit beside it",
    "freezing": "frost",
}
NO_SUMMER = "Summer budwood is used within days; nothing is reckoned of it."
NO_GROUP = "How wood of this kind keeps is not known here; nothing is reckoned of it."
NOT_WRITTEN = "Where it lay for {days} days is not written down, so nothing is reckoned of it."
NOT_READ = "No temperature was ever read where it lay, so nothing is reckoned of it: only its age counts."
FEW = 5  # of a hundred: fewer are not counted, so that a reckoning is not read as a verdict
A_LOOK_DECIDES = "A look at buds and bark decides."


def usual_words(cut_on: date, today: date, weeks: tuple[int, int] | None, mark: str) -> str:
    age = (today - cut_on).days // 7
    told = f"It was cut {age} {'week' if age == 1 else 'weeks'} ago"
    if weeks is None:
        return f"{told}; how long wood of this kind keeps is not known here."
    if age <= weeks[0]:
        where = "well within that time"
    elif age <= weeks[1]:
        where = "late in that time"
    else:
        where = "longer than that: look at it first"
    return f"Wood of this kind is usually kept for {weeks[0]} to {weeks[1]} weeks ({mark}). {told}, {where}."


def share_words(expected: float, low: float, high: float) -> str:
    """Whole numbers out of a hundred, never without the band."""
    told = [round(100 * each) for each in (expected, low, high)]
    some = f"some {told[0]}" if told[0] >= FEW else "only a few"
    words = f"By its way so far {some} in 100 sticks should be fit to graft; four times in five it is {told[1]} to {told[2]}."
    if expected >= 0.5:
        return words
    return f"{words} That is a reckoning and no look: wood like this often still grows, so scratch a stick before you judge."


def learned_words(judged: int, trusted: int) -> str:
    """What the club's own takes have to do with it."""
    if not judged:
        return "No graft of this kind was judged here yet: the share rests on general numbers alone."
    grafts = f"{judged} judged {'graft' if judged == 1 else 'grafts'} of this kind here"
    if judged < trusted:
        return f"The share rests on general numbers and on {grafts}; below {trusted} its usual time and the last look count first."
    return f"The share rests on {grafts}."


def keeps_words(until: date | None, first: date | None, last: date | None, today: date) -> str:
    """Days to the day below a fortnight, to the week above."""
    if until is None:
        return (
            "If the store stays as in the last week, it keeps for over two years."
            if first is None
            else f"If the store stays as in the last week, it keeps until {day_words(first)} at least."
        )
    if until <= today:
        return (
            f"Less than three quarters of the start are reckoned to be left: use it first. {A_LOOK_DECIDES}"
        )
    late = day_words(last) if last else "two years from now"
    early = day_words(max(first, today)) if first else "now"
    return f"If the store stays as in the last week, three quarters are left on {day_words(until)} (between {early} and {late})."


def round_day(day: date | None, today: date) -> date | None:
    """A date a fortnight or more away is told to the week, so that nobody takes it for surer than it is."""
    if day is None or (day - today).days < 14:
        return day
    return date.fromordinal(today.toordinal() + (day - today).days // 7 * 7)


@dataclass(frozen=True)
class Chill:
    """Portions at the cut, by now, and needed, and how far that need may be out, either way."""

    cut_cp: float
    now_cp: float
    need_cp: float
    spread: float = 0.0

    def is_over(self, portions_cp: float) -> bool:
        return portions_cp >= self.need_cp

    def likely(self, portions_cp: float) -> str:
        """`likely ` where the need may lie on the other side of so many portions."""
        return "likely " if abs(portions_cp - self.need_cp) < self.spread * self.need_cp else ""


def _chill_told(chill: Chill | None) -> tuple[str, str, str]:
    """None where the air of its site says nothing."""
    what = "chill at cutting"
    if chill is None:
        return (what, "assumed", "its site’s air is not known: rest is taken as over, the cautious side")
    cut, now, need = (round(each) for each in (chill.cut_cp, chill.now_cp, chill.need_cp))
    low, high = (round(chill.need_cp * (1 + side * chill.spread)) for side in (-1, 1))
    told = f"{cut} of {need} portions by its site’s air"
    if chill.spread:
        told += f", and such wood may need {low} to {high}"
    likely = chill.likely(chill.cut_cp if chill.is_over(chill.cut_cp) else chill.now_cp)
    if chill.is_over(chill.cut_cp):
        return (what, "measured", f"{told}: its rest was {likely}over")
    if chill.is_over(chill.now_cp):
        return (
            what,
            "measured",
            f"{told}; its rest {likely}ended in store, until then warmth hardly moved its buds",
        )
    return (
        what,
        "measured",
        f"{told}, {now} by now: its rest is {likely}not over, and warmth hardly moves its buds yet",
    )


def inputs_told(
    hours: Mapping[str, int],
    diameter_mm: float | None,
    *,
    measured: bool,
    weighed: bool,
    looks: int,
    at_cut: str | None,
    chill: Chill | None,
    fruit: bool,
    frost: str = "",
) -> list[tuple[str, str, str]]:
    """What a reckoning rests on: the thing, how it is known, and more of it."""
    seen, by_hand, assumed, damp = (hours.get(name, 0) for name in ("measured", "by_hand", "assumed", "damp"))
    how = "measured" if measured else "by hand" if by_hand >= assumed else "assumed"
    counted = f"{several(seen, 'hour')} measured, {by_hand} as a thermometer was read, {assumed} assumed"
    return [
        ("temperature", how, counted),
        *([("remembered frost", "by hand", frost)] if frost else []),
        ("humidity", "measured", several(damp, "hour")) if damp else ("humidity", "assumed", "80 % in the store"),
        ("packing", "assumed", "sealed plastic with barely damp paper"),
        ("thickness", "measured", f"{diameter_mm:g} mm") if diameter_mm else ("thickness", "assumed", "6 mm"),
        _chill_told(chill),
        ("weight", "measured", "the loss on the scale counts") if weighed else ("weight", "not known", "drying is reckoned"),
        ("buds at cutting", "by hand", f"looked at: {at_cut}") if at_cut else ("buds at cutting", "not known", "nobody told of them"),
        ("looks", "measured", f"{looks} count") if looks else ("looks", "not known", "none yet"),
        ("fruit", "by hand", "as was told of its stores") if fruit else ("fruit", "not known", "none was told of"),
    ]  # fmt: skip
