"""Every real sample reads, with counts that can be explained.

The counts are of the files themselves (lines, rows, messages), written beside each. A sample
whose feed another issue brings is read as soon as its layer lists the feed.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from layers.contract import Reading
from layers.ingest import all_feeds, read_path
from tests.samples import sample

AT = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)

# name, format, records by kind, rejects, why
SAMPLES = [
    ("ais_marinecadastre_ten.csv", "ais_csv", {"tracks.position": 10, "tracks.static": 10}, 0,
     "ten rows of ten ships, each with its name"),
    ("ais_solent.csv", "ais_csv", {"tracks.position": 4000}, 0,
     "4,001 lines, one of them the heads; this layout has no names"),
    ("ais_mixed_noisy.txt", "nmea", {"tracks.position": 758, "tracks.static": 2}, 120,
     "898 lines: 760 read, 100 with an empty payload, 20 parts whose others never came, 18 of "
     "types or contents that no layer uses"),
    ("ais_nais400.log", "nmea", {"tracks.position": 554, "tracks.static": 40, "tracks.aid": 26}, 0,
     "766 lines: 703 AIS and 62 of own ship; every message in parts is whole"),
    ("nmea_gps_nl.log", "nmea", {"tracks.position": 418}, 0,
     "2,000 lines: 418 GGA, each with the RMC and VTG of its second joined"),
    ("route.gpx", "gpx", {"tracks.route": 1}, 0, "one route of 55 points"),
    ("route_jpngo_stlaw_1.2.rtz", "rtz", {"tracks.route": 1}, 0, "one route over the date line"),
    ("route_mandatory_1.0.rtz", "rtz", {"tracks.route": 1}, 0, "the least that the schema asks"),
    ("ndbc_44013_stdmet.txt", "ndbc", {"weather.observation": 1500}, 0, "1,502 lines, two heads"),
    ("ndbc_44013.spec", "ndbc", {"weather.observation": 1073}, 0, "1,075 lines, two heads"),
    ("ndbc_44029.ocean", "ndbc", {"weather.observation": 1092}, 0, "1,094 lines, two heads"),
    ("metar_cache_2022.csv", "metar", {"weather.observation": 400}, 0, "401 lines, one of heads"),
    ("synop_SMRO01_YRBK_20220321.txt", "synop", {"weather.observation": 23}, 0, "23 stations"),
    ("synop_10.bufr", "bufr", {"weather.observation": 10}, 0, "ten messages, a station each"),
    ("gfs_2p5deg_10u_10v_prmsl_2t.grib2", "grib", {"weather.forecast": 1}, 0,
     "four fields of one issue"),
    ("ndfd_waveheight.grib2", "grib", {"weather.forecast": 1}, 0, "one issue of wave heights"),
    ("cmems_gfs_waves_currents_wind.nc", "netcdf-forecast", {"weather.forecast": 1}, 0,
     "waves, currents and wind on one grid"),
    ("xbt_C3_00005.edf", "edf", {"transponders.profile": 1}, 0, "one cast"),
    ("ctd_PIRA001.cnv", "ctd", {"transponders.profile": 1}, 0, "the beginning of one cast"),
    ("argo_R13857_001.nc", "argo", {"transponders.profile": 1}, 0, "one profile"),
    ("bathy_30arcsec_southern_northsea.nc", "depth_netcdf", {"transponders.depth_grid": 1}, 0,
     "one grid"),
    ("etopo5_nw_atlantic.nc", "depth_netcdf", {"transponders.depth_grid": 1}, 0,
     "one grid, NetCDF-3, longitudes 0 to 360"),
    ("metar_sea_state.txt", "metar", {"weather.observation": 23}, 0, "23 reports of platforms"),
    ("aws_wigos_0-454-2-awsnamitambo.bufr", "bufr", {"weather.observation": 1}, 0,
     "one message, its station named by a WIGOS identifier"),
    ("bluetopo_gulf.tif", "depth_raster", {"transponders.depth_grid": 1}, 0, "one GeoTIFF"),
    ("US4MD81M.000", "s57", {"transponders.chart_cell": 1}, 0, "the cell without its updates"),
    ("US4MD81M.001", "s57", {}, 1, "an update alone is no cell, and says so"),
]  # fmt: skip
PORTS = [
    ("world_port_index_pub150.csv.gz", "wpi", 3768, "ports, a row each"),
    ("ourairports_runways.csv.gz", "runways", 48184, "runways, a row each"),
]
UNKNOWN = ["SOURCES.md"]


def read(name: str):
    readings: list[Reading] = []
    summary = read_path(sample(name), AT, readings.append)
    return summary.outcomes[0], readings


def has(key: str) -> bool:
    return any(feed.key == key for feed in all_feeds())


@pytest.mark.parametrize(("name", "format_", "records", "rejects", "why"), SAMPLES)
def test_sample(name, format_, records, rejects, why):
    outcome, _ = read(name)
    assert outcome.format == format_, outcome.reasons
    assert dict(outcome.records) == records, why
    assert outcome.rejects == rejects, outcome.reasons


@pytest.mark.parametrize(("name", "format_", "rows", "why"), PORTS)
def test_port_and_runway_lists(name, format_, rows, why):
    if not has(format_):
        pytest.skip(f"not run: no layer lists the feed {format_} yet")
    outcome, readings = read(name)
    assert outcome.format == format_
    kept = [draft.payload for reading in readings for draft in reading.drafts]
    counted = max([outcome.records.total(), *(int(p.get("rows", 0) or 0) for p in kept)])
    assert counted == rows, why
    assert outcome.rejects == 0, outcome.reasons


@pytest.mark.parametrize("name", UNKNOWN)
def test_a_file_of_no_known_kind_is_one_reject_that_says_what_is_accepted(name):
    outcome, _ = read(name)
    assert outcome.format == ""
    ((reason, count),) = outcome.reasons.items()
    assert count == 1
    assert "accepted: " in reason
    assert "it seems to be" in reason
    assert "buoy text" in reason


def test_a_map_file_asks_what_it_is_and_nothing_of_it_is_kept_before():
    outcome, readings = read("coast_clyde_osm.geojson")
    assert outcome.format == "map"
    assert outcome.asks.startswith("what is it?")
    assert not [draft for reading in readings for draft in reading.to_keep().drafts]


def test_every_line_of_the_noisy_log_ends_somewhere():
    outcome, readings = read("ais_mixed_noisy.txt")
    lines = sample("ais_mixed_noisy.txt").read_bytes().count(b"\n") + 1
    drafts = [draft for reading in readings for draft in reading.drafts]
    assert len(drafts) + outcome.rejects + outcome.passed_over.total() == lines
    assert outcome.reasons == {
        "an AIS sentence with an empty payload": 100,
        "the other parts of this AIS message never came": 20,
    }


@pytest.mark.parametrize("name", [name for name, *_ in SAMPLES if not name.endswith(".001")])
def test_the_name_does_not_matter(name, tmp_path):
    first, _ = read(name)
    elsewhere = tmp_path / "upload"
    elsewhere.write_bytes(sample(name).read_bytes())
    outcome = read_path(elsewhere, AT, lambda _reading: None).outcomes[0]
    assert outcome.format == first.format
    assert outcome.records == first.records


def test_reading_twice_gives_the_same_records():
    for name in ("ais_nais400.log", "ndbc_44013.spec", "route.gpx"):
        once = {draft.id for reading in read(name)[1] for draft in reading.drafts}
        again = {draft.id for reading in read(name)[1] for draft in reading.drafts}
        assert once == again
