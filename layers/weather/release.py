"""What a release sees of the weather: stations, forecasts and limits; never where she is.

The place of work is her place, and so is the stream and the attitude of a seat: the weather is
then reckoned for the middle of the block that the watch has told. A report from a ship of the
operation or by voice from the scene gives the place of who made it.
"""

from __future__ import annotations

from collections.abc import Callable

from layers.earth.tells import Tells
from layers.journal.releases.rules import PLACE, PUBLISHED, Let, Rule, only
from layers.weather.model import NUMBERS

FROM_THE_SCENE = frozenset({"ship", "report"})


def _from_the_scene(let: Let) -> Callable[[str], bool]:
    withheld = let.release.withholds(Tells.POSITION)
    return lambda sort: withheld and sort in FROM_THE_SCENE


RULES: dict[str, Rule] = {
    "weather.observation": only(
        "station", "sort", "corrected", *NUMBERS, hides=_from_the_scene, column="sort",
        keeps_source=True,
    ),
    "weather.forecast": only(
        "model", "issued_at", "starts_at", "ends_at", "steps", "rows", "columns", "south_deg",
        "north_deg", "west_deg", "east_deg", "variables", "digest", "format", keeps_source=True,
    ),
    "weather.station": PUBLISHED,
    "weather.place_of_work": PLACE,
    "weather.tidal_stream": PLACE,
    "weather.limit": only(
        "operation", "duration_h", "notice_h", "hs_max_m", "tp_min_s", "tp_max_s", "wind_max_kn",
        "current_surface_max_kn", "current_seat_max_kn", "visibility_min_nmi", "daylight_only",
    ),
    "weather.seat": PLACE,
    "weather.vehicle_limit": only(
        "vehicle", "list_max_deg", "bow_down_max_deg", "tilt_max_deg", "closing_m_s",
        "touchdown_max_m_s",
    ),
}  # fmt: skip
