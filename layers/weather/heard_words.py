"""How weather is told by voice: what was observed, and the limits of an operation."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from layers.contract.heard_roles import POSITION
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.said import quantity as q
from layers.earth.said.quantity import figure
from layers.journal.known import Known
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord
from layers.weather.scales import BEAUFORT_UPPER_KN, SEA_STATE_UPPER_M

USUAL_SEA_M = (0.0, 15.0)  # a single sea beyond it is rare; a lost point is not
SHIFTED = tuple(f"wind {went}{to}" for went in ("backed", "veered", "shifted", "now", "is now")
                for to in ("", " to"))  # fmt: skip
WIND_FROM = Slot(key="wind_from", title="where the wind is from", sort="direction", alone=True,
                 cues=("wind", "wind from", "winds", *SHIFTED))  # fmt: skip
WIND_KN = Slot(key="wind_kn", title="wind", sort="quantity", measure=q.SPEED, unit="kn", alone=True,
               cues=("wind", "wind speed", "wind from", "winds", *SHIFTED), least=0.0, most=250.0,
               usual=(0.0, 100.0))  # fmt: skip
FORCE = Slot(key="force", title="wind force", sort="number", least=0.0, most=12.0,
             cues=("force", "wind force", "beaufort", "bft"))  # fmt: skip
AT_THE_SEAT = Slot(key="at_the_seat", title="at the seat", sort="choice", choices={
    "at the seat": True, "at the bottom": True, "near the bottom": True, "bottom current": True,
    "bottom stream": True, "at depth": True})  # fmt: skip
GUST = Slot(key="gust", title="gusts", sort="quantity", measure=q.SPEED, unit="kn", alone=True,
            cues=("gusting", "gusts", "gust", "gusting to"), least=0.0, most=250.0)  # fmt: skip
SEA = Slot(key="sea", title="height of the sea", sort="quantity", measure=q.LENGTH, unit="m",
           cues=("sea", "seas", "waves", "hs", "wave height", "significant height",
                 "significant wave height", "sea height", "waves of", "sea of"),
           least=0.0, most=40.0, usual=USUAL_SEA_M)  # fmt: skip
SEA_STATE = Slot(key="sea_state", title="sea state", sort="number", cues=("sea state",), least=0.0,
                 most=9.0)  # fmt: skip
PERIOD = Slot(key="period", title="period", sort="quantity", measure=q.SPAN, unit="s", loose=True,
              cues=("period", "tp", "peak period"), least=0.1, most=40.0)  # fmt: skip
SWELL = Slot(
    key="swell",
    title="swell",
    sort="quantity",
    measure=q.LENGTH,
    unit="m",
    cues=("swell", "swell of", "swell height"),
    least=0.0,
    most=40.0,
    usual=USUAL_SEA_M,
)
SWELL_FROM = Slot(key="swell_from", title="where the swell is from", sort="direction", alone=True,
                  cues=("swell", "swell from"))  # fmt: skip
VIS = Slot(key="vis", title="visibility", sort="quantity", measure=q.LENGTH, unit="nmi",
           cues=("visibility", "vis"), least=0.0, most=60.0)  # fmt: skip
CURRENT_SET = Slot(key="current_set", title="where the current sets", sort="direction", alone=True,
                   cues=("current", "current sets", "current setting", "stream",
                         "stream sets", "tidal stream", "tidal stream sets", "set", "sets",
                         "setting",
                        "tide", "tide sets", "tide setting",
                        "set and drift"))  # fmt: skip
CURRENT_KN = Slot(key="current_kn", title="current", sort="quantity", measure=q.SPEED, unit="kn",
                  alone=True, cues=("current", "current sets", "current setting", "stream",
                                    "stream sets", "tidal stream", "tidal stream sets", "drift",
                                    "rate",
                                    "set and drift"),
                  least=0.0, most=15.0)  # fmt: skip
AIR_C = Slot(
    key="air_c",
    title="air temperature",
    sort="quantity",
    measure=q.TEMPERATURE,
    unit="c",
    alone=True,
    cues=("air temperature", "air temp"),
    least=-90.0,
    most=65.0,
)
SEA_C = Slot(key="sea_c", title="sea temperature", sort="quantity", measure=q.TEMPERATURE, unit="c",
             alone=True, cues=("sea temperature", "sea temp", "water temperature"),
             least=-3.0, most=45.0)  # fmt: skip
BAROMETER = Slot(
    key="barometer",
    title="barometer",
    sort="quantity",
    measure=q.BAROMETER,
    unit="hpa",
    cues=("barometer", "baro", "qnh", "glass"),
    least=850.0,
    most=1100.0,
)
TENDENCY = Slot(key="tendency", title="how it goes", sort="choice", choices={
    **{f"{going}{how}": f"{going}{how}" for going in ("falling", "rising")
       for how in ("", " fast", " slowly")},
    "falling rapidly": "falling fast", "rising rapidly": "rising fast"})  # fmt: skip
AT_SHIP = Slot(key="at_ship", title="ship", sort="name", names=("ship", "mark", "port"),
               preps=("at", "", "from", "by", "off", "aboard"))  # fmt: skip
OPERATION = Slot(key="operation", title="operation", sort="choice", choices={
    "launch": "launch", "launching": "launch", "recovery": "recovery", "recovering": "recovery",
    "deck transfer": "deck transfer", "helicopter": "helicopter", "helo": "helicopter",
    "flying": "helicopter", "dive": "dive", "diving": "dive", "mating": "mating",
})  # fmt: skip
MOST_SEA = Slot(key="most_sea", title="greatest sea", sort="quantity", measure=q.LENGTH, unit="m",
                cues=SEA.cues, loose=True, least=0.0, most=40.0, usual=USUAL_SEA_M)  # fmt: skip
MOST_WIND = Slot(
    key="most_wind",
    title="greatest wind",
    sort="quantity",
    measure=q.SPEED,
    unit="kn",
    alone=True,
    cues=("wind", "winds", "wind speed"),
    least=0.0,
    most=250.0,
)
MOST_CURRENT = Slot(
    key="most_current",
    title="greatest current",
    sort="quantity",
    measure=q.SPEED,
    unit="kn",
    alone=True,
    cues=("current", "stream"),
    least=0.0,
    most=15.0,
)
LEAST_VIS = Slot(key="least_vis", title="least visibility", sort="quantity", measure=q.LENGTH,
                 unit="nmi", cues=("visibility", "vis"), least=0.0, most=60.0)  # fmt: skip
LONG = Slot(key="takes", title="how long it takes", sort="quantity", measure=q.SPAN, unit="h",
            cues=("takes", "lasting", "duration", "taking"), least=0.01, most=72.0)  # fmt: skip
LIMIT_H = 1.0  # taken where nobody says how long an operation takes; common practice, no source


def fill_observation(told: ToldRecord) -> None:
    """Put what was observed, at a ship's last place or the one that was told."""
    at = told.get("at_ship")
    if isinstance(at, Name):
        told.put(station=at.text)
        told.assume("", sort="ship" if at.sort == "ship" else "report")
    elif told.has("position"):
        told.assume("", station="reported", sort="report")
    place = told.get("position")
    if place is None and isinstance(at, Name):
        place = told.whereabouts(at)
    told.place(place)
    for field, role in (("wind_from_true_deg", "wind_from"), ("swell_from_true_deg", "swell_from"),
                        ("current_set_true_deg", "current_set")):  # fmt: skip
        if told.has(role):
            told.payload[field] = told.get(role)[0]
    told.put_as(
        wind_kn="wind_kn", gust_kn="gust", hs_m="sea", tp_s="period", swell_hs_m="swell",
        visibility_nmi="vis", current_kn="current_kn", air_c="air_c", sea_c="sea_c",
        pressure_hpa="barometer",
    )  # fmt: skip
    if told.has("tendency"):
        going = told.get("tendency")
        told.put(note=f"barometer {going}")
        if set(told.roles) - {"tendency", "barometer", "at_ship", "position", "time"}:
            told.lack(f"what is {going}; the barometer with it in a line of its own")
    if told.has("at_the_seat"):  # one figure is no stream of the hours to come
        raise InputError("a current at the seat is told in the form tidal stream, level seat; "
                         "in a line keep it as a note")  # fmt: skip
    if told.has("force"):
        code = int(told.get("force"))
        low = BEAUFORT_UPPER_KN[code - 1] + 1 if code else 0
        high = BEAUFORT_UPPER_KN[code] if code < len(BEAUFORT_UPPER_KN) else None
        middle = 0.5 * (low + high) if high is not None else float(low)
        span = f"{low} to {high} kn" if high is not None else f"{low} kn and more"
        said = told.get("wind_kn")
        if said is not None and not low - 0.5 <= said < (high or 999.0) + 0.5:
            told.lack(f"which wind: {figure(said)} kn, or force {code}")
        told.assume(f"{figure(middle)} kn, of force {code}: {span}", wind_kn=middle)
    if told.has("sea_state") and not told.has("sea"):
        code = int(told.get("sea_state"))
        bounds = (0.0, *SEA_STATE_UPPER_M)
        most = bounds[min(code + 1, len(bounds) - 1)]
        middle = 0.5 * (bounds[code] + most)
        told.assume(f"{figure(middle)} m, the middle of {figure(bounds[code])} to "
                    f"{figure(most)} m", hs_m=middle)  # fmt: skip


