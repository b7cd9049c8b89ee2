"""Records of weather and sea, as they come in; every field carries its unit and its sense."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, model_validator

from layers.earth.clock import dtg, parse_time
from layers.earth.sea.tides import ARGUMENTS, known_name
from layers.journal.kinds import Kind, Payload, SideColumn, Text
from layers.journal.known import Known
from layers.weather.digits import same_observation
from layers.weather.forecast.variables import carried_words

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
    says what had to be inferred (a date, a missing group). ``corrected`` is 1 where the station
    itself sent it to replace an earlier report of the same time.
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
    corrected: int = Field(default=0, ge=0, le=1)

    @model_validator(mode="after")
    def _whole_position(self) -> Observation:
        if (self.latitude_deg is None) != (self.longitude_deg is None):
            raise ValueError("a position needs both latitude_deg and longitude_deg")
        return self


NUMBERS: tuple[str, ...] = tuple(
    name
    for name in Observation.model_fields
    if name not in ("station", "sort", "note", "corrected")
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


class Forecast(Payload):
    """One issue of a forecast, or a part of it as it came in one file.

    The grid itself is stored once under ``digest`` (see ``fields.py``). Two records with the
    same ``model`` and ``issued_at`` are parts of one issue.
    """

    model: Annotated[str, Field(min_length=1, max_length=120)]
    issued_at: AwareDatetime
    starts_at: AwareDatetime
    ends_at: AwareDatetime
    steps: Annotated[int, Field(ge=1)]
    rows: Annotated[int, Field(ge=1)]
    columns: Annotated[int, Field(ge=1)]
    south_deg: Latitude
    north_deg: Latitude
    west_deg: Annotated[float, Field(ge=-180.0, le=360.0)]
    east_deg: Annotated[float, Field(ge=-180.0, le=540.0)]
    variables: Annotated[list[str], Field(min_length=1)]
    digest: str = Field(pattern=r"^[0-9a-f]{64}$")
    format: Literal["GRIB", "NetCDF"]
    note: str | None = Field(default=None, max_length=1_000)


def forecast_words(payload: Mapping[str, Any], known: Known) -> str:
    """Return what a forecast is of and how far it reaches, not how its grid is laid out."""
    times = (payload.get(name) for name in ("issued_at", "starts_at", "ends_at"))
    issued, begins, ends = (dtg(parse_time(str(at))) if at else "not told" for at in times)
    said = (
        f"{payload.get('model', '')}, issued {issued}, for {begins} to {ends}",
        carried_words(payload.get("variables", ())),
        str(payload.get("note") or ""),
    )
    return "; ".join(part for part in said if part)


class PlaceOfWork(Payload):
    """Where the weather is wanted for; the watch sets it and moves it with the work."""

    latitude_deg: Latitude
    longitude_deg: Longitude
    water_depth_m: Annotated[float, Field(gt=0.0, le=11_000.0)] | None = None
    reason: str = Text


class StreamHour(Payload):
    """The stream at one hour from high water, as a tidal stream table gives it."""

    hour: Annotated[int, Field(ge=-6, le=6)]
    set_true_deg: Bearing
    spring_kn: CurrentKn
    neap_kn: CurrentKn


class HighWater(Payload):
    """One high water at the table's port of reference, with the range of that tide."""

    at: AwareDatetime
    range_m: Annotated[float, Field(gt=0.0, le=20.0)]


class StreamConstant(Payload):
    """One harmonic constituent of the stream, per component.

    With ``zero_at`` in the record the stream is the sum of ``amplitude * cos(speed * t - phase)``,
    ``t`` in hours from it, speed in degrees an hour. Without it the phases are lags on Greenwich
    as printed, and the constituent's name gives its speed, node factor and argument.
    """

    name: Name
    speed_deg_per_h: Annotated[float, Field(ge=0.0, le=180.0)] | None = None
    east_kn: CurrentKn
    east_phase_deg: Bearing
    north_kn: CurrentKn
    north_phase_deg: Bearing


class TidalStream(Payload):
    """The tidal stream at a place: an hourly table about high water, or harmonic constants.

    ``level`` says where in the water it holds. A table of the seat's depth counts at the seat;
    without one the surface stream is carried down by a power law, and said so.
    """

    place: Name
    level: Literal["surface", "seat"]
    latitude_deg: Latitude
    longitude_deg: Longitude
    radius_nmi: Annotated[float, Field(gt=0.0, le=60.0)]
    hours: list[StreamHour] = Field(default_factory=list)
    high_waters: list[HighWater] = Field(default_factory=list)
    spring_range_m: Annotated[float, Field(gt=0.0, le=20.0)] | None = None
    neap_range_m: Annotated[float, Field(gt=0.0, le=20.0)] | None = None
    constants: list[StreamConstant] = Field(default_factory=list)
    zero_at: AwareDatetime | None = None
    reported_by: str = Text

    @model_validator(mode="after")
    def _one_of_the_two(self) -> TidalStream:
        if bool(self.hours) == bool(self.constants):
            raise ValueError("give either an hourly table or harmonic constants")
        if self.constants and self.zero_at is None:
            unknown = [one.name for one in self.constants if known_name(one.name) is None]
            if unknown:
                raise ValueError(
                    f"constituents {', '.join(unknown)} are not known; with phases on Greenwich "
                    f"accepted: {', '.join(ARGUMENTS)}; else give zero_at, the time the phases "
                    "count from, and speeds"
                )
        if self.zero_at is not None and any(c.speed_deg_per_h is None for c in self.constants):
            raise ValueError("phases from zero_at need speed_deg_per_h of each constituent")
        if self.hours:
            if sorted(hour.hour for hour in self.hours) != list(range(-6, 7)):
                raise ValueError("an hourly table needs each hour from -6 to +6 once")
            if not self.high_waters or self.spring_range_m is None or self.neap_range_m is None:
                raise ValueError("an hourly table needs high waters and spring and neap range")
            if self.spring_range_m <= self.neap_range_m:
                raise ValueError("the spring range must be greater than the neap range")
        return self


