"""Buoy text and airfield reports: every line ends as an observation, a reject or a count."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import pytest

from layers.contract import Origin, Reading
from layers.ingest import read_content
from layers.weather.feeds import metar_feed, ndbc_feed
from tests.samples import sample

RECEIVED = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
HEAD = (
    "#YY  MM DD hh mm WDIR WSPD GST WVHT  DPD  APD MWD   PRES  ATMP  WTMP  DEWP  VIS PTDY  TIDE\n"
    "#yr  mo dy hr mn degT m/s  m/s    m  sec  sec degT   hPa  degC  degC  degC  nmi  hPa    ft\n"
)
ROW = "2027 03 16 05 50 230 10.0 13.0  2.2  8  6.0 240 1003.2  10.1  11.2  MM   MM   MM    MM\n"


def origin(data: bytes, source: str = "buoy 62X07") -> Origin:
    return Origin(source=source, received_at=RECEIVED, digest=hashlib.sha256(data).hexdigest())


def read_ndbc(text: str, source: str = "buoy 62X07") -> Reading:
    data = text.encode()
    return ndbc_feed.read(data, origin(data, source))


def read_metar(text: str) -> Reading:
    data = text.encode()
    return metar_feed.read(data, origin(data, "airfield"))


def test_a_buoy_row_is_read_in_the_units_of_its_heading() -> None:
    (draft,) = read_ndbc(HEAD + ROW).drafts
    assert draft.valid_at == datetime(2027, 3, 16, 5, 50, tzinfo=UTC)
    assert draft.payload["station"] == "62X07"
    assert draft.payload["wind_kn"] == pytest.approx(19.44, abs=0.01)  # 10 m/s
    assert draft.payload["hs_m"] == 2.2
    assert "dew_c" not in draft.payload


def test_a_row_with_a_word_for_a_number_is_rejected_and_the_rest_goes_on() -> None:
    reading = read_ndbc(HEAD + ROW.replace(" 2.2 ", " 2x2 ") + ROW)
    assert len(reading.drafts) == 1
    (refused,) = reading.rejects
    assert refused.line == 3
    assert "WVHT '2x2' is not a number" in refused.reason


def test_a_cut_row_is_rejected_with_the_counts() -> None:
    (refused,) = read_ndbc(HEAD + ROW[:40] + "\n").rejects
    assert "columns under 19 headings" in refused.reason


def test_a_height_no_sea_has_is_rejected_with_its_field() -> None:
    (refused,) = read_ndbc(HEAD + ROW.replace(" 2.2 ", " 82.2 ")).rejects
    assert "hs_m" in refused.reason


def test_a_column_in_an_unknown_unit_is_left_out_and_said() -> None:
    head = HEAD.replace("degT m/s  m/s    m", "degT m/s  m/s  ell")
    reading = read_ndbc(head + ROW)
    assert "hs_m" not in reading.drafts[0].payload
    assert "'ell'" in reading.rejects[0].reason


def test_the_hours_extreme_of_the_supplementary_form_is_no_mean_wind() -> None:
    """NDBC, measurement descriptions: PRES is the lowest, WSPD the highest one-minute value."""
    reading = read_ndbc(
        "#YY  MM DD hh mm   PRES PTIME  WSPD  WDIR WTIME\n"
        "#yr  mo dy hr mn    hPa  hhmm   m/s  degT  hhmm\n"
        "2022 06 05 00 00  990.1  2340     8   240  2351\n"
    )
    assert reading.drafts == []
    said = " ".join(reject.reason for reject in reading.rejects)
    assert all(f"column {name} is the hour's extreme" in said for name in ("PRES", "WSPD", "WDIR"))


def test_no_line_of_units_is_refused_not_guessed() -> None:
    reading = read_ndbc(HEAD.splitlines()[0] + "\n" + ROW)
    assert not reading.drafts
    assert "never guessed" in reading.rejects[0].reason


@pytest.mark.parametrize("heads", ["YYYY MM DD hh WD   WSPD", "YY MM DD hh WD   WSPD"])
def test_an_old_yearly_file_without_units_is_known_for_what_it_is(heads: str) -> None:
    """NDBC, historical data: before 2005 no minutes, before 2007 no line of units."""
    taken: list[Reading] = []
    rows = f"{heads}\n2003 01 01 00 270  8.0\n"
    read_content(rows.encode(), "44013h2003.txt", RECEIVED, taken.append)
    (reject,) = taken[0].rejects
    assert "no line of units" in reject.reason


def test_the_same_row_in_a_longer_file_is_the_same_record() -> None:
    newer = ROW.replace("05 50", "06 50")
    first, again = read_ndbc(HEAD + ROW), read_ndbc(HEAD + newer + ROW)
    assert first.drafts[0].id == again.drafts[1].id
    assert first.drafts[0].id != read_ndbc(HEAD + ROW, "buoy 62X12").drafts[0].id


@pytest.mark.parametrize(
    ("name", "rows", "rejects"),
    [
        ("ndbc_44013_stdmet.txt", 1500, 0),
        ("ndbc_44013.spec", 1073, 0),
        ("ndbc_44029.ocean", 1092, 0),
    ],
)
def test_every_row_of_a_real_buoy_file_is_read(name: str, rows: int, rejects: int) -> None:
    data = sample(name).read_bytes()
    assert ndbc_feed.recognise(data[:65_536], "x.bin") == 1.0
    reading = ndbc_feed.read(data, origin(data, name))
    assert (len(reading.drafts), len(reading.rejects)) == (rows, rejects)
    # every line: two headings and the rows
    assert rows + 2 == len(data.decode().splitlines())
    assert {draft.payload["station"] for draft in reading.drafts} == {name[5:10]}


def test_every_report_of_the_real_cache_is_read() -> None:
    """400 rows. Of ``////SM`` the package alone makes an error: slashes are "not reported"."""
    data = sample("metar_cache_2022.csv").read_bytes()
    reading = metar_feed.read(data, origin(data, "cache"))
    assert (len(reading.drafts), len(reading.rejects)) == (400, 0)
    assert len({draft.id for draft in reading.drafts}) == 399  # one report stands there twice
    first = reading.drafts[1]
    assert first.payload["wind_from_true_deg"] == 250.0
    assert first.payload["wind_kn"] == 17.0
    assert "visibility_nmi" not in first.payload
    assert first.payload["latitude_deg"] == 69.67


