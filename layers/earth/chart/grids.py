"""UTM, UPS and MGRS: reading and writing positions on the military grids.

References
----------
NGA.SIG.0012 (UTM, UPS) and NGA.STND.0037 (MGRS), neither page seen; checked in the tests against
the utm 0.9.0 and mgrs 1.6.0 packages and pygeodesy. MGRS is cut off, never rounded, on the way
out; on the way back the centre of the cell is returned.
"""

from __future__ import annotations

import re
import warnings
from functools import lru_cache

import mgrs
from pyproj import Transformer

from layers.earth.chart.frames import UTM_FROM_DEG, UTM_TO_DEG, utm_zone
from layers.earth.errors import InputError
from layers.earth.position import Position

BANDS = "CDEFGHJKLMNPQRSTUVWX"  # 8° each from 80° S; X runs to 84° N
COLUMNS = ("STUVWXYZ", "ABCDEFGH", "JKLMNPQR")  # of 100 km squares, by zone modulo 3
ACCEPTED_UTM = (
    "zone with its band letter or the word north or south, easting and northing in metres: "
    "'29U 535957 5520216' or '29 north 535957 5520216'"
)
ACCEPTED_MGRS = (
    "zone, band, square and an even number of digits: '29UNR3595720216' or '29U NR 35957 20216'"
)
_MGRS = re.compile(r"^(\d{1,2})([A-Z])([A-Z])([A-Z])(\d*)$")
_MGRS_POLAR = re.compile(r"^([ABYZ])([A-Z])([A-Z])(\d*)$")
_UTM = re.compile(
    r"^(?:UTM\s*)?(?:ZONE\s*)?(\d{1,2})\s*(NORTH|SOUTH|[A-Z])[\s,]+"
    r"(\d+(?:\.\d+)?)\s*M?\s*E?[\s,]+(\d+(?:\.\d+)?)\s*M?\s*N?$"
)
_UPS = re.compile(
    r"^UPS\s*(NORTH|SOUTH)\s+(\d+(?:\.\d+)?)\s*M?\s*E?[\s,]+(\d+(?:\.\d+)?)\s*M?\s*N?$"
)
_EDGE_DEG = 2.0e-5  # a whole metre may round over the edge of a band
HAIR_DEG = 1e-6  # so little south of the equator, a tenth of a metre, is on it
_CONVERTER = mgrs.MGRS()


@lru_cache(maxsize=128)
def _plane(zone: int, south: bool) -> Transformer:
    """Return degrees to metres for a zone; zone 0 is UPS."""
    name = "+proj=ups" if zone == 0 else f"+proj=utm +zone={zone}"
    return Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f"+step {name} {'+south' if south else ''} +ellps=WGS84"
    )


