"""P10 to P90 of each level's hour against simulated boats that the program knows nothing of.

400 boats with sleep, an instrument that keeps reading wrong, another volume than told and late
reports (`tests.simulated_boats`); numbers of the boats are their seeds, fixed beforehand. As run on
400 boats with 400 draws, share held (share that came sooner than P10), after 1, 3 and 6 readings:

    carbon dioxide   0.840 (0.100)   0.815 (0.117)   0.807 (0.102)
    low oxygen       0.926 (0.050)   0.927 (0.057)   0.867 (0.104)
    cold                  -          0.863 (0.050)   0.897 (0.005)

0.76 to 0.84 is wanted. Oxygen and cold lie above it: whether gas leaks in or out, and how warm the
sea is, are not known in these boats and a wide default stands for them. None lies below.
"""

import pytest

from tests.simulated_boats import table


def test_spans_hold_the_truth_in_forty_boats():
    # Forty boats tell a share of 0.80 to within 0.19 (three standard errors).
    found = table(range(40), 300)
    assert all(share >= 0.61 for _, share, _ in found.values()), found
    assert all(0.61 <= found["CO2", look][1] <= 0.99 for look in (1, 3, 6)), found


@pytest.mark.long
def test_spans_hold_the_truth_in_four_hundred_boats():
    found = table(range(400), 400)
    held = {key: share for key, (_, share, _) in found.items()}
    assert all(0.76 <= held["CO2", look] <= 0.845 for look in (1, 3, 6)), found
    assert all(share >= 0.76 for share in held.values()), found
