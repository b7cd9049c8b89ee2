"""The people of the exercise: complement, reports, moves, air and stores, as typed by the watch.

Invented from end to end. Counts agree with ``scenario.py``; the gas readings are made with the
air model itself from a hidden truth, so that the exercise teaches what the model can learn.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z

HEARD_AFTER = timedelta(minutes=4)
WATCH = ("watch officer 1", "watch officer 2", "watch officer 3", "watch officer 4")
UWT = "underwater telephone, GREY HERON"


def line(
    form: str,
    kind: str,
    at: datetime,
    payload: dict[str, Any],
    *,
    source: str,
    heard: datetime | None = None,
) -> dict[str, Any]:
    """Return one typed record as it stands in records.jsonl."""
    heard_at = heard or at + HEARD_AFTER
    # Four watches of six hours, handed over at 00, 06, 12 and 18.
    author = WATCH[heard_at.hour // 6]
    return {
        "id": form,
        "kind": kind,
        "valid_at": f"{at:%Y-%m-%dT%H:%MZ}",
        "heard_at": f"{heard_at:%Y-%m-%dT%H:%MZ}",
        "source": source,
        "author": author,
        "payload": payload,
    }


def complement() -> list[dict[str, Any]]:
    """Return who was on board: 69 on the list and two riders, one of them disputed for an hour."""
    base = "squadron office"
    return [
        line(
            "survivors-list",
            "survivors.complement",
            z(12, "2200"),
            {"part": "sailing list", "persons": s.SAILING_LIST},
            source=base,
            heard=z(13, "0712"),
        ),
        line(
            "survivors-rider-1",
            "survivors.complement",
            z(12, "2200"),
            {"part": "rider, trials engineer", "persons": 1},
            source=base,
            heard=z(13, "0712"),
        ),
        line(
            "survivors-rider-2",
            "survivors.complement",
            z(12, "2200"),
            {"part": "rider, observer", "persons": 1},
            source=base,
            heard=z(13, "1040"),
        ),
        opinion(
            "survivors-rider-2-doubt",
            "journal.dispute",
            z(13, "1105"),
            "survivors-rider-2",
            "gate log has him leaving; being asked",
        ),
        opinion(
            "survivors-rider-2-settled",
            "journal.dispute",
            z(13, "1205"),
            "survivors-rider-2",
            "gate log was the day before; he is on board",
            settled=True,
        ),
    ]


def opinion(
    form: str, kind: str, at: datetime, target: str, reason: str, **more: Any
) -> dict[str, Any]:
    """Return what is thought of another form's record."""
    from layers.journal.record import form_identity, record_id

    payload = {"target": record_id(form_identity(target)), "reason": reason, **more}
    return line(form, kind, at, payload, source="watch")


def group(persons: int, fitness: str, bar: float | None = None, **more: Any) -> dict[str, Any]:
    """Return a group of a move, its exposure in bar absolute when known."""
    made: dict[str, Any] = {"persons": persons, "fitness": fitness, **more}
    if bar is not None:
        made["exposure"] = {"value": bar, "unit": "bar", "reference": "absolute"}
    return made


def move(
    form: str,
    at: datetime,
    origin: str,
    to: str,
    groups: list[dict[str, Any]],
    reason: str,
    source: str,
) -> dict[str, Any]:
    """Return one move of people."""
    payload = {"from_place": origin, "to_place": to, "groups": groups, "reason": reason}
    return line(form, "survivors.move", at, payload, source=source)


def before_the_first_lift() -> list[dict[str, Any]]:
    """Return the escapees, what the telephone told, and the seats as inspected."""
    lost = "not accounted for"
    surface, patrol = "on the surface", "SALTMARSH"
    forward_fit = s.FORWARD - s.FORWARD_STRETCHER
    after_fit = s.AFTER - s.AFTER_STRETCHER
    told = s.TELEPHONE
    return [
        move(
            "survivors-escapees",
            s.ESCAPEES_SEEN,
            lost,
            surface,
            [group(s.ESCAPED_SEEN, "unknown")],
            "five in the water, one raft, seen from the bridge",
            patrol,
        ),
        move(
            "survivors-picked-up",
            z(13, "1610"),
            surface,
            "picked up",
            [group(1, "walking"), group(1, "stretcher")],
            "recovered by sea boat; escaped from the after refuge",
            patrol,
        ),
        move(
            "survivors-dead",
            z(13, "1625"),
            surface,
            "dead",
            [group(1, "unknown")],
            "recovered by sea boat, pronounced dead on board",
            patrol,
        ),
        report("survivors-told-forward", told, "forward", s.FORWARD, s.FORWARD_STRETCHER, 1.1),
        report("survivors-told-after", told, "after", s.AFTER, s.AFTER_STRETCHER, 2.1),
        move(
            "survivors-forward",
            told,
            lost,
            "forward",
            [group(forward_fit, "walking", 1.1), group(s.FORWARD_STRETCHER, "stretcher", 1.1)],
            "headcount by underwater telephone",
            UWT,
        ),
        move(
            "survivors-after",
            told,
            lost,
            "after",
            [group(after_fit, "walking", 2.1), group(s.AFTER_STRETCHER, "stretcher", 2.1)],
            "headcount by underwater telephone",
            UWT,
        ),
        seat("survivors-seat-a", z(14, "1120"), "A", "after", "clear"),
        seat("survivors-seat-f", z(14, "1205"), "F", "forward", "fouled", "by a cable"),
        seat("survivors-seat-f-clear", z(15, "0930"), "F", "forward", "clear", "cable cut"),
    ]


def report(
    form: str, at: datetime, place: str, persons: int, stretcher: int, bar: float
) -> dict[str, Any]:
    """Return a headcount by underwater telephone."""
    payload = {
        "place": place,
        "persons": persons,
        "walking": persons - stretcher,
        "stretcher": stretcher,
        "pressure": {"value": bar, "unit": "bar", "reference": "absolute"},
    }
    return line(form, "survivors.report", at, payload, source=UWT)


def seat(
    form: str, at: datetime, name: str, refuge: str, state: str, remark: str = ""
) -> dict[str, Any]:
    """Return the state of a rescue seat as the inspection vehicle saw it."""
    payload = {"seat": name, "refuge": refuge, "state": state, "remark": remark}
    return line(form, "survivors.seat", at, payload, source="inspection vehicle")


def first_lift() -> list[dict[str, Any]]:
    """Return the first lift from the after seat: 16 out by 160635Z."""
    vehicle = s.VEHICLE
    out = [group(16, "walking", 2.2)]
    return [
        move(
            "survivors-lift-1-in",
            z(16, "0420"),
            "after",
            "vehicle",
            out,
            "transferred through the after seat, hatch shut 0420Z",
            vehicle,
        ),
        move(
            "survivors-lift-1-chamber",
            z(16, "0610"),
            "vehicle",
            "chamber 1",
            [group(16, "walking")],
            "transferred under pressure on board NORTHERN LANTERN",
            s.SUPPORT_SHIP,
        ),
    ]


def records() -> list[dict[str, Any]]:
    """Return every record of the people, in the order heard."""
    made = [*complement(), *before_the_first_lift(), *first_lift()]
    return sorted(made, key=lambda record: record["heard_at"])


def write(folder: Path) -> None:
    """Write ``survivors/records.jsonl`` under ``folder``."""
    target = folder / "survivors"
    target.mkdir(parents=True, exist_ok=True)
    text = "\n".join(json.dumps(record, ensure_ascii=False) for record in records())
    (target / "records.jsonl").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(s.FOLDER)
