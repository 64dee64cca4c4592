"""Rights: protected wood is refused, what nobody looked up is warned of (common practice, no source)."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.catalogue.rules import (
    ProtectedVariety,
    Protection,
    Rights,
    can_share_rights,
    check_protection,
    check_share_rights,
    share_warning,
)
from service.lib.errors import Unusable

TODAY = date(2026, 2, 14)
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("protection", "until", "may", "warns"),
    [
        (Protection.FREE, None, True, False),
        (Protection.PROTECTED, None, False, False),
        (Protection.PROTECTED, TODAY + DAY, False, False),
        (Protection.PROTECTED, TODAY, False, False),
        (Protection.PROTECTED, TODAY - DAY, True, True),
        (Protection.APPLIED, None, True, True),
        (Protection.UNKNOWN, None, True, True),
        (Protection.PERMISSION, TODAY + DAY, True, False),
    ],
)
def test_whether_wood_may_be_shared(
    protection: Protection, until: date | None, may: bool, warns: bool
) -> None:
    rights = Rights(protection, until, name="‘Korbin’")

    assert can_share_rights(rights, TODAY) is may
    assert bool(share_warning(rights, TODAY)) is warns
    if may:
        check_share_rights(rights, TODAY)
    else:
        with pytest.raises(ProtectedVariety, match="‘Korbin’ is protected"):
            check_share_rights(rights, TODAY)


@pytest.mark.parametrize(
    ("looked_up_days_ago", "warns"), [(0, False), (365, False), (366, True), (2000, True)]
)
def test_an_unknown_variety_is_warned_of_once_the_look_up_is_older_than_a_season(
    looked_up_days_ago: int, warns: bool
) -> None:
    rights = Rights(Protection.UNKNOWN, None, TODAY - looked_up_days_ago * DAY)

    assert bool(share_warning(rights, TODAY)) is warns


def test_a_look_up_cannot_lie_in_the_future_and_a_free_variety_has_no_last_day() -> None:
    with pytest.raises(Unusable, match="future"):
        check_protection(Protection.FREE, None, TODAY + DAY, TODAY)
    with pytest.raises(Unusable, match="no day on which protection ends"):
        check_protection(Protection.FREE, TODAY, TODAY, TODAY)
    check_protection(Protection.PROTECTED, TODAY, TODAY, TODAY)
