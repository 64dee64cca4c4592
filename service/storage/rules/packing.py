"""How wood is packed, as people tell it: each telling holds from its hour on, until the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.lib.errors import Unusable
from service.science.packings import Packing

PACKINGS = {
    Packing.DAMP_PAPER: "sealed plastic with barely damp paper",
    Packing.SEALED: "sealed plastic without paper",
    Packing.WET: "sealed plastic, water on the wood",
    Packing.SAND: "damp sand, sawdust or moss",
    Packing.LOOSE: "loose or in an open bag",
    Packing.BARE: "bare",
}


class NoPackingTold(Unusable):
    title = "Nothing was said of how it is packed"
    todo = "Say what it is packed in, that its ends are waxed, or that it was surface disinfected before it was packed."


@dataclass(frozen=True)
class Packed:
    """How wood is packed. None: nobody told, and it is taken as `Packing.DAMP_PAPER`, unwaxed and not disinfected."""

    packing: Packing | None = None
    waxed: bool | None = None
    disinfected: bool | None = None

    @classmethod
    def told(cls, packing: str | None, waxed: bool | None, disinfected: bool | None) -> Packed:
        return cls(Packing(packing) if packing else None, waxed, disinfected)

    def then(self, later: Packed) -> Packed:
        """What a later telling leaves out stays as it was told before."""
        return Packed(
            self.packing if later.packing is None else later.packing,
            self.waxed if later.waxed is None else later.waxed,
            self.disinfected if later.disinfected is None else later.disinfected,
        )

    @property
    def words(self) -> str:
        told = [PACKINGS[self.packing]] if self.packing else []
        told += [] if self.waxed is None else ["ends waxed" if self.waxed else "ends not waxed"]
        told += (
            []
            if self.disinfected is None
            else ["surface disinfected before it was packed" if self.disinfected else "not disinfected"]
        )
        return ", ".join(told)


NOT_TOLD = Packed()


@dataclass(frozen=True)
class PackedFrom:
    """A telling, from its hour on."""

    hour: int
    packed: Packed


def check_packing_told(packed: Packed) -> None:
    """Raises `NoPackingTold`."""
    if packed == NOT_TOLD:
        raise NoPackingTold("Neither a packing, nor waxed ends, nor a disinfectant was told.")


def can_be_told(packed: Packed) -> bool:
    try:
        check_packing_told(packed)
    except NoPackingTold:
        return False
    return True


def packed_through(told: Sequence[PackedFrom], begin: int, end: int) -> list[tuple[int, int, Packed]]:
    """Some hours, cut where a telling begins, with how the wood was packed in each; of one hour the last counts. `told`: in order."""
    found, at, packed = list[tuple[int, int, Packed]](), begin, NOT_TOLD
    for one in told:
        if one.hour >= max(end, begin + 1):
            break
        if one.hour > at:
            found.append((at, one.hour, packed))
            at = one.hour
        packed = packed.then(one.packed)
    return [*found, (at, end, packed)]


def packing_words(told: Sequence[tuple[int, Packed]]) -> tuple[str, str, str]:
    """What a reckoning rests on, of hours and how wood was packed in each, in order: the thing, how it is known, more of it."""
    hours = sum(count for count, packed in told if packed.packing is None)
    named = list(dict.fromkeys(packed.words for _, packed in told if packed != NOT_TOLD))
    default = PACKINGS[Packing.DAMP_PAPER]
    if not named:
        return ("packing", "assumed", default)
    before = f"; {default} assumed for {hours:,} {'hour' if hours == 1 else 'hours'}" if hours else ""
    return ("packing", "told", f"{', then '.join(named)}{before}")
