"""How wood keeps, in words that nobody can take for a look: a reckoning warns and sorts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.lib.clock import day_words
from service.lib.counted import several
from service.storage.rules.packing import Packed, packing_words

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
A_LOOK_DECIDES = "A look at buds and bark decides."
NOT_READ = "No temperature was ever read where it lay, and none is said of it, so nothing is reckoned of it: only its age counts."


class ShareWord(StrEnum):
    """How much of a bundle is reckoned to be fit to graft, as a word."""

    FEW = "few"
    LESS_THAN_HALF = "less_than_half"
    HALF = "half"
    THREE_QUARTERS = "three_quarters"


FEW = 5  # of a hundred: fewer are not counted, so that a reckoning is not read as a verdict


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


def share_word(expected: float) -> ShareWord:
    """By the whole hundredth that is told: what is reckoned finer is told nowhere."""
    hundredths = round(100 * expected)
    if hundredths < FEW:
        return ShareWord.FEW
    if hundredths < 50:
        return ShareWord.LESS_THAN_HALF
    return ShareWord.HALF if hundredths < 75 else ShareWord.THREE_QUARTERS


def outward(share: float) -> float | None:
    """A share as programs are told it: to the hundredth, and none below five of them, which is told by its word alone."""
    hundredths = round(100 * share)
    return hundredths / 100 if hundredths >= FEW else None


def of_100(hundredths: int) -> str:
    return str(hundredths) if hundredths >= FEW else "a few"


def band_words(expected: int, low: int, high: int) -> str:
    """`60 (20–80)`, of a hundred; `7 (a few–26)`; `a few` where its upper end is no more."""
    if max(expected, high) < FEW:
        return of_100(expected)
    return f"{of_100(expected)} ({of_100(low)}–{of_100(high)})"


def share_words(expected: float, low: float, high: float) -> str:
    """Whole numbers out of a hundred, never without the band."""
    told = [round(100 * each) for each in (expected, low, high)]
    some = f"some {told[0]}" if told[0] >= FEW else "only a few"
    words = f"By its way so far {some} in 100 sticks should be fit to graft; {_five(told[1], max(told[0], told[2]))}."
    if expected >= 0.5:
        return words
    return f"{words} That is a reckoning and no look: wood like this often still grows, so scratch a stick before you judge."


def _five(low: int, high: int) -> str:
    if high < FEW:
        return "four times in five it is no more than that"
    return f"four times in five it is {of_100(low)} to {high}"


def learned_words(judged: int, trusted: int, *, is_told_apart: bool = True) -> str:
    """What the club's own takes have to do with it."""
    if not judged:
        return "No graft of this kind was judged here yet: the share rests on general numbers alone."
    grafts = f"{judged} judged {'graft' if judged == 1 else 'grafts'} of this kind here"
    if judged < trusted:
        return f"The share rests on general numbers and on {grafts}; below {trusted} its usual time and the last look count first."
    if not is_told_apart:
        return (
            f"The share rests on general numbers and on {grafts}; only fresh or only aged wood was grafted, which cannot tell its age "
            "from the grafting, so its usual time and the last look count first."
        )
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
    between = range_words(first and max(first, today), last)
    return f"If the store stays as in the last week, it is expected to fall below three quarters on {day_words(until)} ({between})."


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


def known_for(known: Mapping[str, int], hours: int) -> str:
    """`measured`; `measured for 95 % of its hours, else assumed`; `assumed`. `known`: hours by how they are known, of all `hours`."""
    parts = [(how, count) for how, count in known.items() if count]
    rest = hours - sum(count for _, count in parts)
    if not parts:
        return "assumed"
    if len(parts) == 1 and rest <= 0:
        return parts[0][0]
    (first, count), *more = parts
    told = f"{first} for {_percent(count, hours)} of its hours"
    if rest <= 0:
        *more, (last, _) = more
        return ", ".join(
            [told, *(f"{how} for {_percent(each, hours)}" for how, each in more), f"else {last}"]
        )
    return ", ".join([told, *(f"{how} for {_percent(each, hours)}" for how, each in more), "else assumed"])


def _percent(part: int, hours: int) -> str:
    """Never none nor all of it where it is neither."""
    return f"{min(99, max(1, round(100 * part / hours)))} %" if part * 200 >= hours else "less than 1 %"


