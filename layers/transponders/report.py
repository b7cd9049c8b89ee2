"""The layer in words and tables."""

from __future__ import annotations

from layers.earth.clock import dtg
from layers.earth.said.written import dm_text
from layers.earth.table import Cell, Table
from layers.transponders.net.track_marks import way_words
from layers.transponders.result import Fixed, Result, Transponder
from layers.transponders.sound.hearing import terms

NUMBERS = (
    "No",
    "One",
    "Two",
    "Three",
    "Four",
    "Five",
    "Six",
    "Seven",
    "Eight",
    "Nine",
    "Ten",
    "Eleven",
    "Twelve",
)


def sentence(result: Result) -> str:
    """Return what can be read out: who answers, what lies wrong, how good the fix is."""
    if not result.transponders:
        return _water_words(result)
    parts = [_answering(result.transponders)]
    parts += [_off(one) for one in result.transponders if one.boxed and one.boxed.out_of_place]
    parts += [one.moved for one in result.transponders if one.moved]
    unboxed = [one.name for one in result.transponders if one.boxed is None]
    if unboxed and len(unboxed) == len(result.transponders):
        parts.append("not boxed in")
    elif unboxed:
        parts.append(f"{', '.join(unboxed)} not boxed in")
    fresh = [fix for fix in result.fixes if not fix.stale] or list(result.fixes)
    parts += [_fix_words(fix) for fix in fresh]
    return "; ".join(parts) + "."


def _fix_words(fix: Fixed) -> str:
    old = f" at {dtg(fix.at)}" if fix.stale else ""
    doubt = "" if fix.agrees else ", but its lines disagree"
    two = ", or a second place" if fix.second else ""
    if fix.is_dissub:  # how good her position is, is answered once, from all that is told of it
        lines = "line" if len(fix.lines) == 1 else "lines"
        return f"DISSUB fixed{old} by {len(fix.lines)} {lines}{doubt}{two}"
    return f"{fix.subject} fix{old} good to {fix.good_to_m:.0f} m (95 %){doubt}{two}"


def _answering(found: tuple[Transponder, ...]) -> str:
    answer = sum(one.answers for one in found)
    many = NUMBERS[answer] if answer < len(NUMBERS) else str(answer)
    whole = NUMBERS[len(found)].lower() if len(found) < len(NUMBERS) else str(len(found))
    if all(one.state == "not heard yet" for one in found):
        return f"{whole.capitalize()} transponders dropped, none heard yet"
    noun = "transponder" if answer == 1 else "transponders"
    return f"{many} {noun} of {whole} {'answers' if answer == 1 else 'answer'}"


def _off(one: Transponder) -> str:
    assert one.boxed is not None
    return (
        f"{one.name} lies {one.boxed.off_m:.0f} m {one.boxed.off_true_deg:03.0f}°T "
        "from where it should"
    )


def _water_words(result: Result) -> str:
    if result.water is None or result.shape is None:
        grids, cells = len(result.seabed.grid_records), len(result.seabed.charts)
        return (
            f"No sound-speed profile and no transponder; {grids} depth grid"
            f"{'' if grids == 1 else 's'} and {cells} chart cell{'' if cells == 1 else 's'} "
            "loaded, not for navigation."
        )
    shape = result.shape
    duct = f"surface duct to {shape.duct_m:.0f} m" if shape.duct_m else "no surface duct"
    return (
        f"Sound-speed profile of {dtg(result.water.taken_at)}: mean "
        f"{shape.harmonic_mean_m_s:.1f} m/s, {duct}; no transponder dropped."
    )


def table(result: Result) -> Table:
    """Return one row per transponder."""
    heads = (
        "Transponder",
        "State",
        "Last reply (Z)",
        "Latitude (°)",
        "Longitude (°)",
        "Depth (m)",
        "Depth ± (m, 1σ)",
        "Ellipse 95 % (m × m)",
        "From where it should (m)",
        "Towards (°T)",
        "Out of place",
        "Replies used",
        "Left out",
        "Residual rms (m)",
        "Battery left (h)",
        "Stream while sinking",
    )
    rows = tuple(_row(one) for one in result.transponders)
    sources = tuple(" ".join(one.records) for one in result.transponders)
    return Table(heads=heads, rows=rows, sources=sources)


