"""The further tables of the weather: windows, what is expected, error, issues, hatch, sun."""

from __future__ import annotations

import math

from layers.earth.clock import from_us, hhmm
from layers.earth.plausible import LIMITS, unit_of
from layers.earth.table import Cell, Table
from layers.weather.forecast.running_error import ENOUGH_PAIRS, TITLES
from layers.weather.result import WeatherResult
from layers.weather.say import percent_words
from layers.weather.sea.expected import STEPS_PER_H, ExpectedSea

EXPECTED_EVERY_H = 3


def tables(result: WeatherResult) -> dict[str, Table]:
    """Return the further tables by title; one that would be empty is left out."""
    place = result.place
    # over a block nothing holds for her place: what is reckoned is for the block's middle
    middle = "" if place is None or place.block is None else f", {place.how}"
    found = {
        f"Working windows{middle}": windows_table(result),
        "Limits": limits_table(result),
        f"Expected at the place{middle}": expected_table(result),
        "Forecast error": error_table(result),
        "Forecast issues": issues_table(result),
        "Doubtful, not worked with": doubtful_table(result),
        "At the hatch": hatch_table(result),
        f"Sun{middle}": sun_table(result),
    }
    return {title: table for title, table in found.items() if table.rows}


def doubtful_table(result: WeatherResult) -> Table:
    """Return one row for each newest value that is put aside until somebody says it stands."""
    held = [
        (station, name, doubt)
        for station in result.stations
        for name, doubt in sorted(station.doubtful.items())
    ]
    return Table(
        heads=("Station", "What", "Value", "Time (UTC)", "Why"),
        rows=tuple(
            (
                station.name,
                LIMITS[name].words,
                f"{doubt.value:g}{unit_of(name)}",
                doubt.at,
                doubt.why,
            )
            for station, name, doubt in held
        ),
        sources=tuple(doubt.rests_on for _, _, doubt in held),
    )


def windows_table(result: WeatherResult) -> Table:
    """Return one row a window, in the order of the work."""
    rows: list[tuple[Cell, ...]] = []
    sources = []
    for each in result.outlooks:
        for window in each.windows:
            rows.append(
                (
                    each.operation,
                    window.opens,
                    window.closes,
                    "open now" if window.open_now else "ahead",
                    percent_words(window.start_probability),
                    percent_words(window.holds_probability),
                    window.sure_from,
                    window.sure_to,
                    window.decide_by,
                    ", ".join(each.unchecked) or None,
                )
            )
            sources.append(each.rests_on)
        if not each.windows:
            state = "no window seen" + (f": {each.why_none}" if each.why_none else "")
            unchecked = ", ".join(each.unchecked) or None
            rows.append(
                (each.operation, None, None, state, None, None, None, None, None, unchecked)
            )
            sources.append(each.rests_on)
    return Table(
        heads=(
            "Operation",
            "Opens (UTC)",
            "Closes (UTC)",
            "State",
            "Begun as it opens, is done within limits",
            "Holds to its end",
            "90 % sure: begin from (UTC)",
            "90 % sure: begin by (UTC)",
            "Decide by (UTC)",
            "Not checked: nothing known",
        ),
        rows=tuple(rows),
        sources=tuple(sources),
    )


def limits_table(result: WeatherResult) -> Table:
    """Return the limits in force, one row an operation."""
    return Table(
        heads=(
            "Operation",
            "Takes (h)",
            "Notice (h)",
            "Hs at most (m)",
            "Tp at least (s)",
            "Tp at most (s)",
            "Wind at most (kn)",
            "Surface current at most (kn)",
            "Current at the seat at most (kn)",
            "Visibility at least (nmi)",
            "Daylight only",
            "Set by",
        ),
        rows=tuple(
            (
                o.operation,
                o.limit.duration_h,
                o.limit.notice_h,
                o.limit.hs_max_m,
                o.limit.tp_min_s,
                o.limit.tp_max_s,
                o.limit.wind_max_kn,
                o.limit.current_surface_max_kn,
                o.limit.current_seat_max_kn,
                o.limit.visibility_min_nmi,
                "yes" if o.limit.daylight_only else "no",
                o.limit.set_by + (" (disputed)" if o.others_disagree else ""),
            )
            for o in result.outlooks
        ),
        sources=tuple(o.rests_on for o in result.outlooks),
    )


def expected_table(result: WeatherResult) -> Table:
    """Return what is expected at the place, every three hours."""
    ahead = result.ahead
    steps = range(0, 0 if ahead is None else len(ahead.at_us), STEPS_PER_H * EXPECTED_EVERY_H)
    return Table(
        heads=(
            "Time (UTC)",
            "Hs (m)",
            "Hs good to (m)",
            "Tp (s)",
            "Waves from (° true)",
            "Wind at 10 m (kn)",
            "Wind good to (kn)",
            "Wind from (° true)",
            "Surface current (kn)",
            "Surface current sets (° true)",
            "Current at the seat (kn)",
            "Seat current sets (° true)",
            "Visibility (nmi)",
            "Light",
        ),
        rows=() if ahead is None else tuple(_expected_row(ahead, step) for step in steps),
    )


