"""The graticule of a chart: its lines and labels, the scale bar, and which way north is.

Pure functions of a frame and an extent; a renderer draws what they return.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.chart.frames import ChartFrame
from layers.earth.position import Position
from layers.earth.units import M_PER_KM, M_PER_NMI

MINUTE = 1.0 / 60.0
_STEPS_MIN = (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0)
STEPS_DEG = (*(minutes * MINUTE for minutes in _STEPS_MIN), 1.0, 2.0, 5.0, 10.0, 15.0, 30.0)
LINES_WANTED = 5  # across the shorter side of the chart
_SAMPLES = 41
_VERTICES = 61
_BAR_PARTS = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """A rectangle on the chart, metres from the centre of the frame."""

    x_min: float
    y_min: float
    x_max: float
    y_max: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownDegrees:
    """The latitudes and longitudes that an extent shows.

    ``west_deg`` may lie below -180 or ``east_deg`` above 180 across the date line; with a pole in
    sight they are a whole turn apart.
    """

    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GraticuleLine:
    """One meridian or parallel, projected, with its label where it meets the edge.

    Parameters
    ----------
    value_deg : float
        Its longitude or latitude.
    x_m, y_m : ndarray, shape (n,)
        Vertices; NaN where it leaves the extent.
    label : str
        ``"008°30′W"``.
    label_x_m, label_y_m : float or None
        Where the label goes, on the lower or left edge if the line meets it.
    """

    kind: Literal["meridian", "parallel"]
    value_deg: float
    x_m: Floats
    y_m: Floats
    label: str
    label_x_m: float | None
    label_y_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBar:
    """A length for the scale bar; ``chart_m`` is how long it is drawn, in chart metres."""

    length_nmi: float
    chart_m: float
    label: str


def reach(frame: ChartFrame, extent: Extent) -> ShownDegrees:
    """Return the latitudes and longitudes that an extent shows, a little generously."""
    x, y = np.meshgrid(
        np.linspace(extent.x_min, extent.x_max, _SAMPLES),
        np.linspace(extent.y_min, extent.y_max, _SAMPLES),
    )
    lat, lon = frame.unproject(x, y)
    if not np.isfinite(lat).any():
        return ShownDegrees(west_deg=-180.0, south_deg=-90.0, east_deg=180.0, north_deg=90.0)
    south, north = float(np.nanmin(lat)), float(np.nanmax(lat))
    middle = frame.centre.longitude_deg
    off = (lon - middle + 180.0) % 360.0 - 180.0
    west, east = middle + float(np.nanmin(off)), middle + float(np.nanmax(off))
    pole_x, pole_y = frame.project([90.0, -90.0], [middle, middle])
    sees = [_inside(extent, float(px), float(py)) for px, py in zip(pole_x, pole_y, strict=True)]
    north, south = (90.0 if sees[0] else north), (-90.0 if sees[1] else south)
    pad_lat, pad_lon = (north - south) / _SAMPLES, (east - west) / _SAMPLES
    if any(sees) or east - west > 300.0:
        west, east = middle - 180.0, middle + 180.0
        pad_lon = 0.0
    return ShownDegrees(
        west_deg=west - pad_lon,
        south_deg=max(south - pad_lat, -90.0),
        east_deg=east + pad_lon,
        north_deg=min(north + pad_lat, 90.0),
    )


def _inside(extent: Extent, x: float, y: float) -> bool:
    return extent.x_min <= x <= extent.x_max and extent.y_min <= y <= extent.y_max


def graticule(frame: ChartFrame, extent: Extent) -> tuple[GraticuleLine, ...]:
    """Return the meridians and parallels of an extent at round steps.

    Works from 200 m to 5,000 km across, over the date line and round a pole.
    """
    seen = reach(frame, extent)
    across_m = min(extent.x_max - extent.x_min, extent.y_max - extent.y_min)
    lat_step = _step(across_m / LINES_WANTED / (60.0 * M_PER_NMI))
    lon_step = _longitude_step(seen, across_m)
    lines = [
        _line(frame, extent, seen, "parallel", value)
        for value in _multiples(seen.south_deg, seen.north_deg, lat_step)
        if abs(value) < 90.0
    ]
    east = seen.east_deg
    if east - seen.west_deg >= 360.0 - 1e-9:  # the two ends of a turn are one meridian
        east -= lon_step / 2.0
    lines += [
        _line(frame, extent, seen, "meridian", value)
        for value in _multiples(seen.west_deg, east, lon_step)
    ]
    return tuple(line for line in lines if np.isfinite(line.x_m).any())


def _step(wanted_deg: float) -> float:
    """Return the round step nearest above what is wanted."""
    return next((step for step in STEPS_DEG if step >= wanted_deg * 0.8), STEPS_DEG[-1])


def _longitude_step(seen: ShownDegrees, across_m: float) -> float:
    middle = (seen.south_deg + seen.north_deg) / 2.0
    if seen.east_deg - seen.west_deg >= 359.0 and max(abs(seen.south_deg), seen.north_deg) >= 89.9:
        return 30.0
    cosine = max(math.cos(math.radians(middle)), 0.02)
    return _step(across_m / LINES_WANTED / (60.0 * M_PER_NMI * cosine))


def _multiples(low: float, high: float, step: float) -> list[float]:
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


def _line(
    frame: ChartFrame,
    extent: Extent,
    seen: ShownDegrees,
    kind: Literal["meridian", "parallel"],
    value: float,
) -> GraticuleLine:
    if kind == "meridian":
        lat = np.linspace(seen.south_deg, seen.north_deg, _VERTICES)
        lon = np.full(_VERTICES, value)
    else:
        around = max(_VERTICES, int((seen.east_deg - seen.west_deg) / 2.0) + 1)
        lon = np.linspace(seen.west_deg, seen.east_deg, around)
        lat = np.full(around, value)
    x, y = frame.project(lat, lon)
    # one step of slack, so that a line is drawn up to the edge
    slack_x, slack_y = _slack(x), _slack(y)
    off = ~(
        (x >= extent.x_min - slack_x)
        & (x <= extent.x_max + slack_x)
        & (y >= extent.y_min - slack_y)
        & (y <= extent.y_max + slack_y)
    )
    x, y = np.where(off, np.nan, x), np.where(off, np.nan, y)
    at = _edge(x, y, extent, "lower" if kind == "meridian" else "left")
    return GraticuleLine(
        kind=kind,
        value_deg=value,
        x_m=x,
        y_m=y,
        label=angle_label(value, kind),
        label_x_m=at[0] if at else None,
        label_y_m=at[1] if at else None,
    )


def _slack(values: Floats) -> float:
    steps = np.abs(np.diff(values))
    finite = steps[np.isfinite(steps)]
    return float(np.median(finite)) * 1.5 if finite.size else 0.0


def _edge(
    x: Floats, y: Floats, extent: Extent, side: Literal["lower", "left"]
) -> tuple[float, float] | None:
    """Return where a line crosses the lower or left edge, else the upper or right one."""
    along, across = (x, y) if side == "lower" else (y, x)
    low, high = (extent.x_min, extent.x_max) if side == "lower" else (extent.y_min, extent.y_max)
    edges = (extent.y_min, extent.y_max) if side == "lower" else (extent.x_min, extent.x_max)
    for edge in edges:
        before, after = across[:-1] - edge, across[1:] - edge
        for number in np.flatnonzero(before * after <= 0.0):
            run = after[number] - before[number]
            part = -before[number] / run if run else 0.0
            place = float(along[number] + part * (along[number + 1] - along[number]))
            if low <= place <= high:
                return (place, edge) if side == "lower" else (edge, place)
    return None


def angle_label(value_deg: float, kind: Literal["meridian", "parallel"]) -> str:
    """Return ``49°50′N`` or ``008°30.05′W``, with as many figures as the value has.

    Longitudes beyond ±180 are turned back; 180° has no letter, nor has 0°.
    """
    if kind == "meridian":
        value_deg = (value_deg + 180.0) % 360.0 - 180.0
    thousandths = round(abs(value_deg) * 60_000.0)
    degrees, rest = divmod(thousandths, 60_000)
    letter = (
        ("N" if value_deg > 0 else "S") if kind == "parallel" else "E" if value_deg > 0 else "W"
    )
    if thousandths == 0 or (kind == "meridian" and degrees == 180):
        letter = ""
    minutes = f"{rest / 1000.0:06.3f}".rstrip("0").rstrip(".") if rest else ""
    wide = 0 if thousandths == 0 else 3 if kind == "meridian" else 2
    told = f"{degrees:0{wide}}°"
    return f"{told}{minutes}′{letter}" if minutes else f"{told}{letter}"


def scale_bar(width_m: float, scale_factor: float = 1.0) -> ScaleBar:
    """Return the longest round length that takes at most a quarter of the chart's width.

    Parameters
    ----------
    width_m : float
        Width of what is seen, chart metres.
    scale_factor : float
        Chart metres for a metre on the earth at the middle of the chart.
    """
    room_nmi = width_m / 4.0 / scale_factor / M_PER_NMI
    power = 10.0 ** math.floor(math.log10(room_nmi))
    length = max(part * power for part in _BAR_PARTS if part * power <= room_nmi * (1 + 1e-9))
    length = float(f"{length:.6g}")
    metres = length * M_PER_NMI
    also = f"{metres:.0f} m" if metres < 2_000.0 else f"{metres / M_PER_KM:.3g} km"
    return ScaleBar(
        length_nmi=length,
        chart_m=metres * scale_factor,
        label=f"{length:g} nmi ({also})",
    )


def north_words(frame: ChartFrame, position: Position) -> str:
    """Return how grid north lies at a place: ``N (0.8° E)``, the way to grid north from true."""
    convergence = frame.convergence_deg(position)
    if abs(convergence) < 0.05:
        return "N"
    return f"N (grid north {abs(convergence):.1f}° {'E' if convergence > 0 else 'W'} of true)"