def _humidity_told(air: int, inside: int, hours: int, *, by_packs: bool) -> tuple[str, str, str]:
    """Hours measured in the store's air, and inside its own pack, of all hours since it was cut."""
    how, rest = known_for({"measured": air + inside}, hours), hours - air - inside
    else_told = f"; 80 % in {several(rest, 'other hour')}" if rest > 0 else ""
    if inside:
        more = f", and {air} in the store’s air" if air else ""
        return ("humidity", how, f"{several(inside, 'hour')} inside its own pack{more}{else_told}")
    if air:
        return ("humidity", how, f"{several(air, 'hour')}{else_told}")
    other = "; the logger inside a pack there says nothing of other packs" if by_packs else ""
    return ("humidity", "assumed", f"80 % in the store{other}")


def inputs_told(
    hours: Mapping[str, int],
    diameter_mm: float | None,
    *,
    weighed: bool,
    looks: int,
    at_cut: str | None,
    chill: Chill | None,
    fruit: bool,
    frost: str = "",
    by_packs: bool = False,
    packed: Sequence[tuple[int, Packed]] = (),
) -> list[tuple[str, str, str]]:
    """What a reckoning rests on: the thing, how it is known, and more of it."""
    seen, by_hand, assumed = (hours.get(name, 0) for name in ("measured", "by_hand", "assumed"))
    nominal = hours.get("nominal", 0)
    every = seen + by_hand + nominal + assumed
    how = known_for({"measured": seen, "by hand": by_hand, "nominal": nominal}, every)
    as_said = f"{nominal} nominal, as its store is said to have, " if nominal else ""
    counted = (
        f"{several(seen, 'hour')} measured, {by_hand} as a thermometer was read, {as_said}{assumed} assumed"
    )
    return [
        ("temperature", how, counted),
        *([("remembered frost", "by hand", frost)] if frost else []),
        _humidity_told(hours.get("damp", 0), hours.get("in_pack", 0), every, by_packs=by_packs),
        packing_words(packed),
        ("thickness", "measured", f"{diameter_mm:g} mm") if diameter_mm else ("thickness", "assumed", "6 mm"),
        _chill_told(chill),
        ("weight", "measured", "the loss on the scale counts") if weighed else ("weight", "not known", "drying is reckoned"),
        ("buds at cutting", "by hand", f"looked at: {at_cut}") if at_cut else ("buds at cutting", "not known", "nobody told of them"),
        ("looks", "measured", f"{looks} count") if looks else ("looks", "not known", "none yet"),
        ("fruit", "by hand", "as was told of its stores") if fruit else ("fruit", "not known", "none was told of"),
    ]  # fmt: skip


def range_words(first: date | None, last: date | None, today: date | None = None) -> str:
    """`between 21 February 2026 and 21 March 2026`; without today an end that is past stays the day it was."""
    passed = first is None or (today is not None and first <= today)
    early = "now" if passed else day_words(first)
    return f"between {early} and {day_words(last) if last else 'two years from now'}"


def limits_words(now: str, then: str) -> str:
    """What takes most of it, by now and later; empty where nothing does yet."""
    if not now:
        return f"What will count most: {then}." if then else ""
    later = f"; later: {then}" if then and then != now else ""
    return f"What counts most by now: {now}{later}."


def until_words(until: date, first: date | None, last: date | None) -> str:
    """`three quarters left until 1 March 2026 (between 21 February 2026 and 21 March 2026), as reckoned`: the same on every day."""
    if first is None:
        return f"three quarters left until about {day_words(until)}, as reckoned; how far that may be out was not kept"
    between = range_words(first, last) if last else f"{day_words(first)} at the earliest"
    return f"three quarters left until {day_words(until)} ({between}), as reckoned"


def until_told_then(until: date, first: date | None, last: date | None, day: date) -> str:
    """The same of what was told on a day: then it may have been below three quarters already."""
    if until > day:
        return until_words(until, first, last)
    if first is None:
        return "it was below three quarters already, as reckoned; how far that may be out was not kept"
    if last is not None and last <= day:
        return "it was below three quarters already, as reckoned"
    late = f"on {day_words(last)}" if last else "over two years later"
    return f"it was below three quarters already, as reckoned; at the late end {late}"
