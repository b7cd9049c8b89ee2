"""A file that was broken off inside its last figure gives no figure that nobody sent."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from layers.ingest import read_content

AT = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)
AIS = "mmsi,time,sog,lat,lon\n" + "".join(
    f"299000{n:03d},2027-03-16T05:{n:02d}:00Z,{9 + n / 10:.1f},49.{8301 + n},-8.{2500 + 7 * n}\n"
    for n in range(12)
)
NDBC = (
    "#YY MM DD hh mm WDIR WSPD GST WVHT DPD APD MWD PRES ATMP WTMP DEWP VIS PTDY TIDE\n"
    "#yr mo dy hr mn degT m/s m/s m sec sec degT hPa degC degC degC nmi hPa ft\n"
    + "".join(
        f"2027 03 16 0{h} 00 240 12.0 15.0 3.1 9.0 6.1 250 1008.1 8.1 9.2 4.0 MM MM {1 + h}.25\n"
        for h in range(5)
    )
)


def read(text: str, name: str = "x.csv"):
    taken = []
    read_content(text.encode(), name, AT, taken.append)
    drafts = [draft for reading in taken for draft in reading.drafts]
    return drafts, [reject for reading in taken for reject in reading.rejects]


@pytest.mark.parametrize(("text", "name"), [(AIS, "ships.csv"), (NDBC, "44013.txt")])
def test_at_whatever_letter_it_breaks_no_last_figure_is_made_up(text, name):
    whole, none = read(text, name)
    assert not none
    last = text.rstrip("\n").rsplit("\n", 1)[1]
    figure = last.replace(",", " ").split()[-1]
    for lost in range(1, len(figure)):
        drafts, rejects = read(text[: -1 - lost], name)
        assert len(drafts) < len(whole), figure[:-lost]
        assert len(rejects) == 1
        assert rejects[0].line == text.count("\n")
        assert "ends inside this line" in rejects[0].reason or "number" in rejects[0].reason
    ended, none = read(text[:-1], name)  # only its line end is missing
    assert len(ended) == len(whole)
    assert not none


def test_whole_figures_that_cannot_be_told_from_cut_ones_are_taken_and_told():
    rows = "".join(f"299000101,2027-03-16T05:{n:02d}:00Z,49.83{n},-8.25{n},{90 + 9 * n}\n"
                   for n in range(1, 9))  # fmt: skip
    text = "mmsi,time,lat,lon,heading\n" + rows
    drafts, rejects = read(text[:-1])
    assert len(drafts) == 8
    assert ["compare it with whoever sent it" in reject.reason for reject in rejects] == [True]
    assert not read(text)[1]


def test_a_few_rows_typed_by_hand_need_no_line_end():
    drafts, rejects = read("mmsi,time,lat,lon,heading\n299000101,2027-03-16T05:00:00Z,49.8,-8.2,9")
    assert (len(drafts), rejects) == (1, [])


def test_a_dash_for_nothing_measured_is_no_cut_figure():
    rows = "".join(
        f"299000101,2027-03-16T05:{n:02d}:00Z,49.83{n},-8.25{n},{'-' if n % 2 else 9.5}\n"
        for n in range(10)
    )
    drafts, rejects = read(("mmsi,time,lat,lon,sog\n" + rows)[:-1])
    assert (len(drafts), rejects) == (10, [])
