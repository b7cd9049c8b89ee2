"""The muster beside the chart: how many are out, how many to go, who is where."""

from __future__ import annotations

from dashboard.panels.text import line, panel, words
from dashboard.view import Seen
from layers.contract import Shown
from layers.earth.clock import clock_words, duration_words, relative_words

MISSING = "not accounted for"


def show(seen: Seen) -> None:
    """Show the muster, or what would fill its place."""
    found = seen.picture.layers.get("survivors")
    if not isinstance(found, Shown):
        panel(words(found.reason if found else "no muster yet"))
        return
    muster = found.result.muster
    out = f'<span class="mp-big">OUT {muster.out}</span>'
    to_go = f'<span class="mp-big">TO GO {muster.to_go}</span>'
    parts = [line(out, "&ensp;", to_go, words(f"of {muster.pob} on board"))]
    places = " · ".join(
        f"{place} {count}" for place, count in muster.by_place.items() if count and place != MISSING
    )
    parts.append(line(words(places)))
    if muster.not_accounted:
        parts.append(line(f"<b>{words(f'{muster.not_accounted} not accounted for')}</b>"))
    for conflict in muster.conflicts[:3]:
        parts.append(line(words(f"? {conflict.place}: {conflict.text}", "mp-quiet")))
    if muster.last_report_at is not None:
        ago = relative_words(muster.last_report_at, seen.moment.at)
        heard = clock_words(muster.last_report_at, seen.moment.at)
        told = f"last report {heard}, {ago}, {muster.last_report_source}"
        parts.append(line(words(told, "mp-quiet")))
    parts.append(_alert(seen))
    panel("".join(parts))


def _alert(seen: Seen) -> str:
    """Return the stages of alert with the clock since each, and the time to the next."""
    watch = seen.watch
    if not watch.stages:
        return ""
    told = [f"{clock.stage} +{duration_words(clock.since)}" for clock in watch.stages]
    following = [event for event in watch.events if event.sort == "stage"]
    told += [event.words(seen.moment.at) for event in following[:1]]
    return line(words("; ".join(told), "mp-quiet"))
