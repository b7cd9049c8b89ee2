"""Whatever bytes arrive, a reader of text never raises and accounts for every line."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given, settings, strategies as st

from layers.contract import Feed, Origin
from layers.weather.feeds import metar_feed, ndbc_feed, synop_feed

ORIGIN = Origin(source="x", received_at=datetime(2027, 3, 16, tzinfo=UTC), digest="0")
HEAD = "#YY MM DD hh mm WDIR WSPD WVHT\n#yr mo dy hr mn degT m/s m\n"
WORDS = st.sampled_from(
    ["2027", "03", "16", "05", "MM", "-99", "nan", "inf", "1e400", "99999999999999999999", "x",
     "0", "٣", "²", "AAXX", "BBXX", "16061", "99498", "70085", "52228", "=", "222//", "00/00",
     "METAR", "XPTK", "160550Z", "23024KT", "9999", "11/08", "Q1004", "\x00", "////"]
)  # fmt: skip
LINES = st.lists(st.lists(WORDS, max_size=12).map(" ".join), max_size=12).map("\n".join)


def read(feed: Feed, data: bytes) -> int:
    reading = feed.read(data, ORIGIN)
    return len(reading.drafts) + len(reading.rejects) + sum(reading.passed_over.values())


@settings(max_examples=60, deadline=None)
@given(LINES)
def test_every_line_of_buoy_text_is_accounted_for(text: str) -> None:
    lines = (HEAD + text).splitlines()
    assert read(ndbc_feed.FEED, (HEAD + text).encode()) == len(lines)


@settings(max_examples=60, deadline=None)
@given(LINES)
def test_every_line_of_airfield_reports_is_accounted_for(text: str) -> None:
    # a group that is no code's is left out by itself, one reject more
    assert read(metar_feed.FEED, text.encode()) >= len(text.splitlines())


@settings(max_examples=60, deadline=None)
@given(LINES)
def test_synoptic_reports_of_any_words_never_raise(text: str) -> None:
    read(synop_feed.FEED, text.encode())


@settings(max_examples=50, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_never_raise(data: bytes) -> None:
    for feed in (ndbc_feed.FEED, metar_feed.FEED, synop_feed.FEED):
        assert 0.0 <= feed.recognise(data, "x") <= 1.0
        feed.read(data, ORIGIN)
