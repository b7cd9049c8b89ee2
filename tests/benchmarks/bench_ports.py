"""Reading, filtering and ranking the whole port and runway tables, against a bare pandas read."""

from __future__ import annotations

import gzip
import io
import time
from pathlib import Path
from statistics import median

import pandas as pd

from layers.earth.position import Position
from layers.forward_port.ports import candidates, port_tables
from tests.benchmarks.figure import Figure
from tests.samples import SAMPLES

DATUM = Position(49.8333, -8.5)


def bare(ports: bytes, runways: bytes) -> int:
    """Read both files with pandas and nothing else."""
    return len(pd.read_csv(io.BytesIO(ports))) + len(
        pd.read_csv(io.BytesIO(runways), low_memory=False)
    )


def ranked(ports: bytes, runways: bytes) -> candidates.Candidates:
    """Read both tables, turn units, place runways by ICAO, filter and rank for one datum."""
    port = port_tables.read_ports(ports, "ports")
    runway = port_tables.read_runways(runways, "runways")
    columns = {
        "latitude_deg": runway.latitude_deg,
        "longitude_deg": runway.longitude_deg,
        "length_m": runway.length_m,
        "width_m": runway.width_m,
        "closed": runway.closed,
        "surface": runway.surface,
    }
    needs = candidates.Needs(draught_m=6.1, runway_m=1750.0)
    return candidates.rank(port.numbers, columns, DATUM, needs)


def figures(runs: int = 7) -> list[Figure]:
    """Return the median ratio of runs side by side."""
    ports = _opened(SAMPLES / "world_port_index_pub150.csv.gz")
    runways = _opened(SAMPLES / "ourairports_runways.csv.gz")
    ratios, ours = [], []
    for _ in range(runs):
        start = time.perf_counter()
        bare(ports, runways)
        theirs = time.perf_counter() - start
        port_tables.airport_places.cache_clear()  # its own read of the airports counts too
        start = time.perf_counter()
        found = ranked(ports, runways)
        ours.append(time.perf_counter() - start)
        ratios.append(ours[-1] / theirs)
    return [
        Figure(
            issue=4,
            name="port and runway tables read, filtered and ranked",
            ratio=median(ratios),
            target=2.0,
            direction="at most",
            reference="pandas.read_csv of the two files",
            note=f"{1000 * median(ours):.0f} ms, {len(found.row)} ports within reach",
        )
    ]


def _opened(path: Path) -> bytes:
    return gzip.decompress(path.read_bytes())
