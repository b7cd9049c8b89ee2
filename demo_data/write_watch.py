"""The watch's own work in the exercise: stages, decisions, tasks, listening times, handovers.

Invented from end to end. Times agree with ``scenario.py``; the watch is relieved every six
hours, and four of the handovers are written out.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from layers.journal.record import form_identity, record_id

WATCH = ("watch officer 1", "watch officer 2", "watch officer 3", "watch officer 4")
COORDINATOR = "rescue coordinator"
UWT = "underwater telephone, GREY HERON"
LATER_UWT = "underwater telephone, NORTHERN LANTERN"

Row = dict[str, Any]


def stamp(at: datetime) -> str:
    """Return a time as the files write it."""
    return f"{at:%Y-%m-%dT%H:%MZ}"


def ident(form: str) -> str:
    """Return the record id of a form of this file."""
    return record_id(form_identity(form))


def row(
    form: str,
    kind: str,
    at: datetime,
    payload: Row,
    *,
    source: str = "watch",
    heard: datetime | None = None,
    recorded: datetime | None = None,
    author: str = "",
) -> Row:
    """Return one typed record as it stands in records.jsonl."""
    heard_at = heard or at
    late = {} if recorded is None else {"recorded_at": stamp(recorded)}
    return {
        **late,
        "id": form,
        "kind": f"watch.{kind}",
        "valid_at": stamp(at),
        "heard_at": stamp(heard_at),
        "source": source,
        "author": author or WATCH[heard_at.hour // 6],
        "payload": payload,
    }


def stages() -> list[Row]:
    """Return the three stages of alert."""
    return [
        row(
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
        row(
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
        row(
            "watch-subsunk",
            "stage",
            s.SUBSUNK,
            {
                "stage": "SUBSUNK",
                "basis": "slick and parted indicator buoy on her track, nothing heard since 2200Z",
            },
        ),
        row(
            "watch-ended",
            "stage",
            z(20, "1150"),
            {"stage": "ended", "basis": "all accounted for or named as missing"},
        ),
    ]


def decision(form: str, at: datetime, what: str, reasons: str, **more: Any) -> Row:
    """Return one decision."""
    payload = {"what": what, "reasons": reasons, "decided_by": COORDINATOR, **more}
    return row(form, "decision", at, payload, source=COORDINATOR)


def option(name: str, speaks_for: str, speaks_against: str) -> Row:
    """Return one option as it was weighed."""
    return {"name": name, "speaks_for": speaks_for, "speaks_against": speaks_against}


def decisions() -> list[Row]:
    """Return what was decided; the first plan is replaced by the better one."""
    return [
        decision(
            "watch-decide-callout",
            z(13, "0740"),
            "Call out LIMPET and NORTHERN LANTERN at SUBLOOK",
            "Two days' steaming and four loads by air: waiting for SUBMISS costs two hours that "
            "cannot be won back; calling off costs nothing but fuel",
        ),
        decision(
            "watch-decide-plan-1",
            z(13, "1420"),
            "Load out at Port Tressick in CAPE ARDIS; lift F before A",
            "Nearest port to the scene; the ship of opportunity is a day nearer than "
            "NORTHERN LANTERN; more stretcher cases expected forward",
            options=[
                option(
                    "Port Tressick, CAPE ARDIS",
                    "nearest port, nearest ship",
                    "no fittings on board: welding first; runway length not confirmed",
                ),
                option(
                    "Aldermouth, NORTHERN LANTERN",
                    "fitted ship, crane and berth surveyed",
                    "two days' steaming",
                ),
                option(
                    "Skerry Haven, CAPE ARDIS",
                    "deep berth at all tides",
                    "4.1 m bridge on the road from the strip",
                ),
            ],
            chosen="Port Tressick, CAPE ARDIS",
        ),
        decision(
            "watch-decide-wreck",
            z(13, "1955"),
            "Rule out the charted wreck as the contact",
            "Lies 3 nmi from where the bearings cross; length alike, but charted and on the wreck "
            "list; tapping was heard on a line that passes it by",
        ),
        decision(
            "watch-decide-plan-2",
            z(13, "2310"),
            "Change to Aldermouth and NORTHERN LANTERN; pods first; A before F; ask for a third "
            "chamber",
            "After refuge at 2.1 bar with 2.2 % CO2 and 13.0 % O2 runs out first; welding at Port "
            "Tressick puts the first lift behind the front of 16 March; those from A need a place "
            "under pressure and two chambers hold two lifts",
            options=[
                option(
                    "Aldermouth, NORTHERN LANTERN, A first",
                    "first lift before the front; stores posted before the vehicle dives",
                    "third chamber must be flown in",
                ),
                option(
                    "stay with Port Tressick, CAPE ARDIS, F first",
                    "no change of orders",
                    "after refuge's margin turns negative",
                ),
            ],
            chosen="Aldermouth, NORTHERN LANTERN, A first",
            replaces=ident("watch-decide-plan-1"),
        ),
        decision(
            "watch-decide-seat",
            z(14, "1230"),
            "Post the pods at A now; clear the cable at F before the vehicle arrives",
            "Seat A is clear and seat F fouled; the inspection vehicle has a cutter and a day",
        ),
        decision(
            "watch-decide-lift-2",
            z(16, "0620"),
            "Hold the second lift until the swell falls",
            "The launch window closes at 1000Z, but the sea passes the recovery limit before a "
            "sortie could be back; the whole sortie must fit, and the after refuge has hours to "
            "spare",
            options=[
                option(
                    "dive now",
                    "sixteen more out before the front",
                    "recovery beyond the limit, with people on board the vehicle",
                ),
                option(
                    "wait for the swell to fall",
                    "the whole sortie inside its window",
                    "about twenty hours off the after refuge's margin",
                ),
            ],
            chosen="wait for the swell to fall",
        ),
    ]


def points() -> list[Row]:
    """Return assumptions, questions, and how they were settled."""
    return [
        row(
            "watch-assume-track",
            "assumption",
            z(13, "0915"),
            {
                "what": "She kept to her intended track until she was lost",
                "because": "no change of plan was signalled",
            },
        ),
        row(
            "watch-settle-track",
            "settled",
            z(13, "2120"),
            {
                "target": ident("watch-assume-track"),
                "outcome": "confirmed",
                "said": "found on her track, 44 nmi along it",
            },
        ),
        row(
            "watch-assume-twelve",
            "assumption",
            z(13, "2200"),
            {
                "what": "The twelve not accounted for are not in either refuge",
                "because": "both headcounts were repeated back twice by telephone",
            },
        ),
        row(
            "watch-assume-flooding",
            "assumption",
            z(15, "1815"),
            {
                "what": "The after refuge goes on flooding at the rate of the last two readings",
                "because": "two readings only",
                "holds_until": stamp(z(16, "0900")),
            },
        ),
        row(
            "watch-ask-runway",
            "question",
            z(13, "1335"),
            {
                "what": "Runway length and strength at Tressick field for the heavy loads?",
                "asked_of": "Tressick field",
                "wanted_by": stamp(z(13, "1800")),
            },
        ),
        # Heard before the first plan was chosen, written down after it: what an inquiry looks for.
        row(
            "watch-settle-runway",
            "settled",
            z(13, "1412"),
            {
                "target": ident("watch-ask-runway"),
                "outcome": "answered",
                "said": "too short for the two heavy loads",
            },
            source="Tressick field",
            recorded=z(13, "1502"),
        ),
        row(
            "watch-ask-draught",
            "question",
            z(16, "0530"),
            {
                "what": "When can the third chamber be alongside NORTHERN LANTERN?",
                "asked_of": "CAPE ARDIS",
                "wanted_by": stamp(z(16, "0800")),
            },
        ),
        row(
            "watch-settle-draught",
            "settled",
            z(16, "0755"),
            {
                "target": ident("watch-ask-draught"),
                "outcome": "answered",
                "said": "1300Z if the sea allows the transfer, else after the front",
            },
            source="CAPE ARDIS",
        ),
    ]


def task(form: str, at: datetime, who: str, what: str, **more: Any) -> Row:
    """Return one task."""
    return row(form, "task", at, {"who": who, "what": what, **more}, source=COORDINATOR)


def told(form: str, at: datetime, on: str, said: str, state: str = "under way", **more: Any) -> Row:
    """Return one report on a task, by voice from who has it."""
    payload = {"target": ident(on), "said": said, "state": state, **more}
    return row(form, "task_report", at, payload, source="voice", heard=at + timedelta(minutes=2))


def kept(form: str, on: str, said: tuple[tuple[datetime, str, datetime], ...]) -> list[Row]:
    """Return reports given in time, each with the next one agreed."""
    return [
        told(f"watch-told-{form}-{n}", at, on, words, next_report_due=stamp(due))
        for n, (at, words, due) in enumerate(said, start=1)
    ]


def tasks() -> list[Row]:
    """Return who does what by when, with their reports."""
    return [
        task(
            "watch-task-saltmarsh",
            z(13, "1310"),
            "SALTMARSH",
            "search along her track from the slick, pick up anyone in the water",
            next_report_due=stamp(z(13, "1500")),
        ),
        told("watch-told-saltmarsh-0", z(13, "1504"), "watch-task-saltmarsh",
             "on the slick, working up-drift of it", next_report_due=stamp(z(13, "1630"))),
        told("watch-told-saltmarsh-1", z(13, "1632"), "watch-task-saltmarsh",
             "three of five picked up, one of them dead; two not seen again",
             next_report_due=stamp(z(13, "2000"))),
        told("watch-told-saltmarsh-2", z(13, "2005"), "watch-task-saltmarsh",
             "nothing further seen by dark, search by searchlight goes on",
             next_report_due=stamp(z(14, "0800"))),
        told("watch-told-saltmarsh-3", z(14, "0812"), "watch-task-saltmarsh",
             "daylight search of the drift area under way",
             next_report_due=stamp(z(14, "2000"))),
        *kept("saltmarsh-day", "watch-task-saltmarsh", (
            (z(14, "2003"), "nothing seen by dark, search goes on", z(15, "0800")),
            (z(15, "0810"), "search of the drift area goes on", z(15, "2000")),
            (z(15, "2006"), "nothing seen by dark, search goes on", z(16, "0600")),
        )),
        task(
            "watch-task-heron",
            z(13, "1315"),
            "GREY HERON",
            "listen for pinger and tapping, hold the underwater telephone",
            next_report_due=stamp(z(13, "1500")),
        ),
        *kept("heron-first", "watch-task-heron", (
            (z(13, "1502"), "pinger heard, bearings being taken", z(13, "1800")),
            (z(13, "1805"), "tapping heard, bearings go on", z(13, "2130")),
        )),
        told("watch-told-heron-1", z(13, "2142"), "watch-task-heron",
             "speech with both refuges", next_report_due=stamp(z(14, "0000"))),
        *kept("heron-later", "watch-task-heron", (
            (z(13, "2355"), "telephone held, both refuges heard", z(14, "0600")),
            (z(14, "0612"), "radio was out for three hours, telephone held", z(14, "1800")),
            (z(14, "1758"), "telephone held, readings passed", z(15, "0600")),
            (z(15, "0604"), "telephone held", z(15, "2300")),
        )),
        told("watch-told-heron-2", z(15, "2250"), "watch-task-heron",
             "telephone handed to NORTHERN LANTERN", "done"),
        task(
            "watch-task-lantern",
            z(13, "0745"),
            s.SUPPORT_SHIP,
            "proceed to Aldermouth, embark LIMPET, then to the scene",
            due=stamp(s.FIRST_LIFT),
            next_report_due=stamp(z(13, "1200")),
        ),
        *kept("lantern-first", "watch-task-lantern", (
            (z(13, "1158"), "under way for Aldermouth", z(14, "0000")),
            (z(14, "0005"), "on passage, no delay", z(14, "1200")),
            (z(14, "1157"), "pilot ordered for the evening", z(14, "2330")),
        )),
        told("watch-told-lantern-1", z(14, "2325"), "watch-task-lantern",
             "alongside at Aldermouth, loading", next_report_due=stamp(z(15, "0600"))),
        told("watch-told-lantern-load", z(15, "0558"), "watch-task-lantern",
             "LIMPET on board, sea-fastening", next_report_due=stamp(z(15, "1400"))),
        told("watch-told-lantern-2", z(15, "1355"), "watch-task-lantern",
             "sailed with LIMPET secured", next_report_due=stamp(z(15, "2300"))),
        told("watch-told-lantern-3", z(15, "2245"), "watch-task-lantern",
             "on scene, transponders being dropped", "done"),
        task(
            "watch-task-limpet",
            z(15, "2300"),
            s.VEHICLE,
            "lift from A, then from A again when the sea lets it",
            next_report_due=stamp(z(16, "0300")),
        ),
        *kept("limpet-first", "watch-task-limpet", (
            (z(16, "0302"), "mating at A", z(16, "0400")),
            (z(16, "0402"), "sixteen aboard, hatch shut at 0400Z, leaving A", z(16, "0530")),
            (z(16, "0524"), "on deck since 0520Z, going on to chamber 1", z(16, "0600")),
        )),
        told("watch-told-limpet-2", z(16, "0612"), "watch-task-limpet",
             "sixteen in chamber 1 since 0555Z; turning round, second lift held for the sea",
             next_report_due=stamp(z(16, "0700"))),
        told("watch-told-limpet-3", z(16, "0705"), "watch-task-limpet",
             "turned round and charged, held for the sea", next_report_due=stamp(z(16, "0830"))),
        task(
            "watch-task-ardis",
            z(13, "2320"),
            s.SHIP_OF_OPPORTUNITY,
            "fetch the third chamber and bring it to NORTHERN LANTERN",
            due=stamp(z(16, "1300")),
            next_report_due=stamp(z(14, "1215")),
        ),
        *kept("ardis-first", "watch-task-ardis", (
            (z(14, "1220"), "alongside at Port Tressick, chamber comes by road", z(15, "1200")),
            (z(15, "1205"), "chamber on deck, being welded down", z(16, "0130")),
            (z(16, "0140"), "sailed with the chamber", z(16, "0645")),
        )),
        task(
            "watch-task-surface",
            z(13, "1640"),
            "patrol aircraft",
            "look for the two still in the water, by the drift area",
            next_report_due=stamp(z(13, "1900")),
        ),
        told("watch-told-surface-1", z(13, "1905"), "watch-task-surface",
             "nothing seen, relieved on task by a second aircraft",
             next_report_due=stamp(z(13, "2300"))),
        *kept("surface-days", "watch-task-surface", (
            (z(13, "2305"), "nothing seen, off task till first light", z(14, "0700")),
            (z(14, "0706"), "on task again", z(14, "1900")),
            (z(14, "1902"), "nothing seen, off task till first light", z(15, "0700")),
            (z(15, "0705"), "on task again", z(15, "1900")),
            (z(15, "1904"), "nothing seen, off task till first light", z(16, "0700")),
        )),
        told("watch-told-saltmarsh-4", z(16, "0641"), "watch-task-saltmarsh",
             "late with this: two life jackets found empty, search goes on",
             next_report_due=stamp(z(16, "1800"))),
        told("watch-told-ardis-1", z(16, "0646"), "watch-task-ardis",
             "on passage with the chamber, no delay", next_report_due=stamp(z(16, "1230"))),
        told("watch-told-surface-2", z(16, "0702"), "watch-task-surface",
             "nothing seen, cloud base falling", "broken off"),
        told("watch-told-limpet-4", z(16, "0828"), "watch-task-limpet",
             "on deck, being secured for the front", next_report_due=stamp(z(16, "1000"))),
        told("watch-told-limpet-5", z(16, "0955"), "watch-task-limpet",
             "secured for the front",
             next_report_due=stamp(z(17, "0400"))),
        told("watch-told-ardis-2", z(16, "1225"), "watch-task-ardis",
             "standing off, transfer not possible before the sea falls",
             next_report_due=stamp(z(17, "0400"))),
        told("watch-told-saltmarsh-5", z(16, "1805"), "watch-task-saltmarsh",
             "hove to, search resumed when the sea falls", next_report_due=stamp(z(17, "0600"))),
        told("watch-told-limpet-6", z(17, "0402"), "watch-task-limpet",
             "ready to dive as the swell falls", next_report_due=stamp(z(17, "1200"))),
        told("watch-told-ardis-3", z(17, "0405"), "watch-task-ardis",
             "third chamber put on board NORTHERN LANTERN", "done"),
        told("watch-told-saltmarsh-6", z(17, "0610"), "watch-task-saltmarsh",
             "search of the drift area resumed", next_report_due=stamp(z(20, "1000"))),
        told("watch-told-limpet-7", z(17, "1155"), "watch-task-limpet",
             "lifts go on as planned", next_report_due=stamp(z(18, "1200"))),
        told("watch-told-limpet-8", z(18, "1150"), "watch-task-limpet",
             "last planned lift done; held for those not accounted for", "done"),
        told("watch-told-saltmarsh-7", z(20, "0955"), "watch-task-saltmarsh",
             "search suspended by order of the authority, to be resumed on any report", "done"),
    ]  # fmt: skip


def listening() -> list[Row]:
    """Return the listening times agreed with both refuges, one of them missed."""
    agreed: list[tuple[datetime, datetime, str, str]] = [
        (s.TELEPHONE, z(13, "2340"), "kept", "both refuges heard, no change"),
        (z(13, "2345"), z(14, "0240"), "missed", "neither refuge heard in twenty minutes"),
        (
            z(14, "0310"),
            z(14, "0340"),
            "kept",
            "slept through the last; forward speaks for both",
        ),
        (z(14, "0350"), z(14, "0940"), "kept", "gas readings passed"),
        (z(14, "0950"), z(14, "2140"), "kept", "pods received and opened aft"),
        (z(14, "2150"), z(15, "0940"), "kept", "gas readings passed"),
        (z(15, "0950"), z(15, "2115"), "kept", "told of the ship's coming"),
        (z(15, "2125"), z(16, "0315"), "kept", "ready at A"),
        (z(16, "0325"), z(16, "0715"), "kept", "after refuge counts fourteen"),
        (z(16, "0725"), z(16, "1115"), "kept", "both refuges heard"),
    ]
    rows = []
    for number, (at, due, outcome, said) in enumerate(agreed, start=1):
        source = UWT if at < s.LANTERN_ON_SCENE else LATER_UWT
        form = f"watch-listen-{number}"
        payload = {"at": stamp(due), "minutes": 20.0, "with_whom": "both refuges"}
        rows.append(row(form, "listening", at, payload, source=source))
        after = due + timedelta(minutes=21)
        rows.append(
            row(
                f"watch-listened-{number}",
                "listening_kept",
                after,
                {"target": ident(form), "outcome": outcome, "said": said},
                source=source,
            )
        )
    return rows


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
            row(
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
            row(
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
        row(f"watch-office-{n}", "in_charge", at, {"office": office, "who": who, "reach": reach})
        for n, (at, office, who, reach) in enumerate(offices, start=1)
    ]
    rows += [
        row(f"watch-circuit-{n}", "circuit", at, {"who": who, "how": how})
        for n, (at, who, how) in enumerate(circuits, start=1)
    ]
    to = "addressees of the operation order"
    rows += [
        row(f"watch-sitrep-{n}", "told_outside", at, {"whom": to, "told": f"SITREP {n} sent"})
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
        row(
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
        rows.append(row(form, "checklist", z(13, "0702"), payload))
        done, start = TICKED[number]
        for item in range(1, done + 1):
            at = start + timedelta(minutes=3 * (item - 1))
            if at >= s.DEMO_NOW:
                at = s.DEMO_NOW - timedelta(minutes=4)
            rows.append(
                row(
                    f"watch-tick-{number + 1}-{item}",
                    "tick",
                    at,
                    {"target": ident(form), "item": item, "by": WATCH[at.hour // 6]},
                )
            )
    return rows


def records() -> list[Row]:
    """Return every record of the watch, in the order heard."""
    marking = row(
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
    target = folder / "watch"
    target.mkdir(parents=True, exist_ok=True)
    text = "\n".join(json.dumps(record, ensure_ascii=False) for record in records())
    (target / "records.jsonl").write_text(text + "\n", encoding="utf-8")
    (target / "checklists.csv").write_text(checklist_csv(), encoding="utf-8")


if __name__ == "__main__":
    write(s.FOLDER)
