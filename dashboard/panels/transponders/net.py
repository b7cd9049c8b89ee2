"""The net in one sentence and one table, and the fixes it gives."""

from __future__ import annotations

from dashboard.panels.text import line, panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.earth.clock import clock_words, dtg, relative_words
from layers.earth.said.written import dm_text
from layers.transponders.report import ways
from layers.transponders.result import Fixed, Result, Transponder

HEADS = (
    "Transponder",
    "State",
    "Last reply",
    "Position",
    "Depth (m)",
    "95 % ellipse (m)",
    "From where it should lie",
    "Replies used / out",
    "Battery",
)
FIX_HEADS = ("Fix of", "At", "Position", "Depth (m)", "95 % within (m)", "Lines", "Residuals")


def show(seen: Seen) -> None:
    """Show who answers, where each lies, and how good the fixes are."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    if result.transponders:
        panel(table([_row(one, result) for one in result.transponders], HEADS))
    else:
        need.said(seen, "No transponder yet: record each drop with its place, time and depth.",
                  "net", "transponders.drop")  # fmt: skip
    if result.fixes:
        panel(table([_fix(fix) for fix in result.fixes], FIX_HEADS))
    said = (*ways(result), *result.notes, *result.seabed.notes)
    notes = "".join(line(words(note)) for note in said)
    if notes:
        panel(notes)


def _row(one: Transponder, result: Result) -> tuple[str, ...]:
    heard = "none yet"
    if one.last_reply is not None:
        heard = (
            f"{clock_words(one.last_reply, result.at)}, {relative_words(one.last_reply, result.at)}"
        )
    if one.stale:
        heard += ", STALE"
    battery = "not known" if one.battery_h_left is None else f"{one.battery_h_left:.0f} h left"
    if one.battery_percent is not None:
        battery += f", {one.battery_percent:.0f} % reported"
    boxed = one.boxed
    if boxed is None:
        return (
            one.name,
            one.state,
            heard,
            f"{dm_text(one.position)}, not boxed in ({one.why_not})",
            f"{one.depth_m:.0f}",
            f"within {2.448 * one.expected.sigma_m:.0f}",
            "",
            "",
            battery,
        )
    off = f"{boxed.off_m:.0f} m {boxed.off_true_deg:03.0f}°T"
    off += ", OUT OF PLACE" if boxed.out_of_place else ", as the errors allow"
    if boxed.other_side is not None:
        off += "; may lie on the other side of the track"
    return (
        one.name,
        one.state,
        heard,
        dm_text(one.position),
        f"{boxed.depth_m:.1f} ± {boxed.depth_sigma_m:.1f}",
        f"{boxed.ellipse.semi_major_m:.1f} × {boxed.ellipse.semi_minor_m:.1f}",
        off,
        f"{boxed.used} / {boxed.out}",
        battery,
    )


def _fix(fix: Fixed) -> tuple[str, ...]:
    agree = "agree" if fix.agrees else "DISAGREE"
    if fix.suspect:
        agree += f", suspect {fix.suspect}"
        if fix.without is not None:
            agree += f": without it {dm_text(fix.without)}"
    if fix.second is not None:
        agree += f"; or at {dm_text(fix.second)}"
    residuals = ", ".join(
        f"{name} {round(gap, 1) + 0.0:+.1f} {unit}" for name, gap, unit in fix.lines
    )
    when = dtg(fix.at) + (", STALE" if fix.stale else "")
    return (
        fix.subject,
        when,
        dm_text(fix.position),
        f"{fix.depth_m:.0f} ± {fix.depth_sigma_m:.0f}",
        f"{fix.good_to_m:.1f}",
        agree,
        residuals,
    )
