"""Whether wood may be cut, kept or grafted now: a table of what the air says, what was seen, and what is known.

Plain Python. The table and its reasons: docs/decisions/0021-dormancy-verdict.md. A verdict warns and sorts; it takes no
wood off any list.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from service.science.parameters import Mark, value
from service.science.requirements import Requirement

_PARA_SHARE, _BUDBREAK_SHARE = value("phases", "para_share"), value("phases", "budbreak_share")
_MOVING = 1 / _BUDBREAK_SHARE
SPREAD = value("phases", "need_spread")
_MIDWINTER = value("verdict", "midwinter")
_UNMET, _NEAR_BUDBREAK = value("verdict", "unmet"), value("verdict", "near_budbreak")
_TROPIC, _QUICKEST = value("verdict", "tropic"), value("verdict", "quickest_portion")


class Phase(StrEnum):
    """What holds buds back (Lang et al. 1987), and buds that nothing holds any more."""

    PARA = "para"  # the growing plant around them
    ENDO = "endo"  # they themselves: chill is not met
    ECO = "eco"  # the cold: every warm hour counts
    MOVING = "moving"


class Seen(StrEnum):
    """What a look at the leaf buds said."""

    TIGHT = "tight"
    SWELLING = "swelling"
    GREEN = "green"
    NOT_LOOKED = "not_looked"


class Verdict(StrEnum):
    FIT_TO_STORE = "fit_to_store"
    FIT_USE_FIRST = "fit_use_first"
    GRAFT_AT_ONCE = "graft_at_once"
    DO_NOT_CUT_YET = "do_not_cut_yet"
    NOT_KNOWN = "not_known"


def phase_of(
    portions_cp: float, need_cp: float, bud_dose: float, *, leaves_down: bool | None = None
) -> Phase:
    """The phase by chill, warmth and leaves.

    Parameters
    ----------
    portions_cp : chill portions since late summer [CP].
    need_cp : chill portions that end the rest [CP]; 0 for wood without rest, which is then always ecodormant or moving.
    bud_dose : forcing after rest over the forcing that costs half a stored bundle [-] (`hazards`).
    leaves_down : whether the leaves had fallen; None where nobody looked.

    Returns
    -------
    Moving once warmth comes to the days to budbreak, a dose of 1/0.6; else ecodormant from the need on; else para- with
    leaves on, or where nobody looked with less than a quarter of the need; else endo-. The words are published [1]_; where one
    ends is judgement but for the need itself.

    References
    ----------
    .. [1] Lang, Early, Martin and Darnell 1987, HortScience 22(3):371.
    """
    if bud_dose >= _MOVING:
        return Phase.MOVING
    if portions_cp >= need_cp:
        return Phase.ECO
    early = portions_cp < ripe_from(need_cp) if leaves_down is None else not leaves_down
    return Phase.PARA if early else Phase.ENDO


def ripe_from(need_cp: float) -> float:
    """From how many chill portions on wood that nobody looked at counts as ripe: a quarter of its need (judgement) [CP]."""
    return _PARA_SHARE * need_cp


def warmth_share(bud_dose: float) -> float:
    """A bud dose as a share of the warmth that brings buds to move [-]: 1 where they move (judgement)."""
    return bud_dose * _BUDBREAK_SHARE


@dataclass(frozen=True)
class AirFacts:
    """What the air record of a site says of one day, for one kind of wood.

    `portions_cp`: chill portions since late summer [CP]; `bud_dose`: forcing after rest over the forcing that costs half a
    stored bundle [-]; `unknown_hours`: hours since late summer that nobody measured [h]; `dose_an_hour`: what an hour of the
    last week that is known adds to the dose where rest is over [-/h].
    """

    portions_cp: float
    bud_dose: float
    unknown_hours: float = 0
    dose_an_hour: float = 0

    @property
    def at_most_cp(self) -> float:
        """Portions [CP] had every hour that nobody measured been as cold as chills quickest (judgement)."""
        return self.portions_cp + self.unknown_hours / _QUICKEST

    def doubts(self, need_cp: float) -> list[tuple[float, float]]:
        """Portions and doses as counted, and as they may be had the hours nobody measured been cold, or warm (judgement).

        Unknown hours may count as warm only where rest could be over, had they been cold: then all of them, as the last week.
        """
        at_most = self.at_most_cp
        warm = self.unknown_hours * self.dose_an_hour if at_most >= need_cp else 0.0
        return [
            (portions, dose)
            for portions in (self.portions_cp, at_most)
            for dose in (self.bud_dose, self.bud_dose + warm)
        ]


def is_unmet(air: AirFacts, need_cp: float, days_after_midwinter: int | None) -> bool:
    """Whether the air says nothing any more: so late that buds grow by then, rested or not, with the chill need not met.

    Parameters
    ----------
    air, need_cp : as `judge_dormancy` has them.
    days_after_midwinter : since the shortest day, less than 0 before it [days]; None where there is none.

    Returns
    -------
    True past 120 days with fewer portions than the need and buds that the air does not move either (judgement).
    """
    late = days_after_midwinter is not None and days_after_midwinter > _UNMET
    return late and air.portions_cp < need_cp and air.bud_dose < _MOVING


class About(StrEnum):
    """What a piece of evidence is of."""

    PORTIONS = "portions"
    NEED = "need"
    BUD_DOSE = "bud_dose"
    UNKNOWN_HOURS = "unknown_hours"
    BUDS = "buds"
    LEAVES = "leaves"
    CALENDAR = "calendar"


@dataclass(frozen=True)
class Evidence:
    """One thing a verdict rests on: what it is of, its number with unit or its word, and how it is known."""

    about: About
    value: float | str
    unit: str
    mark: str


class Change(StrEnum):
    """What would change a verdict, or make it surer."""

    LOOK_AT_BUDS = "look_at_buds"
    LOOK_AT_LEAVES = "look_at_leaves"
    AIR_RECORD = "air_record"
    FILL_GAPS = "fill_gaps"
    OWN_NEED = "own_need"  # the variety's own chill need
    LEAVES_FALL = "leaves_fall"
    MORE_CHILL = "more_chill"
    BUDS_SWELL = "buds_swell"


@dataclass(frozen=True)
class Judged:
    """A verdict with what it rests on. `could_be`: what it would be were the need as much less or more
    as it may be (`need_spread`), or had the hours nobody measured been as cold as chills quickest,
    or as warm as the last week that is known.
    """

    verdict: Verdict
    phase: Phase | None
    could_be: tuple[Verdict, ...]
    evidence: tuple[Evidence, ...]
    would_change: tuple[Change, ...]


_FIT, _FIRST, _AT_ONCE = Verdict.FIT_TO_STORE, Verdict.FIT_USE_FIRST, Verdict.GRAFT_AT_ONCE
_NOT_YET, _NOT_KNOWN = Verdict.DO_NOT_CUT_YET, Verdict.NOT_KNOWN
_COLUMNS = (Seen.TIGHT, Seen.SWELLING, Seen.GREEN, Seen.NOT_LOOKED)
# Rows without a phase: chill is not known, or the wood has no rest; then the leaves speak.
_DOWN, _ON, _NOBODY = "leaves_down", "leaves_on", "leaves_not_seen"
_NEAR = "eco_near_budbreak"
_LATE = "para_after_midwinter"
_EARLY = "leaves_not_seen_before_midwinter"
TABLE: dict[tuple[str, Seen], Verdict] = {
    (row, seen): verdict
    for row, verdicts in {
        Phase.PARA: (_NOT_YET, _NOT_YET, _NOT_YET, _NOT_YET),  # buds in growth are this summer's
        _LATE: (_NOT_YET, _FIRST, _AT_ONCE, _NOT_YET),  # a mild winter; leaves on have the row of leaves on
        Phase.ENDO: (_FIT, _FIRST, _AT_ONCE, _FIT),
        Phase.ECO: (_FIT, _FIRST, _AT_ONCE, _FIT),
        _NEAR: (_FIT, _FIRST, _AT_ONCE, _NOT_KNOWN),
        Phase.MOVING: (_FIRST, _AT_ONCE, _AT_ONCE, _NOT_KNOWN),
        _DOWN: (_FIT, _FIRST, _AT_ONCE, _NOT_KNOWN),
        _ON: (_NOT_YET, _NOT_YET, _NOT_YET, _NOT_YET),
        _EARLY: (_NOT_KNOWN, _NOT_YET, _NOT_YET, _NOT_KNOWN),  # a second growth of this summer
        _NOBODY: (_NOT_KNOWN, _FIRST, _AT_ONCE, _NOT_KNOWN),
    }.items()
    for seen, verdict in zip(_COLUMNS, verdicts, strict=True)
}


def judge_dormancy(
    seen: Seen, need_cp: float, air: AirFacts | None = None, *, leaves_down: bool | None = None,
    days_from_midwinter: int | None = None, days_after_midwinter: int | None = None, spread: float = SPREAD, is_own: bool = False,
) -> Judged:  # fmt: skip
    """What may be done with wood at the tree today.

    Parameters
    ----------
    seen : what a look at the leaf buds said.
    need_cp : chill portions that end the rest [CP]; 0 for wood without rest.
    air : what the air record says; None: chill is not known.
    leaves_down : whether the leaves had fallen; None: nobody looked.
    days_from_midwinter : days to the nearest shortest day of the place, either way [days]; None: not known, or no winter.
        Within 60 leaves that nobody looked at count as fallen (common practice).
    days_after_midwinter : since the shortest day of this winter, less than 0 before it [days]; None: not known, or no winter.
        Only after it swelling or green buds with little chill go by the eye (judgement): before it they are a second growth.
    spread : how far the need may be out, either way [of the need]: `need_spread`.
    is_own : whether the need is told of the variety itself.

    Returns
    -------
    The verdict of `TABLE` by phase, or by leaves where chill is not known, with its evidence and what would change it.
    """
    if need_cp <= 0:
        leaves_down = days_from_midwinter = None  # evergreen: whether leaves are on says nothing
    down, by_calendar = _leaves(leaves_down, days_from_midwinter)
    late = days_after_midwinter is not None and days_after_midwinter > 0
    could_be: tuple[Verdict, ...] = ()
    phase: Phase | None = None
    if air is None or need_cp <= 0:
        early = days_after_midwinter is not None and not late
        row = {True: _DOWN, False: _ON, None: _EARLY if early else _NOBODY}[True if need_cp <= 0 else down]
        verdict = TABLE[row, seen]
    else:
        phase = phase_of(air.portions_cp, need_cp, air.bud_dose, leaves_down=down)
        verdict = _told(phase, seen, down, air.bud_dose, late=late)
        could_be = _could_be(seen, need_cp, air, down, verdict, spread=spread, late=late)
    evidence = _evidence(seen, need_cp, air, leaves_down, by_calendar, spread=spread)
    would = _would_change(seen, need_cp, air, down, phase, unsure=spread > 0 and not is_own, late=late)
    return Judged(verdict, phase, could_be, evidence, would)


def _told(phase: Phase, seen: Seen, leaves_down: bool | None, bud_dose: float, *, late: bool) -> Verdict:
    """The table by phase; before rest, leaves that were seen on say that buds in growth are this summer's."""
    if phase is Phase.PARA and leaves_down is False:
        return TABLE[_ON, seen]
    if phase is Phase.PARA and late:
        return TABLE[_LATE, seen]
    return TABLE[_NEAR if phase is Phase.ECO and warmth_share(bud_dose) >= _NEAR_BUDBREAK else phase, seen]


