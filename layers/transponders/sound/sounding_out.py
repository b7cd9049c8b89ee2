"""Which sources are listened for, from where, in which sea: the hearing of the moment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.position import Position
from layers.earth.values import DepthGrid, WeatherValue
from layers.journal.known import Entry, Known
from layers.transponders.model import SoundSource
from layers.transponders.result import Fixed, HeardSources, SoundsFrom, Transponder
from layers.transponders.sound.along import cast_about, profiles_near
from layers.transponders.sound.covered import Covered
from layers.transponders.sound.hearing import BY_EAR, PINGER, WaterColumn, hear
from layers.transponders.sound.raying import direct_to, ray_picture
from layers.transponders.sound.terrain import OFF_BED_M, SoundGround, ground, reach_at
from layers.transponders.sound.water import Water

REACH_M = 12_000.0
# What the program ships no source level for; the watch enters it with its source.
WANTED = (
    ("underwater telephone", "no source level is shipped: record it with its source"),
    ("hull tapping", "no source level is shipped: record it with its source"),
)


def heard(
    known: Known,
    found: tuple[Transponder, ...],
    fixes: tuple[Fixed, ...],
    made: Water | None,
    weather: WeatherValue | None,
    at: datetime,
    grid: DepthGrid | None = None,
    profiles: Sequence[Water] = (),
) -> HeardSources:
    """Return how far each source is heard, with the ray diagram and what it rests on."""
    sources = _latest(known, "transponders.sound_source", at)
    listeners = _latest(known, "transponders.listener", at)
    listener = max(listeners.values(), key=lambda e: e.record.valid_at, default=None)
    ear = BY_EAR if listener is None else listener.value
    centre, depth = _centre(found, fixes, sources)
    sea = _sea(made, weather, centre, at, ear.wind_m_s)
    picture = None if made is None else ray_picture(made, _depth(depth, made), REACH_M)
    all_sources: list[tuple[SoundSource, str]] = [(e.value, e.id) for e in sources.values()]
    if PINGER.name not in sources:
        all_sources.insert(0, (PINGER, ""))
    worked: dict[tuple[Position | None, float | None], _From] = {}
    rows, places = [], []
    for source, _ in all_sources:
        where, deep = _of_its_own(source, centre, depth)
        if (where, deep) not in worked:
            worked[where, deep] = _from(made, profiles, where, deep, ear.depth_m, grid)
        direct, words, place = worked[where, deep]
        rows.append(hear(source, ear, sea, direct, words))
        places.append(place)
    records = [i for _, i in all_sources if i] + ([listener.id] if listener else [])
    names = {source.name for source, _ in all_sources}
    return HeardSources(
        rows=tuple(rows),
        places=tuple(places),
        sea=sea,
        rays=picture,
        missing=tuple((name, why) for name, why in WANTED if name not in names),
        records=tuple(records),
        covered=Covered(
            sources_by_name={source.name: source for source, _ in all_sources},
            listeners_by_name={BY_EAR.name: BY_EAR}
            | {name: entry.value for name, entry in listeners.items()},
            sea=sea,
            water=made,
            grid=grid,
            field=None if weather is None else weather.field,
            flat_m=_flat(made, depth),
            profiles=tuple(profiles),
        ),
        profiles=0
        if made is None or centre is None
        else len(profiles_near(made, profiles, centre)),
    )


_From = tuple[float | None, str, SoundsFrom]


def _of_its_own(
    source: SoundSource, centre: Position | None, depth_m: float | None
) -> tuple[Position | None, float | None]:
    """Return where a source is and how deep: as stated of it, else where she lies."""
    if source.latitude_deg is not None and source.longitude_deg is not None:
        return Position(source.latitude_deg, source.longitude_deg), source.depth_m
    return centre, depth_m if source.depth_m is None else source.depth_m


def _from(
    made: Water | None,
    profiles: Sequence[Water],
    centre: Position | None,
    depth_m: float | None,
    ear_m: float,
    grid: DepthGrid | None,
) -> _From:
    """Return how far direct sound comes to an ear from a place and depth, from where, and over."""
    around, reach = _over_ground(made, profiles, centre, depth_m, ear_m, grid)
    place = SoundsFrom(centre=centre, depth_m=depth_m, around=around, reach_m=reach)
    if made is None:
        return None, "", place
    picture = ray_picture(made, _depth(depth_m, made), REACH_M)
    direct = direct_to(picture, ear_m)
    if reach is not None and np.isfinite(reach).any():
        least = float(np.min(reach))
        direct = least if direct is None else min(direct, least)
    words = f" from {picture.source_depth_m:.0f} m"
    if depth_m is not None and depth_m > made.depth_m[-1]:
        words += f", where the profile ends: she is at {depth_m:.0f} m"
    return direct, words, place


def _flat(made: Water | None, depth_m: float | None) -> float:
    """Return the depth taken for the seabed where no grid has it."""
    if made is not None:
        return float(made.depth_m[-1])
    return 100.0 if depth_m is None else depth_m


def _over_ground(
    made: Water | None,
    profiles: Sequence[Water],
    centre: Position | None,
    depth_m: float | None,
    ear_m: float,
    grid: DepthGrid | None,
) -> tuple[SoundGround | None, Floats | None]:
    """Return the seabed round the source, and how far direct sound comes over it at the ear."""
    if made is None or centre is None:
        return None, None
    over = ground(centre, REACH_M, _flat(made, depth_m), None if grid is None else grid.depth_m)
    rays = cast_about(made, profiles, centre, _depth(depth_m, made), over)
    return over, reach_at(rays, ear_m)


def _latest(known: Known, kind: str, at: datetime) -> dict[str, Entry]:
    entries = [entry for entry in known.entries(kind) if entry.record.valid_at <= at]
    return {e.value.name: e for e in sorted(entries, key=lambda one: one.record.valid_at)}


def _centre(
    found: tuple[Transponder, ...], fixes: tuple[Fixed, ...], sources: dict[str, Entry]
) -> tuple[Position | None, float | None]:
    """Return where the sound comes from: the DISSUB's fix, a stated place, or the net's middle."""
    for fix in fixes:
        if fix.is_dissub:
            return fix.position, fix.depth_m
    for entry in sources.values():
        if entry.value.latitude_deg is not None and entry.value.longitude_deg is not None:
            place = Position(entry.value.latitude_deg, entry.value.longitude_deg)
            return place, entry.value.depth_m
    if not found:
        return None, None
    lat = float(np.mean([one.position.latitude_deg for one in found]))
    lon = float(np.mean([one.position.longitude_deg for one in found]))
    return Position(lat, lon), float(np.median([one.depth_m for one in found])) - OFF_BED_M


def _depth(depth_m: float | None, made: Water) -> float:
    """Return the depth that rays leave from; where none is told, a hull's height off the seabed."""
    return float(made.depth_m[-1]) - OFF_BED_M if depth_m is None else depth_m


