"""Options side by side, the chain, what fits, the legs, and one sentence."""

from __future__ import annotations

from datetime import datetime, timedelta

from layers.earth.clock import clock_words, dtg
from layers.earth.table import Cell, Table
from layers.forward_port.home import report as home
from layers.forward_port.legs.sea_speed import SOURCE
from layers.forward_port.legs.ways_from import BySea, How
from layers.forward_port.ports.candidates import Candidates
from layers.forward_port.result import (
    ActivityForecast,
    ForwardPortResult,
    OptionForecast,
    PublishedPorts,
)

CAUTION = (
    "What is surveyed and what is only reported is said beside each port; a figure that is not "
    "known is neither yes nor no. Axle loads, the height under a crane's hook and drivers' rest "
    "are not held here: ask. Lifting and loading by a competent person. Routes are for "
    "planning, not for navigation. Speed loss in waves by "
    f"{SOURCE}."
)
_VERDICTS = ("fits", "does not fit", "not known")


def table(result: ForwardPortResult) -> Table:
    """Return the options side by side."""
    end = ends_with(result).capitalize()
    heads = (
        "Option",
        "Chosen",
        "Does not fit (count)",
        "Not known (count)",
        f"{end} P10 (Z)",
        f"{end} P50 (Z)",
        f"{end} P90 (Z)",
        "P50 after its zero (h)",
        "First sight P50 (Z)",
        "Ruled out by",
        "Not known, and would decide it",
    )
    rows = tuple(_row(each) for each in result.options if each.option.purpose == "rescue")
    return Table(heads=heads, rows=rows)


def ends_with(result: ForwardPortResult) -> str:
    """Return what each way ends with: its chain, or sailing where the rest is withheld.

    First out is counted to another event, on deck; an answer tells it.
    """
    return "ready to sail" if result.up_to_sailing else "end of chain"


def _row(each: OptionForecast) -> tuple[Cell, ...]:
    last = each.last
    hours = None if last is None else (last.p50 - each.option.zero).total_seconds() / 3600
    return (
        each.option.title,
        "chosen" if each.chosen else "",
        each.does_not_fit,
        each.not_known,
        # with a duration that nobody knows there is a least, and no spread
        None if last is None or each.at_least else dtg(last.p10),
        None if last is None else ("not before " if each.at_least else "") + dtg(last.p50),
        None if last is None or each.at_least else dtg(last.p90),
        None if hours is None or each.at_least else round(hours, 1),
        None if each.first_sight is None else dtg(each.first_sight.p50),
        each.problem or "; ".join(each.kills) or "nothing known",
        "; ".join(each.unknowns) or "nothing",
    )


def tables(result: ForwardPortResult) -> dict[str, Table]:
    """Return the chain, what fits, legs, other chains, choices and published ports."""
    found: dict[str, Table] = {}
    main = result.main()
    if main is not None and main.activities:
        found[f"Chain: {main.option.title}"] = chain_table(main)
    found["Fit"] = fit_table(result)
    found["Legs"] = _legs(result)
    for each in result.options:
        if each.option.purpose != "rescue" and each.activities:
            found[f"Chain: {each.option.title}"] = chain_table(each)
    found |= home.tables(result)
    found["Choices"] = Table(
        heads=("At (Z)", "Option", "Reason"),
        rows=tuple((dtg(at), choice.option, choice.reason) for choice, at, _ in result.choices),
        sources=tuple(record_id for _, _, record_id in result.choices),
    )
    if result.published is not None:
        near = "datum" if result.published.away is None else "area told"
        found[f"Published ports near the {near}"] = _published(result.published)
    return found


def chain_table(each: OptionForecast) -> Table:
    """Return one row an activity: plan, actual, expected, critical, an hour saved."""
    heads = (
        "Activity",
        "Planned start (Z)",
        "Planned finish (Z)",
        "Actual start (Z)",
        "Actual finish (Z)",
        "Expected finish P50 (Z)",
        "P90 (Z)",
        "Critical in (% of draws)",
        "Waits for its window in (%)",
        "An hour saved here saves (h)",
        "Uses",
        "Remarks",
    )
    return Table(
        heads=heads,
        rows=tuple(_chain_row(activity) for activity in each.activities),
        sources=tuple(activity.record_id for activity in each.activities),
    )


def _chain_row(activity: ActivityForecast) -> tuple[Cell, ...]:
    remarks = [activity.leg.said] if activity.leg is not None else []
    if activity.clearance:
        remarks.append(f"clearance {activity.clearance}")
    remarks += [activity.doubt] if activity.doubt else []
    return (
        activity.title,
        dtg(activity.planned_start),
        dtg(activity.planned_finish),
        _maybe(activity.started_at),
        _maybe(activity.finished_at),
        f"{'not before ' if activity.doubt else ''}{dtg(activity.finish.p50)}",
        None if activity.doubt else dtg(activity.finish.p90),
        round(100 * activity.critical),
        round(100 * activity.waits_for_window),
        round(activity.saves_h, 2),
        activity.resource,
        "; ".join(remarks),
    )


