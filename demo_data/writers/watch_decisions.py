"""What was decided, with what spoke for and against, and the points that stayed open."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from demo_data.scenario import z
from demo_data.writers.rows import COORDINATOR, Row, ident, stamp, watch_row


def decision(form: str, at: datetime, what: str, reasons: str, **more: Any) -> Row:
    """Return one decision."""
    payload = {"what": what, "reasons": reasons, "decided_by": COORDINATOR, **more}
    return watch_row(form, "decision", at, payload, source=COORDINATOR)


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
        watch_row(
            "watch-assume-track",
            "assumption",
            z(13, "0915"),
            {
                "what": "She kept to her intended track until she was lost",
                "because": "no change of plan was signalled",
            },
        ),
        watch_row(
            "watch-settle-track",
            "settled",
            z(13, "2120"),
            {
                "target": ident("watch-assume-track"),
                "outcome": "confirmed",
                "said": "found on her track, 44 nmi along it",
            },
        ),
        watch_row(
            "watch-assume-twelve",
            "assumption",
            z(13, "2200"),
            {
                "what": "The twelve not accounted for are not in either refuge",
                "because": "both headcounts were repeated back twice by telephone",
            },
        ),
        watch_row(
            "watch-assume-flooding",
            "assumption",
            z(15, "1815"),
            {
                "what": "The after refuge goes on flooding at the rate of the last two readings",
                "because": "two readings only",
                "holds_until": stamp(z(16, "0900")),
            },
        ),
        watch_row(
            "watch-settle-flooding",
            "settled",
            z(16, "0850"),
            {
                "target": ident("watch-assume-flooding"),
                "outcome": "confirmed",
                "said": "2.27 bar read at 0715Z: it rises no faster",
            },
        ),
        watch_row(
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
        watch_row(
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
        watch_row(
            "watch-ask-draught",
            "question",
            z(16, "0530"),
            {
                "what": "When can the third chamber be alongside NORTHERN LANTERN?",
                "asked_of": "CAPE ARDIS",
                "wanted_by": stamp(z(16, "0800")),
            },
        ),
        watch_row(
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
