"""Chart frames: a projection, a centre and a half width, in metres from the centre.

=========== ============================================ ==========================================
frame       projection (PROJ)                            for
=========== ============================================ ==========================================
range-true  azimuthal equidistant on the centre (aeqd)   ranges and bearings from the centre
mercator    Mercator, true at the centre's latitude      rhumb lines straight
utm         the centre's zone (utm)                      working near the seabed in metres
polar       stereographic, true at the centre's latitude above 72°
=========== ============================================ ==========================================

Every frame has x towards the east and y towards the north at its centre, which is (0, 0).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from pyproj import Transformer

from layers.earth.arrays import Floats
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.rhumb import A_M, E2

POLAR_ABOVE_DEG = 72.0
UTM_TO_DEG = 84.0  # UTM is defined from 80° S to 84° N; NGA.SIG.0012
UTM_FROM_DEG = -80.0
MERCATOR_TO_DEG = 85.0
FARTHEST_M = 4.0e7  # beyond this a plane says nothing
UTM_FARTHEST_M = 4.0e6  # the transverse Mercator series holds to 3,900 km from its meridian
_STEP_DEG = 1.0e-4


class FrameName(StrEnum):
    """The frames that a chart can be drawn in."""

    RANGE_TRUE = "range-true"
    MERCATOR = "mercator"
    UTM = "utm"
    POLAR = "polar"


def utm_zone(position: Position) -> int:
    """Return the UTM zone, 1 to 60, with the exceptions of Norway (32V) and Svalbard.

    References
    ----------
    NGA.SIG.0012, The universal grids (exceptions from memory; checked against mgrs 1.6.0).
    """
    lat, lon = position.latitude_deg, position.longitude_deg
    if 56.0 <= lat < 64.0 and 3.0 <= lon < 12.0:
        return 32
    if 72.0 <= lat <= 84.0 and 0.0 <= lon < 42.0:
        return 31 if lon < 9.0 else 33 if lon < 21.0 else 35 if lon < 33.0 else 37
    return int((lon + 180.0) // 6.0) % 60 + 1


@dataclass(frozen=True, slots=True)
class ChartFrame:
    """A projection, its centre and how far it reaches.

    Parameters
    ----------
    name : FrameName
        Which projection.
    centre : Position
        Becomes (0, 0).
    half_width_m : float
        From the centre to the edge that is to be seen.

    Raises
    ------
    InputError
        The projection cannot hold this centre.
    """

    name: FrameName
    centre: Position
    half_width_m: float = 50_000.0

    def __post_init__(self) -> None:
        if not 10.0 <= self.half_width_m <= 1.0e7:
            raise InputError(
                f"a half width of {self.half_width_m:g} m cannot be drawn",
                where="chart frame",
                accepted="10 m to 10,000 km",
            )
        lat = self.centre.latitude_deg
        if self.name is FrameName.MERCATOR and abs(lat) > MERCATOR_TO_DEG:
            raise InputError(
                f"a Mercator chart cannot be centred on {self.centre}",
                where="chart frame",
                accepted="latitudes to 85°; nearer a pole the frames range-true or polar",
            )
        if self.name is FrameName.UTM and not UTM_FROM_DEG <= lat <= UTM_TO_DEG:
            raise InputError(
                f"UTM has no zone at {self.centre}",
                where="chart frame",
                accepted="80° S to 84° N; nearer a pole the frames range-true or polar",
            )

    @property
    def projection_key(self) -> str:
        """Text that is the same for two frames that project alike."""
        lat, lon = self.centre.latitude_deg, self.centre.longitude_deg
        return f"{self.name} {lat:.7f} {lon:.7f}"

    @property
    def key(self) -> str:
        """Text that is the same for two frames that show the same."""
        return f"{self.projection_key} {self.half_width_m:.0f}"

    @property
    def title(self) -> str:
        """What the frame is called on the chart."""
        if self.name is FrameName.UTM:
            return f"UTM zone {utm_zone(self.centre)}"
        return {
            FrameName.RANGE_TRUE: "range-true (azimuthal equidistant)",
            FrameName.MERCATOR: "Mercator",
            FrameName.POLAR: "polar stereographic",
        }[self.name]

    def project(
        self, latitudes_deg: npt.ArrayLike, longitudes_deg: npt.ArrayLike
    ) -> tuple[Floats, Floats]:
        """Return (x_m, y_m) from the centre, NaN for what cannot be projected.

        Parameters
        ----------
        latitudes_deg, longitudes_deg : array_like
            Degrees, one shape; longitudes in any turn.
        """
        lat = np.asarray(latitudes_deg, dtype=np.float64)
        lon = np.asarray(longitudes_deg, dtype=np.float64)
        transformer, x0, y0 = _projection(self.name, self.centre)
        x, y = _transform(transformer, lon, lat)
        x, y = x - x0, y - y0
        farthest = UTM_FARTHEST_M if self.name is FrameName.UTM else FARTHEST_M
        off = ~((np.abs(x) <= farthest) & (np.abs(y) <= FARTHEST_M) & (np.abs(lat) <= 90.0))
        return np.where(off, np.nan, x), np.where(off, np.nan, y)

    def unproject(self, x_m: npt.ArrayLike, y_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Return (latitudes_deg, longitudes_deg), NaN where the plane shows no place."""
        transformer, x0, y0 = _projection(self.name, self.centre)
        x = np.asarray(x_m, dtype=np.float64) + x0
        y = np.asarray(y_m, dtype=np.float64) + y0
        lon, lat = _transform(transformer, x, y, back=True)
        off = np.isnan(lat) | (np.abs(x - x0) > FARTHEST_M) | (np.abs(y - y0) > FARTHEST_M)
        if self.name is FrameName.RANGE_TRUE:  # beyond half the earth there is no place
            off |= np.hypot(x, y) > 20_003_931.5
        if self.name is FrameName.MERCATOR:  # one turn of the earth, not the next
            edge_x, _ = _transform(
                transformer, self.centre.longitude_deg + 180.0 - 1e-9, np.float64(0.0)
            )
            off |= np.abs(x) > np.abs(edge_x)
        return np.where(off, np.nan, lat), np.where(off, np.nan, lon)

    def convergence_deg(self, position: Position) -> float:
        """Return the grid convergence: grid north's bearing from true north, east positive.

        A grid bearing is the true bearing less the convergence. At a pole it is that of the
        meridian which the position names.
        """
        dx_dn, dy_dn, _, _ = self._derivatives(position)
        return float(-np.degrees(np.arctan2(dx_dn, dy_dn))) + 0.0

    def scale_factor(self, position: Position) -> float:
        """Return metres on the chart for a metre on the earth: the root of the areal scale.

        Mercator, UTM and polar have one scale in every direction; range-true has 1 along a
        bearing from its centre and more across it.
        """
        dx_dn, dy_dn, dx_de, dy_de = self._derivatives(position)
        return float(np.sqrt(abs(dx_dn * dy_de - dx_de * dy_dn)))

    def _derivatives(self, position: Position) -> tuple[float, float, float, float]:
        """Return dx/dnorth, dy/dnorth, dx/deast, dy/deast, by central differences."""
        limit = 90.0 - 2.0 * _STEP_DEG
        lat = float(np.clip(position.latitude_deg, -limit, limit))
        lon = position.longitude_deg
        sine2 = np.sin(np.radians(lat)) ** 2
        step = np.radians(_STEP_DEG)
        north_m = 2.0 * step * A_M * (1.0 - E2) / (1.0 - E2 * sine2) ** 1.5
        east_m = 2.0 * step * A_M * np.cos(np.radians(lat)) / np.sqrt(1.0 - E2 * sine2)
        x, y = self.project(
            [lat - _STEP_DEG, lat + _STEP_DEG, lat, lat],
            [lon, lon, lon - _STEP_DEG, lon + _STEP_DEG],
        )
        return (
            float((x[1] - x[0]) / north_m),
            float((y[1] - y[0]) / north_m),
            float((x[3] - x[2]) / east_m),
            float((y[3] - y[2]) / east_m),
        )


