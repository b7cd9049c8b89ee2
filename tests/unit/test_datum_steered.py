"""A search goes back in by what was steered, or says why it cannot."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from layers.datum.kinds import KINDS
from layers.datum.search.steered import steered
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.journal.known import check_payload

START = datetime(2027, 3, 13, 14, 0, tzinfo=UTC)
MODEL = next(kind for kind in KINDS if kind.name == "datum.negative_search")


def fixes(count, every_min=10, gap_after=None):
    minutes = np.arange(count) * every_min
    if gap_after is not None:
        minutes[gap_after:] += 90
    times = np.array([to_us(START + timedelta(minutes=int(m))) for m in minutes])
    return times, np.linspace(49.8, 49.9, count), np.linspace(-8.6, -8.5, count)


def taken(track, start=START, hours=2.0):
    return steered(*track, start, start + timedelta(hours=hours), "SALTMARSH", 1_800.0, "sonar")


def test_the_fixes_in_the_span_become_the_legs():
    payload = taken(fixes(30))
    assert len(payload["waypoints"]) == 13
    value = check_payload(MODEL, payload, "search")
    assert value.started_at == START
    assert value.waypoints[0].latitude_deg == pytest.approx(49.8)


def test_a_long_track_is_thinned_and_keeps_its_end():
    track = fixes(2_401, every_min=1)
    payload = taken(track, hours=40.0)
    assert len(payload["waypoints"]) <= 502
    assert payload["waypoints"][-1]["latitude_deg"] == pytest.approx(49.9)


@pytest.mark.parametrize(
    ("track", "hours", "said"),
    [
        (fixes(1), 2.0, "has 1 fixes"),
        (fixes(20, gap_after=5), 4.0, "no fix for 1 h 40 after 1440Z"),
        (fixes(20), -1.0, "not after its start"),
    ],
)
def test_what_is_not_known_is_not_made_up(track, hours, said):
    with pytest.raises(InputError, match=said):
        taken(track, hours=hours)