def test_a_report_gets_its_month_from_the_receipt_and_says_so() -> None:
    (draft,) = read_metar("METAR XPTK 160550Z 23024G34KT 9999 BKN020 11/08 Q1004=\n").drafts
    assert draft.valid_at == datetime(2027, 3, 16, 5, 50, tzinfo=UTC)
    assert draft.payload["gust_kn"] == 34.0
    assert draft.payload["pressure_hpa"] == 1004.0
    assert "receipt" in draft.payload["note"]


def test_a_report_of_yesterday_across_a_month_is_in_the_month_before() -> None:
    data = b"XPTK 282350Z 23024KT CAVOK 11/08 Q1004"
    at = Origin(source="x", received_at=datetime(2027, 3, 1, 0, 5, tzinfo=UTC), digest="0")
    assert metar_feed.read(data, at).drafts[0].valid_at == datetime(2027, 2, 28, 23, 50, tzinfo=UTC)


def test_a_damaged_group_costs_itself_and_not_the_report() -> None:
    """A wind of which a figure is lost is not guessed; the pressure beside it stands."""
    reading = read_metar("XPTK 160550Z 2302KT 9999 11/08 Q1004 XYZZY\n")
    (draft,) = reading.drafts
    assert "wind_kn" not in draft.payload
    assert (draft.payload["air_c"], draft.payload["pressure_hpa"]) == (11.0, 1004.0)
    assert ["2302KT" in r.reason and "XYZZY" in r.reason for r in reading.rejects] == [True]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("XPTK 169950Z 23024KT 9999 11/08 Q1004", "not a time"),
        ("hello", "not an airfield report"),
    ],
)
def test_a_damaged_report_is_rejected_whole(line: str, says: str) -> None:
    reading = read_metar(line + "\nXPTK 160550Z 23024KT 9999 11/08 Q1004\n")
    assert len(reading.drafts) == 1
    assert says in reading.rejects[0].reason


