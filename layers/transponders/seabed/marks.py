"""What is drawn of the seabed: depth contours, soundings, wrecks, obstructions, cables."""

from __future__ import annotations

from layers.earth.chart.marks import AnyMark, GridMark, LineMark, Path, PointMark, Style, Symbol
from layers.earth.position import Position
from layers.transponders.seabed.seabed import Chart, Isobath, SeabedGround, SeabedShown

CAUTION = "not for navigation"


def seabed_marks(shown: SeabedShown) -> list[AnyMark]:
    """Return the marks of the loaded grids and cells."""
    drawn: list[AnyMark] = [] if shown.ground is None else [_ground(shown.ground)]
    drawn += [_isobath(n, line) for n, line in enumerate(shown.isobaths)]
    for chart in shown.charts:
        drawn += _chart(chart)
    return drawn


def _ground(ground: SeabedGround) -> GridMark:
    return GridMark(
        key="depths",
        style=Style.SEABED,
        latitudes_deg=ground.latitudes_deg,
        longitudes_deg=ground.longitudes_deg,
        values=ground.depth_m,
        unit="m",
        edges=ground.edges_m,
        source=ground.record_id,
        tooltip=f"Depth, m, from the grid {ground.title}; {CAUTION}",
    )


def _isobath(number: int, line: Isobath) -> LineMark:
    return LineMark(
        key=f"isobath {number} {line.depth_m:g}",
        style=Style.SEABED,
        latitudes_deg=line.latitudes_deg,
        longitudes_deg=line.longitudes_deg,
        path=Path.AS_GIVEN,
        width=1,
        label=f"{line.depth_m:g}",
        source=line.record_id,
        tooltip=f"{line.depth_m:g} m depth contour, from the grid {line.title}; {CAUTION}",
    )


def _chart(chart: Chart) -> list[AnyMark]:
    whence = f"cell {chart.cell.title}, edition {chart.cell.edition}; {CAUTION}"
    drawn: list[AnyMark] = []
    for number, trace in enumerate(chart.traces):
        words = trace.sort if trace.depth_m is None else f"{trace.depth_m:g} m {trace.sort}"
        drawn.append(
            LineMark(
                key=f"{chart.cell.title} {trace.sort} {number}",
                style=Style.SEABED,
                latitudes_deg=trace.latitudes_deg,
                longitudes_deg=trace.longitudes_deg,
                path=Path.AS_GIVEN,
                width=1,
                dotted=trace.sort != "contour",
                label="" if trace.depth_m is None else f"{trace.depth_m:g}",
                source=chart.record_id,
                tooltip=f"{words}, {whence}",
            )
        )
    soundings = zip(chart.sounding_lat, chart.sounding_lon, chart.sounding_m, strict=True)
    for number, (lat, lon, depth) in enumerate(soundings):
        drawn.append(
            PointMark(
                key=f"{chart.cell.title} sounding {number}",
                style=Style.SEABED,
                symbol=Symbol.SOUNDING,
                position=Position(float(lat), float(lon)),
                label=f"{depth:.1f}" if depth < 31.0 else f"{depth:.0f}",
                source=chart.record_id,
                tooltip=f"Sounding {depth:.1f} m below the chart's datum, {whence}",
            )
        )
    for number, danger in enumerate(chart.dangers):
        deep = "depth not stated"
        if danger.depth_m is not None:
            deep = f"least depth {danger.depth_m:.1f} m"
        drawn.append(
            PointMark(
                key=f"{chart.cell.title} danger {number}",
                style=Style.SEABED,
                symbol=Symbol.CROSS,
                position=Position(danger.latitude_deg, danger.longitude_deg),
                source=chart.record_id,
                tooltip=f"{danger.words}, {deep}, {whence}",
            )
        )
    return drawn
