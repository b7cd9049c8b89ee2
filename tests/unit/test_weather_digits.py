"""A buoy's rows exported again in rounded or other units add nothing; what says more does."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from tests.unit.test_tracks_digits import AT, journal, take

__all__ = ["journal"]  # a fixture
BUOY = "62107.txt"
M_S_PER_KN = 1852 / 3600  # exact
HEADS = "#YY  MM DD hh mm WDIR WSPD GST WVHT DPD APD MWD PRES ATMP WTMP DEWP VIS TIDE\n"
UNITS = "#yr  mo dy hr mn degT {speed} {speed} m sec sec degT hPa degC degC degC nmi ft\n"


def rows(count=60, seed=3):
    """Ten-minute rows of one buoy, with the digits that such buoys send."""
    rng = np.random.default_rng(seed)
    return [
        {
            "at": AT - timedelta(hours=1, minutes=10 * n),
            "from": int(rng.integers(0, 360)),
            "m_s": round(float(rng.uniform(0.5, 24)), 1),
            "gust": round(float(rng.uniform(24, 30)), 1),
            "hs": round(float(rng.uniform(0.3, 7)), 2),
            "hpa": round(float(rng.uniform(980, 1030)), 1),
            "air": round(float(rng.uniform(-5, 25)), 1),
            "sea": round(float(rng.uniform(2, 20)), 1),
        }
        for n in range(count)
    ]


def table(of, *, knots=False, digits=1, hs=2, rest=1, air=True):
    """Return the rows as an export writes them."""
    text = HEADS + UNITS.format(speed="kt" if knots else "m/s")
    for row in of:
        wind, gust = (row[n] / (M_S_PER_KN if knots else 1.0) for n in ("m_s", "gust"))
        warm = f"{row['air']:.{rest}f}" if air else "MM"
        text += (
            f"{row['at']:%Y %m %d %H %M} {row['from']} {wind:.{digits}f} {gust:.{digits}f} "
            f"{row['hs']:.{hs}f} MM MM MM {row['hpa']:.{rest}f} {warm} "
            f"{row['sea']:.{rest}f} MM MM MM\n"
        )
    return text


AGAIN = (
    {"knots": True, "digits": 0}, {"knots": True, "digits": 1}, {"digits": 0}, {"hs": 1},
    {"knots": True, "digits": 0, "hs": 1, "rest": 0}, {"air": False},
)  # fmt: skip


@pytest.mark.parametrize("again", AGAIN)
def test_an_export_in_rounder_or_other_units_adds_nothing(journal, again):
    seen = rows()
    assert take(journal, table(seen), BUOY) == len(seen)
    assert take(journal, table(seen, **again), BUOY) == 0


@pytest.mark.parametrize("again", AGAIN[:-1])
def test_nor_do_the_finer_rows_after_the_rounder_ones(journal, again):
    seen = rows()
    assert take(journal, table(seen, **again), BUOY) == len(seen)
    assert take(journal, table(seen), BUOY) == 0


@pytest.mark.parametrize(
    "changed",
    [{"m_s": 1.0}, {"hs": 0.2}, {"sea": 1.1}, {"from": 5}, {"at": timedelta(minutes=1)}],
)
def test_what_differs_by_more_than_its_digits_is_news(journal, changed):
    seen = rows(20)
    assert take(journal, table(seen), BUOY) == 20
    other = [row | {name: row[name] + by for name, by in changed.items()} for row in seen]
    assert take(journal, table(other, hs=1, rest=0), BUOY) == 20


def test_the_same_of_another_station_is_news(journal):
    assert take(journal, table(rows(5)), BUOY) == 5
    assert take(journal, table(rows(5)), "62081.txt") == 5


def test_a_row_that_tells_one_thing_more_is_news(journal):
    seen = rows(20)
    assert take(journal, table(seen, air=False), BUOY) == 20
    assert take(journal, table(seen), BUOY) == 20
