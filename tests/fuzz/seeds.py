"""What is damaged: pieces of the real samples and of the exercise, for each feed."""

from __future__ import annotations

import gzip
import json
import random
from functools import lru_cache
from pathlib import Path

from demo_data.scenario import FOLDER
from tests.samples import SAMPLES

LARGEST_TEXT = 2_400
SAMPLE_OF = {
    "nmea": ("ais_mixed_noisy.txt", "ais_nais400.log", "nmea_gps_nl.log"),
    "ais_csv": ("ais_marinecadastre_ten.csv", "ais_solent.csv"),
    "gpx": ("route.gpx",),
    "rtz": ("route_jpngo_stlaw_1.2.rtz", "route_mandatory_1.0.rtz"),
    "ndbc": ("ndbc_44013.spec", "ndbc_44013_stdmet.txt", "ndbc_44029.ocean"),
    "drifter": ("drifter_300234063700990.csv",),
    "metar": ("metar_cache_2022.csv",),
    "synop": ("synop_SMRO01_YRBK_20220321.txt",),
    "bufr": ("synop_10.bufr",),
    "grib": ("gfs_2p5deg_10u_10v_prmsl_2t.grib2",),
    "netcdf-forecast": ("cmems_gfs_waves_currents_wind.nc",),
    "ctd": ("ctd_PIRA001.cnv",),
    "map": ("coast_clyde_osm.geojson",),
    "edf": ("xbt_C3_00005.edf",),
    "argo": ("argo_R13857_001.nc",),
    "depth_netcdf": ("bathy_30arcsec_southern_northsea.nc", "etopo5_nw_atlantic.nc"),
    "depth_raster": ("bluetopo_gulf.tif",),
    "s57": ("US4MD81M.000",),
    "wpi": ("world_port_index_pub150.csv.gz",),
    "runways": ("ourairports_runways.csv.gz",),
}
WHOLE = {
    "ctd",
    "map",
    "edf",
    "gpx",
    "rtz",
    "bufr",
    "grib",
    "netcdf-forecast",
    "argo",
    "depth_netcdf",
    "depth_raster",
    "s57",
}
MADE = {
    "typed": (
        json.dumps(
            [{"kind": "journal.grade", "valid_at": "2027-03-16T05:00Z", "heard_at":
              "2027-03-16T05:10Z", "source": "relay", "author": "watch", "id": "x",
              "payload": {"target": "0" * 32, "reason": "heard", "reliability": "B",
                          "credibility": 2}}]
        ).encode(),
    ),
    "nmea-bare": (  # checksums left out, as old instruments do
        b"$GPRMC,051500.00,A,4930.000,N,00830.000,W,5.0,090.0,160327,,,A\r\n"
        b"$GPGGA,051501.00,4930.001,N,00830.000,W,1,08,0.9,12.0,M,47.0,M,,\r\n"
        b"!AIVDM,1,1,,A,13aG>@0P00PIs=VN0OB0wwv20<0D,0\r\n"
        b"$GPRMC,051502.00,A,4930.002,N,00830.000,W,5.0,090.0,160327,,,A*5C\r\n",
    ),
    "typed-lines": (),
    "typed-csv": (
        b"kind,valid_at,source,id,target,reason,reliability,credibility\n"
        b"journal.grade,152340Z MAR 27,relay,1," + b"0" * 32 + b",heard,B,2\n"
        b"journal.grade,2027-03-16T05:00Z,relay,2," + b"0" * 32 + b",\"two, heard\",C,3\n",
    ),
    "lines": (
        b"kind,time,observer,position,bearing,range,sigma\n"
        b"bearing,2027-03-13T14:00Z,SALTMARSH,49 50.0N 008 30.0W,065T,,2deg\n"
        b"range,2027-03-13T15:00Z,GREY HERON,49 40.0N 008 20.0W,,12nmi,150m\n",
        b'[{"kind": "bearing", "time": "2027-03-13T14:00Z", "observer": "A", "position": '
        b'"49 50.0N 008 30.0W", "bearing": "068M", "sigma": "2deg"}]',
    ),
    "profile_csv": (
        b"# time: 2027-03-15T20:40Z\n# latitude: 49.83\n# longitude: -8.50\n"
        b"depth_m,sound_speed_m_s\n0,1490.1\n10,1489.7\n50,1488.0\n142,1487.2\n",
        b"# time: 2027-03-15T20:40Z\n# latitude: 49.83\n# longitude: -8.50\n"
        b"depth_m,temperature_c,practical_salinity\n0,10.1,35.1\n50,9.8,35.2\n142,9.2,35.3\n",
    ),
}  # fmt: skip


@lru_cache(maxsize=64)
def _files(key: str) -> tuple[bytes, ...]:
    found = list(MADE.get(key, ()))
    for name in SAMPLE_OF.get(key, ()):
        path = SAMPLES / name
        if path.exists():
            content = path.read_bytes()
            found.append(gzip.decompress(content) if name.endswith(".gz") else content)
    found += [path.read_bytes() for path in _of_the_exercise(key)]
    return tuple(found)


def _of_the_exercise(key: str) -> list[Path]:
    if key == "typed-lines":
        return sorted(FOLDER.glob("*/records.jsonl"))
    found = []
    for manifest in sorted(FOLDER.glob("*/manifest.json")):
        for entry in json.loads(manifest.read_text("utf-8")):
            if entry["feed"] == key:
                found.append(manifest.parent / str(entry["file"]))
    return found[:4]


def has_seeds(key: str) -> bool:
    """Return whether there is anything to damage for a feed."""
    return bool(_files(key))


def seed(key: str, rng: random.Random) -> bytes:
    """Return a file for a feed, of a long text its heads and some lines from anywhere."""
    content = rng.choice(_files(key))
    if key in WHOLE or len(content) <= LARGEST_TEXT:
        return content
    heads, at = content[: LARGEST_TEXT // 2], rng.randrange(len(content))
    first = content.find(b"\n", content.find(b"\n") + 1) + 1  # two lines of heads at least
    heads = content[: max(heads.rfind(b"\n") + 1, first)]
    return heads + content[content.find(b"\n", at) + 1 :][: LARGEST_TEXT // 2]
