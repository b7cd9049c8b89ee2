"""Profiles from probe exports, CSV and Argo: read whole, refused with a reason, nothing lost."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import netCDF4
import numpy as np
import pytest

from layers.contract import Origin
from layers.earth.errors import InputError
from layers.transponders import LAYER
from layers.transponders.model import Profile
from layers.transponders.sound import argo_feed, edf_feed, profile_csv_feed
from layers.transponders.sound.levels import downcast
from layers.transponders.sound.water import (
    channel_axis,
    surface_duct,
    thermocline,
    water,
)
from tests.samples import sample

HEARD = datetime(2027, 3, 15, 21, 0, tzinfo=UTC)
CSV = """# time: 2027-03-15T20:40Z
# latitude: 49.83
# longitude: -8.50
depth_m,temperature_c,practical_salinity
1,11.0,35.30
50,10.9,35.31
100,10.5,35.32
"""


def origin(data: bytes, source: str = "x") -> Origin:
    return Origin(source=source, received_at=HEARD, digest=hashlib.sha256(data).hexdigest())


def read_csv(text: str):
    data = text.encode()
    return profile_csv_feed.read(data, origin(data))


def reason_of(text: str) -> str:
    reading = read_csv(text)
    assert reading.drafts == []
    return reading.rejects[0].reason


def test_the_real_probe_export_reads_in_full():
    data = sample("xbt_C3_00005.edf").read_bytes()
    assert edf_feed.recognise(data[:65536], "a.bin") == 1.0
    reading = edf_feed.read(data, origin(data))
    made = Profile.model_validate(reading.drafts[0].payload)
    # 422 lines in the file, 49 of header, 373 levels to 50.87 m
    assert len(made.depth_m) == 373
    assert reading.passed_over == {"header line": 49}
    assert reading.rejects == []
    assert made.depth_m[-1] == pytest.approx(50.8663)
    assert made.salinity_kind == "practical"
    assert reading.drafts[0].valid_at == datetime(2013, 7, 23, 13, 34, 16, tzinfo=UTC)
    assert any("zone" in note for note in made.notes)


def test_the_probes_own_sound_speed_agrees_with_the_unesco_equation():
    data = sample("xbt_C3_00005.edf").read_bytes()
    made = Profile.model_validate(edf_feed.read(data, origin(data)).drafts[0].payload)
    column = water(made, taken_at=HEARD, source="x", record_id="r", bottom_m=50.0)
    deep = column.measured_depth_m > 20.0
    own = np.array(made.sound_speed_m_s)[deep]
    # The export rounds temperature to 0.01 °C, worth 0.05 m/s, and smooths each column by itself.
    assert np.median(np.abs(own - column.equations["Chen–Millero"][deep])) < 0.03


def test_the_real_float_profile_reads_in_full():
    data = sample("argo_R13857_001.nc").read_bytes()
    assert argo_feed.recognise(data[:65536], "x") > 0.9
    reading = argo_feed.read(data, origin(data))
    made = Profile.model_validate(reading.drafts[0].payload)
    assert len(made.depth_m) == 112
    assert (made.latitude_deg, made.longitude_deg) == (0.267, -16.032)
    assert made.salinity is None
    assert reading.drafts[0].valid_at == datetime(1997, 7, 29, 20, 3, tzinfo=UTC)
    column = water(made, taken_at=HEARD, source="x", record_id="r", bottom_m=1200.0)
    assert any("no salinity measured" in note for note in column.notes)


@pytest.mark.parametrize("cut", [0, 100, 5000, 15000])
def test_a_truncated_float_file_is_one_reject(cut):
    data = sample("argo_R13857_001.nc").read_bytes()[:cut]
    reading = argo_feed.read(data, origin(data))
    if not reading.drafts:
        assert "damaged or cut short" in reading.rejects[0].reason
    else:  # NetCDF-3 fills what is cut off; then the levels themselves are refused or all there
        assert len(reading.drafts[0].payload["depth_m"]) <= 112


def test_each_feed_knows_its_own_file_and_no_other():
    edf = sample("xbt_C3_00005.edf").read_bytes()[:65536]
    argo = sample("argo_R13857_001.nc").read_bytes()[:65536]
    grid = sample("etopo5_nw_atlantic.nc").read_bytes()[:65536]
    for name, head in {"edf": edf, "argo": argo, "profile_csv": CSV.encode()}.items():
        sure = {feed.key: feed.recognise(head, "upload") for feed in LAYER.feeds}
        assert max(sure, key=lambda key: sure[key]) == name
    assert argo_feed.recognise(grid, "upload") == 0.0


def test_a_csv_profile_reads_with_its_time_and_place():
    reading = read_csv(CSV)
    draft = reading.drafts[0]
    assert draft.valid_at == datetime(2027, 3, 15, 20, 40, tzinfo=UTC)
    assert draft.heard_at == HEARD
    assert draft.payload["salinity_kind"] == "practical"
    assert draft.payload["depth_m"] == [1.0, 50.0, 100.0]


@pytest.mark.parametrize(
    "change",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace(",", ";"),
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("10.9", "\x0010.9"),
        lambda text: text.replace("# time", "# place: Rém\n# time"),
        lambda text: text.replace("# latitude: 49.83", "# latitude: 49 49.8N"),
    ],
)
def test_a_csv_profile_reads_however_it_was_saved(change):
    assert read_csv(change(CSV)).drafts[0].payload["temperature_c"] == [11.0, 10.9, 10.5]


def test_latin_1_is_read():
    data = CSV.replace("# time", "# place: Rém\n# time").encode("latin-1")
    assert profile_csv_feed.read(data, origin(data)).drafts


def test_salinity_that_does_not_say_which_is_refused():
    reason = reason_of(CSV.replace("practical_salinity", "salinity"))
    assert "does not say practical or absolute" in reason


def test_absolute_salinity_with_a_practical_unit_is_refused():
    text = CSV.replace("practical_salinity", "absolute_salinity_g_kg")
    reason = reason_of("# salinity unit: PSU\n" + text)
    assert "absolute salinity with the unit 'psu'" in reason


def test_absolute_and_practical_salinity_give_different_speeds_as_they_should():
    # 35.3 g/kg is 35.13 practical: 0.2 m/s. gsw 3.6.23.
    def top(text):
        made = Profile.model_validate(read_csv(text).drafts[0].payload)
        return water(made, taken_at=HEARD, source="", record_id="r", bottom_m=0).speed_m_s[0]

    gap = top(CSV) - top(CSV.replace("practical_salinity", "absolute_salinity_g_kg"))
    assert 0.15 < gap < 0.25


def test_a_depth_in_feet_is_turned_and_said_and_a_bare_depth_is_refused():
    made = read_csv(CSV.replace("depth_m", "depth_ft")).drafts[0].payload
    assert made["depth_m"][-1] == pytest.approx(30.48)
    assert any("feet" in note for note in made["notes"])
    assert "does not say metres or feet" in reason_of(CSV.replace("depth_m", "depth"))


@pytest.mark.parametrize(
    ("heads", "metres"),
    [("Depth (m),Temperature (°C),Salinity (PSU)", 1.0),
     ("Depth [ft],Temp [degC],Salinity [psu]", 0.3048),
     ("depth (metres);temperature (Celsius);salinity (Practical Salinity Scale)", 1.0)],
)  # fmt: skip
def test_units_beside_the_names_of_a_profile_are_honoured(heads, metres):
    mark = ";" if ";" in heads else ","
    text = CSV.replace("depth_m,temperature_c,practical_salinity", heads)
    above, below = text.split(heads)
    (draft,) = read_csv(above + heads + below.replace(",", mark)).drafts
    assert draft.payload["depth_m"] == pytest.approx([1 * metres, 50 * metres, 100 * metres])
    assert draft.payload["salinity"] == [35.30, 35.31, 35.32]


# The form of a hand-held cast as its instrument writes it, its figures with 16 digits.
HAND_HELD = """% Device,CC0000001
% Cast time (UTC),2017-08-22 02:39:11
% Cast time (local),2017-08-22 12:39:11
% Start latitude,-36.2199169
% Start longitude,150.2301061
% End latitude,-36.2209792
%
Pressure (Decibar),Depth (Meter),Temperature (Celsius),Conductivity (MicroSiemens per Centimeter),\
Salinity (Practical Salinity Scale),Sound velocity (Meters per Second)
0.15,0.1491896920760484,16.446164621401,45033.875,35.607839890028522,1511.8595379477067
1.05,1.0442773544836836,16.306742507616,44952.610910,35.660150700018228,1511.5107680006493
10.95,10.889907011663023,16.226223943581,44858.168499,35.644378427221291,1511.4112477736269
"""


def test_a_hand_held_cast_is_read_with_its_own_time_place_and_units():
    (draft,) = read_csv(HAND_HELD).drafts
    assert draft.valid_at == datetime(2017, 8, 22, 2, 39, 11, tzinfo=UTC)  # not the local one
    held = (draft.payload["latitude_deg"], draft.payload["longitude_deg"])
    assert held == (-36.2199169, 150.2301061)
    assert draft.payload["depth_m"][-1] == pytest.approx(10.8899, abs=1e-4)
    assert draft.payload["temperature_c"][0] == pytest.approx(16.4462, abs=1e-4)
    assert draft.payload["sound_speed_m_s"][1] == pytest.approx(1511.5108, abs=1e-4)


@pytest.mark.parametrize("depths", [(100, 0, 50, 50), (11_500, 12_000, 13_000)])
def test_depths_in_no_order_or_below_every_sea_are_no_profile(depths):
    rows = "".join(f"{depth},1488\n" for depth in depths)
    assert "usable level" in reason_of(CSV.split("depth_m")[0] + "depth_m,sound_speed_m_s\n" + rows)


def test_a_time_without_a_zone_is_refused():
    assert "no time zone" in reason_of(CSV.replace("20:40Z", "20:40"))
    assert "when it was measured" in reason_of(CSV.replace("# time: 2027-03-15T20:40Z\n", ""))


def test_pressure_becomes_depth():
    # z from p, TEOS-10, lat 4, 1000 dbar: -992.091906 m. VERIFIED: gsw 3.6.23.
    text = "# time: 2027-03-15T20:40Z\n# latitude: 4\n# longitude: 0\n"
    text += "pressure_dbar,temperature_c\n10,20\n1000,5\n"
    made = read_csv(text).drafts[0].payload
    assert made["depth_m"] == pytest.approx([9.944583, 992.091906], abs=1e-6)


def test_a_profile_that_goes_back_up_keeps_the_way_down_and_says_so():
    reading = read_csv(CSV + "60,10.7,35.3\n20,10.9,35.3\n")
    made = reading.drafts[0].payload
    assert made["depth_m"] == [1.0, 50.0, 100.0]
    assert any("goes back up from 100.0 m" in note for note in made["notes"])
    assert reading.passed_over["level of the way back up"] == 2


def test_heave_is_set_aside_and_counted():
    made = downcast({"depth_m": [0, 5, 4, 6, 6, 10], "temperature_c": [1, 2, 3, 4, 5, 6]}, "x")
    assert made.values == {"depth_m": [0, 5, 6, 10], "temperature_c": [1, 2, 4, 6]}
    assert made.set_aside == {"level no deeper than one before it": 2}


def test_a_wild_value_costs_its_level_only():
    reading = read_csv(
        CSV.replace("50,10.9", "50,99.9").replace("100,10.5", "100,oops") + "120,10,35\n"
    )
    assert reading.drafts[0].payload["depth_m"] == [1.0, 120.0]
    assert len(reading.rejects) == 1
    assert "line 7" in reading.rejects[0].reason
    assert reading.passed_over["level with temperature_c outside -3 to 45 degrees C"] == 1


def test_a_single_level_is_no_profile():
    with pytest.raises(InputError, match="1 usable level left of 1"):
        downcast({"depth_m": [5.0], "temperature_c": [9.0]}, "x")


def test_a_damaged_probe_export_says_what_is_wrong():
    good = sample("xbt_C3_00005.edf").read_bytes()
    for data, words in {
        good.replace(b"// Data\r\n", b"").replace(b"// Data\n", b""): "no line '// Data'",
        good.replace(b"07/23/2013", b"??"): "is not the date and time of launch",
        good.replace(b"Depth (m)", b"Deep"): "accepted: a Depth field",
    }.items():
        assert words in edf_feed.read(data, origin(data)).rejects[0].reason
    torn = good.replace(b"0.080\t9AE93C83\t0.2740", b"0.080\t9AE93C83\t0.27x0")
    reading = edf_feed.read(torn, origin(torn))
    assert [reject.line for reject in reading.rejects] == [52]
    assert len(reading.drafts[0].payload["depth_m"]) == 372


def test_shape_of_simple_waters():
    z = np.array([0.0, 40.0, 60.0, 100.0])
    assert surface_duct(z, np.array([1490.0, 1491.0, 1480.0, 1481.0])) == 40.0
    assert surface_duct(z, np.array([1491.0, 1490.0, 1480.0, 1481.0])) == 0.0
    assert channel_axis(z, np.array([1491.0, 1490.0, 1480.0, 1481.0])) == 60.0
    assert channel_axis(z, np.array([1480.0, 1481.0, 1482.0, 1483.0])) is None
    fall = thermocline(z, np.array([12.0, 12.0, 8.0, 8.0]))
    assert fall == pytest.approx((40.0, 60.0), abs=5.0)
    assert thermocline(z, np.array([12.0, 12.0, 12.0, 12.0])) is None


def argo_with(tmp_path, **values):
    """The real profile with other values in some variables, as bytes."""
    path = tmp_path / "a.nc"
    path.write_bytes(sample("argo_R13857_001.nc").read_bytes())
    with netCDF4.Dataset(path, "r+") as file:
        for name, value in values.items():
            file[name][:] = value
    return path.read_bytes()


@pytest.mark.parametrize("flag", ["POSITION_QC", "JULD_QC"])
def test_a_float_whose_place_or_time_is_flagged_bad_gives_no_profile(tmp_path, flag):
    # Argo user's manual, reference table 2: 3 is probably bad, 4 bad, 8 interpolated
    for letter, kept in ((b"3", 0), (b"4", 0), (b"8", 1)):
        data = argo_with(tmp_path, **{flag: letter})
        reading = argo_feed.read(data, origin(data))
        assert (len(reading.drafts), len(reading.rejects)) == (kept, 1 - kept), letter


def test_a_float_in_delayed_mode_gives_its_adjusted_values(tmp_path):
    # Argo user's manual: in modes A and D the adjusted values are the ones to use
    data = sample("argo_R13857_001.nc").read_bytes()
    (raw,) = argo_feed.read(data, origin(data)).drafts
    with netCDF4.Dataset("raw.nc", memory=data) as file:
        warm, flags = file["TEMP"][:], file["TEMP_QC"][:]
    for mode, more in ((b"R", 0.0), (b"A", 0.5), (b"D", 0.5)):
        data = argo_with(tmp_path, DATA_MODE=mode, TEMP_ADJUSTED=warm + 0.5, TEMP_ADJUSTED_QC=flags)
        (draft,) = argo_feed.read(data, origin(data)).drafts
        expected = np.array(raw.payload["temperature_c"]) + more
        assert draft.payload["temperature_c"] == pytest.approx(expected, abs=1e-4)
        assert ("TEMP_ADJUSTED" in " ".join(draft.payload["notes"])) is bool(more)


def test_a_launch_date_that_can_be_two_days_says_which_was_read():
    text = sample("xbt_C3_00005.edf").read_bytes()
    assert not any(
        "month" in n for n in edf_feed.read(text, origin(text)).drafts[0].payload["notes"]
    )
    text = text.replace(b"07/23/2013", b"07/03/2013")
    (draft,) = edf_feed.read(text, origin(text)).drafts
    assert draft.valid_at.month == 7
    assert any("03 Jul 2013: the month is read first" in n for n in draft.payload["notes"])
