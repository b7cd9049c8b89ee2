"""Records of weather and sea, as they come in; every field carries its unit and its sense."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from layers.journal.kinds import Column, Kind, Payload, Text

Latitude = Annotated[float, Field(ge=-90.0, le=90.0)]
Longitude = Annotated[float, Field(ge=-180.0, le=180.0)]
Bearing = Annotated[float, Field(ge=0.0, le=360.0)]
WindKn = Annotated[float, Field(ge=0.0, le=250.0)]
CurrentKn = Annotated[float, Field(ge=0.0, le=15.0)]
Height = Annotated[float, Field(ge=0.0, le=40.0)]
Period = Annotated[float, Field(gt=0.0, le=40.0)]
Celsius = Annotated[float, Field(ge=-90.0, le=65.0)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


class Observation(Payload):
    """What one station measured at one time; a field that was not measured is absent.

    Wind and waves come *from* their direction, current sets *towards* it; degrees true. The
    wind is as measured: the height of the anemometer stands in the station's record. ``note``
    says what had to be inferred (a date, a missing group).
    """

    station: Name
    sort: Literal["buoy", "airfield", "land", "ship", "report"] = "buoy"
    latitude_deg: Latitude | None = None
    longitude_deg: Longitude | None = None
    wind_from_true_deg: Bearing | None = None
    wind_kn: WindKn | None = None
    gust_kn: WindKn | None = None
    hs_m: Height | None = None
    tp_s: Period | None = None
    mean_period_s: Period | None = None
    wave_from_true_deg: Bearing | None = None
    swell_hs_m: Height | None = None
    swell_tp_s: Period | None = None
    swell_from_true_deg: Bearing | None = None
    wind_wave_hs_m: Height | None = None
    wind_wave_tp_s: Period | None = None
    wind_wave_from_true_deg: Bearing | None = None
    pressure_hpa: Annotated[float, Field(ge=850.0, le=1100.0)] | None = None
    air_c: Celsius | None = None
    dew_c: Celsius | None = None
    sea_c: Annotated[float, Field(ge=-3.0, le=45.0)] | None = None
    sea_depth_m: Annotated[float, Field(ge=0.0, le=12_000.0)] | None = None
    salinity_psu: Annotated[float, Field(ge=0.0, le=45.0)] | None = None
    visibility_nmi: Annotated[float, Field(ge=0.0, le=60.0)] | None = None
    current_set_true_deg: Bearing | None = None
    current_kn: CurrentKn | None = None
    note: str | None = Field(default=None, max_length=400)

    @model_validator(mode="after")
    def _whole_position(self) -> Observation:
        if (self.latitude_deg is None) != (self.longitude_deg is None):
            raise ValueError("a position needs both latitude_deg and longitude_deg")
        return self


NUMBERS: tuple[str, ...] = tuple(
    name for name in Observation.model_fields if name not in ("station", "sort", "note")
)


class Station(Payload):
    """Where a station lies; buoy text carries no position."""

    station: Name
    name: Name
    sort: Literal["buoy", "airfield", "land", "ship"]
    latitude_deg: Latitude
    longitude_deg: Longitude
    anemometer_m: Annotated[float, Field(gt=0.0, le=200.0)] | None = None
    stale_after_min: Annotated[float, Field(gt=0.0, le=2880.0)] | None = None


class PlaceOfWork(Payload):
    """Where the weather is wanted for; the watch sets it and moves it with the work."""

    latitude_deg: Latitude
    longitude_deg: Longitude
    water_depth_m: Annotated[float, Field(gt=0.0, le=11_000.0)] | None = None
    reason: str = Text


KINDS: tuple[Kind, ...] = (
    Kind(
        name="weather.observation",
        title="weather observation",
        model=Observation,
        columns=(
            Column(name="station", sql="TEXT"),
            Column(name="sort", sql="TEXT"),
            *(Column(name=name, sql="REAL") for name in NUMBERS),
            Column(name="note", sql="TEXT"),
        ),
    ),
    Kind(name="weather.station", title="weather station", model=Station),
    Kind(name="weather.place_of_work", title="place of work", model=PlaceOfWork),
)
