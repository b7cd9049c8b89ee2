"""Ports and runways from the published tables, as arrays; 0 and blank are both not known.

References
----------
National Geospatial-Intelligence Agency, World Port Index (Pub. 150), CSV columns as of 2024.
OurAirports, runways.csv: lengths and widths in feet. Airports by ICAO identifier: airportsdata.
"""

from __future__ import annotations

import io
import re
import warnings
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from layers.contract.rows import separator
from layers.earth.arrays import Bools, Floats
from layers.earth.errors import InputError
from layers.earth.units import M_PER_FT

# pandas is imported where it is used: it takes a third of a second of every start
if TYPE_CHECKING:
    import pandas as pd

Texts = npt.NDArray[Any]
LARGEST_BYTES = 200_000_000
_PORT_NUMBERS = {
    "latitude_deg": "Latitude",
    "longitude_deg": "Longitude",
    "channel_depth_m": "Channel Depth (m)",
    "pier_depth_m": "Cargo Pier Depth (m)",
    "tidal_range_m": "Tidal Range (m)",
    "vessel_length_m": "Maximum Vessel Length (m)",
    "vessel_draught_m": "Maximum Vessel Draft (m)",
}
_LIFTS = {
    "Lifts - 100+ Tons": "100 t or more",
    "Lifts - 50-100 Tons": "50 to 100 t",
    "Lifts - 25-49 Tons": "25 to 49 t",
    "Lifts - 0-24 Tons": "up to 24 t",
}
_PORT_TEXTS = {"name": "Main Port Name", "country": "Country Code", "size": "Harbor Size"}
_RUNWAY_HEADS = {
    "airport": "airport_ident",
    "surface": "surface",
    "closed": "closed",
    "le": "le_ident",
    "he": "he_ident",
    "le_lat": "le_latitude_deg",
    "le_lon": "le_longitude_deg",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PortTable:
    """Ports, shape (n,); NaN and ``""`` are not known."""

    index_number: npt.NDArray[np.int64]
    texts: Mapping[str, Texts]  # name, country, size, lifts
    numbers: Mapping[str, Floats]  # latitude_deg … vessel_draught_m


@dataclass(frozen=True, slots=True, kw_only=True)
class RunwayTable:
    """Runways, shape (n,), metres whatever ``unit`` the table was in; NaN is not known.

    ``airport``, ``ends`` and ``surface`` stay as pandas read them; `runway_names` and
    `plain_texts` make texts of them when they are wanted.
    """

    airport: pd.Series[Any]
    ends: tuple[pd.Series[Any], pd.Series[Any]]
    surface: pd.Series[Any]
    length_m: Floats
    width_m: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    closed: Bools
    unit: str


def unpacked(data: bytes, where: str) -> bytes:
    """Return the bytes, unzipped when they are gzip.

    Raises
    ------
    InputError
        A damaged gzip, or one that grows past 200 MB.
    """
    if data[:2] != b"\x1f\x8b":
        return data
    opener = zlib.decompressobj(wbits=31)
    try:
        opened = opener.decompress(data, LARGEST_BYTES)
    except zlib.error as failure:
        raise InputError(f"a damaged gzip file ({failure})", where=where) from None
    if opener.unconsumed_tail:
        raise InputError("grows past 200 MB when unzipped", where=where)
    return opened


def head_text(head: bytes) -> str:
    """Return the first line of a head that may be gzip."""
    if head[:2] == b"\x1f\x8b":
        try:
            head = zlib.decompressobj(wbits=31).decompress(head, 65_536)
        except zlib.error:
            return ""
    return head.split(b"\n", 1)[0].decode("utf-8-sig", "replace")


def read_ports(data: bytes, where: str) -> PortTable:
    """Return the ports of a World Port Index CSV.

    Raises
    ------
    InputError
        A column that is needed is missing; it names the column.
    """
    import pandas as pd

    wanted = [
        "World Port Index Number",
        *_PORT_TEXTS.values(),
        *_PORT_NUMBERS.values(),
        *_LIFTS,
    ]
    frame = _frame(data, wanted, where)
    numbers = {}
    for name, head in _PORT_NUMBERS.items():
        values = _degrees(frame[head])
        # Only a coordinate may be zero; for a depth, a range or a size 0 means not known.
        numbers[name] = values if name.endswith("_deg") else np.where(values > 0, values, np.nan)
    texts = {name: _texts(frame[head]) for name, head in _PORT_TEXTS.items()}
    lifts = np.full(len(frame), "", dtype=object)
    for head, words in reversed(_LIFTS.items()):
        lifts[_texts(frame[head]) == "Yes"] = words
    texts["lifts"] = lifts
    number = pd.to_numeric(frame["World Port Index Number"], errors="coerce")
    number = number.where(number.between(0, 1e9), -1)  # nor is what no port bears a number
    return PortTable(index_number=number.to_numpy(dtype=np.int64), texts=texts, numbers=numbers)


def read_runways(data: bytes, where: str) -> RunwayTable:
    """Return the runways of a CSV, in metres, placed by ICAO where it gives no threshold.

    Raises
    ------
    InputError
        A column is missing, among them one that says the unit of the lengths.
    """
    import pandas as pd

    head = head_text(data[:65_536])
    unit = next((u for u in ("ft", "m") if f"length_{u}" in head and f"width_{u}" in head), None)
    if unit is None:
        raise InputError(
            "the table of runways does not say the unit of its lengths",
            where=where,
            accepted="columns length_ft and width_ft, or length_m and width_m",
        )
    factor = M_PER_FT if unit == "ft" else 1.0
    sizes = {"length": f"length_{unit}", "width": f"width_{unit}"}
    heads = _RUNWAY_HEADS | sizes
    frame = _frame(data, list(heads.values()), where)
    get = {name: frame[column] for name, column in heads.items()}
    length, width = _number(get["length"]) * factor, _number(get["width"]) * factor
    latitude, longitude = _degrees(get["le_lat"]), _degrees(get["le_lon"])
    bare = np.flatnonzero(np.isnan(latitude) | np.isnan(longitude))
    icao, places = airport_places()
    found = icao.get_indexer(pd.Index(get["airport"].iloc[bare]))
    latitude[bare] = np.where(found >= 0, places[found, 0], np.nan)
    longitude[bare] = np.where(found >= 0, places[found, 1], np.nan)
    return RunwayTable(
        airport=get["airport"],
        ends=(get["le"], get["he"]),
        surface=get["surface"],
        length_m=length,
        width_m=width,
        latitude_deg=latitude,
        longitude_deg=longitude,
        closed=_degrees(get["closed"]) == 1,
        unit=unit,
    )


@lru_cache(maxsize=1)
def airport_places() -> tuple[pd.Index[Any], Floats]:
    """Return ICAO identifiers and their latitude and longitude, shape (n, 2) (airportsdata)."""
    import pandas as pd

    with files("airportsdata").joinpath("airports.csv").open("rb") as table:
        frame = pd.read_csv(table, usecols=["icao", "lat", "lon"], keep_default_na=False)
    frame = frame.drop_duplicates("icao")
    places = frame[["lat", "lon"]].to_numpy(dtype=np.float64)
    return pd.Index(frame["icao"]), places


def runway_names(table: RunwayTable) -> list[str]:
    """Return ``"16/34"`` for the two ends of every runway."""
    first, second = (plain_texts(end) for end in table.ends)
    return [f"{a}/{b}" if b else a for a, b in zip(first, second, strict=True)]


def plain_texts(column: pd.Series[Any]) -> list[str]:
    """Return a column as texts, ``""`` where it is blank."""
    return [str(value) for value in _texts(column)]


def _frame(data: bytes, wanted: list[str], where: str) -> pd.DataFrame:
    import pandas as pd

    opened = unpacked(data, where)
    first = opened[:65_536].split(b"\n", 1)[0].decode("utf-8-sig", "replace")
    missing = [head for head in wanted if head not in first]
    if missing:
        raise InputError(f"no column {missing[0]!r}", where=where, accepted=", ".join(wanted))
    if separator(first) != ",":
        raise InputError(f"its columns are parted by {separator(first)!r}", where=where,
                         accepted="commas, and a point for decimals")  # fmt: skip
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            # Only blanks are missing: the country code NA is Namibia. Without index_col a row of
            # more cells than heads would move every column, and of very many stop the program.
            return pd.read_csv(
                io.BytesIO(opened),
                usecols=wanted,
                index_col=False,
                keep_default_na=False,
                na_values=[""],
                low_memory=False,
            )
    except (ValueError, pd.errors.ParserError, pd.errors.ParserWarning) as failure:
        line = re.search(r"line (\d+)", str(failure))
        said = f" from line {line[1]} on" if line else ""
        raise InputError(
            f"not a table that can be read{said}: rows and heads do not go together",
            where=where,
            accepted=f"a cell under each of {', '.join(wanted)}",
        ) from None


def _texts(column: Any) -> Texts:
    found = column.astype("object")
    return np.asarray(found.where(found.notna(), "").to_numpy(dtype=object))


def _number(column: Any) -> Floats:
    values = _degrees(column)
    return np.where(values > 0, values, np.nan)


def _degrees(column: Any) -> Floats:
    """Return a column as floats, NaN where it is blank or no number."""
    import pandas as pd

    if not pd.api.types.is_numeric_dtype(column.dtype):
        # a cell of thousands of digits is no number, and stops pandas
        column = pd.to_numeric(column.astype(str).str.slice(0, 40), errors="coerce")
    return np.array(column.to_numpy(dtype=np.float64))
