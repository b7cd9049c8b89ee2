"""P10 to P90 of each level's hour against simulated boats that the program knows nothing of.

Boats with sleep, an instrument that keeps reading wrong, another volume than told and late reports
(`tests.simulated_boats`); numbers of the boats are their seeds. Figures were set on boats 0 to 149.
Three sets of 400 never looked at before: 5000 / 6000 / 7000 and on, the last with the line of the
cold bent. 400 draws, share held, after 1, 3 and 6 readings, and the most that came sooner than P10:

    carbon dioxide   0.820 0.792 0.820   0.820 0.805 0.823   0.852 0.845 0.830   (0.13)
    low oxygen       0.929 0.925 0.918   0.894 0.909 0.866   0.889 0.909 0.903   (0.11)
    pressure         0.876 0.865 0.854   0.817 0.851 0.846   0.841 0.831 0.838   (0.15)
    cold                                 0.868 0.868 0.860   0.927 0.922 0.925   (0.08)

0.76 to 0.84 is wanted, and none lies below. Above it lie those for which a wide default stands:
whether gas leaks and water comes in is not told in these boats (oxygen, pressure, carbon dioxide a
little), nor how warm the sea is (cold; its line, which told it too soon, has since been bent: see
`trend`). The chance that all levels hold to an hour fixed beforehand, boats 5000 to 5399 after
three readings: Brier 0.074; of ten bins those told 0 to 0.1 came true in 0.04, 0.9 to 1 in all,
those between more often than told (0.45 in 0.60, 0.64 in 1.0): the first of several levels, each
a little wide, is told too soon, never too late.
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
    found = table(range(5_000, 5_400), 400)
    held = {key: share for key, (_, share, _) in found.items()}
    assert all(0.76 <= held["CO2", look] <= 0.86 for look in (1, 3, 6)), found
    assert all(share >= 0.76 for share in held.values()), found
