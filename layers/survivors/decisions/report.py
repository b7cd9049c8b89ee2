"""The decisions weighed, as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

from layers.earth.clock import dtg, from_us
from layers.earth.table import Cell, Table
from layers.earth.uncertain import NotKnown
from layers.survivors.decisions.gain import Change, Gain, Standing
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.spread import said_chance
from layers.survivors.report_words import NOT_REACHED, at_words, persons_words, row_sources

COUNTS_AS = {
    Standing.GAINS: "a gain", Standing.OPEN: "cannot be said", Standing.COSTS: "no gain",
}  # fmt: skip


def gain_table(outlook: Outlook) -> Table:
    """Return the decisions that change anything, what gains most in front, with error bars."""
    assert outlook.decisions is not None
    told = (Standing.GAINS, Standing.OPEN, Standing.COSTS)
    shown = [gain for gain in outlook.decisions.gains if gain.standing in told]
    return Table(
        heads=(
            "Decision",
            "Taken",
            "People out in time (persons)",
            "Chance of all (of 100)",
            "P50 of worst margin if nobody leaves (h)",
            "P10 of worst margin if nobody leaves (h)",
            "Last out earlier by (h)",
            "Counts as",
        ),
        rows=tuple(_gain_row(gain) for gain in shown),
        sources=row_sources(outlook, len(shown)),
    )


def _gain_row(gain: Gain) -> tuple[Cell, ...]:
    return (
        gain.title,
        "no" if not gain.taken else _since(gain),
        change_words(gain.persons, 1),
        change_words(_hundred(gain.all_out), 0),
        change_words(gain.p50_h, 0),
        change_words(gain.p10_h, 0),
        change_words(gain.sooner_h, 1),
        COUNTS_AS[gain.standing],
    )


def _since(gain: Gain) -> str:
    return "yes" if gain.taken_us is None else f"since {dtg(from_us(gain.taken_us))}"


def _hundred(change: Change | None) -> Change | None:
    if change is None:
        return None
    return Change(value=change.value * 100.0, bar=change.bar * 100.0)


def gain_sentences(gains: Sequence[Gain]) -> tuple[str, ...]:
    """Return in a line each: what changes nothing, what is no gain, what cannot be run."""
    by: dict[Standing, list[Gain]] = {one: [] for one in Standing}
    said = [f"{gain.title}: a gain only if {gain.only_if}." for gain in gains if gain.only_if]
    for gain in gains:
        if not gain.only_if:
            by[gain.standing].append(gain)
    if nothing := by[Standing.NOTHING]:
        verb = "changes" if len(nothing) == 1 else "change"
        others = "others" if len(nothing) > 1 else "other"
        titles = "; ".join(gain.title for gain in nothing)
        said.append(f"{len(nothing)} {others} {verb} nothing: {titles}.")
    said += [f"{gain.title}: {_open_words(gain)}: which weighs more cannot be said."
             for gain in by[Standing.OPEN]]  # fmt: skip
    said += [f"{gain.title}: {_cost_words(gain)}, no gain." for gain in by[Standing.COSTS]]
    said += [f"{gain.title}: cannot be run, {gain.reason}." for gain in by[Standing.CANNOT]]
    return tuple(said)


def left_out_words(outlook: Outlook) -> str:
    """Return which refuges no decision is weighed on, empty when there is none."""
    unknown = [one.refuge for one in outlook.refuges if not one.known]
    return f"Left out, how long they can last is not known: {', '.join(unknown)}." * bool(unknown)


def _open_words(gain: Gain) -> str:
    """Return what it does where enough is known, and when the last is out where it is not."""
    said = [_cost_words(gain)] if any(gain.weight) else []
    for (refuge, _), hours in zip(gain.open, gain.open_h, strict=True):
        if hours:
            way = "sooner" if hours > 0 else "later"
            said.append(f"the last of {refuge} {abs(hours):.1f} h {way}, of whom it is not known "
                        "how long they can last")  # fmt: skip
    return ", ".join(said)


def _cost_words(gain: Gain) -> str:
    people, chance, hours = gain.weight
    if people:
        return f"{change_words(gain.persons, 1)} persons out in time"
    if chance:
        return f"{change_words(_hundred(gain.all_out), 0)} of 100 for all of them"
    return f"{hours:+.1f} h".replace("-", "−")


def change_words(change: Change | None, places: int) -> str:
    """Return a change with its sign and error bar: ``+22.0 ± 0.4``."""
    if change is None:
        return "not run"
    if change.value == math.inf:
        return "from none to all out"
    if change.value == -math.inf:
        return "from all out to none"
    if math.isnan(change.value):
        return "not known"
    sign = "+" if change.value > 0 else "−" if change.value < 0 else ""
    said = f"{sign}{abs(change.value):.{places}f}"
    return said if math.isnan(change.bar) else f"{said} ± {change.bar:.{places}f}"


def relaxed_table(outlook: Outlook) -> Table:
    """Return each limit moved by one unit, the one that gives most first."""
    assert outlook.decisions is not None
    rows = tuple(
        (one.what, change_words(one.persons, 2), change_words(one.p50_h, 1))
        for one in outlook.decisions.relaxed
    )
    heads = ("If", "People out in time (persons)", "P50 of worst margin (h)")
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def latest_table(outlook: Outlook) -> Table:
    """Return until when the next dive of each branch can wait and keep the chance wanted."""
    assert outlook.decisions is not None
    wanted = round(outlook.decisions.chance_wanted * 100.0)
    rows = tuple(
        (
            one.branch,
            round(one.chance_now * 100.0),
            "too late already"
            if one.latest_us is None
            else f"after {dtg(from_us(one.latest_us))}, as far as tried"
            if one.beyond
            else dtg(from_us(one.latest_us)),
        )
        for one in outlook.decisions.latest
    )
    heads = ("Branch", "All out in time now (%)", f"Latest next dive that keeps {wanted} %")
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def regret_table(outlook: Outlook) -> Table:
    """Return people out in time of each plan in each case, and its worst regret."""
    assert outlook.decisions is not None
    held = outlook.decisions.regret
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            row.plan,
            *(
                f"{out:.1f} ({'−' if short >= 0.05 else ''}{short:.1f})"
                for out, short in zip(row.out_in_time, row.regret, strict=True)
            ),
            round(row.worst_regret, 1),
        )
        for row in held.rows
    )
    unread = " and ".join(held.unread)
    if unread and not rows:
        said = f"not known: the air of {unread}"
        rows = (("every plan", *(said for _ in held.cases), said),)
    without = f", without those in {unread}, whose air is not known" if unread and held.rows else ""
    heads = (
        "Plan",
        *(f"{case} (persons{without})" for case in held.cases),
        "Worst regret (persons)",
    )
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def reading_table(outlook: Outlook) -> Table:
    """Return which measurement would most often change the choice of plan."""
    assert outlook.decisions is not None
    rows = tuple(
        (one.what, round(one.changes * 100.0), round(one.persons, 2))
        for one in outlook.decisions.readings
    )
    heads = ("Reading", "Would change the choice (%)", "Expected gain (persons)")
    return Table(heads=heads, rows=rows, sources=row_sources(outlook, len(rows)))


def _first_level(outlook: Outlook, hours: float | None) -> str:
    return "not known" if hours is None else at_words(outlook, hours, NOT_REACHED)


def _waiting_words(outlook: Outlook, refuge: str) -> str:
    """Return how many who wait are expected out in time, and the chance that it is all of them."""
    one = outlook.of(refuge)
    if one is None or isinstance(one.chance, NotKnown):
        return "not known"
    return f"{persons_words(one.out_in_time)} expected; all in time {said_chance(one.chance)}"


def escape_table(outlook: Outlook) -> Table:
    """Return escape against waiting as consequences side by side, with no recommendation."""
    assert outlook.decisions is not None
    rows: list[tuple[Cell, ...]] = []
    for one in outlook.decisions.escape:
        inside = "not known" if one.inside_fsw is None else f"{one.inside_fsw:.0f} fsw"
        waves = "not known" if one.hs_next_12_h_m is None else f"{one.hs_next_12_h_m:.1f} m"
        risk = one.stated_risk or "no published figure covers this depth and pressure"
        rows += [
            (one.refuge, "persons (stretcher)", *[f"{one.persons} ({one.stretcher})"] * 2),
            (
                one.refuge,
                "out in time",
                _waiting_words(outlook, one.refuge),
                "at once, those able to escape",
            ),
            (
                one.refuge,
                "what runs out",
                f"first level {_first_level(outlook, one.waiting_first_level_h)}; "
                f"last out {at_words(outlook, one.waiting_last_out_h)}",
                "time in the water; a survival time never ends a search",
            ),
            (
                one.refuge,
                "decompression sickness",
                "by the entered schedule, in a chamber",
                f"{one.depth_fsw:.0f} fsw deep, {inside} inside: {risk} (Parker et al 2000)",
            ),
            (
                one.refuge,
                "at the surface",
                f"{one.chamber_places} chamber places free now, by lifts",
                f"{one.chamber_places} chamber places free for all at once; highest Hs of the next "
                f"12 h {waves}",
            ),
        ]
    return Table(
        heads=("Refuge", "Consequence", "Waiting", "Escape"),
        rows=tuple(rows),
        sources=row_sources(outlook, len(rows)),
    )
