"""Three real winters. The counts are COMPUTED: beforehand by another program from the same published equations, and here."""

from __future__ import annotations

import pytest

from service.science.chill import chill_portions, chilling_hours, positive_units, utah_units
from service.science.heat import curved_degree_hours, linear_degree_hours
from tests.science.seattle import seattle, winter

# The winter from 1 November of that year: chilling hours, without a floor, Utah, positive, portions, degree hours.
WINTERS = [
    (2012, 2052, 2266, 2656.0, 2685.0, 111.314, 6262.0, 8862.6),
    (2013, 1744, 1970, 2546.5, 2557.5, 109.954, 7402.4, 10355.4),
    (2014, 1330, 1476, 2297.5, 2339.0, 107.639, 11283.8, 14334.8),
]


def test_the_air_is_four_whole_years() -> None:
    assert len(seattle().days) == 1461
    assert seattle().hours().shape == (1461 * 24,)


@pytest.mark.parametrize("year, hours, without_floor, utah, positive, portions, curved, straight", WINTERS)
def test_a_real_winter_counts_as_computed_elsewhere(
    year: int, hours: float, without_floor: float, utah: float, positive: float, portions: float, curved: float, straight: float
) -> None:  # fmt: skip
    air = winter(year)
    assert len(air) == 3624
    assert (chilling_hours(air).sum(), chilling_hours(air, floor=False).sum()) == (hours, without_floor)
    assert (utah_units(air).sum(), positive_units(air).sum()) == (utah, positive)
    assert float(chill_portions(air)[1].portions) == pytest.approx(portions, abs=6e-4)
    assert float(curved_degree_hours(air).sum()) == pytest.approx(curved, abs=0.06)
    assert float(linear_degree_hours(air).sum()) == pytest.approx(straight, abs=0.06)
