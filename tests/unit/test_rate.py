"""How often a thing may be done: by hand, 2 in 60 s, told in seconds of one clock."""

from dashboard.tools.rate import RateLimit


def test_one_too_many_waits_until_the_oldest_is_past() -> None:
    rate = RateLimit(2, 60.0)
    assert [rate.take("a", at) for at in (0.0, 10.0)] == [0.0, 0.0]
    assert rate.take("a", 25.0) == 35.0
    assert rate.take("b", 25.0) == 0.0  # each counts apart
    assert rate.take("a", 59.0) == 1.0  # what was refused does not count
    assert rate.take("a", 60.0) == 0.0
    assert rate.take("a", 60.0) == 10.0
