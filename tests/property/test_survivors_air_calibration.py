"""P10 to P90 of each level's hour against simulated boats that the program knows nothing of.

Boats with sleep, leaks nobody tells, an instrument that keeps reading wrong, another volume than
told and late reports (`tests.simulated_boats`); numbers of the boats are their seeds. Set on boats
0 to 149. Three sets of 400 never looked at before, 5000 / 6000 / 7000 and on, *without leaks and
with levels of cold and pressure taken from each boat's own path*, 400 draws; share held after 1, 3
and 6 readings:

    carbon dioxide   0.820 0.792 0.820   0.820 0.805 0.823   0.852 0.845 0.830
    low oxygen       0.929 0.925 0.918   0.894 0.909 0.866   0.889 0.909 0.903
    pressure         0.876 0.865 0.854   0.817 0.851 0.846   0.841 0.831 0.838
    cold                                 0.868 0.868 0.860   0.927 0.922 0.925

0.76 to 0.84 is wanted. What the program holds possible and those boats never had, leaks, made them
easy; and a level taken from the path, to be reached between two hours, is told too soon by whoever
does not know those hours: the chance that all levels hold to an hour fixed beforehand had a Brier
score of 0.074, 0.45 told came true in 0.60. With leaks and with levels chosen beforehand, boats
7000 to 7239 after three readings, 300 draws: held CO2 0.79, oxygen 0.85, cold 0.86, pressure 0.75
(133 boats, so 0.75 is 0.80 within 1.4 standard errors); chance 0.043 by Brier, told and true, with
how many:

    0.02 0.00 (30)  0.14 0.08 (12)  0.24 0.33 (9)  0.34 0.00 (2)  0.42 0.75 (4)
    0.54 1.00 (4)   0.64 0.79 (14)  0.76 1.00 (3)  0.84 1.00 (12)  0.99 0.99 (150)

Of the 48 between 0.1 and 0.8, told 0.41 and true 0.52 (standard error 0.06).

Water that comes in was then a normal spread cut at none, so that half of all draws were dry before
anything was known, and a rising pressure was told too late: truth came sooner than P10 in 0.26,
0.21 and 0.13 of boats 5000 to 5399 after 1, 3 and 6 readings (300 draws), in 0.23, 0.24 and 0.13
of boats 6000 to 6399, where 0.10 is right. With what would flow out taken away from the spread
(`inflow.only_in`), on the same draws:

    after 1, 3, 6    5000 to 5399: now and before           6000 to 6399: now and before
    carbon dioxide   0.802 0.828 0.767   0.797 0.810 0.785   0.777 0.780 0.770   0.765 0.780 0.785
    low oxygen       0.821 0.849 0.809   0.891 0.860 0.816   0.861 0.826 0.823   0.895 0.833 0.816
    pressure         0.885 0.869 0.795   0.744 0.786 0.790   0.893 0.860 0.823   0.773 0.747 0.797
      sooner         0.115 0.127 0.109   0.256 0.214 0.127   0.107 0.114 0.103   0.227 0.236 0.134

Whoever told of no water has the wide default of it, so that more than 0.84 is right there. The
chance, boats 5000 to 5399 after three readings: 0.050 by Brier where it was 0.047; of the 70
between 0.1 and 0.8, told 0.43 and true 0.60 (before, of 68, 0.43 and 0.54), on the safe side.

Three things made all of that hard to read. The journals told nothing of stores, and a store nobody
told of makes each time an *at least*, which is no span: now that there are none is told. A boat
whose level truly came beyond the horizon was left out, so that those counted were the ones that
came soon: now it stands anywhere in the share that was told for that. And temperature was held at
its last reading while the boats cooled, so that low oxygen came sooner and carbon dioxide later
than told: now each draw cools (`learning.cooling`). Held, and sooner than P10, after 1, 3 and 6
readings, 400 draws:

    5000 to 5399     carbon dioxide  0.790 0.810 0.772   0.117 0.117 0.130
                     low oxygen      0.785 0.780 0.815   0.128 0.125 0.098
                     pressure        0.830 0.772 0.778   0.077 0.098 0.093
                     cold                  0.790 0.877         0.072 0.045
    6000 to 6399     carbon dioxide  0.765 0.792 0.787   0.105 0.102 0.113
                     low oxygen      0.833 0.772 0.825   0.102 0.130 0.090
                     pressure        0.802 0.757 0.798   0.077 0.107 0.093
                     cold                  0.828 0.877         0.058 0.035

The chance, boats 5000 to 5399 after three readings: 0.0485 by Brier; told, true (how many):

    0.01 0.00 (68)  0.14 0.33 (12)  0.24 0.32 (19)  0.36 0.67 (3)   0.44 0.56 (9)
    0.55 0.67 (6)   0.66 0.78 (9)   0.74 0.92 (12)  0.85 0.86 (21)  0.99 0.99 (241)

How slowly a refuge cools is an assumption, the wide default that makes cold hold more.
"""

import pytest

from tests.simulated_boats import reliability, table


def test_spans_hold_the_truth_in_forty_boats():
    # Forty boats tell a share of 0.80 to within 0.19 (three standard errors).
    found = table(range(40), 300)
    assert all(share >= 0.61 for _, share, _ in found.values()), found
    assert all(0.61 <= found["CO2", look][1] <= 0.99 for look in (1, 3, 6)), found


@pytest.mark.long
def test_the_chance_told_comes_true_in_that_share():
    brier, rows = reliability(range(5_000, 5_400), 3, 300)
    assert brier <= 0.06, rows
    middle = [(n, told, true) for n, told, true in rows if 0.1 <= told < 0.8]
    count = sum(n for n, _, _ in middle)
    told = sum(n * mean for n, mean, _ in middle) / count
    true = sum(n * share for n, _, share in middle) / count
    assert abs(told - true) <= 3.0 * (0.25 / count) ** 0.5, rows
    assert rows[0][2] <= 0.1, rows
    assert rows[-1][2] >= 0.95, rows


@pytest.mark.long
def test_spans_hold_the_truth_in_four_hundred_boats():
    found = table(range(5_000, 5_400), 400)
    # 0.76 to 0.84, within the standard error of a share among so many
    for (level, _), (count, share, sooner) in found.items():
        error = (0.8 * 0.2 / count) ** 0.5
        # a level that comes sooner than P10 is what must not be told too late
        assert level != "pressure" or sooner <= 0.1 + 2.0 * (0.09 / count) ** 0.5, found
        assert share >= 0.76 - error, found
        assert level == "cold" or share <= 0.84 + error, found
