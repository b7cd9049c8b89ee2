"""From what is known to the layer's result at one moment."""

from __future__ import annotations

from datetime import datetime, timedelta

from layers.contract import Moment, Others
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.values import TranspondersValue, WeatherValue
from layers.journal.known import Entry, Known
from layers.transponders.hull import handed_hull, hull_of
from layers.transponders.net.fixing import latest_fixes, paths
from layers.transponders.net.geometry import baselines, geometry
from layers.transponders.net.netting import net
from layers.transponders.net.track import Track, spread, told
from layers.transponders.result import Fixed, Result
from layers.transponders.seabed.seabed import SeabedShown, seabed
from layers.transponders.sound.hearing import handed
from layers.transponders.sound.sounding_out import heard
from layers.transponders.sound.water import Water, shape, water

NOTHING = "no sound-speed profile, transponder or depth is known yet"
ASKED = (
    "a CTD or probe file (.edf, CSV, Argo NetCDF), a depth grid (NetCDF, GeoTIFF, BAG), or a "
    "transponder drop"
)
MOST_PROFILES = 6  # the newest ones through which rays are stepped
PROFILE_RANGE = timedelta(hours=24)  # a profile older than this is told as old


def compute(known: Known, others: Others, moment: Moment) -> Result:
    """Return the water, the net, the fixes and what can be heard at ``moment.at``."""
    weather = others.get("weather")
    weather = weather if isinstance(weather, WeatherValue) else None
    profiles = by_time(known, "transponders.profile", moment.at)
    drops = by_time(known, "transponders.drop", moment.at)
    floor = seabed(known, moment.at, _work(profiles, drops))
    if not profiles and not drops and not floor.records:
        raise InputError(NOTHING, accepted=ASKED)
    deepest = _deepest(profiles, drops, floor)
    made = chosen_water(profiles, deepest)
    found, boxin, impossible = net(known, drops, made, weather, moment)
    fixes, refused = latest_fixes(known, found, made, moment, boxin)
    ways = paths(known, found, made, moment, boxin)
    about = waters_about(profiles, made, deepest, moment.at)
    sound = heard(known, found, fixes, made, weather, moment.at, floor.grid, about)
    notes = list(made.notes) if made else ["no sound-speed profile: 1500 m/s taken"]
    notes += [one.moved for one in found if one.moved]
    notes += refused
    if sound.sea.assumed:
        notes.append(f"how far sound is heard: water of {sound.sea.assumed}")
    if sound.profiles > 1:
        notes.append(
            f"how far direct sound comes is worked out through {sound.profiles} profiles about the "
            "source; the ray diagram is of the one in use"
        )
    if made and moment.at - made.taken_at > PROFILE_RANGE:
        age_h = (moment.at - made.taken_at).total_seconds() / 3600.0
        notes.insert(0, f"the profile is {age_h:.0f} h old: ranges can halve or double")
    rests = [entry.id for entry in profiles[-1:]] + [i for t in found for i in t.records]
    rests += [i for fix in fixes for i in fix.records] + list(sound.records)
    rests += floor.records
    rests += [] if boxin is None else boxin.records
    return Result(
        at=moment.at,
        water=made,
        shape=shape(made) if made else None,
        transponders=found,
        boxin=boxin,
        impossible=impossible,
        baselines=baselines(found),
        fixes=fixes,
        geometry=geometry(found, fixes),
        paths=ways,
        tracks={name: track_of(fixes, moment.at) for name, fixes in ways.items()},
        hull=hull_of(known, moment.at),
        heard=sound,
        seabed=floor,
        notes=tuple(notes),
        rests_on=tuple(dict.fromkeys(rests)),
    )


def track_of(fixes: tuple[Fixed, ...], now: datetime) -> Track:
    """Return a vehicle's way from its fixes, oldest first."""
    return told(
        [fix.at for fix in fixes],
        [fix.position for fix in fixes],
        [spread(fix.ellipse) for fix in fixes],
        now,
    )


def by_time(known: Known, kind: str, at: datetime) -> list[Entry]:
    """Return the entries of a kind true by ``at``, in order of their own time."""
    found = [entry for entry in known.entries(kind) if entry.record.valid_at <= at]
    return sorted(found, key=lambda entry: entry.record.valid_at)


def chosen_water(profiles: list[Entry], bottom_m: float) -> Water | None:
    """Return the water of the adopted profile, else of the latest one that is not disputed."""
    adopted = [entry for entry in profiles if entry.adopted]
    sound = [entry for entry in profiles if not entry.disputed] or profiles
    if not sound:
        return None
    entry = adopted[-1] if adopted else sound[-1]
    return water(
        entry.value,
        taken_at=entry.record.valid_at,
        source=entry.record.source,
        record_id=entry.id,
        bottom_m=bottom_m,
    )


def waters_about(
    profiles: list[Entry], made: Water | None, bottom_m: float, at: datetime
) -> tuple[Water, ...]:
    """Return the water of each recent profile with a place; of the one alone that was adopted."""
    if made is None or any(entry.adopted for entry in profiles):
        return ()
    recent = [
        entry
        for entry in profiles[-MOST_PROFILES:]
        if not entry.disputed
        and entry.value.latitude_deg is not None
        and abs(at - entry.record.valid_at) <= PROFILE_RANGE
        and abs(made.taken_at - entry.record.valid_at) <= PROFILE_RANGE
    ]
    return tuple(
        water(
            entry.value,
            taken_at=entry.record.valid_at,
            source=entry.record.source,
            record_id=entry.id,
            bottom_m=bottom_m,
        )
        for entry in recent
    )


def hand(result: Result) -> TranspondersValue:
    """Return what other layers get: sound-speed profile, depth at any place, fixes of her."""
    return TranspondersValue(
        profile=result.water.handed() if result.water else None,
        depth_grid=result.seabed.grid,
        hearing=tuple(
            found
            for row, place in zip(result.heard.rows, result.heard.places, strict=True)
            if (found := handed(row, place.depth_m)) is not None
        ),
        hull=handed_hull(result.hull) if result.hull else None,
        fixes=tuple(fix.handed() for fix in result.fixes if fix.is_dissub),
        listening=result.heard.covered,
        vehicles=tuple(
            fix.placed()
            for fixes in result.paths.values()
            for fix in fixes
            if fix.agrees and fix.second is None and not fix.disputed
        ),
    )


def _work(profiles: list[Entry], drops: list[Entry]) -> Position | None:
    """Return the place of work: the latest drop, else the latest profile with a position."""
    for entry in (*reversed(drops), *reversed(profiles)):
        value = entry.value
        if value.latitude_deg is not None and value.longitude_deg is not None:
            return Position(value.latitude_deg, value.longitude_deg)
    return None


def _deepest(profiles: list[Entry], drops: list[Entry], floor: SeabedShown) -> float:
    """Return the depth to which the profile is carried: of the drops, else of the grid below it."""
    if drops:
        return float(max(entry.value.water_depth_m for entry in drops))
    place = _work(profiles, drops)
    if place is None or floor.grid is None:
        return 0.0
    found = floor.grid.at(place.latitude_deg, place.longitude_deg)
    return max(0.0, found.depth_m) if found else 0.0
