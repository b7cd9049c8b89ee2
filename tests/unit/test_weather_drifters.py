"""Tracks of drifting buoys: read value by value, with the units that stand below the heads."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest
from pyproj import Geod

from layers.contract import Origin, Reading
from layers.ingest import recognise
from layers.weather.feeds import drifter_feed
from tests.samples import sample

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
HEADS = "ID,time,latitude,longitude,ve,vn,sst\n,UTC,degrees_north,degrees_east,m/s,m/s,Degree_C\n"


def read(text: bytes | str, name: str = "d.csv") -> Reading:
    data = text.encode() if isinstance(text, str) else text
    return drifter_feed.read(data, Origin(source=name, received_at=AT, digest="d" * 64))


def test_a_real_track_is_read_in_full_and_equals_pandas() -> None:
    path = sample("drifter_300234063700990.csv")
    assert recognise(path.read_bytes()[:65_536], path.name).key == "drifter"
    reading = read(path.read_bytes())
    table = pd.read_csv(path, skiprows=[1])
    assert (len(reading.drafts), reading.rejects) == (len(table), [])
    for draft, row in zip(reading.drafts, table.itertuples(), strict=True):
        assert draft.valid_at == pd.Timestamp(row.time)
        held = (draft.payload["latitude_deg"], draft.payload["longitude_deg"])
        assert held == pytest.approx((row.latitude, row.longitude), abs=1e-9)
        warm = draft.payload.get("sea_c", float("nan"))
        assert warm == pytest.approx(row.temp, abs=1e-4, nan_ok=True)


def test_its_drift_is_that_of_an_ellipsoid_between_fixes_and_says_so() -> None:
    table = pd.read_csv(sample("drifter_300234063700990.csv"), skiprows=[1])
    drafts = read(sample("drifter_300234063700990.csv").read_bytes()).drafts
    at = pd.to_datetime(table["time"])
    earth, checked = Geod(ellps="WGS84"), 0
    for n in range(1, len(table), 13):
        hours = (at[n] - at[n - 1]).total_seconds() / 3600.0
        payload = drafts[n].payload
        if not 0.25 <= hours <= 12.0:
            assert "current_kn" not in payload
            continue
        towards, _, metres = earth.inv(
            table.longitude[n - 1], table.latitude[n - 1], table.longitude[n], table.latitude[n]
        )
        assert payload["current_kn"] == pytest.approx(metres / 1852.0 / hours, abs=6e-4)
        turned = (payload["current_set_true_deg"] - towards + 180.0) % 360.0 - 180.0
        assert abs(turned) < 0.06
        assert "without a drogue" in payload["note"]
        checked += 1
    assert checked > 80


def test_a_velocity_in_the_file_is_the_current() -> None:
    reading = read(HEADS + "300234,2027-03-16T00:00:00Z,57.1,-9.2,0.3,-0.4,12.1\n")
    (draft,) = reading.drafts  # 3, 4, 5: 0.5 m/s towards 143.13°
    assert draft.payload["current_kn"] == pytest.approx(0.5 * 3600 / 1852, abs=1e-3)
    assert draft.payload["current_set_true_deg"] == pytest.approx(143.1, abs=0.05)
    assert draft.payload["sea_c"] == 12.1


def test_a_longer_export_of_the_same_track_is_the_same_facts() -> None:
    rows = [f"1,2027-03-16T{h:02d}:00:00Z,57.{h:02d},-9.2,10.1" for h in range(5)]
    heads = "ID,time,latitude,longitude,sst (degC)\n"
    whole, part = (read(heads + "\n".join(rows[n:]) + "\n") for n in (0, 2))
    ids = [{draft.identity for draft in reading.drafts} for reading in (whole, part)]
    assert ids[1] < ids[0]


@pytest.mark.parametrize(
    ("heads", "row", "kept", "rejects"),
    [
        ("sst", "1,2027-03-16T00:00:00Z,57.1,-9.2,12.1", 0, 1),
        ("sst (K)", "1,2027-03-16T00:00:00Z,57.1,-9.2,285.25", 1, 0),
        ("sst (degC)", "1,2027-03-16T00:00:00,57.1,-9.2,12.1", 0, 1),
        ("UTC|sst (degC)", "1,2027-03-16T00:00:00,57.1,-9.2,12.1", 1, 0),
        ("EST|sst (degC)", "1,2027-03-16T00:00:00,57.1,-9.2,12.1", 0, 1),
        ("sst (degC)", "1,2027-03-16T00:00:00Z,97.1,-9.2,12.1", 0, 1),
        ("sst (degC)", "1,2027-03-16T00:00:00Z,57.1,-9.2,NaN", 0, 0),
        ("sst (degC)", "1,2027-03-16T00:00:00Z,57.1,-9.2,-999999", 0, 0),
    ],
)  # fmt: skip
def test_no_unit_no_zone_and_no_value_are_told(heads, row, kept, rejects) -> None:
    zone, _, what = heads.rpartition("|")
    time = f"time ({zone})" if zone else "time"
    reading = read(f"ID,{time},latitude,longitude,{what}\n{row}\n")
    assert (len(reading.drafts), len(reading.rejects)) == (kept, rejects)
    if kept:
        assert reading.drafts[0].payload["sea_c"] == pytest.approx(12.1)
        assert AT - reading.drafts[0].valid_at < timedelta(days=1)


def test_a_jump_is_no_current() -> None:
    rows = "1,2027-03-16T00:00:00Z,57.1,-9.2,12.1\n1,2027-03-16T01:00:00Z,57.1,-3.2,12.1\n"
    reading = read("ID,time,latitude,longitude,sst (degC)\n" + rows)
    assert all("current_kn" not in draft.payload for draft in reading.drafts)
    assert ["too large" in reject.reason for reject in reading.rejects] == [True]


def test_a_direction_with_a_speed_that_cannot_be_is_left_out_with_it() -> None:
    # 999.999 is how some archives write "nothing measured"
    reading = read(HEADS + "300234,2027-03-15T12:00:00Z,57.1,-9.2,999.999,999.999,12.1\n")
    (draft,) = reading.drafts
    assert {"current_kn", "current_set_true_deg"}.isdisjoint(draft.payload)
    assert draft.payload["sea_c"] == 12.1