def fit_table(result: ForwardPortResult) -> Table:
    """Return every answer of every option, the worst first."""
    rows = [
        (
            each.option.title,
            answer.subject,
            answer.against,
            answer.what,
            str(answer.verdict),
            None if answer.need is None else round(answer.need, 2),
            answer.limit,
            answer.unit,
            answer.note,
        )
        for each in result.options
        for answer in each.fits
    ]
    order = {"does not fit": 0, "not known": 1, "fits": 2}
    rows.sort(key=lambda row: order[str(row[4])])
    heads = ("Option", "What", "Against", "Check", "Answer", "Needs", "Has", "Unit", "Note")
    return Table(heads=heads, rows=tuple(rows))


def _legs(result: ForwardPortResult) -> Table:
    rows = []
    seen = set()
    for each in result.options:
        for activity in each.activities:
            leg = activity.leg
            if leg is None or (each.option.purpose, leg.key) in seen:
                continue
            seen.add((each.option.purpose, leg.key))
            coast = "" if leg.mode != "sea" else "clear" if leg.coast_tested else "not tested"
            rows.append(
                (
                    activity.title,
                    each.option.title,
                    leg.mode,
                    round(leg.distance_nmi, 1),
                    round(leg.hours, 1),
                    leg.said,
                    leg.on_land or coast,
                )
            )
    heads = (
        "Leg",
        "First of",
        "By",
        "Distance (nmi)",
        "Time (h)",
        "From which fix, at which speed",
        "Coast",
    )
    return Table(heads=heads, rows=tuple(rows))


def _published(published: PublishedPorts) -> Table:
    heads = (
        "Port",
        "Country",
        "Straight from the datum (nmi)",
        "On (°T)",
        "By sea",
        "Pier depth (m)",
        "Tide (m)",
        "Depth",
        "Largest lift",
        "Nearest long runway",
        "Runway off (nmi)",
        "Runway by length and paving",
    )
    found: Candidates = published.found
    away = published.away
    rows = tuple(
        (
            name,
            published.countries[k],
            round(float(found.distance_nmi[k]), 1) if away is None else away[k],
            round(float(found.bearing_from_datum_deg[k])) if away is None else None,
            _by_sea(published.by_sea[k]),
            published.depths_m[k],
            published.tides_m[k],
            _depth_words(int(found.depth[k]), float(found.short_m[k]), published.tides_m[k]),
            published.lifts[k] or "not known",
            published.runways[k] or None,
            None if not published.runways[k] else round(float(found.runway_nmi[k]), 1),
            _VERDICTS[_place(int(found.runway[k]))],
        )
        for k, name in enumerate(published.names)
    )
    return Table(heads=heads, rows=rows)


def _by_sea(way: BySea | None) -> str:
    """Return how far a port is by sea; a way that is not known is no shorter than the straight."""
    if way is None:
        return "not known: no coastline here, or no place told"
    said = f"{way.nmi:.0f} nmi"
    return {
        How.STRAIGHT: str(How.STRAIGHT),
        How.ROUND: f"{said} round land",
        How.NOT_YET: f"more than {said}: land between, the way round it is not worked out yet",
        How.NONE: f"more than {said}: land between, no way round it was found (up a river the "
        "coastline has no water)",
    }[way.how]


def _depth_words(verdict: int, short_m: float, tide_m: float | None) -> str:
    """Return whether the pier is deep enough; what lacks at low water may come with the tide."""
    if short_m != short_m:
        return _VERDICTS[_place(verdict)]
    tide = "nobody tells its range" if tide_m is None else f"its range is {tide_m:g} m"
    return f"not known: {short_m:.1f} m short at low water; of the tide {tide}"


def _place(verdict: int) -> int:
    return {1: 0, 0: 1, -1: 2}[verdict]


def sentence(result: ForwardPortResult) -> str:
    """Return when the chain ends and what holds it up, and the way home, to be read out."""
    return " ".join(filter(None, (_first_rescue(result), _way_home(result))))


def _way_home(result: ForwardPortResult) -> str:
    if result.home is None or not (result.home.things or result.home.places):
        return ""
    return home.sentence(result.home, result.now)


def reported(result: ForwardPortResult) -> dict[str, str]:
    """Return what the situation report says by paragraph: a chain that is done is no plan."""
    main = result.main()
    if main is None or main.problem or main.last is None or main.done_at is None:
        return {"M": sentence(result)}
    return {"J": _first_rescue(result), "M": _way_home(result)}


