"""S-57 chart cells: alone, or with their updates in one zip file, applied in order."""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import ARCHIVE_DAMAGED, InputError
from layers.journal.record import Draft, Reject
from layers.transponders.seabed.chart_cell import Danger, Features, Trace, pack

MAX_BYTES = 200_000_000
# Soundings come as one multipoint with heights; updates beside the base are applied in order.
OPTIONS = (
    "SPLIT_MULTIPOINT=ON,ADD_SOUNDG_DEPTH=ON,UPDATES=APPLY,RETURN_PRIMITIVES=OFF,LNAM_REFS=OFF"
)
DANGERS = {"WRECKS": "wreck", "OBSTRN": "obstruction", "UWTROC": "rock"}
# class -> what it is, and the attribute with its depth: of an area its shoalest
TRACES = {
    "DEPCNT": ("contour", "VALDCO"),
    "DEPARE": ("depth area from", "DRVAL1"),
    "DRGARE": ("dredged area from", "DRVAL1"),
    "CBLSUB": ("cable", ""),
    "CBLARE": ("cable area", ""),
}
# IHO S-57 appendix A, attribute CATWRK
WRECK_WORDS = {1: "non-dangerous", 2: "dangerous", 3: "distributed remains", 4: "mast showing",
               5: "hull showing"}  # fmt: skip
_NAME = re.compile(r"([A-Z0-9]{8})\.(\d{3})$", re.IGNORECASE)


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is an S-57 cell, or a zip file with one."""
    if head.startswith(b"PK\x03\x04"):
        return 0.9 if re.search(rb"[A-Z0-9]{8}\.000", head) else 0.0
    # ISO 8211 leader: record length, interchange level, leader identifier
    if re.match(rb"^\d{5}[ 0-9]L", head[:7]) and b"DSID" in head[:4096]:
        return 0.97
    return 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the features of a cell, or the reason why there are none."""
    reading = Reading()
    with TemporaryDirectory() as folder:
        try:
            base = _laid_out(data, Path(folder), origin)
            _read(base, origin, reading)
        except InputError as reason:
            reading.rejects.append(_reject(origin, str(reason)))
        except zipfile.BadZipFile:
            reading.rejects.append(_reject(origin, "the zip file is damaged: get it again"))
        except ARCHIVE_DAMAGED:
            said = "a chart cell (S-57) that is damaged or cut short: get the cell again"
            reading.rejects.append(_reject(origin, said))
    return reading


def _reject(origin: Origin, reason: str) -> Reject:
    return Reject(source=origin.source, line=None, text="", reason=reason)


def _laid_out(data: bytes, folder: Path, origin: Origin) -> Path:
    """Write the base and its updates side by side and return the base."""
    if not data.startswith(b"PK"):
        named = _NAME.search(Path(origin.source).name)
        if named and named[2] != "000":
            raise InputError(
                f"update {named[2]} of cell {named[1]} alone",
                where=origin.source,
                accepted="a cell (.000), or a zip file with the cell and all its updates",
            )
        base = folder / f"{named[1] if named else 'CELL0000'}.000"
        base.write_bytes(data)
        return base
    with zipfile.ZipFile(io.BytesIO(data)) as held:
        parts = {}
        for info in held.infolist():
            named = _NAME.search(Path(info.filename).name)
            if named:
                if info.file_size > MAX_BYTES:
                    raise InputError(f"{info.filename} holds {info.file_size} bytes",
                                     where=origin.source)  # fmt: skip
                parts[f"{named[1].upper()}.{named[2]}"] = held.read(info)
    cells = sorted(name for name in parts if name.endswith(".000"))
    if len(cells) != 1:
        raise InputError(f"{len(cells)} cells in one zip file", where=origin.source,
                         accepted="one cell with its updates")  # fmt: skip
    for name, body in parts.items():
        if name[:8] == cells[0][:8]:
            (folder / name).write_bytes(body)
    return folder / cells[0]


def _read(base: Path, origin: Origin, reading: Reading) -> None:
    import pyogrio  # imported here: this reader runs in a process of its own

    pyogrio.set_gdal_config_options({"OGR_S57_OPTIONS": OPTIONS})
    layers = {str(name) for name, _ in pyogrio.list_layers(base)}
    counts: Counter[str] = Counter()
    lat, lon, depth = _soundings(base, layers, counts)
    features = Features(
        sounding_lat=lat,
        sounding_lon=lon,
        sounding_m=depth,
        dangers=tuple(_dangers(base, layers, counts)),
        traces=tuple(_traces(base, layers, counts)),
    )
    if not counts:
        raise InputError(
            "no soundings, depth areas, contours, wrecks or cables in this cell",
            where=origin.source,
        )
    blob = pack(features)
    digest = hashlib.sha256(blob).hexdigest()
    reading.blobs[digest] = blob
    updates = len(list(base.parent.glob(f"{base.stem}.[0-9][0-9][0-9]"))) - 1
    box = _box(base, layers, features)
    reading.drafts.append(_draft(base, origin, digest, dict(counts), updates, box))
    for name in sorted(layers - {"SOUNDG", "DSID", *DANGERS, *TRACES}):
        reading.passed_over[f"object class {name}, not shown"] = 1


