"""One line of position, as a fix takes it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LineOfPosition:
    """One line of position, everything in metres and degrees true.

    Exactly one of ``bearing_true_deg``, ``range_m`` and ``difference_m`` is given; the last is
    the range to ``second`` minus the range to the observer.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    sigma: float  # degrees for a bearing, metres otherwise
    position_sigma_m: float = 0.0
    bearing_true_deg: float | None = None
    range_m: float | None = None
    difference_m: float | None = None
    second: tuple[float, float] | None = None

    @property
    def unit(self) -> str:
        """Unit of the residual."""
        return "deg" if self.bearing_true_deg is not None else "m"
