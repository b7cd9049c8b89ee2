"""Sea state and Beaufort force against the WMO tables.

Heights: WMO-No. 306 vol. I.1 part A, code table 3700 (VERIFIED: heights seen on two
oceanographic pages; the upper bound belongs to the lower code). Winds: WMO code table 1100
(VERIFIED: column of knots, seen).
"""

from __future__ import annotations

import pytest

from layers.weather.scales import beaufort, sea_state

TABLE_3700 = [(0.0, 0.0), (0.0, 0.1), (0.1, 0.5), (0.5, 1.25), (1.25, 2.5), (2.5, 4.0),
              (4.0, 6.0), (6.0, 9.0), (9.0, 14.0)]  # fmt: skip
TABLE_1100_KN = [(0, 0), (1, 3), (4, 6), (7, 10), (11, 16), (17, 21), (22, 27), (28, 33),
                 (34, 40), (41, 47), (48, 55), (56, 63), (64, 120)]  # fmt: skip


@pytest.mark.parametrize(("code", "bounds"), tuple(enumerate(TABLE_3700)))
def test_the_upper_bound_of_a_sea_state_belongs_to_the_lower_code(
    code: int, bounds: tuple[float, float]
) -> None:
    lower, upper = bounds
    assert sea_state(upper) == code
    assert sea_state(upper + 1e-6) == code + 1
    if upper > lower:
        assert sea_state((lower + upper) / 2) == code


@pytest.mark.parametrize(("force", "bounds"), tuple(enumerate(TABLE_1100_KN)))
def test_beaufort_by_knots(force: int, bounds: tuple[int, int]) -> None:
    assert {beaufort(float(kn)) for kn in range(bounds[0], bounds[1] + 1)} == {force}
