"""Where to search next: the best use of the hours at hand, and patterns to steer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import streamlit as st

from dashboard import cache
from dashboard.panels.text import caution, line, panel, table, words
from dashboard.view import Seen
from layers.datum.containment import Grid
from layers.datum.model import DISSUB, Searcher
from layers.datum.result import DatumResult
from layers.datum.search.allocation import Share, share_out
from layers.datum.search.detection import hours_to_cover, pod
from layers.datum.search.patterns import TITLES, Pattern, keep_off_land, pattern
from layers.datum.search.plan_files import FORMATS, title
from layers.earth.clock import dtg
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.quantity import figure
from layers.earth.units import M_PER_NMI


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sought:
    """What is searched for: its name, probability, likeliest place and track, if it has one."""

    name: str
    grid: Grid
    position: Position
    track: tuple[Position, ...] = ()


def show(seen: Seen) -> None:
    """Show the shares of all searchers for one object of search, and a pattern for one of them."""
    found = seen.picture.shown("datum")
    if found is None:
        return
    result: DatumResult = found.result
    if result.is_fix:
        panel(line(words("The DISSUB is found: her place is a fix and needs no search.")))
    else:
        _localisation(result)
    objects = _objects(result)
    if not objects:
        return
    name = st.selectbox("Object of search", list(objects), key="datum.plan.object")
    sought = objects[name]
    try:
        shares, left = share_out(sought.grid, result.plane, _searchers(seen, name), sought.position)
    except InputError as reason:
        panel(words(str(reason)))
        return
    _table(shares, float(left.sum()))
    _pattern(seen, result, sought, shares)
    caution(
        "Rests on the listed reports and on the sweep widths entered. A low probability is not "
        "zero. The ship's officer checks every leg against the chart."
    )


def _localisation(result: DatumResult) -> None:
    across = 2.0 * result.circle_radius_m
    hours = hours_to_cover(across, 0.25 * M_PER_NMI, 1.5)
    panel(
        line(
            words(
                f"Localisation: {'yes' if result.localised else 'no'}. The circle that holds "
                f"95 % is {across / M_PER_NMI:.2f} nmi across, the limit "
                f"{result.limit_across_nmi:g} nmi. Searching it at 1.5 kn with tracks 0.25 nmi "
                f"apart takes {hours:.1f} h (1 to 2 kn is common practice, no source)."
            )
        )
    )


def _objects(result: DatumResult) -> dict[str, _Sought]:
    """Return what is still sought: the DISSUB until she is found, and the others adrift."""
    found = [
        _Sought(name=item.name, grid=item.grid, position=item.position)
        for item in result.adrift
        if item.still_sought
    ]
    if not result.is_fix:
        dissub = _Sought(
            name=DISSUB, grid=result.grid, position=result.position, track=result.track
        )
        found.insert(0, dissub)
    return {item.name: item for item in found}


def _searchers(seen: Seen, name: str) -> list[Searcher]:
    """Return the searchers entered for an object; sweep widths hold for one object only."""
    newest = {
        entry.value.name: entry.value
        for entry in seen.known.entries("datum.searcher")
        if entry.value.object == name and entry.record.valid_at <= seen.moment.at
    }
    return list(newest.values())


def _table(shares: Sequence[Share], left: float) -> None:
    rows = [
        (
            share.searcher.name,
            dtg(share.arrives_at),
            f"{share.hours:.1f}",
            f"{share.track_m / M_PER_NMI:.1f}",
            f"{figure(share.searcher.sweep_width_m, 0)}",
            f"{share.coverage:.2f}",
            f"{100.0 * float(pod(share.coverage)):.0f} / "
            f"{100.0 * float(pod(share.coverage, 'random')):.0f}",
            f"{100.0 * share.probability_seen:.1f}",
        )
        for share in shares
    ]
    heads = (
        "Searcher", "On scene", "Hours", "Track (nmi)", "Sweep width (m)", "Coverage C",
        "POD inverse cube / random (%)", "POS (%)",
    )  # fmt: skip
    panel(table(rows, heads, tuple(range(2, 8))))
    panel(line(words(f"Left after all of them: {left:.0%} of the probability.")))


def _pattern(seen: Seen, result: DatumResult, sought: _Sought, shares: Sequence[Share]) -> None:
    by_name = {share.searcher.name: share for share in shares}
    first, second, third = st.columns(3)
    share = by_name[first.selectbox("Searcher", list(by_name), key="datum.plan.searcher")]
    code = second.selectbox(
        "Pattern", list(TITLES), format_func=lambda c: f"{TITLES[c]} ({c})", key="datum.plan.code"
    )
    spacing = third.text_input(
        "Track spacing (m)", f"{share.searcher.sweep_width_m:.0f}", key="datum.plan.spacing"
    )
    radius, run_in = 0.0, 0.0
    if code == "lanes":
        radius = first.number_input("Turning radius (m)", 0.0, 5_000.0, 400.0, key="datum.plan.r")
        run_in = second.number_input("Run-in (m)", 0.0, 5_000.0, 300.0, key="datum.plan.run")
    try:
        plan = _made(result, sought, share, code, spacing, radius, run_in)
        warning = keep_off_land(plan, cache.land())
    except InputError as reason:
        panel(words(str(reason)))
        return
    if warning:
        panel(words(warning))
    panel(
        line(
            words(
                f"{plan.title} for {plan.searcher}: {plan.track_m / M_PER_NMI:.1f} nmi of search, "
                f"{dtg(plan.turns[0].at)} to {dtg(plan.turns[-1].at)}, leaves at "
                f"{dtg(share.leaves_at)}."
            )
        )
    )
    panel(table([(t.name, str(t.position), dtg(t.at)) for t in plan.turns[:60]],
                ("Corner", "Position", "Time")))  # fmt: skip
    _downloads(seen, plan)


def _made(
    result: DatumResult,
    sought: _Sought,
    share: Share,
    code: str,
    spacing: str,
    radius: float,
    run_in: float,
) -> Pattern:
    try:
        spacing_m = float(spacing)
    except ValueError:
        raise InputError(
            f"{spacing!r} is not a spacing", where="track spacing", accepted="metres"
        ) from None
    east, north, length, width, bearing = share.box
    middle = result.plane.position(east, north)
    turned = result.plane.convergence_deg(middle.latitude_deg, middle.longitude_deg)
    return pattern(
        code,  # type: ignore[arg-type]  # one of TITLES, by the choice above
        plane=result.plane,
        middle=middle if code not in ("SS", "VS") else sought.position,
        length_m=length,
        width_m=width,
        bearing_true_deg=(bearing - turned) % 360.0,
        spacing_m=spacing_m,
        speed_kn=share.searcher.search_speed_kn,
        start=share.arrives_at,
        searcher=share.searcher.name,
        turn_radius_m=radius,
        run_in_m=run_in,
        track=sought.track,
    )


def _downloads(seen: Seen, plan: Pattern) -> None:
    exercise = f"EXERCISE {seen.exercise}".replace("EXERCISE Exercise", "EXERCISE")
    name = title(plan).replace(" ", "_")
    for column, (ending, (write, mime)) in zip(st.columns(4), FORMATS.items(), strict=True):
        column.download_button(
            f"Send as {ending.upper()}",
            write(plan, exercise if seen.exercise else ""),
            file_name=f"{name}.{ending}",
            mime=mime,
            key=f"datum.plan.{ending}",
        )
