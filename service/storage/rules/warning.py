"""What somebody is told when a store is too cold or too warm: what was measured, what to do, and how each word of it is known."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from service.lib.clock import day_words
from service.storage.rules.excursions import (
    ANY_SCIONS,
    FREEZING_ABOVE_KILL10_C,
    Alarm,
    AlarmKind,
    Band,
    StoreLimits,
    group_words,
)
from service.storage.rules.fruit import ETHYLENE, Told
from service.storage.rules.own_limits import limits_told

# Water freezes at 0 °C: what was no colder was too cold for its wood, and did not freeze.
FREEZES_C = 0.0
# The trial of frozen hardy plants went down to -4 °C; of wood that loses buds not far below, it says nothing. Judgement.
HARDY_KILL10_C = -4.0 - FREEZING_ABOVE_KILL10_C
PRACTICE = "common practice, no source"

_FROZEN = Told(
    "Do not warm frozen wood with your hands, in water or beside a heater: leave it in its bag and let it thaw slowly in the cold.",
    PRACTICE, "",
)  # fmt: skip
_CHILLED = Told("Leave it in its closed bag, and do not warm it beside a heater or in water.", PRACTICE, "")
_HARDY = Told(
    "Throw nothing away for this alone: dormant hardy plants kept better between -4 and 0 °C than at 4 °C. "
    "A fridge is not to be set so cold.",
    "published", "Englert, Fuchigami and Chen 1993, J Arboric 19(2):106-112 (bare-root hardwoods)",
)  # fmt: skip
_TENDER = Told("Throw nothing away unseen: what was hurt shows within a week or two.", PRACTICE, "")
_SCRATCH = Told("Scratch a stick of each kind after a week: green under the bark lives.", PRACTICE, "")
_IF_WARM = (
    Told(
        "Leave it in its closed bag, moist and not wet: mould grows fastest on wood that is warm and wet.",
        "published", "Petäistö 2006, Baltic Forestry 12(1):24-33 (Botrytis cinerea)",
    ),
    Told("Look at the buds: what swells is used first.", PRACTICE, ""),
    Told(f"Take ripening fruit out. {ETHYLENE[0].words}", ETHYLENE[0].mark, ETHYLENE[0].source),
)  # fmt: skip


def froze(kind: AlarmKind, extreme_c: float) -> bool:
    return kind is AlarmKind.FREEZING and extreme_c <= FREEZES_C


def rang_words(kind: AlarmKind, extreme_c: float, *, over: bool = False) -> str:
    """What rang, in the words of letters, pages and calendars alike."""
    if froze(kind, extreme_c):
        return "It froze"
    return f"It {'was' if over else 'is'} too {'cold' if kind is AlarmKind.FREEZING else 'warm'}"


def rang_name(kind: AlarmKind, extreme_c: float) -> str:
    """The same as a heading."""
    return "Heat" if kind is AlarmKind.HEAT else "Freezing" if froze(kind, extreme_c) else "Cold"


def title_of(kind: AlarmKind, extreme_c: float, store: str) -> str:
    return f"{rang_words(kind, extreme_c)}: see to the wood now ({store})"[:200]


# -- what to do --------------------------------------------------------------------------------------------------------


def what_to_do(kind: AlarmKind, extreme_c: float, limits: StoreLimits) -> tuple[Told, ...]:
    """For the wood that lies there, the most urgent first."""
    if kind is AlarmKind.HEAT:
        return (*_move_to(limits), *_IF_WARM)
    hardy = limits.low_c <= FREEZES_C and limits.kill10_c is not None and limits.kill10_c <= HARDY_KILL10_C
    return (
        *_move_to(limits),
        _FROZEN if froze(kind, extreme_c) else _CHILLED,
        _HARDY if hardy else _TENDER,
        *_kills(limits),
        _SCRATCH,
    )


def _move_to(limits: StoreLimits) -> Iterable[Told]:
    """Where it is good for the wood here; nothing where none lies."""
    if limits.kill10_c is None:
        return
    if not limits.bands:
        yield Told(
            f"Move the wood to a cold place that does not freeze: {_degrees(ANY_SCIONS.low_c, ANY_SCIONS.high_c)} suits fruit and nut "
            "scions that drop their leaves. Nothing is known of the kind that lies here; evergreens want it warmer.",
            ANY_SCIONS.mark, ANY_SCIONS.source,
        )  # fmt: skip
    elif limits.agree:
        place = _degrees(limits.low_c, limits.high_c)
        yield Told(
            f"Move the wood to a place of {place}: that suits the wood here.", limits.mark, limits.source
        )
    else:
        yield Told(
            f"The kinds here want different cold: keep them apart, {'; '.join(_apart(limits.bands))}. See to {limits.tenderest} first.",
            "; ".join(dict.fromkeys(f"{band.mark} ({group_words(band.group)})" for band in limits.bands)),
            "; ".join(dict.fromkeys(band.source for band in limits.bands if band.source)),
        )  # fmt: skip


def _apart(bands: Iterable[Band]) -> list[str]:
    alike: dict[str, list[str]] = {}
    for band in sorted(bands, key=lambda one: (-one.low_c, -one.high_c, one.group)):
        alike.setdefault(_degrees(band.low_c, band.high_c), []).append(group_words(band.group))
    return [f"{', '.join(groups)} at {degrees}" for degrees, groups in alike.items()]


def _degrees(low_c: float, high_c: float) -> str:
    """A band to aim at: never below freezing, however hardy the wood, for a household fridge holds no such cold steadily."""
    low, high = max(low_c, FREEZES_C), max(high_c, FREEZES_C)
    return f"{low:g} °C" if low == high else f"{low:g} to {high:g} °C"


def _kills(limits: StoreLimits) -> Iterable[Told]:
    if limits.kill10_c is not None:
        tenderest = ", the tenderest here," if len(limits.bands) > 1 else ""
        yield Told(
            f"Of {limits.tenderest}{tenderest} half an hour at {limits.kill10_c:g} °C kills a tenth of the buds; "
            "longer or deeper cold more.",
            limits.kill10_mark, limits.kill10_source,
        )  # fmt: skip


def rule_words(kind: AlarmKind, limits: StoreLimits) -> str:
    """Why it rings, and how that limit is known."""
    heat, (frost, warm, *_) = limits.own.heat, limits_told(limits)
    if kind is AlarmKind.FREEZING and limits.freezing_c is not None:
        return f"It rings {frost.words} ({frost.whose})."
    return f"It rings {warm.words}; read by hand, at {heat.limit_c:g} °C now or {heat.high_c:g} °C since the reset ({warm.whose})."


def measured_words(alarm: Alarm, began: datetime, last: datetime) -> str:
    """What was measured, in the zone of the instants given."""
    worst = f"{'Lowest' if alarm.kind is AlarmKind.FREEZING else 'Highest'} {alarm.extreme_c:.1f} °C"
    if alarm.by_hand:
        since = f", some time since {_minute(began)}" if began != last else ""
        return f"{worst}, read by hand on {_minute(last)}{since}."
    over = f", over since {_minute(last)}" if alarm.ended is not None else ", and it goes on"
    hours = f"{alarm.hours:.0f} {'hour' if round(alarm.hours) == 1 else 'hours'}"
    return f"{worst}, beyond the limit for {hours} since {_minute(began)}{over}."


def _minute(at: datetime) -> str:
    return f"{day_words(at.date())}, {at:%H:%M}"


def warning_text(alarm: Alarm, limits: StoreLimits, began: datetime, last: datetime) -> str:
    """The whole letter."""
    todo = what_to_do(alarm.kind, alarm.extreme_c, limits)
    steps = [f"{number}. {each.words}" for number, each in enumerate(todo, 1)]
    known = [
        f"{number}: {each.mark}{f', {each.source}' if each.source else ''}."
        for number, each in enumerate(todo, 1)
    ]
    return "\n".join(
        [
            measured_words(alarm, began, last), rule_words(alarm.kind, limits), "", "What to do:", *steps, "",
            "You are told of this once; how it goes on stands on the store's page.", "", "How this is known:", *known,
        ]
    )  # fmt: skip