def _table(base: Path, layer: str) -> tuple[dict[str, Any], list[Any]]:
    """Return the columns of a layer and its geometries."""
    import shapely
    from pyogrio.raw import read as read_raw

    meta, _, shapes, columns = read_raw(base, layer=layer)
    fields = {str(name): column for name, column in zip(meta["fields"], columns, strict=True)}
    return fields, list(shapely.from_wkb(shapes))


def _soundings(base: Path, layers: set[str], counts: Counter[str]) -> tuple[Any, Any, Any]:
    if "SOUNDG" not in layers:
        return np.array([]), np.array([]), np.array([])
    fields, shapes = _table(base, "SOUNDG")
    lon, lat = np.array([s.x for s in shapes]), np.array([s.y for s in shapes])
    counts["sounding"] = len(shapes)
    return lat, lon, np.asarray(fields["DEPTH"], dtype=np.float64)


def _dangers(base: Path, layers: set[str], counts: Counter[str]) -> list[Danger]:
    found = []
    for layer, sort in DANGERS.items():
        if layer not in layers:
            continue
        fields, shapes = _table(base, layer)
        for row, shape in enumerate(shapes):
            if shape is None or shape.is_empty:
                continue
            place = shape.representative_point()
            depth = _attribute(fields, "VALSOU", row)
            words = sort
            if layer == "WRECKS":
                # S-57 appendix B.1: a wreck carries CATWRK or VALSOU; one may be absent
                sorted_as = _attribute(fields, "CATWRK", row)
                which = int(sorted_as) if np.isfinite(sorted_as) else 0
                words = f"{WRECK_WORDS.get(which, 'unclassed')} wreck"
            found.append(
                Danger(sort=sort, latitude_deg=round(place.y, 6), longitude_deg=round(place.x, 6),
                       depth_m=depth if np.isfinite(depth) else None, words=words)
            )  # fmt: skip
            counts[sort] += 1
    return found


def _attribute(fields: dict[str, Any], name: str, row: int) -> float:
    """Return one attribute of one object, NaN where it carries none: that costs nothing else."""
    try:
        return float(fields[name][row])
    except (KeyError, TypeError, ValueError):
        return float("nan")


def _box(base: Path, layers: set[str], features: Features) -> tuple[float, float, float, float]:
    """Return west, south, east, north: of the coverage the cell states, else of what it holds."""
    if "M_COVR" in layers:
        _, shapes = _table(base, "M_COVR")
        boxes = np.array([s.bounds for s in shapes if s is not None and not s.is_empty])
        if len(boxes):
            least, most = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
            return float(least[0]), float(least[1]), float(most[0]), float(most[1])
    lat = np.concatenate([features.sounding_lat, [d.latitude_deg for d in features.dangers],
                          *(t.latitudes_deg for t in features.traces)])  # fmt: skip
    lon = np.concatenate([features.sounding_lon, [d.longitude_deg for d in features.dangers],
                          *(t.longitudes_deg for t in features.traces)])  # fmt: skip
    return float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())


def _traces(base: Path, layers: set[str], counts: Counter[str]) -> list[Trace]:
    import shapely

    found = []
    for layer, (sort, attribute) in TRACES.items():
        if layer not in layers:
            continue
        fields, shapes = _table(base, layer)
        for row, shape in enumerate(shapes):
            if shape is None or shape.is_empty:
                continue
            depth = _attribute(fields, attribute, row)
            outline = shape.boundary if shape.geom_type.endswith("Polygon") else shape
            for part in shapely.get_parts(outline):
                xy = shapely.get_coordinates(part)
                found.append(
                    Trace(sort=sort, latitudes_deg=xy[:, 1], longitudes_deg=xy[:, 0],
                          depth_m=depth if np.isfinite(depth) else None)
                )  # fmt: skip
            counts[sort] += 1
    return found


def _draft(
    base: Path,
    origin: Origin,
    digest: str,
    counts: dict[str, int],
    updates: int,
    box: tuple[float, float, float, float],
) -> Draft:
    from pyogrio.raw import read as read_raw

    meta, _, _, columns = read_raw(base, layer="DSID")
    about = {str(n): c[0] for n, c in zip(meta["fields"], columns, strict=True)}
    notes = [] if updates else [
        "no updates applied: give the cell and its updates together in one zip file"
    ]  # fmt: skip
    scale = int(about.get("DSPM_CSCL") or 0)
    edition = f"{about.get('DSID_EDTN', '')}.{about.get('DSID_UPDN', '')}"[:40]
    return origin.draft(
        "transponders.chart_cell",
        {
            "blob": digest,
            "title": f"{base.stem} ({origin.source})"[:300],
            "edition": edition,
            "updates_applied": updates,
            "scale": scale if scale > 0 else None,
            "west_deg": box[0],
            "south_deg": box[1],
            "east_deg": box[2],
            "north_deg": box[3],
            "features": counts,
            "not_for_navigation": True,
            "notes": notes,
        },
        identity=f"chart cell:{base.stem}:{edition}:{digest}",
    )


FEED = Feed(
    key="s57",
    title="chart cell (S-57)",
    recognise=recognise,
    read=read,
    stale_after_s=365 * 86_400.0,
    isolated=True,
    archives=True,
)