def _first_rescue(result: ForwardPortResult) -> str:
    main = result.main()
    if main is None and (there := arrivals(result)):
        return " ".join(there)
    if main is None:
        count = result.published.ports if result.published else len(result.ports)
        return f"No option is entered yet; {count} ports are known."
    name = main.option.title
    if main.problem:
        return f"{name} cannot be worked: {main.problem}."
    if main.last is None:
        return f"{name} has no chain of activities yet."
    since = main.option.zero
    if main.done_at is not None and result.up_to_sailing:
        return f"{name} was ready to sail {dtg(main.done_at)}; what follows is withheld here."
    if main.done_at is not None:
        return (
            f"{name}: the last of its chain was done {dtg(main.done_at)}, "
            f"{hours_words(main.done_at - since)} after {main.option.zero_is}."
        )
    took = hours_words(main.last.p50 - since)
    spread = (
        f"P50 {dtg(main.last.p50)} (P10 {clock_words(main.last.p10, main.last.p50)}, P90 "
        f"{dtg(main.last.p90)})"
    )
    said = f"not before {dtg(main.last.p50)}" if main.at_least else spread
    chosen = "" if main.chosen else " (not chosen yet)"
    words = (
        f"{ends_with(result).capitalize()} {said} by {name}{chosen}, {took} after "
        f"{main.option.zero_is}"
    )
    words += _held_up(main, result.now)
    if main.kills:
        words += f" It is ruled out by: {main.kills[0]}."
    elif main.unknowns:
        words += f" Not known and would decide it: {main.unknowns[0]}."
    if not main.sea_known:
        words += " The sea is not forecast that far."
    if result.up_to_sailing:
        words += " What follows when she sails is withheld here."
    return words + _other(result, main)


def arrivals(result: ForwardPortResult) -> list[str]:
    """Return when each ship of which only the way is told is at the datum, a sentence each."""
    found = []
    for each in result.options:
        if each.option.purpose != "arrival":
            continue
        if each.last is None:
            found.append(f"{each.option.title} cannot be worked: {each.problem}.")
            continue
        took = hours_words(each.last.p50 - each.option.zero)
        found.append(
            f"{each.option.title}: there {dtg(each.last.p50)} (P10 "
            f"{clock_words(each.last.p10, each.last.p50)}, P90 "
            f"{clock_words(each.last.p90, each.last.p50)}), {took} after sailing "
            f"{clock_words(each.option.zero, each.last.p50)}."
        )
    return found


def _held_up(main: OptionForecast, now: datetime) -> str:
    left = [activity for activity in main.activities if activity.finished_at is None]
    if not left:
        return "."
    # Of what decides the end in most draws, the one that still takes longest.
    often = max(activity.critical for activity in left)
    deciding = [activity for activity in left if activity.critical >= 0.8 * often]
    most = max(deciding, key=lambda a: a.finish.p50 - max(a.start.p50, now))
    words = f", held up by “{most.title}” (critical in {100 * most.critical:.0f} % of draws)"
    best = max(left, key=lambda activity: (round(activity.saves_h, 1), activity is most))
    if best.saves_h > 0.05:
        where = "there" if best is most else f"in “{best.title}”"
        words += f"; an hour saved {where} brings it {60 * best.saves_h:.0f} min forward"
    waits = max(left, key=lambda activity: activity.waits_for_window)
    if waits.waits_for_window > 0.05:
        share = 100 * waits.waits_for_window
        words += f"; “{waits.title}” waits for the sea or daylight in {share:.0f} % of draws"
    return words + "."


def _other(result: ForwardPortResult, main: OptionForecast) -> str:
    rest = [
        each
        for each in result.options
        if each is not main and each.option.purpose == "rescue" and each.last is not None
    ]
    if not rest or main.last is None:
        return ""
    _, _, p50, place = min(
        (bool(each.kills), each.not_known > 0, each.last.p50, n)
        for n, each in enumerate(rest)
        if each.last
    )
    soonest = rest[place]
    later = hours_words(abs(p50 - main.last.p50))
    side = "later" if p50 >= main.last.p50 else "sooner"
    but = ""
    if soonest.kills:
        but = ", but something rules it out"
    elif soonest.unknowns:
        count = len(soonest.unknowns)
        but = f", but {count} things that would decide it are not known"
        but = but.replace("1 things that would decide it are", "1 thing that would decide it is")
    return f" Next best: {soonest.option.title}, {later} {side}{but}."


def hours_words(span: timedelta) -> str:
    """Return a span in hours and minutes, never in days: ``67 h 20``."""
    minutes = round(span.total_seconds() / 60.0)
    hours, left = divmod(abs(minutes), 60)
    sign = "−" if minutes < 0 else ""
    return f"{sign}{hours} h {left:02d}" if hours else f"{sign}{left} min"


def _maybe(at: datetime | None) -> str | None:
    return None if at is None else dtg(at)
