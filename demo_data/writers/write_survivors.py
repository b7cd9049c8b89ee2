"""The people of the exercise: complement, reports, moves, air and stores, as typed by the watch.

Invented from end to end. Counts agree with ``scenario.py``; the gas readings are made with the
air model itself from a hidden truth, so that the exercise teaches what the model can learn.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from demo_data import scenario as s, survivors_truth as truth
from demo_data.scenario import z
from demo_data.writers.rows import UWT, write_rows
from demo_data.writers.survivors_air import (
    air_of,
    boat,
    levels,
    report,
    seat,
    water_coming_in,
)
from demo_data.writers.survivors_rows import group, line, move, opinion, place
from demo_data.writers.survivors_surface import surface_and_ashore


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


ALL_LIFTS: tuple[tuple[int, str, datetime, datetime, str, list[tuple[int, str]]], ...] = (
    # lift, from, hatch shut, on board, to, who
    (1, "after", truth.FIRST_OUT, z(16, "0555"), "chamber 1", [(16, "walking")]),
    (2, "after", truth.SECOND_OUT, z(17, "0820"), "chamber 2", [(13, "walking"), (1, "stretcher")]),
    (3, "forward", truth.THIRD_OUT, z(17, "1415"), "deck", [(16, "walking")]),
    (4, "forward", truth.FOURTH_OUT, z(17, "2025"), "deck", [(4, "walking"), (4, "stretcher")]),
)


def lifts() -> list[dict[str, Any]]:
    """Return who was moved by each lift; the first is out by 160635Z, the rest plays later."""
    found = []
    for number, refuge, shut, aboard, to, who in ALL_LIFTS:
        pressure = 2.3 if refuge == "after" else None
        found.append(
            move(
                f"survivors-lift-{number}-in",
                shut,
                refuge,
                "vehicle",
                [group(persons, fitness, pressure) for persons, fitness in who],
                f"lift {number}: hatch shut at the {refuge} seat",
                s.VEHICLE,
            )
        )
        how = "transferred under pressure" if pressure else "landed at the surface pressure"
        found.append(
            move(
                f"survivors-lift-{number}-aboard",
                aboard,
                "vehicle",
                to,
                [group(persons, fitness) for persons, fitness in who],
                f"lift {number}: {how} on board {s.SUPPORT_SHIP}",
                s.SUPPORT_SHIP,
            )
        )
    return found


def to_the_end() -> list[dict[str, Any]]:
    """Return decompression done, six medical flights, return, and those named as missing."""
    ship, flight = s.SUPPORT_SHIP, "medical flight"
    missing = "named as missing"
    names = tuple(f"M-{number:02d} (name held by the squadron)" for number in range(1, 15))
    return [
        place("survivors-place-ashore", "ashore", "ashore"),
        place("survivors-place-missing", missing, "missing"),
        move(
            "survivors-flight-1",
            z(14, "0930"),
            "picked up",
            "hospital",
            [group(1, "stretcher")],
            "escapee, kept at cabin pressure of the ground",
            flight,
        ),
        move(
            "survivors-chamber-1-out",
            z(17, "1100"),
            "chamber 1",
            "deck",
            [group(16, "walking")],
            "decompressed by the exercise's schedule",
            ship,
        ),
        move(
            "survivors-flight-2",
            z(18, "0800"),
            "deck",
            "hospital",
            [group(4, "stretcher")],
            "two flights, two stretchers each",
            flight,
        ),
        move(
            "survivors-chamber-2-out",
            z(18, "1200"),
            "chamber 2",
            "deck",
            [group(13, "walking"), group(1, "stretcher")],
            "decompressed by the exercise's schedule",
            ship,
        ),
        move(
            "survivors-flight-3",
            z(19, "1400"),
            "deck",
            "hospital",
            [group(1, "stretcher")],
            "flown below 300 m, a day after leaving pressure",
            flight,
        ),
        move(
            "survivors-ashore",
            z(20, "0830"),
            "deck",
            "ashore",
            [group(49, "walking")],
            "landed at Aldermouth",
            ship,
        ),
        move(
            "survivors-ashore-escapee",
            z(20, "0900"),
            "picked up",
            "ashore",
            [group(1, "walking")],
            "landed at Aldermouth",
            "SALTMARSH",
        ),
        move(
            "survivors-surface-missing",
            z(20, "1100"),
            "on the surface",
            missing,
            [group(2, "unknown", names=list(names[:2]))],
            "two seen on 13 March and not found; the coordinator's decision, signed",
            "rescue coordinator",
        ),
        move(
            "survivors-missing",
            z(20, "1100"),
            "not accounted for",
            missing,
            [group(12, "unknown", names=list(names[2:]))],
            "both refuges searched by the last lift, nobody found",
            "rescue coordinator",
        ),
    ]


def records() -> list[dict[str, Any]]:
    """Return every record of the people, in the order heard."""
    made = [
        *complement(),
        *boat(),
        *before_the_first_lift(),
        *levels(),
        *water_coming_in(),
        *(record for refuge in truth.REFUGES for record in air_of(refuge)),
        *lifts(),
        *surface_and_ashore(),
        *to_the_end(),
    ]
    return sorted(made, key=lambda record: record["heard_at"])


def write(folder: Path) -> None:
    """Write ``survivors/records.jsonl`` under ``folder``."""
    write_rows(folder / "survivors", records())


if __name__ == "__main__":
    write(s.FOLDER)