def need_spread(group: str, own: Requirement | None = None) -> float:
    """How far a chill need may be out, either way.

    Parameters
    ----------
    group : of the kind.
    own : what is told of the variety itself, None where nothing is.

    Returns
    -------
    Of the need [-]: of a variety's own half the range that is told over its middle; else a fifth (judgement). Of walnut at
    least two fifths either way, for two editions of its source differ so.
    """
    least = value("phases", "need_spread_walnut") if group == "walnut" else 0.0
    told = SPREAD if own is None else (own.most - own.least) / 2 / own.middle
    return max(told, least)


def leaves_by_calendar(days_from_midwinter: int | None) -> bool | None:
    """True where the shortest day is so near that leaves nobody looked at count as fallen (common practice)."""
    return True if _leaves(None, days_from_midwinter)[0] else None


def _leaves(leaves_down: bool | None, days_from_midwinter: int | None) -> tuple[bool | None, bool]:
    """Whether leaves count as fallen, and whether the calendar alone says so."""
    midwinter = days_from_midwinter is not None and abs(days_from_midwinter) <= _MIDWINTER
    return (True, True) if leaves_down is None and midwinter else (leaves_down, False)


def _could_be(
    seen: Seen, need_cp: float, air: AirFacts, leaves_down: bool | None, verdict: Verdict, *, spread: float, late: bool
) -> tuple[Verdict, ...]:  # fmt: skip
    """A lower need lets warmth count earlier too, which is not reckoned anew here: the phase may be later still."""
    needs = [need_cp * (1 - spread), need_cp, need_cp * (1 + spread)]
    others = {
        _told(phase_of(portions, need, dose, leaves_down=leaves_down), seen, leaves_down, dose, late=late)
        for need in needs
        for portions, dose in air.doubts(need)
    }
    return tuple(sorted(others - {verdict}))