@pytest.mark.parametrize("group", ["37015KT", "P99KT", "24110G130KT", "24O15KT", "99999KT"])
def test_a_wind_that_the_code_does_not_have_costs_itself_and_is_told(group: str) -> None:
    """FM 15, 15.5: ddd to the nearest ten degrees, 010 to 360, then ff or P99."""
    reading = read_metar(f"XPTK 160550Z {group} 9999 11/08 Q1004\n")
    (draft,) = reading.drafts
    assert not {"wind_kn", "gust_kn", "wind_from_true_deg"} & draft.payload.keys()
    assert (draft.payload["air_c"], draft.payload["visibility_nmi"]) == (11.0, 5.4)
    assert [group in reject.reason for reject in reading.rejects] == [True]


@pytest.mark.parametrize(
    ("group", "wind_kn", "gust_kn"),
    [("240P99KT", 99.0, None), ("240P49MPS", 49.0 / 0.514444, None), ("24060GP99KT", 60.0, 99.0)],
)
def test_a_wind_over_the_codes_range_says_that_it_is_more(
    group: str, wind_kn: float, gust_kn: float | None
) -> None:
    """FM 15, 15.5.6: P99 (P49 in m/s) is a speed of 100 kn (50 m/s) or more."""
    (draft,) = read_metar(f"XPTK 160550Z {group} 9999 11/08 Q1004\n").drafts
    assert draft.payload["wind_kn"] == pytest.approx(wind_kn, abs=0.01)
    assert draft.payload.get("gust_kn") == gust_kn
    assert "more than" in draft.payload["note"]


def test_calm_has_no_direction() -> None:
    (draft,) = read_metar("XPTK 160550Z 00000KT 9999 11/08 Q1004").drafts
    assert draft.payload["wind_kn"] == 0.0
    assert "wind_from_true_deg" not in draft.payload


def test_a_wind_in_metres_per_second_is_not_more_than_it_says() -> None:
    # P before the figures is "more than" (FM 15, 15.5.6); the P of MPS is none. 4 m/s = 7.78 kn
    for group, more in (("24004MPS", False), ("24004GP49MPS", True), ("240P49MPS", True)):
        text = f"METAR UUDD 281130Z {group} 9999 02/M03 Q1009="
        (draft,) = read_metar(text).drafts
        assert ("more than" in draft.payload["note"]) is more, group


def test_a_report_that_goes_on_below_is_one_report() -> None:
    lines = ["METAR EGPD 281150Z 21015KT 9999 BKN012", "      08/06 Q0998=",
             "METAR EGPH 281150Z 23018KT 9999", "09/06 Q0999="]  # fmt: skip
    reading = read_metar("\n".join(lines))
    assert [d.payload["air_c"] for d in reading.drafts] == [8.0, 9.0]
    assert reading.rejects == []
    # where no report is ended by =, a line that is none stays one, with its number
    reading = read_metar("\n".join(lines).replace("=", ""))
    assert [r.line for r in reading.rejects] == [2, 4]


def test_a_second_buoy_file_behind_the_first_is_read_by_no_other_headings() -> None:
    later = ROW.replace("05 50", "04 50")
    other = HEAD.replace("WVHT  DPD", "DPD  WVHT").replace("   m  sec  sec", " sec    m  sec")
    reading = read_ndbc(HEAD + ROW + other + later)
    assert [d.payload["hs_m"] for d in reading.drafts] == [2.2]
    assert [(r.line, "two files in one" in r.reason) for r in reading.rejects] == [(4, True)]
    assert len(read_ndbc(HEAD + ROW + HEAD + later).drafts) == 2
    feet = HEAD.replace("   m  sec", "  ft  sec")
    assert len(read_ndbc(HEAD + ROW + feet + later).drafts) == 1


@pytest.mark.parametrize("other", ["METAR EGPH 152350Z 24035G50KT 0800 01/01 Q0999",
                                   "TAF EGPH 152300Z 1600/1624 24035G50KT 0800"])  # fmt: skip
def test_a_second_report_on_the_line_fills_no_gap_of_the_first(other: str) -> None:
    reading = read_metar(f"METAR EGPD 152350Z /////KT 08/06 {other}=")
    (draft,) = reading.drafts
    assert {"wind_kn", "gust_kn", "visibility_nmi", "pressure_hpa"}.isdisjoint(draft.payload)
    assert draft.payload["air_c"] == 8.0
    assert [other[:10] in reject.reason for reject in reading.rejects] == [True]


