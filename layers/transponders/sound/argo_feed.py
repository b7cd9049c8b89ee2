"""Argo profiles in NetCDF: pressure, temperature and, where measured, salinity."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import gsw
import numpy as np
import numpy.typing as npt

from layers.contract import Feed, Origin, Reading
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.journal.record import Draft, Reject
from layers.transponders.sound.levels import downcast

GOOD = frozenset("1258 ")  # Argo reference table 2: good, probably good, changed, estimated
BAD = frozenset("34")  # probably bad and bad (Argo user's manual, reference table 2)
ADJUSTED_MODES = frozenset("AD")  # its adjusted values are the ones to use (ibid., 2.2.2)
_MAGIC = (b"CDF\x01", b"CDF\x02", b"CDF\x05", b"\x89HDF")


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is an Argo profile: a NetCDF file that names the Argo variables."""
    if not head.startswith(_MAGIC):
        return 0.0
    return 0.97 if b"N_LEVELS" in head and b"JULD" in head else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return every profile of an Argo file, or the reason why there is none."""
    from netCDF4 import Dataset  # imported here: this reader runs in a process of its own

    reading = Reading()
    try:
        with Dataset("argo", memory=data) as file:
            for place in range(len(file.dimensions["N_PROF"])):
                try:
                    reading.drafts.append(_profile(file, place, origin, reading))
                except InputError as reason:
                    reading.rejects.append(_reject(origin, f"profile {place + 1}: {reason}"))
    except KeyError as missing:
        said = f"an Argo file without {str(missing)[:60]}: not a profile; nothing of it is used"
        reading.rejects.append(_reject(origin, said))
    except (OSError, RuntimeError, ValueError, IndexError):
        said = "an Argo profile that is damaged or cut short: get the file again"
        reading.rejects.append(_reject(origin, said))
    return reading


def _reject(origin: Origin, reason: str) -> Reject:
    return Reject(source=origin.source, line=None, text="", reason=reason)


def _profile(file: Any, place: int, origin: Origin, reading: Reading) -> Draft:
    notes: list[str] = []
    lat = float(np.ma.filled(file["LATITUDE"][place], np.nan))
    lon = float(np.ma.filled(file["LONGITUDE"][place], np.nan))
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 360.0):
        raise InputError("no position", where=origin.source, accepted="LATITUDE and LONGITUDE")
    for name, said in (("POSITION_QC", "position"), ("JULD_QC", "time")):
        if name in file.variables and _letter(file, name, place) in BAD:
            raise InputError(f"the file itself flags its {said} bad", where=origin.source,
                             accepted="a profile whose place and time are known")  # fmt: skip
    pressure = _values(file, "PRES", place, notes)
    if str(getattr(file["PRES"], "units", "")).lower() not in {"decibar", "dbar"}:
        raise InputError("PRES has no units in decibar", where=origin.source, accepted="decibar")
    columns = {
        "depth_m": list(-np.asarray(gsw.z_from_p(pressure, lat))),
        "temperature_c": list(_values(file, "TEMP", place, notes)),
    }
    salted = "PSAL" in file.variables and np.any(np.isfinite(_values(file, "PSAL", place, [])))
    if salted:
        columns["salinity"] = list(_values(file, "PSAL", place, notes))
    if columns["depth_m"] and columns["depth_m"][0] > columns["depth_m"][-1]:
        columns = {name: values[::-1] for name, values in columns.items()}
        notes.append("measured on the way up; turned round")
    levels = downcast(columns, origin.source)
    for reason, count in levels.set_aside.items():
        reading.passed_over[reason] = reading.passed_over.get(reason, 0) + count
    platform = b"".join(np.ma.filled(file["PLATFORM_NUMBER"][place], b" ")).decode().strip()
    payload = {
        **levels.values,
        "salinity_kind": "practical" if salted else None,
        "latitude_deg": lat,
        "longitude_deg": lon - 360.0 if lon > 180.0 else lon,
        "instrument": f"Argo float {platform}",
        "notes": [*notes, *levels.notes],
    }
    valid_at = _time(file, place, origin)
    return origin.draft("transponders.profile", payload, valid_at)


def _letter(file: Any, name: str, place: int) -> str:
    """Return the one letter that a profile has under this name."""
    (letter,) = np.ma.filled(file[name][place : place + 1], b" ").astype("S1").tolist()
    return str(letter.decode("latin-1"))


def _values(file: Any, name: str, place: int, notes: list[str]) -> npt.NDArray[np.float64]:
    """Return a variable with what its quality flags call bad as NaN, adjusted where it was."""
    adjusted = f"{name}_ADJUSTED"
    if (
        adjusted in file.variables
        and "DATA_MODE" in file.variables
        and _letter(file, "DATA_MODE", place) in ADJUSTED_MODES
        and np.ma.count(file[adjusted][place])
    ):
        name = adjusted
        notes.append(f"{name} taken, as its data mode asks")
    values = np.ma.filled(file[name][place].astype(np.float64), np.nan)
    if f"{name}_QC" in file.variables:
        flags = np.ma.filled(file[f"{name}_QC"][place], b" ").astype("S1")
        bad = np.array([flag.decode("latin-1") not in GOOD for flag in flags.tolist()], dtype=bool)
        bad &= np.isfinite(values)
        if np.any(bad):
            notes.append(f"{int(np.sum(bad))} values of {name} flagged bad, set aside")
        values = np.where(bad, np.nan, values)
    return np.asarray(values)


def _time(file: Any, place: int, origin: Origin) -> Any:
    days = float(np.ma.filled(file["JULD"][place], np.nan))
    if not np.isfinite(days):
        raise InputError("no time (JULD)", where=origin.source)
    text = b"".join(np.ma.filled(file["REFERENCE_DATE_TIME"][:], b"0")).decode()
    start = parse_time(f"{text[:4]}-{text[4:6]}-{text[6:8]}T00:00Z", f"{origin.source}, JULD")
    return start + timedelta(seconds=round(days * 86_400.0))


FEED = Feed(
    key="argo",
    title="Argo profile (NetCDF)",
    recognise=recognise,
    read=read,
    stale_after_s=12 * 3600.0,
    isolated=True,
)