def _evidence(
    seen: Seen, need_cp: float, air: AirFacts | None, leaves_down: bool | None, by_calendar: bool, *, spread: float
) -> tuple[Evidence, ...]:  # fmt: skip
    found = []
    if seen is not Seen.NOT_LOOKED:
        found.append(Evidence(About.BUDS, seen, "", "seen"))
    if leaves_down is not None:
        found.append(Evidence(About.LEAVES, "down" if leaves_down else "on", "", "seen"))
    if by_calendar:
        found.append(Evidence(About.CALENDAR, "midwinter", "", Mark.PRACTICE))
    if air is not None and need_cp > 0:
        found += [
            Evidence(About.PORTIONS, air.portions_cp, "CP", "computed from the air record"),
            Evidence(About.NEED, need_cp, "CP", Mark.JUDGEMENT if spread else "of the variety"),
            Evidence(About.BUD_DOSE, air.bud_dose, "-", "computed from the air record"),
        ]
        if air.unknown_hours > 0:
            found.append(Evidence(About.UNKNOWN_HOURS, air.unknown_hours, "h", "gaps of the air record"))
    return tuple(found)


def _would_change(
    seen: Seen, need_cp: float, air: AirFacts | None, down: bool | None, phase: Phase | None, *, unsure: bool,
    late: bool,
) -> tuple[Change, ...]:  # fmt: skip
    """In the order of what is done soonest."""
    told = {
        Change.LOOK_AT_BUDS: seen is Seen.NOT_LOOKED,
        Change.LOOK_AT_LEAVES: down is None and need_cp > 0 and phase in (None, Phase.PARA),
        Change.LEAVES_FALL: down is False and phase in (None, Phase.PARA),
        Change.MORE_CHILL: phase is Phase.PARA
        and down is None
        and (seen in {Seen.TIGHT, Seen.NOT_LOOKED} or not late),
        Change.BUDS_SWELL: seen is Seen.TIGHT and phase is not Phase.PARA,
        Change.AIR_RECORD: air is None and need_cp > 0,
        Change.FILL_GAPS: air is not None and need_cp > 0 and air.unknown_hours > 0,
        Change.OWN_NEED: air is not None and need_cp > 0 and unsure,
    }
    return tuple(each for each, does in told.items() if does)


def days_from_midwinter(latitude_deg: float, day_of_year: int) -> int | None:
    """How far the nearest shortest day is.

    Parameters
    ----------
    latitude_deg : north positive [degrees].
    day_of_year : 1 on 1 January [-], from 1 to 366.

    Returns
    -------
    Days, before or after [days], from 0 to 183; None between the tropics, where there is no winter by the sun.
    """
    if abs(latitude_deg) < _TROPIC:
        return None
    shortest = 355 if latitude_deg > 0 else 172
    apart = abs(day_of_year - shortest)
    return min(apart, 365 - apart)