def _row(one: Transponder) -> tuple[Cell, ...]:
    place: tuple[Cell, ...] = (
        one.name,
        one.state,
        one.last_reply,
        round(one.position.latitude_deg, 6),
        round(one.position.longitude_deg, 6),
        round(one.depth_m, 1),
    )
    battery = None if one.battery_h_left is None else round(one.battery_h_left)
    boxed = one.boxed
    if boxed is None:
        rest: tuple[Cell, ...] = (None, None, None, None, None, None, None, None)
        return (*place, *rest, battery, one.expected.stream)
    size = f"{boxed.ellipse.semi_major_m:.1f} × {boxed.ellipse.semi_minor_m:.1f}"
    return (
        *place,
        round(boxed.depth_sigma_m, 1),
        size,
        round(boxed.off_m),
        round(boxed.off_true_deg),
        boxed.out_of_place,
        boxed.used,
        boxed.out,
        round(boxed.rms_m, 2),
        battery,
        one.expected.stream,
    )


def tables(result: Result) -> dict[str, Table]:
    """Return the further tables by title."""
    made = {
        "Ranges in the net": Table(
            heads=("From", "To", "Range (m)", "± (m, 1σ)"),
            rows=tuple(
                (b.one, b.other, round(b.range_m, 1), round(b.sigma_m, 2)) for b in result.baselines
            ),
        ),
        "Fixes by the net": _fixes(result),
        "Notes": _notes(result),
    }
    made["Depth of the seabed"] = depth_table(result)
    made["Charts and grids"] = charts_table(result)
    made["Hearing"] = hearing_table(result)
    if result.water is not None:
        made["Sound speed"] = _sound(result)
    if result.boxin is not None or result.impossible:
        made["Box-in"] = _boxin(result)
    return made


def ways(result: Result) -> tuple[str, ...]:
    """Return for each vehicle where it is by now, and its fixes that do not fit its way."""
    return tuple(
        way_words(fixes, result.tracks[name], result.at) for name, fixes in result.paths.items()
    )


def _notes(result: Result) -> Table:
    said = (*ways(result), *result.notes, *result.seabed.notes)
    return Table(heads=("Note",), rows=tuple((note,) for note in said))


def _fixes(result: Result) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for fix in result.fixes:
        lines = "; ".join(f"{name} {gap:+.2f} {unit}" for name, gap, unit in fix.lines)
        rows.append(
            (
                fix.subject,
                fix.at,
                round(fix.position.latitude_deg, 6),
                round(fix.position.longitude_deg, 6),
                round(fix.depth_m, 1),
                f"{fix.ellipse.semi_major_m:.1f} × {fix.ellipse.semi_minor_m:.1f}",
                round(fix.good_to_m, 1),
                "yes" if fix.agrees else "no",
                f"{fix.suspect}; without it {dm_text(fix.without)}"
                if fix.suspect and fix.without
                else fix.suspect or "none",
                lines,
            )
        )
    return Table(
        heads=(
            "Subject",
            "At (Z)",
            "Latitude (°)",
            "Longitude (°)",
            "Depth (m)",
            "Ellipse 95 % (m × m)",
            "Circle 95 % (m)",
            "Lines agree (99 %)",
            "Suspect",
            "Residuals",
        ),
        rows=tuple(rows),
        sources=tuple(" ".join(fix.records) for fix in result.fixes),
    )


def _sound(result: Result) -> Table:
    water, shape = result.water, result.shape
    assert water is not None
    assert shape is not None
    rows: list[tuple[Cell, ...]] = [
        ("taken", dtg(water.taken_at), "", water.source),
        (
            "harmonic mean, surface to seabed",
            round(shape.harmonic_mean_m_s, 2),
            "m/s",
            "ln(c2/c1)/g",
        ),
        ("surface duct to", round(shape.duct_m, 1), "m", "0: none"),
        (
            "thermocline",
            "none"
            if shape.thermocline_m is None
            else f"{shape.thermocline_m[0]:.0f} to {shape.thermocline_m[1]:.0f}",
            "m",
            "falls more than 0.02 °C per m, our own bound",
        ),
        (
            "channel axis",
            None if shape.axis_m is None else round(shape.axis_m, 1),
            "m",
            "slowest level, faster above and below",
        ),
        (
            "spread between equations",
            None if water.spread_m_s is None else round(water.spread_m_s, 2),
            "m/s",
            ", ".join(water.equations),
        ),
    ]
    for name, speed in water.equations.items():
        rows.append(
            (
                f"at {water.measured_depth_m[-1]:.0f} m by {name}",
                round(float(speed[-1]), 2),
                "m/s",
                SOURCES[name],
            )
        )
    return Table(
        heads=("Quantity", "Value", "Unit", "Source"),
        rows=tuple(rows),
        sources=(water.record_id,) * len(rows),
    )


