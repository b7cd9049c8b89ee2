"""The chain as bars against time: as planned, as it happened, as it is expected now."""

from __future__ import annotations

from datetime import datetime

from dashboard.panels.drawing import CLOCK, UTC_TIME, Spec, dressed
from layers.earth.chart.marks import Style
from layers.earth.clock import iso
from layers.forward_port.result import ActivityForecast, OptionForecast
from layers.scene.ink import Ink

ROW_PX = 25
AXIS_PX = 40  # the times under the bars
OFTEN = 0.5  # critical in at least half the draws


def chain_bars(each: OptionForecast, now: datetime, ink: Ink) -> Spec:
    """Return a drawing with one row an activity, its data inside; times are UTC.

    The plan is a thin line, what happened a filled bar, what is expected an outlined one to its
    P50 with a whisker to its P90; what decides the end is marked in words.
    """
    rows = [row for activity in each.activities for row in _rows(activity, now)]
    order = [_name(activity) for activity in each.activities]
    y = {
        "field": "name",
        "type": "nominal",
        "sort": order,
        "axis": {"title": None, "labelLimit": 460, "ticks": False, "domain": False},
    }
    x = {
        "field": "from",
        **UTC_TIME,
        "axis": {"title": None, "format": CLOCK, "labelAngle": 0, "tickCount": 7},
    }
    tip = [{"field": "tip", "type": "nominal", "title": "Times"}]

    def part(kind: str, mark: Spec) -> Spec:
        return {
            "transform": [{"filter": f"datum.kind == '{kind}'"}],
            "mark": mark,
            "encoding": {"y": y, "x": x, "x2": {"field": "to"}, "tooltip": tip},
        }

    solid, line, quiet = ink.of(Style.ROUTE), ink.ink, ink.quiet
    return dressed({
        "data": {"values": rows},
        "height": ROW_PX * len(order) + AXIS_PX,
        "layer": [
            part("plan", {"type": "bar", "height": 4, "yOffset": 9, "color": quiet}),
            part("actual", {"type": "bar", "height": 12, "color": solid}),
            part(
                "expected",
                {"type": "bar", "height": 12, "color": "transparent", "stroke": line,
                 "strokeWidth": 1.5, "strokeDash": [4, 3]},
            ),
            part("late", {"type": "rule", "color": line, "strokeDash": [2, 3]}),
            {
                "data": {"values": [{"now": iso(now)}]},
                "mark": {"type": "rule", "color": line, "strokeDash": [2, 3]},
                "encoding": {"x": {"field": "now", **UTC_TIME}},
            },
        ],
    }, ink)  # fmt: skip


def _rows(activity: ActivityForecast, now: datetime) -> list[Spec]:
    name, tip = _name(activity), _tip(activity)

    def bar(kind: str, start: datetime, finish: datetime) -> Spec:
        return {"name": name, "kind": kind, "from": iso(start), "to": iso(finish), "tip": tip}

    found = [bar("plan", activity.planned_start, activity.planned_finish)]
    started, finished = activity.started_at, activity.finished_at
    if finished is not None:
        return [*found, bar("actual", started or activity.start.p50, finished)]
    if started is not None:
        found.append(bar("actual", started, max(started, now)))
    begin = max(now, started) if started is not None else activity.start.p50
    found.append(bar("expected", begin, max(begin, activity.finish.p50)))
    if not activity.doubt:
        found.append(bar("late", activity.finish.p50, activity.finish.p90))
    return found


def _name(activity: ActivityForecast) -> str:
    if activity.finished_at is not None:
        return f"{activity.title} — done"
    share = f" — decides in {100 * activity.critical:.0f} %" if activity.critical >= OFTEN else ""
    unknown = "" if activity.known else " — how long is not known"
    return f"{activity.title}{share}{unknown}"


def _tip(activity: ActivityForecast) -> str:
    words = [f"planned {activity.planned_start:%d %H%MZ} to {activity.planned_finish:%d %H%MZ}"]
    if activity.started_at is not None:
        words.append(f"began {activity.started_at:%d %H%MZ}")
    if activity.finished_at is not None:
        words.append(f"done {activity.finished_at:%d %H%MZ}")
    elif activity.doubt:
        words.append(f"not done before {activity.finish.p50:%d %H%MZ}: {activity.doubt}")
    else:
        words.append(f"expected done P50 {activity.finish.p50:%d %H%MZ}")
        words.append(f"P90 {activity.finish.p90:%d %H%MZ}")
    return ", ".join(words)