# "dive" is the whole time under water, or only the way down where "transfer" or "ascent" has
# limits of its own; "transfer" is of people through the hatch.
Operation = Literal[
    "launch", "dive", "mating", "transfer", "ascent", "recovery", "deck transfer", "helicopter"
]
OPERATIONS: tuple[Operation, ...] = (
    "launch",
    "recovery",
    "deck transfer",
    "helicopter",
    "dive",
    "mating",
    "transfer",
    "ascent",
)


class Limit(Payload):
    """The limits of one operation, as its authority sets them; absent means no limit.

    ``notice_h`` is how long before it begins the operation must be decided on.
    """

    operation: Operation
    duration_h: Annotated[float, Field(gt=0.0, le=72.0)]
    notice_h: Annotated[float, Field(ge=0.0, le=72.0)] = 0.0
    hs_max_m: Height | None = None
    tp_min_s: Period | None = None
    tp_max_s: Period | None = None
    wind_max_kn: WindKn | None = None
    current_surface_max_kn: CurrentKn | None = None
    current_seat_max_kn: CurrentKn | None = None
    visibility_min_nmi: Annotated[float, Field(ge=0.0, le=60.0)] | None = None
    daylight_only: bool = False
    set_by: str = Text

    @model_validator(mode="after")
    def _limits_something(self) -> Limit:
        if self.tp_min_s and self.tp_max_s and self.tp_min_s >= self.tp_max_s:
            raise ValueError("tp_min_s must be less than tp_max_s")
        return self


class SeatAttitude(Payload):
    """How a rescue seat lies: what is reported of the DISSUB's attitude and its depth."""

    seat: Name
    depth_m: Annotated[float, Field(gt=0.0, le=2_000.0)]
    water_depth_m: Annotated[float, Field(gt=0.0, le=11_000.0)]
    list_deg: Annotated[float, Field(ge=-90.0, le=90.0)]
    bow_down_deg: Annotated[float, Field(ge=-90.0, le=90.0)]
    reported_by: str = Text

    @model_validator(mode="after")
    def _above_the_bed(self) -> SeatAttitude:
        if self.depth_m >= self.water_depth_m:
            raise ValueError("depth_m of the seat must be less than water_depth_m")
        return self


class VehicleLimit(Payload):
    """What the rescue vehicle may do at the seat; entered by its operator, none is shipped."""

    vehicle: Name
    list_max_deg: Annotated[float, Field(gt=0.0, le=90.0)]
    bow_down_max_deg: Annotated[float, Field(gt=0.0, le=90.0)]
    tilt_max_deg: Annotated[float, Field(gt=0.0, le=90.0)]
    closing_m_s: Annotated[float, Field(ge=0.0, le=3.0)]
    touchdown_max_m_s: Annotated[float, Field(gt=0.0, le=3.0)]
    set_by: str = Text


KINDS: tuple[Kind, ...] = (
    Kind(
        name="weather.observation",
        title="weather observation",
        model=Observation,
        columns=(
            SideColumn(name="station", sql="TEXT"),
            SideColumn(name="sort", sql="TEXT"),
            *(SideColumn(name=name, sql="REAL") for name in NUMBERS),
            SideColumn(name="note", sql="TEXT"),
            SideColumn(name="corrected", sql="REAL"),
        ),
        by="station",
        same=same_observation,
    ),
    Kind(
        name="weather.forecast",
        title="forecast",
        model=Forecast,
        future_s=7_200.0,
        says=forecast_words,
    ),
    Kind(name="weather.station", title="weather station", model=Station),
    Kind(name="weather.place_of_work", title="place of work", model=PlaceOfWork),
    Kind(name="weather.tidal_stream", title="tidal stream", model=TidalStream),
    Kind(name="weather.limit", title="limits of an operation", model=Limit),
    Kind(name="weather.seat", title="attitude and depth of a rescue seat", model=SeatAttitude),
    Kind(name="weather.vehicle_limit", title="limits of the vehicle", model=VehicleLimit),
)
