"""What a look at a bundle says of its doses. A person's eye goes before a reckoning, as far as the eye can see."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from service.science.dormancy import Seen
from service.science.hazards import Doses, Traits
from service.science.parameters import value

_BUDS = {
    Seen.SWELLING: value("looks", "swelling"),
    Seen.GREEN: value("looks", "green"),
}
_TIGHT = value("looks", "tight")
_WRINKLED, _SHRIVELLED = value("looks", "wrinkled"), value("looks", "shrivelled")
_MOULD, _NO_MOULD = value("looks", "mould"), value("looks", "no_mould")
_GREEN_SCRATCH, _BROWN_SCRATCH = value("looks", "green_scratch"), value("looks", "brown_scratch")


@dataclass(frozen=True)
class Look:
    """What was seen of a bundle; None: not looked at. `lost_pct`: weighed loss since it was put away [% of fresh mass]."""

    buds: Seen | None = None
    wrinkled: bool | None = None
    shrivelled: bool = False
    mould: bool | None = None
    green_under_scratch: bool | None = None
    lost_pct: float | None = None


def after_look(traits: Traits, doses: Doses, look: Look) -> Doses:
    """The doses as a look leaves them.

    Parameters
    ----------
    traits, doses : of the bundle when it was looked at.
    look : what was seen.

    Returns
    -------
    Doses from which the hours after the look go on. A sign means the same whenever it is seen, at the cut or in store.
    What is bad sets a floor: buds swelling 0.8, green 1; bark wrinkled 8 % lost, shrivelled 18 %; mould 0.6; brown under a
    scratch: reserves 1. What is clean sets a ceiling, where the bad sign would begin to be seen: buds tight 0.6, bark smooth
    8 % lost, no mould 0.3; green under a scratch: half the bundle lives, so reserves, drying and ethylene at most 1. A weighed
    loss takes the place of the reckoned one, whatever else was seen of the bark. Freezing is left alone: a green rind says
    nothing of buds. All of this is judgement.
    """
    bud, lost, mould = doses.bud, doses.lost_pct, doses.mould
    reserve, ethylene = doses.reserve, doses.ethylene
    if look.buds is Seen.TIGHT:
        bud = np.minimum(bud, _TIGHT)
    elif look.buds in _BUDS:
        bud = np.maximum(bud, _BUDS[look.buds])
    if look.mould is not None:
        mould = np.maximum(mould, _MOULD) if look.mould else np.minimum(mould, _NO_MOULD)
    if look.green_under_scratch:
        reserve, ethylene = np.minimum(reserve, _GREEN_SCRATCH), np.minimum(ethylene, _GREEN_SCRATCH)
        lost = np.minimum(lost, _GREEN_SCRATCH * traits.lost_half_pct)
    elif look.green_under_scratch is False:
        reserve = np.maximum(reserve, _BROWN_SCRATCH)
    if look.shrivelled or look.wrinkled:
        lost = np.maximum(lost, _SHRIVELLED if look.shrivelled else _WRINKLED)
    elif look.wrinkled is False:
        lost = np.minimum(lost, _WRINKLED)
    if look.lost_pct is not None:
        lost = np.full_like(lost, max(0.0, look.lost_pct))
    return replace(doses, bud=bud, lost_pct=lost, mould=mould, reserve=reserve, ethylene=ethylene)
