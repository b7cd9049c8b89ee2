"""Rows of the published tables of ports and runways."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from layers.journal.kinds import Payload, SideColumn

# The longest runways in use are about 5,500 m (common practice, no source): a figure above
# this is taken for feet and refused.
LONGEST_RUNWAY_M = 5_600.0
LONGEST_WATER_M = 30_000.0  # water lanes and open fields stand in the tables too
Name = Field(min_length=1, max_length=120)
Latitude = Field(ge=-90, le=90)
Longitude = Field(ge=-180, le=180)
LiftClass = Literal["100 t or more", "50 to 100 t", "25 to 49 t", "up to 24 t"]


class WorldPort(Payload):
    """One row of the World Port Index; 0 and blank are both not known."""

    index_number: int
    name: str = Name
    country: str = ""
    latitude_deg: float = Latitude
    longitude_deg: float = Longitude
    size: str = ""
    channel_depth_m: float | None = Field(default=None, gt=0)
    pier_depth_m: float | None = Field(default=None, gt=0)
    tidal_range_m: float | None = Field(default=None, gt=0)
    vessel_length_m: float | None = Field(default=None, gt=0)
    vessel_draught_m: float | None = Field(default=None, gt=0)
    lifts: LiftClass | None = None


class Runway(Payload):
    """One runway; lengths turned from feet into metres where they were read."""

    airport: str = Name
    name: str = ""
    length_m: float | None = Field(default=None, gt=0, le=LONGEST_WATER_M)
    width_m: float | None = Field(default=None, gt=0, le=LONGEST_WATER_M)
    surface: str = ""
    closed: int = Field(ge=0, le=1)
    latitude_deg: float | None = Field(default=None, ge=-90, le=90)
    longitude_deg: float | None = Field(default=None, ge=-180, le=180)


PORT_COLUMNS = (
    SideColumn(name="name", sql="TEXT"),
    SideColumn(name="country", sql="TEXT"),
    *(
        SideColumn(name=name, sql="REAL")
        for name in (
            "latitude_deg",
            "longitude_deg",
            "channel_depth_m",
            "pier_depth_m",
            "tidal_range_m",
            "vessel_length_m",
            "vessel_draught_m",
        )
    ),
    SideColumn(name="lifts", sql="TEXT"),
)
RUNWAY_COLUMNS = (
    SideColumn(name="airport", sql="TEXT"),
    SideColumn(name="name", sql="TEXT"),
    *(
        SideColumn(name=name, sql="REAL")
        for name in ("length_m", "width_m", "latitude_deg", "longitude_deg")
    ),
    SideColumn(name="surface", sql="TEXT"),
    SideColumn(name="closed", sql="INTEGER"),
)