def _sea(
    made: Water | None,
    weather: WeatherValue | None,
    centre: Position | None,
    at: datetime,
    typed_wind_m_s: float | None,
) -> WaterColumn:
    temperature, salinity, depth, words = 10.0, 35.0, 50.0, "no wind known"
    assumed = []
    if made is not None:
        depth = float(made.depth_m[-1]) / 2.0
    if made is not None and made.temperature_c is not None:
        temperature = by_depth(made.measured_depth_m, made.temperature_c)
    else:
        assumed.append(f"{temperature:g} °C")
    if made is not None and made.practical_salinity is not None:
        salinity = by_depth(made.measured_depth_m, made.practical_salinity)
    else:
        assumed.append(f"salinity {salinity:g}")
    wind = None
    where = centre or (made.position if made is not None else None)
    if typed_wind_m_s is not None:
        wind, words = typed_wind_m_s, f"wind {typed_wind_m_s:.1f} m/s, as recorded by the listener"
    elif weather is not None and where is not None:
        now = weather.field.conditions(
            np.array([where.latitude_deg]),
            np.array([where.longitude_deg]),
            np.array([to_us(at)], dtype=np.int64),
        )
        speed = float(np.hypot(now.wind_east_m_s[0], now.wind_north_m_s[0]))
        if np.isfinite(speed):
            wind, words = speed, f"wind {speed:.1f} m/s ({speed / 0.514444:.0f} kn)"
    return WaterColumn(
        temperature_c=temperature,
        salinity=salinity,
        depth_m=depth,
        wind_m_s=wind,
        wind_words=words,
        assumed=f"{' and '.join(assumed)} assumed, not measured" if assumed else "",
    )


def by_depth(depth_m: Floats, values: Floats) -> float:
    """Return the mean over depth, whatever the levels: the integral over the height."""
    height = float(depth_m[-1] - depth_m[0])
    return float(np.trapezoid(values, depth_m) / height) if height > 0.0 else float(values[0])
