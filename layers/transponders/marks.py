"""What the layer draws: the net, the ranges in it, fixes, its geometry."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.chart.marks import (
    AnyMark,
    AreaMark,
    Freshness,
    GridMark,
    LineMark,
    Path,
    PointMark,
    Style,
    Symbol,
)
from layers.earth.clock import clock_words, dtg
from layers.earth.geodesy import forward, ring
from layers.earth.plane import ellipse_ring
from layers.earth.said.written import dm_text
from layers.earth.tells import TELLS_POSITION
from layers.transponders.net.track_marks import way_marks
from layers.transponders.result import (
    Baseline,
    Fixed,
    Geometry,
    HeardSources,
    Result,
    SoundsFrom,
    Transponder,
)
from layers.transponders.seabed.marks import seabed_marks
from layers.transponders.sound.hearing import ground_m


def marks(result: Result) -> tuple[AnyMark, ...]:
    """Return everything that is drawn of the layer, lowest first."""
    drawn: list[AnyMark] = seabed_marks(result.seabed)
    if result.geometry is not None:
        drawn += _geometry(result.geometry)
    by_name = {one.name: one for one in result.transponders}
    for base in result.baselines:
        drawn.append(_baseline(base, by_name[base.one], by_name[base.other]))
    for one in result.transponders:
        drawn += _transponder(one, result.at)
    for name, fixes in result.paths.items():
        drawn += way_marks(fixes, result.tracks[name], result.at)
    for fix in result.fixes:
        drawn += _fix(fix, result.at, fits=_fits(fix, result))
    drawn += _rings(result.heard)
    if result.water is not None and result.water.position is not None:
        drawn.append(
            PointMark(
                key="profile",
                style=Style.TRANSPONDER,
                symbol=Symbol.CROSS,
                label="SVP",
                rank=5,
                position=result.water.position,
                at=result.water.taken_at,
                source=result.water.record_id,
                tooltip=f"Sound-speed profile taken {dtg(result.water.taken_at)}, from "
                f"{result.water.source}",
            )
        )
    return tuple(drawn)


def _transponder(one: Transponder, now: datetime) -> list[AnyMark]:
    source = " ".join(one.records)
    heard = f"last reply {clock_words(one.last_reply, now)}" if one.last_reply else "no reply yet"
    words = f"Transponder {one.name}: {one.state}, {heard}; {one.depth_m:.1f} m deep"
    if one.battery_h_left is not None:
        words += f"; battery for {one.battery_h_left:.0f} h"
    fresh = Freshness.STALE if one.stale else Freshness.KNOWN
    drawn: list[AnyMark] = []
    should = one.expected
    if one.boxed is None:
        lat, lon = ring(should.position, 2.448 * should.sigma_m)
        drawn.append(
            AreaMark(
                key=f"expected {one.name}",
                style=Style.TRANSPONDER,
                freshness=Freshness.EXPECTED,
                latitudes_deg=lat,
                longitudes_deg=lon,
                source=source,
                tells=TELLS_POSITION,
                tooltip=f"{one.name} not boxed in ({one.why_not}): within "
                f"{2.448 * should.sigma_m:.0f} m (95 %) of its drop carried by the {should.stream}",
            )
        )
    else:
        boxed = one.boxed
        words += (
            f"; boxed in to {boxed.ellipse.semi_major_m:.1f} m (95 %) from {boxed.used} replies, "
            f"{boxed.out} left out; {boxed.off_m:.0f} m {boxed.off_true_deg:03.0f}°T from where it "
            "should lie"
        )
        lat, lon = ellipse_ring(boxed.position, boxed.ellipse)
        drawn.append(
            AreaMark(
                key=f"ellipse {one.name}",
                style=Style.TRANSPONDER,
                latitudes_deg=lat,
                longitudes_deg=lon,
                source=source,
                tells=TELLS_POSITION,
                tooltip=f"95 % ellipse of {one.name}: {boxed.ellipse.semi_major_m:.1f} by "
                f"{boxed.ellipse.semi_minor_m:.1f} m",
            )
        )
        drawn += _misplaced(one, source)
    drawn.append(
        PointMark(
            key=f"transponder {one.name}",
            style=Style.TRANSPONDER,
            symbol=Symbol.DIAMOND,
            position=one.position,
            label=_label(one),
            rank=4,
            freshness=fresh,
            source=source,
            disputed=one.disputed,
            at=one.last_reply or one.dropped_at,
            tooltip=words,
            tells=TELLS_POSITION,
        )
    )
    return drawn


def _label(one: Transponder) -> str:
    return one.name if one.state == "answers" else f"{one.name} {one.state}"


def _misplaced(one: Transponder, source: str) -> list[AnyMark]:
    """Return the line from where a transponder should lie, and the other side of a track."""
    boxed = one.boxed
    drawn: list[AnyMark] = []
    if boxed is None:
        return drawn
    if boxed.out_of_place:
        start, end = one.expected.position, boxed.position
        drawn.append(
            _line(
                f"off {one.name}",
                start.latitude_deg,
                start.longitude_deg,
                end.latitude_deg,
                end.longitude_deg,
                f"{boxed.off_m:.0f} m {boxed.off_true_deg:03.0f}°T",
                source,
                f"{one.name} should lie at the tail ({one.expected.stream}); it lies at the head",
                arrow=True,
            )
        )
    if boxed.other_side is not None:
        drawn.append(
            PointMark(
                key=f"other side {one.name}",
                style=Style.TRANSPONDER,
                symbol=Symbol.ESTIMATED,
                position=boxed.other_side,
                label=f"{one.name}?",
                rank=4,
                source=source,
                freshness=Freshness.EXPECTED,
                disputed=True,
                tells=TELLS_POSITION,
                tooltip=f"{one.name} may as well lie here: the ship's track ran nearly straight "
                "(position in degrees, WGS 84)",
            )
        )
    return drawn


def _line(
    key: str,
    lat1: float,
    lon1: float,
    lat2: float,
    lon2: float,
    label: str,
    source: str,
    tooltip: str,
    *,
    arrow: bool = False,
) -> LineMark:
    return LineMark(
        key=key,
        style=Style.TRANSPONDER,
        latitudes_deg=np.array([lat1, lat2]),
        longitudes_deg=np.array([lon1, lon2]),
        label=label,
        rank=4,
        width=1,
        source=source,
        tooltip=tooltip,
        arrow=arrow,
        tells=TELLS_POSITION,
    )


def _baseline(base: Baseline, one: Transponder, other: Transponder) -> LineMark:
    a, b = one.position, other.position
    return _line(
        f"range {base.one} {base.other}",
        a.latitude_deg,
        a.longitude_deg,
        b.latitude_deg,
        b.longitude_deg,
        f"{base.range_m:.0f} m",
        " ".join((*one.records, *other.records)),
        f"{base.one} to {base.other}: {base.range_m:.1f} m, 68 % within {base.sigma_m:.1f} m",
    )


def _fits(fix: Fixed, result: Result) -> bool:
    track = result.tracks.get(fix.subject)
    return track is None or fix.at not in [at for at, _ in track.strays]


def _fix(fix: Fixed, now: datetime, *, fits: bool) -> list[AnyMark]:
    source = " ".join(fix.records)
    lat, lon = ellipse_ring(fix.position, fix.ellipse)
    # she has one mark, the datum's, which this fix is joined into: here it is evidence
    style = Style.EVIDENCE if fix.is_dissub else Style.SHIP
    fresh = Freshness.STALE if fix.stale else Freshness.KNOWN
    words = (
        f"{fix.subject} by the net at {dtg(fix.at)}: {dm_text(fix.position)}, "
        f"{fix.depth_m:.0f} m deep, good to {fix.good_to_m:.1f} m (95 %), {len(fix.lines)} lines"
    )
    drawn: list[AnyMark] = [
        AreaMark(
            key=f"fix ellipse {fix.subject}",
            style=style,
            latitudes_deg=lat,
            longitudes_deg=lon,
            source=source,
            freshness=fresh,
            tells=TELLS_POSITION,
            tooltip=f"95 % ellipse of {fix.subject}: {fix.ellipse.semi_major_m:.1f} by "
            f"{fix.ellipse.semi_minor_m:.1f} m",
        ),
        PointMark(
            key=f"fix {fix.subject}",
            style=style,
            symbol=Symbol.DIAMOND if fix.is_dissub else Symbol.VEHICLE,
            position=fix.position,
            label=f"{'net fix' if fix.is_dissub else fix.subject} {clock_words(fix.at, now)}",
            rank=5 if fix.is_dissub else 2,
            freshness=fresh,
            disputed=fix.disputed or not fix.agrees or not fits,
            at=fix.at,
            source=source,
            tooltip=words,
            tells=TELLS_POSITION,
        ),
    ]
    if fix.second is not None:
        drawn.append(
            PointMark(
                key=f"second {fix.subject}",
                style=style,
                symbol=Symbol.ESTIMATED,
                position=fix.second,
                label=f"{fix.subject}?",
                rank=2,
                disputed=True,
                freshness=Freshness.EXPECTED,
                source=source,
                tells=TELLS_POSITION,
                tooltip=f"{fix.subject} may as well be here: the same lines meet twice "
                f"({dm_text(fix.second)})",
            )
        )
    return drawn


def _rings(heard: HeardSources) -> list[AnyMark]:
    """Return rings of hearing at 50 and 90 %, which follow the weather."""
    drawn: list[AnyMark] = []
    for row, place in zip(heard.rows, heard.places, strict=True):
        if place.centre is None:
            continue
        for percent, slant_m in ((50, row.range_50_m), (90, row.range_90_m)):
            unbroken = replace(row, direct_to_m=None)
            range_m, cut = ground_m(unbroken, slant_m, place.depth_m)
            if range_m is None:
                continue
            lat, lon = ring(place.centre, range_m)
            if place.around is not None and place.reach_m is not None:
                lat, lon, cut = _over_ground(place, range_m)
            name = row.source.name
            drawn.append(
                LineMark(
                    key=f"hearing {name} {percent}",
                    style=Style.HEARING,
                    latitudes_deg=lat,
                    longitudes_deg=lon,
                    path=Path.AS_GIVEN,
                    width=1,
                    dotted=percent == 50,
                    label=f"{name} {percent} %",
                    source=" ".join(heard.records) or row.source.provenance,
                    tells=TELLS_POSITION,
                    tooltip=f"{name} heard at {row.listener.depth_m:.0f} m with {percent} % out "
                    f"to {range_m:.0f} m ({range_m / 1852:.1f} nmi) over ground"
                    f"{f', {cut}' if cut else ''}; {heard.sea.wind_words}; "
                    f"{row.source.provenance}; ranges can halve or double",
                )
            )
    return drawn


def _over_ground(place: SoundsFrom, range_m: float) -> tuple[Floats, Floats, str]:
    """Return a ring drawn in where direct sound ends sooner, and by how much it is cut."""
    assert place.centre is not None
    assert place.around is not None
    assert place.reach_m is not None
    out = np.minimum(range_m, place.reach_m)
    places = forward(
        place.centre.latitude_deg,
        place.centre.longitude_deg,
        np.append(place.around.azimuth_deg, 360.0),
        np.append(out, out[0]),
    )
    cut = ""
    if float(out.min()) < range_m:
        cut = (
            f"cut to {out.min():.0f} m where direct sound ends first, on "
            f"{float((out < range_m).mean()):.0%} of the way round, {place.around.words}"
        )
    return np.asarray(places.latitude_deg), np.asarray(places.longitude_deg), cut


def _geometry(shown: Geometry) -> list[AnyMark]:
    source = " ".join(shown.records)
    drawn: list[AnyMark] = [
        GridMark(
            key="geometry",
            style=Style.TRANSPONDER,
            latitudes_deg=shown.latitudes_deg,
            longitudes_deg=shown.longitudes_deg,
            values=shown.hdop,
            unit="m of position per m of range (HDOP)",
            rank=5,
            source=source,
            tells=TELLS_POSITION,
            tooltip="Geometry of the net: metres of horizontal error per metre of range "
            f"error at {shown.depth_m:.0f} m depth (HDOP)",
        ),
    ]
    if shown.best is not None:
        drawn.append(
            PointMark(
                key="one more",
                style=Style.TRANSPONDER,
                symbol=Symbol.TRIANGLE,
                position=shown.best,
                label="one more here",
                rank=4,
                source=source,
                freshness=Freshness.EXPECTED,
                tells=TELLS_POSITION,
                tooltip="One more transponder here would help most: mean HDOP within "
                f"{shown.area_radius_m:.0f} m from {shown.mean_before:.2f} to "
                f"{shown.mean_after:.2f}",
            )
        )
    return drawn
