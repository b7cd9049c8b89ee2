"""Times as people say them, over midnight, month's end and a day that a month lacks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from layers.earth.errors import InputError
from layers.earth.said.times import SLACK, told_time

NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)


def at(day: int, hour: int, minute: int, month: int = 11) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("now", NOW), ("1044", at(28, 10, 44)), ("1044Z", at(28, 10, 44)),
        ("10:44", at(28, 10, 44)), ("281044Z", at(28, 10, 44)), ("28 1044Z", at(28, 10, 44)),
        ("-20 min", at(28, 12, 32)), ("20 min ago", at(28, 12, 32)), ("in 2 h", at(28, 14, 52)),
        ("0051Z", at(29, 0, 51)),  # 12 h 1 min back, 11 h 59 min ahead
        ("0052Z", at(28, 0, 52)),  # exactly twelve hours: the earlier
        ("yesterday 1400", at(27, 14, 0)), ("281044Z NOV 26", at(28, 10, 44)),
        ("2026-11-28T10:44Z", at(28, 10, 44)), ("281044Z NOV", at(28, 10, 44)),
        # zone B is two hours ahead of UTC (ACP 121)
        ("281530B", at(28, 13, 30)), ("1530B", at(28, 13, 30)),
        ("011044Z", at(1, 10, 44, 12)), ("152340Z", at(15, 23, 40)),
        ("1 Dec 0200", at(1, 2, 0, 12)), ("30 November at 23:10", at(30, 23, 10)),
        ("1 Dec 2026 0200Z", at(1, 2, 0, 12)), ("1 DEC 20:26", at(1, 20, 26, 12)),
        ("31 0000", at(31, 0, 0, 10)),  # November has no 31st; October's is nearer than December's
    ],
)  # fmt: skip
def test_a_time_is_taken_on_the_day_nearest_to_now(text: str, expected: datetime) -> None:
    assert told_time(text, NOW) == expected


def test_over_midnight_it_is_yesterdays() -> None:
    late = datetime(2026, 12, 1, 0, 10, tzinfo=UTC)
    assert told_time("2350", late) == datetime(2026, 11, 30, 23, 50, tzinfo=UTC)
    new_year = datetime(2027, 1, 1, 0, 10, tzinfo=UTC)
    assert told_time("312350Z", new_year) == datetime(2026, 12, 31, 23, 50, tzinfo=UTC)


def test_what_was_heard_can_not_lie_ahead_and_yesterday_is_offered() -> None:
    with pytest.raises(InputError, match=r"281400Z lies ahead of now .281252Z.; 271400Z meant"):
        told_time("1400Z", NOW, ahead=SLACK)
    assert told_time("1400Z", NOW) == at(28, 14, 0)
    assert told_time("1257", NOW, ahead=SLACK) == NOW + timedelta(minutes=5)


@pytest.mark.parametrize("text", ["2405", "1060", "1044 local", "20 min", "320000Z", "soon",
                                  "2026-11-28 10:44", "281044Z NOX",
                                  "1 Dec 2026"])  # fmt: skip
def test_what_is_no_time_is_refused_in_words(text: str) -> None:
    with pytest.raises(InputError):
        told_time(text, NOW, "At")