@pytest.mark.parametrize(
    "forecast",
    ["TAF XYZZ 152300Z 1600/1706 27045G65KT 9999 BKN010", "XYZZ 152300Z 1600/1706 27045G65KT 9999",
     "XYZZ 152300Z 160009 27045G65KT 9999", "TAF AMD XYZZ 152300Z 1600/1706 27045KT",
     "TAF XYZZ 152300Z 1600/1706 27045KT\n     BECMG 1608/1610 30060KT"],
)  # fmt: skip
def test_the_wind_of_a_forecast_is_not_what_blows(forecast: str) -> None:
    """ICAO Annex 3, appendix 5: in a bulletin a forecast stands without its word TAF."""
    reading = read_metar(f"{forecast}=\nMETAR EGPD 152350Z 24015KT 9999 08/06 Q1009=\n")
    assert [draft.payload["station"] for draft in reading.drafts] == ["EGPD"]
    assert ["a forecast for an airfield" in reject.reason for reject in reading.rejects] == [True]


@pytest.mark.parametrize("wind", ["/////KT", "/////MPS", "//////KT", "///////KT"])
def test_no_wind_is_made_of_the_visibility_behind_a_missing_one(wind: str) -> None:
    """FM 15, 15.5: slashes stand for a wind that was not measured; fog behind it is no gale."""
    for metres in (0, 50, 100, 150, 300, 450, 800, 3000, 9999):
        (draft,) = read_metar(f"METAR LIPX 180655Z {wind} {metres:04d} FG 02/02 Q1023=").drafts
        assert {"wind_kn", "gust_kn", "wind_from_true_deg"}.isdisjoint(draft.payload)
        seen = draft.payload["visibility_nmi"] * 1852.0
        assert seen == pytest.approx(10_000 if metres == 9999 else metres, abs=10.0)
        assert draft.payload["air_c"] == 2.0


def test_a_current_profilers_first_bin_is_the_current_near_the_surface() -> None:
    """NDBC, "Measurement descriptions and units": DEP below the surface, DIR towards, SPD."""
    head = (
        "#YY  MM DD hh mm DEP01 DIR01 SPD01 DEP02 DIR02 SPD02\n"
        "#yr  mo dy hr mn     m  degT  cm/s     m  degT  cm/s\n"
    )
    rows = (
        "2027 03 16 05 50     2   245    36    10   240    30\n"
        "2027 03 16 04 50     2    MM    41    10   240    30\n"  # no set: no current
        "2027 03 16 03 50    40   245    36    60   240    30\n"  # forty metres down
    )
    reading = read_ndbc(head + rows)
    (draft,) = reading.drafts
    assert draft.payload["current_kn"] == pytest.approx(0.36 * 3600 / 1852, abs=0.001)
    assert draft.payload["current_set_true_deg"] == 245.0
    assert draft.payload["note"] == "current at 2 m"
    assert reading.rejects == []
    assert reading.passed_over["column of a current further down"] == 3
    assert reading.passed_over["row with every value missing"] == 2


@pytest.mark.parametrize(
    ("last", "hs_m", "sea_c"),
    [("W07/S5", 4.0, 7.0), ("W10/H25", 2.5, 10.0), ("W///S5", 4.0, None), ("W///H09", 0.9, None),
     ("W10/H///", None, 10.0), ("YLO", None, None), ("AMB YLO AMB", None, None),
     ("BLU NOSIG", None, None), ("R34/900", None, None), ("R09R/010070", None, None)],
)  # fmt: skip
def test_groups_behind_the_pressure_cost_no_report(
    last: str, hs_m: float | None, sea_c: float | None
) -> None:
    """FM 15, 15.13: sea and runways; colour states. Code table 3700: state 5 is 2.5 to 4 m."""
    reading = read_metar(f"METAR ENQX 160550Z 22025KT 9999 FEW020 07/02 Q1012 {last}=")
    (draft,) = reading.drafts
    assert reading.rejects == []
    assert (draft.payload["wind_kn"], draft.payload["pressure_hpa"]) == (25.0, 1012.0)
    assert (draft.payload.get("hs_m"), draft.payload.get("sea_c")) == (hs_m, sea_c)


def test_a_pressure_with_a_tenth_is_that_pressure() -> None:
    (draft,) = read_metar("METAR ENQX 160550Z 22025KT 9999 FEW020 07/02 Q1020.5=").drafts
    assert draft.payload["wind_kn"] == 25.0
    assert draft.payload["pressure_hpa"] == 1020.5
