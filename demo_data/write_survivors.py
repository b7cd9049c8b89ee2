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
from demo_data import survivors_truth as truth
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


def boat() -> list[dict[str, Any]]:
    """Return the boat herself, and how she lies as the inspection vehicle found her."""
    lies = {
        "heading_true_deg": 200.0,
        "list_deg": s.LIST_DEG,
        "bow_down_deg": s.BOW_DOWN_DEG,
        "depth_m": s.DEPTH_M,
    }
    told = {"name": s.DISSUB, "length_m": s.LENGTH_M}
    return [
        line("survivors-boat", "survivors.boat", z(13, "0712"), told, source="squadron office"),
        line(
            "survivors-lies",
            "survivors.lies",
            z(14, "1116"),
            lies,
            source="inspection vehicle",
        ),
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


def air_of(refuge: truth.Refuge) -> list[dict[str, Any]]:
    """Return what is told of one refuge's air: volume, readings, stores, pods."""
    name = refuge.name
    found = [
        line(
            f"survivors-volume-{name}",
            "survivors.compartment",
            z(13, "1000"),
            {
                "refuge": name,
                "free_volume_m3": refuge.told_volume_m3,
                "spread_percent": 10.0,
                "depth_m": s.DEPTH_M,
                "remark": "from the builder's drawings, stores on board allowed for",
            },
            source="builder's duty officer",
        )
    ]
    for read in truth.readings(refuge):
        found.append(reading(name, read))
    return [*found, *stores_of(refuge), *pods_of(refuge)]


def reading(refuge: str, read: truth.Read) -> dict[str, Any]:
    """Return one reading of the air by telephone."""
    payload = {
        "refuge": refuge,
        "pressure": {"value": read.bar_abs, "unit": "bar", "reference": "absolute"},
        "oxygen": {"value": read.o2_percent, "unit": "percent"},
        "carbon_dioxide": {"value": read.co2_percent, "unit": "percent"},
        "temperature_c": read.temperature_c,
    }
    form = f"survivors-air-{refuge}-{read.at:%d%H%M}"
    return line(form, "survivors.air", read.at, payload, source=UWT)


def stores_of(refuge: truth.Refuge) -> list[dict[str, Any]]:
    """Return the stores counted; the after refuge's absorbent was misheard and put right."""
    name = refuge.name
    told_lioh = 181.0 if name == "after" else refuge.lioh_kg
    found = [
        line(
            f"survivors-stores-lioh-{name}",
            "survivors.stores",
            s.TELEPHONE,
            {
                "refuge": name,
                "stock": lioh(told_lioh),
                "held_at": {"value": refuge.hold_co2_sev, "unit": "sev_percent"},
            },
            source=UWT,
        ),
        line(
            f"survivors-stores-candles-{name}",
            "survivors.stores",
            s.TELEPHONE,
            {
                "refuge": name,
                "stock": candles(refuge.candles),
                "held_at": {"value": refuge.hold_o2_kpa, "unit": "kPa"},
            },
            source=UWT,
        ),
    ]
    if name == "after":
        found.append(
            opinion(
                "survivors-stores-lioh-after-corrected",
                "journal.correct",
                z(13, "2240"),
                "survivors-stores-lioh-after",
                "read back: one hundred and eighteen kg, not one eight one",
                fields={"stock": lioh(refuge.lioh_kg)},
            )
        )
    return found


def lioh(kg: float) -> dict[str, Any]:
    """Return lithium hydroxide as a stock."""
    return {
        "item": "absorbent",
        "chemical": "lithium hydroxide",
        "mass_kg": kg,
        "efficiency": truth.LIOH_EFFICIENCY,
        "told_for_c": 5.0,  # the annex: a trial in a compartment as cold as the sea
        "spread_percent": 10.0,
    }


def candles(count: int) -> dict[str, Any]:
    """Return oxygen candles as a stock."""
    return {
        "item": "oxygen candles",
        "count": float(count),
        "oxygen_kg_each": truth.CANDLE_KG,
        "spread_percent": 8.0,
    }


def pods_of(refuge: truth.Refuge) -> list[dict[str, Any]]:
    """Return the two pods for a refuge: planned, posted by the vehicle, taken in."""
    found = []
    posted = refuge.pods_in - timedelta(minutes=70)
    for number in (1, 2):
        pod = f"pod {refuge.name[0].upper()}{number}"
        contents = [lioh(refuge.pod_lioh_kg / 2.0), candles(refuge.pod_candles // 2)]
        for state, at, source in (
            ("planned", z(13, "2255"), "watch"),
            ("posted", posted + timedelta(minutes=20 * number), "inspection vehicle"),
            ("taken in", refuge.pods_in, UWT),
        ):
            payload = {"pod": pod, "refuge": refuge.name, "state": state, "contents": contents}
            form = f"survivors-{pod}-{state}".replace(" ", "-")
            found.append(line(form, "survivors.pod", at, payload, source=source))
    return found


MEDICAL = "Exercise SABLE TIDE medical annex: invented, approved by nobody, for no real use"


def levels() -> list[dict[str, Any]]:
    """Return the levels the exercise's medical officer entered, with their invented source."""
    limits: tuple[tuple[str, str, dict[str, Any]], ...] = (
        ("CO2 action level", "carbon dioxide", {"gas": {"value": 6.0, "unit": "sev_percent"}}),
        ("low oxygen", "low oxygen", {"gas": {"value": 16.0, "unit": "kPa"}}),
        (
            "rescue system's pressure",
            "pressure",
            {"pressure": {"value": 5.0, "unit": "bar", "reference": "absolute"}},
        ),
        ("cold", "low temperature", {"temperature_c": 4.0}),
    )
    return [
        line(
            f"survivors-level-{number}",
            "survivors.level",
            z(13, "1420"),
            {
                "name": name,
                "quantity": quantity,
                "source": MEDICAL,
                "entered_by": "exercise medical officer",
                **limit,
            },
            source="medical officer",
        )
        for number, (name, quantity, limit) in enumerate(limits, start=1)
    ]


def water_coming_in() -> list[dict[str, Any]]:
    """Return what the after refuge said of its bilge."""
    payload = {
        "refuge": "after",
        "what": "water",
        "m3_per_h": 0.8,
        "spread_percent": 60.0,
        "remark": "rising slowly in the bilge, by a mark on a frame",
    }
    return [line("survivors-water-after", "survivors.inflow", s.TELEPHONE, payload, source=UWT)]


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


def surface_and_ashore() -> list[dict[str, Any]]:
    """Return who is in the water, who can fetch them, and where a hospital has room."""
    return [*in_the_water(), *crafts(), *hospitals(), flight_limit()]


def in_the_water() -> list[dict[str, Any]]:
    """Return the five as first seen, and the two still sought."""
    sea = {"sea_c": 10.5, "sea_source": "buoy 62X07"}
    five = {
        "group": "five escapees",
        "persons": 5,
        "since": f"{s.LEFT_HER:%Y-%m-%dT%H:%MZ}",
        "clothing": "light clothing, lifejacket",
        **sea,
    }
    two = {**five, "group": "two escapees", "persons": 2, "clothing": "immersion suit"}
    patrol, kind = "SALTMARSH", "survivors.in_water"
    return [
        line("survivors-water-five", kind, s.ESCAPEES_SEEN, five, source=patrol),
        line(
            "survivors-water-five-over",
            kind,
            z(13, "1626"),
            {**five, "recovered": True},
            source=patrol,
        ),
        line("survivors-water-two", kind, z(13, "1627"), two, source=patrol),
    ]


def crafts() -> list[dict[str, Any]]:
    """Return the helicopter and the patrol ship's boat."""
    field = s.AIRFIELDS["Tressick field"]
    helicopter = {
        "craft": "RESCUE THREE",
        "sort": "helicopter",
        "latitude_deg": field.latitude_deg,
        "longitude_deg": field.longitude_deg,
        "speed_kn": 130.0,
        "radius_nmi": 190.0,
        "ready_min": 30.0,
        "seats": 10,
        "stretchers": 2,
        "flies_at_m": 450.0,
        "source": "rescue coordination centre",
    }
    ship = {
        "craft": "SALTMARSH",
        "sort": "ship",
        "latitude_deg": 49.76,
        "longitude_deg": -8.55,
        "speed_kn": 18.0,
        "seats": 40,
        "stretchers": 0,
        "source": "SALTMARSH",
    }
    return [
        line("survivors-craft-1", "survivors.craft", z(13, "0940"), helicopter, source="RCC"),
        line("survivors-craft-2", "survivors.craft", z(13, "1540"), ship, source="SALTMARSH"),
    ]


def hospitals() -> list[dict[str, Any]]:
    """Return two hospitals, one of them with recompression; both only reported."""
    told: tuple[tuple[str, Any, int, int], ...] = (
        ("Tressick hospital", s.PORTS["Port Tressick"], 6, 4),
        ("Aldermouth infirmary", s.PORTS["Aldermouth"], 4, 0),
    )
    return [
        line(
            f"survivors-hospital-{number}",
            "survivors.hospital",
            z(13, "1730"),
            {
                "hospital": name,
                "latitude_deg": where.latitude_deg,
                "longitude_deg": where.longitude_deg,
                "stretcher_places": stretchers,
                "recompression_places": recompression,
                "source": "duty consultant by telephone",
            },
            source="medical officer",
        )
        for number, (name, where, stretchers, recompression) in enumerate(told, start=1)
    ]


def flight_limit() -> dict[str, Any]:
    """Return the exercise's limit for flying after pressure."""
    payload = {
        "after_pressure_h": 24.0,
        "height_m": 300.0,
        "above_bar_abs": 1.3,
        "source": MEDICAL,
        "entered_by": "exercise medical officer",
    }
    return line(
        "survivors-flight-limit",
        "survivors.flight_limit",
        z(13, "1422"),
        payload,
        source="medical officer",
    )


def place(form: str, name: str, sort: str) -> dict[str, Any]:
    """Return a further place for people."""
    payload = {"name": name, "sort": sort}
    return line(form, "survivors.place", z(13, "0930"), payload, source="watch")


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
    target = folder / "survivors"
    target.mkdir(parents=True, exist_ok=True)
    text = "\n".join(json.dumps(record, ensure_ascii=False) for record in records())
    (target / "records.jsonl").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(s.FOLDER)