SOURCES = {
    "TEOS-10": "IOC, SCOR and IAPSO 2010",
    "Chen–Millero": "UNESCO Technical Papers in Marine Science 44 (1983)",
    "Mackenzie": "JASA 70 (1981) 807-812",
    "Leroy": "JASA 124 (2008) 2774-2782",
    "Del Grosso": "JASA 56 (1974) 1084-1091",
}


# What sediment and sea take at each bounce differs by tens of decibels from place to place.
BOUNCES = (
    "only direct sound is relied on: what comes by way of seabed or surface may be heard farther, "
    "and not hearing it proves nothing"
)


def hearing_table(result: Result) -> Table:
    """Return every term of the sonar equation, one row each, for every source."""
    rows: list[tuple[Cell, ...]] = []
    heard = result.heard
    for row in heard.rows:
        rows += [
            (row.source.name, name, None if value is None else round(value, 2), unit, whence)
            for name, value, unit, whence in terms(row)
        ]
        rows.append((row.source.name, "wind", heard.sea.wind_words, "", row.why_not or "weather"))
        rows.append((row.source.name, "loss at seabed and surface", "not counted", "dB", BOUNCES))
    rows += [(name, "not worked out", None, "", why) for name, why in heard.missing]
    return Table(heads=("Source", "Term", "Value", "Unit", "Where from"), rows=tuple(rows))


def depth_table(result: Result) -> Table:
    """Return depth by the grids at each transponder and fix, with cell, spread and source."""
    rows: list[tuple[Cell, ...]] = []
    places = [(one.name, one.position, one.depth_m) for one in result.transponders]
    places += [(fix.subject, fix.position, fix.depth_m) for fix in result.fixes]
    for name, place, found in places:
        at = result.seabed.grid
        depth = at.at(place.latitude_deg, place.longitude_deg) if at is not None else None
        if depth is None:
            rows.append((name, round(found, 1), None, None, None, None, "no grid here", ""))
            continue
        doubt = None if depth.uncertainty_m is None else round(depth.uncertainty_m, 1)
        rows.append(
            (
                name,
                round(found, 1),
                round(depth.depth_m, 1),
                round(depth.spread_m, 1),
                doubt,
                round(depth.cell_m),
                depth.source,
                "not for navigation" if depth.not_for_navigation else "",
            )
        )
    return Table(
        heads=(
            "At",
            "Depth found (m)",
            "Depth by grid (m)",
            "Spread of four cells (m)",
            "Grid's own ± (m)",
            "Cell (m)",
            "Source",
            "Caution",
        ),
        rows=tuple(rows),
    )


def charts_table(result: Result) -> Table:
    """Return the loaded grids and chart cells, what they hold and how old they are."""
    rows: list[tuple[Cell, ...]] = [
        (
            record.title,
            "depth grid",
            f"{record.columns} × {record.rows} cells of "
            f"{record.cell_x_m:.0f} × {record.cell_y_m:.0f} m",
            record.vertical_datum,
            "not for navigation" if record.not_for_navigation else "",
        )
        for _, record in result.seabed.grid_records
    ]
    for chart in result.seabed.charts:
        held = ", ".join(f"{count} × {name}" for name, count in chart.cell.features.items())
        scale = "scale not stated" if chart.cell.scale is None else f"1:{chart.cell.scale}"
        rows.append(
            (
                chart.cell.title,
                f"chart cell, edition {chart.cell.edition}, {scale}",
                held,
                "chart datum",
                "not for navigation",
            )
        )
    return Table(
        heads=("Title", "Sort", "Holds", "Vertical datum", "Caution"),
        rows=tuple(rows),
        sources=tuple(result.seabed.records[: len(rows)]),
    )


def _boxin(result: Result) -> Table:
    box = result.boxin
    rows: list[tuple[Cell, ...]] = []
    if box is not None:
        straight = None if box.straight_error_m is None else round(box.straight_error_m, 2)
        rows = [
            ("sound-speed scale", round(box.scale, 5), "× profile"),
            ("its error, 68 % within", round(box.scale_sigma, 5), ""),
            ("error of one range, 68 % within", round(box.sigma_m, 2), "m"),
            ("replies used", box.used, ""),
            ("replies left out as not belonging", box.out, ""),
            ("error of a straight ray at the longest reply", straight, "m"),
        ]
        rows += [
            (f"taken beforehand, 68 % within: {what}", round(size, 3), unit)
            for what, size, unit in box.priors
        ]
        rows += [
            (
                f"{one} to {other}, range less the net's",
                round(-gap, 2),
                "m" if used else "m, left out",
            )
            for one, other, gap, used in box.between
        ]
    rows += [(f"set aside: {reason}", count, "") for reason, count in result.impossible.items()]
    return Table(heads=("Quantity", "Value", "Unit"), rows=tuple(rows))
