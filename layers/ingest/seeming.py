"""What a file that nobody reads seems to be, and what its owner can do: one short sentence."""

from __future__ import annotations

import re

# What its bytes begin with -> what it seems to be, and what to do instead.
_MAGIC: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF", "a PDF", "; type what it says, or ask for the data behind it"),
    (b"\x89PNG", "a picture", "; type what it shows"),
    (b"\xff\xd8\xff", "a picture", "; type what it shows"),
    (b"GIF8", "a picture", "; type what it shows"),
    (b"\xd0\xcf\x11\xe0", "an office document", "; save the sheet as CSV"),
    (b"SQLite format 3", "a database", "; export the records as JSON or CSV"),
    (b"\x89HDF", "HDF5 or NetCDF without variables that are known here", ""),
    (b"CDF", "NetCDF without variables that are known here", ""),
    (b"<!DOCTYPE html", "a web page", "; save the data instead of the page"),
    (b"<html", "a web page", "; save the data instead of the page"),
)
_AIRCRAFT = re.compile(rb"^MSG,\d,|\"(icao24|hex)\"|\"aircraft\"\s*:", re.MULTILINE)
# What marks a text of a trade whose files are typed in here, not read; all of it in its beginning.
_TRADES: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("constituent", "amplitude", "phase"), "tidal constants",
     "; type them for the port as printed, with their datum"),
    (("predict", "date time"), "predicted heights of the tide",
     "; type the port's constants, or its high and low waters, with their datum"),
    (("ncols", "nrows", "cellsize"), "a grid in plain figures, which bears no reference system",
     "; save it as GeoTIFF with its system and say whether it is depth or height"),
    (("zzyy ",), "buoy reports in the code FM 18", "; ask for them in BUFR"),
    (("adcp", ":u:v"), "currents measured over depth (ADCP)",
     "; record the current at the surface and at the seat in a report"),
)  # fmt: skip
_AIRFIELD_FORECAST = re.compile(rb"^TAF( AMD| COR)? [A-Z]{4} \d{6}Z", re.MULTILINE)
_NUMBERS = re.compile(r"^[\s,;\t+\-.\deE]+$")


def seeming(head: bytes, name: str) -> tuple[str, str]:
    """Return what a file seems to be, and what to do, the second with its own semicolon.

    Parameters
    ----------
    head : bytes
        Its beginning.
    name : str
        Its name; only its ending is looked at, and only where the content says nothing.
    """
    bare = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    for magic, seems, todo in _MAGIC:
        if bare[: len(magic)].lower() == magic.lower():
            return seems, todo
    if _AIRCRAFT.search(head[:4096]):
        return "a list of aircraft positions", "; a CSV with MMSI or name, time and place is read"
    if _AIRFIELD_FORECAST.search(head[:4096]):
        return "forecasts for airfields (TAF)", "; what is forecast is read from GRIB or NetCDF"
    begins = bare[:4096].decode("latin-1").lower()
    for marks, seems, todo in _TRADES:
        if all(mark in begins for mark in marks):
            return seems, todo
    if bare[:1] in (b"{", b"["):
        return "JSON without records", "; each needs kind, valid_at and payload"
    if bare[:1] == b"<":
        found = re.search(rb"<([A-Za-z][\w:.-]{0,40})", bare)
        inner = "" if found is None else f" of the sort {found[1].decode()!r}"
        return f"XML{inner}", ""
    if b"\x00" in head[:4096] or sum(byte > 126 for byte in head[:512]) > 150:
        return "binary data", "; ask whoever sent it for CSV, NetCDF or GRIB"
    return _text(bare.decode("utf-8", "replace"))


def _text(text: str) -> tuple[str, str]:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    held = [line for line in lines if not line.startswith(("#", "%", "*", "//"))]
    first = held[0] if held else ""
    shown = first[:60]
    if first and _NUMBERS.match(first):
        return (
            "columns of figures without heads",
            "; name the columns, with units, in its first line",
        )
    for mark in (",", ";", "\t"):
        if first.count(mark) >= 2:
            return (
                f"a table whose heads are {shown!r}",
                "; name its columns as the README lists them",
            )
    return f"text that begins {shown!r}" if shown else "a file without content", ""