def _expected_row(ahead: ExpectedSea, step: int) -> tuple[Cell, ...]:
    return (
        from_us(ahead.at_us[step]),
        _number(ahead.hs_m[step], 1),
        _number(ahead.hs_sigma_m[step], 1),
        _number(ahead.tp_s[step], 0),
        _number(ahead.wave_from_true_deg[step], 0),
        _number(ahead.wind_kn[step], 0),
        _number(ahead.wind_sigma_kn[step], 0),
        _number(ahead.wind_from_true_deg[step], 0),
        _number(ahead.current_surface_kn[step], 1),
        _number(ahead.current_surface_set_deg[step], 0),
        _number(ahead.current_seat_kn[step], 1),
        _number(ahead.current_seat_set_deg[step], 0),
        _number(ahead.visibility_nmi[step], 0),
        "day" if ahead.daylight[step] else "dark",
    )


def error_table(result: WeatherResult) -> Table:
    """Return forecast less observed over the last three days, by lead."""
    rows: list[tuple[Cell, ...]] = []
    for (model, quantity), error in result.errors.items():
        title, unit = TITLES[quantity]
        for each in error.bins:
            used = "yes" if each.pairs >= ENOUGH_PAIRS else "no, too few pairs"
            rows.append(
                (
                    model,
                    title,
                    f"{each.from_h:.0f} to {each.to_h:.0f}",
                    each.pairs,
                    round(each.bias, 2),
                    round(each.rms, 2),
                    unit,
                    used,
                )
            )
        if not error.measured:
            said = "assumed: nothing to measure it by"
            rows.append((model, title, "all", 0, None, None, unit, said))
    return Table(
        heads=(
            "Forecast",
            "Quantity",
            "Lead (h)",
            "Pairs",
            "Mean error",
            "Root mean square error",
            "Unit",
            "Used",
        ),
        rows=tuple(rows),
    )


def issues_table(result: WeatherResult) -> Table:
    """Return the newest issue of each forecast known."""
    return Table(
        heads=(
            "Forecast",
            "Issued (UTC)",
            "Age (h)",
            "Ends (UTC)",
            "State",
            "Speaks for",
            "Carries",
            "Issues before it",
        ),
        rows=tuple(
            (
                each.issue.model,
                each.issue.issued_at,
                round(each.age.total_seconds() / 3600.0, 1),
                each.issue.ends_at,
                "stale" if each.stale else "current",
                ", ".join(
                    TITLES[q][0] for q, m in result.field.speaks.items() if m == each.issue.model
                ),
                ", ".join(sorted(each.issue.names)),
                each.before,
            )
            for each in result.newest
        ),
        sources=tuple(" ".join(each.issue.rests_on) for each in result.newest),
    )


def hatch_table(result: WeatherResult) -> Table:
    """Return each seat against the vehicle's limits."""
    rows: list[tuple[Cell, ...]] = []
    sources = []
    for hatch in result.hatches:
        for each in hatch.compared:
            state = "not known" if each.within is None else ("within" if each.within else "OUTSIDE")
            value = None if each.value is None else round(each.value, 2)
            rows.append((hatch.seat.seat, each.name, value, each.limit, each.unit, state))
            sources.append(" ".join(hatch.rests_on))
        for name, value_m_s in (
            ("waves' motion along the bed, Hs", hatch.along_m_s),
            ("waves' motion up and down, Hs", hatch.up_m_s),
            ("waves' motion along, a wave of twice Hs", hatch.along_highest_m_s),
        ):
            if value_m_s is not None:
                rows.append((hatch.seat.seat, name, round(value_m_s, 3), None, "m/s", "no limit"))
                sources.append(" ".join(hatch.rests_on))
    return Table(
        heads=("Seat", "Quantity", "Value", "Limit", "Unit", "State"),
        rows=tuple(rows),
        sources=tuple(sources),
    )


def sun_table(result: WeatherResult) -> Table:
    """Return the sun's times at the place."""
    return Table(
        heads=(
            "Day (UTC)",
            "Nautical dawn",
            "Civil dawn",
            "Sunrise",
            "Sunset",
            "Civil dusk",
            "Nautical dusk",
            "Said",
        ),
        rows=tuple(
            (
                f"{day.day:%d %b %Y}",
                *(
                    None if event is None else hhmm(event)
                    for event in (
                        day.nautical_dawn,
                        day.civil_dawn,
                        day.sunrise,
                        day.sunset,
                        day.civil_dusk,
                        day.nautical_dusk,
                    )
                ),
                day.words or None,
            )
            for day in result.sun
        ),
    )


def _number(value: float, places: int) -> float | None:
    if math.isnan(value):
        return None
    return round(float(value), places) if places else float(round(value))