def frame_for(
    centre: Position, name: FrameName | None = None, half_width_m: float = 50_000.0
) -> ChartFrame:
    """Return the frame for a centre: the one named, else polar above 72° and range-true below."""
    if name is None:
        above = abs(centre.latitude_deg) > POLAR_ABOVE_DEG
        name = FrameName.POLAR if above else FrameName.RANGE_TRUE
    return ChartFrame(name, centre, half_width_m)


@lru_cache(maxsize=64)
def _projection(name: FrameName, centre: Position) -> tuple[Transformer, float, float]:
    """Return the transformer of a frame and where it puts the centre.

    A pyproj Transformer may be shared between threads (pyproj 3.1 and later).
    """
    lat, lon = centre.latitude_deg, centre.longitude_deg
    if name is FrameName.RANGE_TRUE:
        step = f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r}"
    elif name is FrameName.MERCATOR:
        step = f"+proj=merc +lat_ts={lat!r} +lon_0={lon!r}"
    elif name is FrameName.UTM:
        step = f"+proj=utm +zone={utm_zone(centre)}" + (" +south" if lat < 0 else "")
    else:
        pole = 90 if lat >= 0 else -90
        step = f"+proj=stere +lat_0={pole} +lat_ts={lat!r} +lon_0={lon!r}"
    transformer = Transformer.from_pipeline(
        f"+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step {step} +ellps=WGS84"
    )
    x0, y0 = _transform(transformer, np.float64(lon), np.float64(lat))
    return transformer, float(x0), float(y0)


def _transform(
    transformer: Transformer, first: npt.ArrayLike, second: npt.ArrayLike, back: bool = False
) -> tuple[Floats, Floats]:
    """Return what the transformer makes of two arrays; anything not finite becomes NaN."""
    a, b = np.broadcast_arrays(
        np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    )
    out = transformer.transform(
        np.array(a), np.array(b), direction="INVERSE" if back else "FORWARD", errcheck=False
    )
    u, v = (np.asarray(part, dtype=np.float64) for part in out)
    off = ~(np.isfinite(u) & np.isfinite(v) & np.isfinite(a) & np.isfinite(b))
    return np.where(off, np.nan, u), np.where(off, np.nan, v)
