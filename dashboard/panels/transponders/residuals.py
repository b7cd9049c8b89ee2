"""What each reply of the box-in says against the solution, through time."""

from __future__ import annotations

import numpy as np
from matplotlib.dates import DateFormatter
from matplotlib.figure import Figure

from dashboard.panels import figures
from dashboard.panels.text import panel, table, words
from dashboard.panels.transponders.figure import figure
from dashboard.view import Seen
from layers.earth.chart.marks import Style
from layers.earth.clock import from_us
from layers.transponders.net.boxin import CUT
from layers.transponders.result import BoxIn, Result

SYMBOLS = ("o", "s", "^", "D", "v", "P", "*", "X")


def show(seen: Seen) -> None:
    """Show the residuals of the box-in, those left out beside those used."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    if result.boxin is None:
        panel(
            words(
                "No box-in yet: drop the file of replies on the plot (CSV), at least five to "
                "each transponder, from all round it."
            )
        )
        return
    box = result.boxin
    said = "Residuals of the box-in ranges by transponder"
    figures.show(_drawn(seen, box), said)
    panel(table(_numbers(box, result)))


def _numbers(box: BoxIn, result: Result) -> list[tuple[str, str]]:
    rows = [
        ("Replies used, left out", f"{box.used}, {box.out}"),
        ("One range, 68 % within", f"{box.sigma_m:.2f} m"),
        ("Sound speed against the profile", f"× {box.scale:.5f} ± {box.scale_sigma:.5f}"),
    ]
    if box.straight_error_m is not None:
        rows.append(
            ("A straight ray would be out by", f"{round(box.straight_error_m, 2) + 0.0:+.2f} m")
        )
    rows += [(f"Set aside: {reason}", str(count)) for reason, count in result.impossible.items()]
    return rows


def _drawn(seen: Seen, box: BoxIn) -> Figure:
    ink = seen.ink
    drawn, axes = figure(ink, 3.6)
    names = np.array(box.reply_name)
    edge = 2.5 * CUT * box.sigma_m
    for number, name in enumerate(sorted(set(box.reply_name))):
        mine = names == name
        times = np.array([from_us(int(at)) for at in box.reply_at_us[mine]])
        gaps, used = box.reply_residual_m[mine], box.reply_used[mine]
        axes.plot(
            times[used],
            gaps[used],
            SYMBOLS[number % 8],
            markersize=3.5,
            label=name,
            markerfacecolor="none",
            color=ink.of(list(_HUES)[number % len(_HUES)]),
        )
        axes.plot(times[~used], np.clip(gaps[~used], -edge, edge), "x", markersize=7, color=ink.ink)
    for side in (-CUT, CUT):
        axes.axhline(side * box.sigma_m, color=ink.quiet, linestyle="--", linewidth=1)
    axes.set_ylim(-1.1 * edge, 1.1 * edge)
    axes.set_ylabel("Slant less measured range (m)")
    axes.set_xlabel("Time (Z); a cross is left out, at the edge if further off")
    axes.xaxis.set_major_formatter(DateFormatter("%H%M"))  # type: ignore[no-untyped-call]  # untyped there
    axes.legend(
        ncols=4, loc="upper center", facecolor=ink.panel, labelcolor=ink.ink, edgecolor=ink.line
    )
    return drawn


_HUES = (Style.TRANSPONDER, Style.SEARCH, Style.EVIDENCE, Style.DRIFT)
