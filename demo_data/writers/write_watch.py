"""The watch's own work in the exercise: stages, decisions, tasks, listening times, handovers.

Invented from end to end. Times agree with ``scenario.py``; the watch is relieved every six
hours, and four of the handovers are written out.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.rows import WATCH, Row, ident, stamp, watch_row, write_rows
from demo_data.writers.watch_decisions import decisions, points
from demo_data.writers.watch_tasks import listening, tasks


def stages() -> list[Row]:
    """Return the three stages of alert."""
    return [
        watch_row(
            "watch-sublook",
            "stage",
            s.SUBLOOK,
            {
                "stage": "SUBLOOK",
                "basis": "report due at 0600Z missed; calls unanswered for an hour",
                "next_stage": "SUBMISS",
                "next_due": stamp(s.SUBMISS),
            },
        ),
        watch_row(
            "watch-submiss",
            "stage",
            s.SUBMISS,
            {
                "stage": "SUBMISS",
                "basis": "nothing heard on any circuit three hours after the missed report",
                "next_stage": "SUBSUNK",
                "next_due": stamp(s.SUBSUNK),
            },
        ),
        watch_row(
            "watch-subsunk",
            "stage",
            s.SUBSUNK,
            {
                "stage": "SUBSUNK",
                "basis": "slick and parted indicator buoy on her track, nothing heard since 2200Z",
            },
        ),
        watch_row(
            "watch-ended",
            "stage",
            z(20, "1150"),
            {"stage": "ended", "basis": "all accounted for or named as missing"},
        ),
    ]


def handovers() -> list[Row]:
    """Return the four handovers that were written out, each signed by both watches."""
    given = (
        (z(13, "1800"), "SUBSUNK declared; bearings crossing, one doubted; two still in the water"),
        (
            z(14, "0600"),
            "Found; two refuges speak; 12 not accounted for; plan is now Aldermouth",
        ),
        (z(15, "1800"), "Ship under way with LIMPET; A clear, F cleared; front due 16 March 1000Z"),
        (z(16, "0600"), "First sixteen out of A; second lift is held until the swell falls"),
    )
    rows = []
    for number, (at, matters) in enumerate(given, start=1):
        off, on = WATCH[at.hour // 6 - 1], WATCH[at.hour // 6]
        form = f"watch-handover-{number}"
        rows.append(
            watch_row(
                form,
                "handover",
                at - timedelta(minutes=5),
                {
                    "given_by": off,
                    "given_to": on,
                    "since": stamp(at - timedelta(hours=6)),
                    "matters": matters,
                },
                author=off,
            )
        )
        rows.append(
            watch_row(
                f"watch-takeover-{number}",
                "takeover",
                at,
                {"target": ident(form), "taken_by": on},
                author=on,
            )
        )
    return rows


def desk() -> list[Row]:
    """Return who holds which office, who is called on what, and the situation reports sent."""
    offices = (
        (s.SUBLOOK, "coordinator ashore", "rescue coordinator", "operations room, line 1"),
        (z(13, "1310"), "on-scene coordinator", "SALTMARSH", "call sign TIDEWATCH"),
        (z(13, "1420"), "medical", "exercise medical officer", "operations room, line 4"),
        (z(15, "2245"), "on-scene coordinator", s.SUPPORT_SHIP, "call sign LONGSHORE"),
    )
    circuits = (
        (z(13, "0915"), "ships on task", "voice circuit A, call sign TIDEWATCH"),
        (s.TELEPHONE, "both refuges", "underwater telephone, call sign DEEPWELL"),
        (z(15, "2300"), s.VEHICLE, "through-water voice, call sign SHELLBACK"),
    )
    sent = (
        z(13, "0910"), z(13, "1315"), z(13, "1830"), z(13, "2345"), z(14, "0830"),
        z(14, "2030"), z(15, "0830"), z(15, "2100"), z(16, "0540"),
    )  # fmt: skip
    rows = [
        watch_row(
            f"watch-office-{n}", "in_charge", at, {"office": office, "who": who, "reach": reach}
        )
        for n, (at, office, who, reach) in enumerate(offices, start=1)
    ]
    rows += [
        watch_row(f"watch-circuit-{n}", "circuit", at, {"who": who, "how": how})
        for n, (at, who, how) in enumerate(circuits, start=1)
    ]
    to = "addressees of the operation order"
    rows += [
        watch_row(f"watch-sitrep-{n}", "told_outside", at, {"whom": to, "told": f"SITREP {n} sent"})
        for n, at in enumerate(sent, start=1)
    ]
    return rows


def alarms() -> list[Row]:
    """Return the alarms that the watch has set."""
    rules = (
        ("feed stale", "buoy", 90.0),
        ("margin below", "", 6.0),
        ("window closing", "", 4.0),
        ("ETA slipped", "", 30.0),
        ("ship stopped", s.SUPPORT_SHIP, 1.0),
        ("datum moved", "", 1.0),
        ("place negative", "", 0.0),
        ("not accounted for rising", "", 0.0),
    )
    return [
        watch_row(
            f"watch-rule-{number}",
            "alarm_rule",
            z(13, "1330"),
            {"sort": sort, "about": about, "limit": limit},
        )
        for number, (sort, about, limit) in enumerate(rules, start=1)
    ]


CHECKLISTS = (
    (
        "Alert",
        "SUBLOOK",
        (
            "Call on every circuit and log the answers",
            "Ask the squadron for the sailing list and riders",
            "Tell the rescue system's base",
            "Plot the last report and the intended track",
            "Set the time of the next stage",
        ),
    ),
    (
        "Search",
        "SUBMISS",
        (
            "Ask ships near the track to listen for pinger and tapping",
            "Start the drift of anything found on the surface",
            "Name the on-scene coordinator",
            "Ask for the wreck list",
            "Ask for chambers and hospital places",
        ),
    ),
    (
        "Before a dive",
        "rescue",
        (
            "Window holds to the end of the recovery",
            "Places under pressure free for all who come up",
            "Refuge told which seat and when",
            "Stretcher cases named to the attendants",
            "Time to turn back at the latest written down",
        ),
    ),
)
TICKED = {0: (5, z(13, "0720")), 1: (4, z(13, "1000")), 2: (3, z(16, "0630"))}


def checklists() -> list[Row]:
    """Return the checklists of the exercise, and what is ticked."""
    rows = []
    for number, (name, when, items) in enumerate(CHECKLISTS):
        form = f"watch-checklist-{number + 1}"
        payload = {
            "name": name,
            "when": when,
            "items": list(items),
            "loaded_from": "checklists.csv (invented for the exercise)",
        }
        rows.append(watch_row(form, "checklist", z(13, "0702"), payload))
        done, start = TICKED[number]
        for item in range(1, done + 1):
            at = start + timedelta(minutes=3 * (item - 1))
            if at >= s.DEMO_NOW:
                at = s.DEMO_NOW - timedelta(minutes=4)
            rows.append(
                watch_row(
                    f"watch-tick-{number + 1}-{item}",
                    "tick",
                    at,
                    {"target": ident(form), "item": item, "by": WATCH[at.hour // 6]},
                )
            )
    return rows


def records() -> list[Row]:
    """Return every record of the watch, in the order heard."""
    marking = watch_row(
        "watch-marking", "marking", z(13, "0701"), {"line": "EXERCISE: for exercise staff only"}
    )
    made = [
        marking,
        *stages(),
        *alarms(),
        *decisions(),
        *points(),
        *tasks(),
        *listening(),
        *handovers(),
        *desk(),
        *checklists(),
    ]
    return sorted(made, key=lambda record: str(record["heard_at"]))


def checklist_csv() -> str:
    """Return the checklists as the file they were loaded from."""
    lines = ["checklist,when,item"]
    lines += [f"{name},{when},{item}" for name, when, items in CHECKLISTS for item in items]
    return "\n".join(lines) + "\n"


def write(folder: Path) -> None:
    """Write ``watch/records.jsonl`` and ``watch/checklists.csv`` under ``folder``."""
    write_rows(folder / "watch", records())
    (folder / "watch" / "checklists.csv").write_text(checklist_csv(), encoding="utf-8")


if __name__ == "__main__":
    write(s.FOLDER)
