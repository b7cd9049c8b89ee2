"""Who was told to do what, what became of it, and when to listen."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.rows import COORDINATOR, LATER_UWT, UWT, Row, ident, stamp, watch_row


def task(form: str, at: datetime, who: str, what: str, **more: Any) -> Row:
    """Return one task."""
    return watch_row(form, "task", at, {"who": who, "what": what, **more}, source=COORDINATOR)


def told(form: str, at: datetime, on: str, said: str, state: str = "under way", **more: Any) -> Row:
    """Return one report on a task, by voice from who has it."""
    payload = {"target": ident(on), "said": said, "state": state, **more}
    return watch_row(
        form, "task_report", at, payload, source="voice", heard=at + timedelta(minutes=2)
    )


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
             "standing off, transfer not possible before the sea falls", "broken off"),
        task(
            "watch-task-ardis-again",
            z(16, "1228"),
            s.SHIP_OF_OPPORTUNITY,
            "stand off with the third chamber, transfer it when the sea falls",
            due=stamp(z(17, "0500")),
            next_report_due=stamp(z(17, "0400")),
        ),
        told("watch-told-saltmarsh-5", z(16, "1805"), "watch-task-saltmarsh",
             "hove to, search resumed when the sea falls", next_report_due=stamp(z(17, "0600"))),
        told("watch-told-limpet-6", z(17, "0402"), "watch-task-limpet",
             "ready to dive as the swell falls", next_report_due=stamp(z(17, "1200"))),
        told("watch-told-ardis-3", z(17, "0405"), "watch-task-ardis-again",
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
        rows.append(watch_row(form, "listening", at, payload, source=source))
        after = due + timedelta(minutes=21)
        rows.append(
            watch_row(
                f"watch-listened-{number}",
                "listening_kept",
                after,
                {"target": ident(form), "outcome": outcome, "said": said},
                source=source,
            )
        )
    return rows