def fill_limit(told: ToldRecord) -> None:
    """Put the limits of an operation; absent means none was said."""
    told.put_as(
        operation="operation", hs_max_m="most_sea", wind_max_kn="most_wind", tp_max_s="period",
        current_surface_max_kn="most_current", visibility_min_nmi="least_vis", duration_h="takes",
    )  # fmt: skip
    told.assume(f"takes {LIMIT_H:g} h, no notice", duration_h=LIMIT_H)
    told.assume("set by the watch, as heard", set_by="the watch, as heard")


def fill_place_of_work(told: ToldRecord) -> None:
    """Put where the weather is wanted for."""
    told.place(told.get("position"))
    told.put_as(water_depth_m="depth")
    told.assume("", reason="as heard")


def stations(known: Known, at: datetime) -> Iterable[Name]:
    """Return buoys and airfields with a name of their own as marks."""
    for entry in known.entries("weather.station")[:200]:
        value = entry.value
        yield Name(text=value.name, sort="mark", key=value.station,
                   position=Position(value.latitude_deg, value.longitude_deg))  # fmt: skip


HEARD = {
    "weather.observation": HeardWords(
        words=("weather observed", "weather", "wx"),
        needs=(
            "wind_from|wind_kn|force|sea|sea_state|swell|vis|current_kn|air_c|sea_c|barometer",
            "at_ship|position",
        ),
        takes=("gust", "period", "swell_from", "current_set", "at_the_seat", "tendency"),
        roles=(
            AT_SHIP,
            POSITION,
            WIND_FROM,
            WIND_KN,
            FORCE,
            AT_THE_SEAT,
            GUST,
            SEA,
            SEA_STATE,
            PERIOD,
            SWELL,
            SWELL_FROM,
            VIS,
            CURRENT_SET,
            CURRENT_KN,
            AIR_C,
            SEA_C,
            BAROMETER,
            TENDENCY,
        ),
        cores=(
            ("wind_kn",),
            ("force",),
            ("at_the_seat",),
            ("wind_from",),
            ("sea",),
            ("sea_state",),
            ("swell",),
            ("vis",),
            ("current_kn",),
            ("current_set",),
            ("air_c",),
            ("sea_c",),
            ("barometer",),
        ),
        instead={
            r".*\bforecast\b.*": (
                "a forecast is read from a file, by voice it is a note; what is there now is told "
                "without that word",
            ),
        },
        example="wind 310/25 sea 2.8 m 7 s at TENACE",
        fill=fill_observation,
        fields=("station",),
    ),
    "weather.limit": HeardWords(
        words=("limit", "limits", "max", "maximum", "highest"),
        needs=("operation", "most_sea|most_wind|most_current|least_vis"),
        takes=("period", "takes"),
        roles=(OPERATION, MOST_SEA, MOST_WIND, MOST_CURRENT, LEAST_VIS, PERIOD, LONG),
        example="limit launch 2.5 m",
        fill=fill_limit,
        timed=False,
        fields=("duration_h", "set_by"),
    ),
    "weather.place_of_work": HeardWords(
        words=("place of work", "working place", "work at"),
        perhaps=dict.fromkeys(
            ("datum is", "datum now", "datum at", "is the datum"), "place of work"
        ),
        needs=("position",),
        takes=("depth",),
        example="place of work 4315.2N 00830.1E depth 142 m",
        fill=fill_place_of_work,
        fields=("reason",),
        timed=False,
    ),
    "weather.station": HeardWords(words=(), names=stations),
}