def band(latitude_deg: float) -> str:
    """Return the MGRS latitude band letter of a latitude from 80° S to 84° N."""
    return BANDS[min(max(int((latitude_deg + 80.0) // 8.0), 0), 19)]


def utm_metres(position: Position) -> tuple[int, bool, float, float]:
    """Return (zone, south, easting_m, northing_m); zone 0 is UPS, near the poles."""
    lat, lon = position.latitude_deg, position.longitude_deg
    zone = utm_zone(position) if UTM_FROM_DEG <= lat <= UTM_TO_DEG else 0
    south = lat < -HAIR_DEG
    easting, northing = _plane(zone, south).transform(lon, lat)
    return zone, south, float(easting), float(northing)


def utm_text(position: Position) -> str:
    """Return ``29U 535957 5520216`` (metres, rounded), or ``UPS north …`` near the poles.

    In band S the word north is written for the letter.
    """
    zone, south, easting, northing = utm_metres(position)
    if zone == 0:
        return f"UPS {'south' if south else 'north'} {round(easting)} {round(northing)}"
    letter = band(min(position.latitude_deg, -1e-9) if south else max(position.latitude_deg, 0.0))
    letter = " north" if letter == "S" else letter  # S alone may be taken for the south
    return f"{zone}{letter} {round(easting)} {round(northing)}"


def mgrs_text(position: Position, digits: int = 5) -> str:
    """Return the MGRS cell that holds the position; 5 digits are 1 m, 0 are 100 km."""
    lat = position.latitude_deg
    on_it = 0.0 if -HAIR_DEG <= lat < 0.0 else lat  # the library names a southern cell north of it
    return str(_CONVERTER.toMGRS(on_it, position.longitude_deg, MGRSPrecision=digits))


def looks_like_grid(text: str) -> bool:
    """Return whether a text is written as UTM, UPS or MGRS, rightly or wrongly."""
    upper = text.upper().strip()
    tight = re.sub(r"\s+", "", upper)
    return bool(
        _UTM.match(upper)
        or _UPS.match(upper)
        or _MGRS.match(tight)
        or _MGRS_POLAR.match(tight)
        or upper.startswith(("UTM", "UPS", "ZONE"))
    )


def parse_grid(text: str, where: str = "position") -> Position:
    """Return the position that a text in UTM, UPS or MGRS names.

    Raises
    ------
    InputError
        Not a grid position, a cell that is not in the zone, or an ambiguous hemisphere.
    """
    upper = text.upper().strip()
    ups = _UPS.match(upper)
    if ups:
        return _from_plane(0, ups[1] == "SOUTH", float(ups[2]), float(ups[3]), text, where)
    utm = _UTM.match(upper)
    if utm:
        return _parse_utm(text, int(utm[1]), utm[2], float(utm[3]), float(utm[4]), where)
    tight = re.sub(r"\s+", "", upper)
    cell = _MGRS.match(tight)
    if cell:
        return _parse_cell(text, tight, int(cell[1]), cell[2], cell[3], cell[5], where)
    polar = _MGRS_POLAR.match(tight)
    if polar:
        _check_digits(text, polar[4], where)
        return _to_position(text, tight, where)
    raise InputError(f"{text!r} is not a UTM position", where=where, accepted=ACCEPTED_UTM)


def _parse_utm(
    text: str, zone: int, letter: str, easting: float, northing: float, where: str
) -> Position:
    if not 1 <= zone <= 60:
        raise InputError(
            f"{text!r}: there is no UTM zone {zone}", where=where, accepted="zones 1 to 60"
        )
    if letter in ("NORTH", "SOUTH"):
        return _in_zone(text, zone, letter == "SOUTH", easting, northing, where)
    if letter not in BANDS:
        raise InputError(
            f"{text!r}: {letter} is not a band letter",
            where=where,
            accepted="C to X without I and O, or the word north or south",
        )
    if letter == "N":  # band N and 'north' give the same place
        return _in_zone(text, zone, False, easting, northing, where)
    if letter == "S":
        return _parse_utm_s(text, zone, easting, northing, where)
    found = _in_zone(text, zone, letter < "N", easting, northing, where)
    if letter not in {band(found.latitude_deg + off) for off in (-_EDGE_DEG, _EDGE_DEG)}:
        raise InputError(
            f"{text!r}: that northing lies in band {band(found.latitude_deg)}, not {letter}",
            where=where,
            accepted=ACCEPTED_UTM,
        )
    return found


def _parse_utm_s(text: str, zone: int, easting: float, northing: float, where: str) -> Position:
    """Settle 'S', which is both a band (32° N to 40° N) and, in some hands, the south."""
    as_band = _from_plane(zone, False, easting, northing, text, where)
    if 31.9 < as_band.latitude_deg < 40.1:
        raise InputError(
            f"{text!r}: S may be band S (32° to 40° N) or the southern hemisphere",
            where=where,
            accepted=f"'{zone} north …' or '{zone} south …'",
        )
    return _in_zone(text, zone, True, easting, northing, where)


def _in_zone(
    text: str, zone: int, south: bool, easting: float, northing: float, where: str
) -> Position:
    found = _from_plane(zone, south, easting, northing, text, where)
    middle = zone * 6.0 - 183.0
    off_deg = abs((found.longitude_deg - middle + 180.0) % 360.0 - 180.0)
    if off_deg > 3.0 + 1e-6 and utm_zone(found) != zone:
        # half a degree over the edge is in use where work straddles two zones
        if off_deg <= 3.5:
            return found
        raise InputError(
            f"{text!r}: that easting lies in zone {utm_zone(found)}, not {zone}",
            where=where,
            accepted=ACCEPTED_UTM,
        )
    return found


def _from_plane(
    zone: int, south: bool, easting: float, northing: float, text: str, where: str
) -> Position:
    inside = (
        100_000.0 <= easting < 1_000_000.0 and 0.0 <= northing <= 10_000_000.0
        if zone
        else 700_000.0 <= easting <= 3_300_000.0 and 700_000.0 <= northing <= 3_300_000.0
    )
    if not inside:
        raise InputError(
            f"{text!r}: easting or northing is off the grid",
            where=where,
            accepted="UTM: easting 100000 to 999999, northing 0 to 10000000, in metres",
        )
    lon, lat = _plane(zone, south).transform(easting, northing, direction="INVERSE")
    return Position(float(lat), float(lon))


def _parse_cell(
    text: str, tight: str, zone: int, letter: str, column: str, digits: str, where: str
) -> Position:
    if not 1 <= zone <= 60 or letter not in BANDS:
        raise InputError(
            f"{text!r}: there is no MGRS zone {zone}{letter}",
            where=where,
            accepted="zones 1 to 60 with a band C to X without I and O",
        )
    _check_digits(text, digits, where)
    columns = COLUMNS[zone % 3]
    if column not in columns:
        raise InputError(
            f"{text!r}: square {tight[-len(digits) - 2 :][:2]} does not occur in zone {zone}",
            where=where,
            accepted=f"in zone {zone} squares whose first letter is {columns[0]} to {columns[-1]}",
        )
    found = _to_position(text, tight, where)
    size_m = 100_000.0 / 10 ** (len(digits) // 2)
    if not any(_zone_and_band(p) == (zone, letter) for p in _around(found, zone, size_m / 2.0)):
        zone_there, band_there = _zone_and_band(found)
        raise InputError(
            f"{text!r}: that cell lies in {zone_there}{band_there}, not in {zone}{letter}",
            where=where,
            accepted=ACCEPTED_MGRS,
        )
    return found


def _zone_and_band(position: Position) -> tuple[int, str]:
    return utm_zone(position), band(position.latitude_deg)


def _around(centre: Position, zone: int, half_m: float) -> list[Position]:
    """Return the centre and the corners of a cell, for cells cut by the edge of a zone."""
    plane = _plane(zone, centre.latitude_deg < 0)
    x, y = plane.transform(centre.longitude_deg, centre.latitude_deg)
    corners = [centre]
    for east in (-half_m, half_m):
        for north in (-half_m, half_m):
            lon, lat = plane.transform(x + east, y + north, direction="INVERSE")
            corners.append(Position(float(lat), float(lon)))
    return corners


def _check_digits(text: str, digits: str, where: str) -> None:
    if len(digits) % 2 or len(digits) > 10:
        raise InputError(
            f"{text!r} has {len(digits)} digits after the square",
            where=where,
            accepted=ACCEPTED_MGRS + ", ten digits at most",
        )


def _to_position(text: str, tight: str, where: str) -> Position:
    try:
        with warnings.catch_warnings():  # it warns of a wrong band, which is refused below
            warnings.simplefilter("ignore", RuntimeWarning)
            lat, lon = _CONVERTER.toLatLon(tight)
    except mgrs.core.MGRSError as failure:
        raise InputError(
            f"{text!r} names no MGRS cell: square and band do not go together",
            where=where,
            accepted=ACCEPTED_MGRS,
        ) from failure
    return Position(float(lat), float(lon))
