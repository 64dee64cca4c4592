"""What somebody is told when a store freezes or warms: what was measured, what to do, and how each word of it is known."""

from __future__ import annotations

from datetime import datetime

from service.lib.clock import day_words
from service.storage.rules.excursions import (
    ANY_SCIONS,
    Alarm,
    AlarmKind,
    StoreLimits,
)
from service.storage.rules.fruit import ETHYLENE, Told
from service.storage.rules.own_limits import limits_told

_COLD_ENOUGH = Told(
    f"Move the wood to a cold place that does not freeze: {ANY_SCIONS.low_c:g} to {ANY_SCIONS.high_c:g} °C suits fruit and nut scions.",
    ANY_SCIONS.mark, ANY_SCIONS.source,
)  # fmt: skip

WHAT_TO_DO: dict[AlarmKind, tuple[Told, ...]] = {
    AlarmKind.FREEZING: (
        _COLD_ENOUGH,
        Told(
            "Do not warm frozen wood with your hands, in water or beside a heater: leave it in its bag and let it thaw slowly in the cold.",
            "common practice, no source", "",
        ),
        Told(
            "Throw nothing away for this alone: dormant hardy plants kept better between -4 and 0 °C than at 4 °C. "
            "A fridge is not to be set so cold.",
            "published", "Englert, Fuchigami and Chen 1993, J Arboric 19(2):106-112 (bare-root hardwoods)",
        ),
        Told(
            "Buds that had begun to swell are lost sooner: a tenth of them in half an hour at -7.8 to -10 °C, by kind.",
            "published", "Penn State Extension, Orchard Frost; Michigan State University Extension, Critical Spring Temperatures",
        ),
        Told("Scratch a stick of each kind after a week: green under the bark lives.", "common practice, no source", ""),
    ),
    AlarmKind.HEAT: (
        _COLD_ENOUGH,
        Told(
            "Leave it in its closed bag, moist and not wet: mould grows fastest on wood that is warm and wet.",
            "published", "Petäistö 2006, Baltic Forestry 12(1):24-33 (Botrytis cinerea)",
        ),
        Told("Look at the buds: what swells is used first.", "common practice, no source", ""),
        Told(f"Take ripening fruit out. {ETHYLENE[0].words}", ETHYLENE[0].mark, ETHYLENE[0].source),
    ),
}  # fmt: skip

TITLES = {
    AlarmKind.FREEZING: "It froze: see to the wood now",
    AlarmKind.HEAT: "It is too warm: see to the wood now",
}


def title_of(kind: AlarmKind, store: str) -> str:
    return f"{TITLES[kind]} ({store})"[:200]


def rule_words(kind: AlarmKind, limits: StoreLimits) -> str:
    """Why it rings, and how that limit is known."""
    heat, (frost, warm, _) = limits.own.heat, limits_told(limits)
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
    todo = WHAT_TO_DO[alarm.kind]
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
