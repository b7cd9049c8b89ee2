"""Sweep widths: the factors of a published table, and a sonar's lateral range curve integrated."""

import numpy as np
import pytest

from layers.datum.search.width import (
    corrected,
    fastest_kn,
    over_the_bottom,
    sonar_width,
    weather_factor,
)
from layers.earth.errors import InputError

NMI = 1852.0
SMALL, LARGER = "person in the water or a boat under 9 m", "anything larger"


@pytest.mark.parametrize(
    ("sort", "wind_kn", "sea_m", "factor"),
    [  # US National SAR Manual 1991, table D-1 (page text seen); feet turned by hand
        (SMALL, 10.0, 0.3, 1.0),
        (SMALL, 18.0, None, 0.5),
        (SMALL, None, 0.9, 0.5),
        (SMALL, 10.0, 1.3, 0.25),
        (SMALL, 30.0, 0.5, 0.25),
        (LARGER, 18.0, 0.3, 0.9),
        (LARGER, 30.0, 2.0, 0.9),
    ],
)
def test_the_weather_factor_is_that_of_the_published_table(sort, wind_kn, sea_m, factor):
    assert weather_factor(sort, wind_kn, sea_m) == factor


def test_a_tired_crew_takes_a_tenth():
    # 0.7 nmi x 0.5 x 0.9 = 0.315 nmi (US National SAR Manual 1991, appendix D; worked by hand)
    found = corrected(0.7 * NMI, SMALL, 20.0, None, tired=True)
    assert found.metres / NMI == pytest.approx(0.315)
    assert "US National SAR Manual" in found.words


def test_weather_not_known_is_not_fair_weather():
    with pytest.raises(InputError, match="neither wind nor sea"):
        corrected(NMI, SMALL, None, None, tired=False)


def test_a_sonar_s_sweep_width_is_the_integral_of_its_lateral_curve():
    x = np.linspace(-100.0, 100.0, 200_001)
    seen = np.where(np.abs(x) >= 10.0, 0.9, 0.0)
    assert sonar_width(100.0, 10.0, 0.9).metres == pytest.approx(np.trapezoid(seen, x), rel=1e-3)
    assert sonar_width(80.0, 10.0, 0.9).metres == pytest.approx(126.0)
    with pytest.raises(InputError):
        sonar_width(10.0, 20.0, 0.9)


def test_pings_set_the_speed():
    # 2 m at 100 m range, 1,500 m/s: a ping each 0.1333 s, five of them on 2 m: 3 m/s = 5.83 kn
    assert fastest_kn(100.0, 2.0) == pytest.approx(5.832, abs=1e-3)


def test_a_sonar_sees_less_far_over_the_bottom_the_higher_it_is_and_the_less_often_the_faster():
    # 3-4-5: 500 m slant from 300 m above the bottom is 400 m along it; both sides, gap 50 m
    assert over_the_bottom(500.0, 300.0, 50.0, 0.8, 2.0, 60.0).metres == pytest.approx(560.0)
    # five pings of 2 x 500 m / 1,500 m/s each on 6 m: 6 m in 3.33 s, 1.8 m/s; at twice that, half
    fast = over_the_bottom(500.0, 300.0, 50.0, 0.8, 2.0 * 1.8 * 3_600.0 / 1_852.0, 6.0)
    assert fast.metres == pytest.approx(280.0)
    with pytest.raises(InputError, match="does not come to a bottom"):
        over_the_bottom(200.0, 250.0, 0.0, 0.8, 4.0, 60.0)
