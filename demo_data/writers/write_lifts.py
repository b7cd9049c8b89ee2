"""The lifts of the exercise: vehicles, chambers, the invented schedule, plan, sorties, decisions.

Invented from end to end. The decompression schedule is an exercise's table, made up so that
people from the after refuge stay about a day; it is not to be used on people.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.rows import Row, row, write_rows

HEARD_AFTER = timedelta(minutes=4)
DATA = "rescue system's data sheet, exercise"
ORDERS = "exercise operation order, annex R"
SECOND = "PERIWINKLE"  # a second vehicle that could be asked for
FIRST_PLAN, BETTER_PLAN = z(13, "1425"), z(13, "2312")


def line(form: str, noun: str, at: datetime, payload: Row, source: str) -> Row:
    """Return one typed record, heard a few minutes later."""
    name = f"lifts-{form}"
    return row(name, f"survivors.{noun}", at, payload, source=source, heard=at + HEARD_AFTER)


def spread(low: float, likely: float, high: float) -> Row:
    """Return a three-point time in minutes."""
    return {"low": float(low), "likely": float(likely), "high": float(high)}


def vehicle(name: str, **changes: Any) -> Row:
    """Return a rescue vehicle of LIMPET's kind."""
    made: Row = {
        "name": name,
        "seats": s.SEATS,
        "attendants": s.ATTENDANTS,
        "stretcher_places": 4,
        "stretcher_seats": s.STRETCHER_SEATS,
        "battery_kwh": 120.0,
        "reserve_kwh": 24.0,
        "charge_kw": 30.0,
        "transit_kw": 18.0,
        "seat_kw": 8.0,
        "speed_down_m_min": 12.0,
        "speed_up_m_min": 10.0,
        "launch": spread(12, 15, 25),
        "search": spread(10, 16, 45),
        "mate": spread(25, 40, 70),
        "transfer_walking": spread(1.2, 1.8, 3.0),
        "transfer_stretcher": spread(5, 8, 14),
        "away": spread(4, 7, 12),
        "recover": spread(30, 45, 75),
        "into_chamber": spread(25, 35, 50),
        "turn_round": spread(120, 150, 210),
        "repair": spread(180, 480, 1440),
        "failure_chance": 0.06,
        "failed_mating_chance": 0.12,
        "loss_chance": 0.005,
        "max_pressure_bar_abs": 5.0,
        "person_kg": 90.0,
        "ballast_kg": 1600.0,
        "life_support_h": 30.0,
        "report_every_min": 20.0,
        "crews": 2,
        "crew_rest_h": 6.0,
        "source": DATA,
    }
    return {**made, **changes}


def chamber(number: int, **changes: Any) -> Row:
    """Return a chamber of the support ship, attendants among its places."""
    made: Row = {
        "name": f"chamber {number}",
        "ship": s.SUPPORT_SHIP,
        "places": s.CHAMBER_PLACES,
        "attendants": 2,
        "volume_m3": 32.0,
        "make_ready_min": 90.0,
        "source": DATA,
    }
    return {**made, **changes}


def schedule() -> Row:
    """Return the exercise's invented decompression table: about a day from 1.4 to 3 bar."""

    def step(start: float, end: float, minutes: float, oxygen: bool = False) -> Row:
        return {
            "from_bar_abs": start,
            "to_bar_abs": end,
            "minutes": minutes,
            "breathing": "oxygen" if oxygen else "air",
            "oxygen_fraction": 1.0 if oxygen else 0.21,
            "oxygen_l_min": 8.0 if oxygen else 0.0,
        }

    return {
        "name": "Exercise table SABLE TIDE 1",
        "source": "invented for the exercise; not to be used on people",
        "approved_by": "nobody: exercise only",
        "invented": True,
        "bands": [
            {"saturated_from_bar_abs": 0.9, "saturated_to_bar_abs": 1.4, "steps": []},
            {
                "saturated_from_bar_abs": 1.4,
                "saturated_to_bar_abs": 3.0,
                "steps": [
                    step(1.9, 1.9, 240.0),
                    step(1.9, 1.6, 360.0),
                    step(1.6, 1.6, 60.0, oxygen=True),
                    step(1.6, 1.3, 480.0),
                    step(1.3, 1.3, 60.0, oxygen=True),
                    step(1.3, 1.0, 420.0),
                ],
            },
        ],
    }


def resources() -> list[Row]:
    """Return vehicles, ship, chambers, table and limits, as entered with the first plan."""
    at = FIRST_PLAN
    limits = {
        "launch_hs_m": s.LAUNCH_HS_M,
        "recovery_hs_m": s.RECOVERY_HS_M,
        "through_water_kn": s.THROUGH_WATER_KN,
        "mating_kn": s.MATING_KN,
        "recoverable_throughout": True,
        "seat_depth_m": s.DEPTH_M,
        "chance_wanted": 0.9,
        "notice_h": 2.0,
        "source": ORDERS,
    }
    ship = {
        "name": s.SUPPORT_SHIP,
        "chamber_attendants": 12,
        "oxygen_m3": 420.0,
        "air_m3": 3000.0,
        "source": "master's return of stores",
    }
    first = stamp(z(16, "1500"))
    second = vehicle(
        SECOND, ready_at=stamp(z(18, "0600")), ready_spread_h=12.0, follows_chain=False,
        planned=False,
    )  # fmt: skip
    third = chamber(3, available_at=stamp(z(17, "0900")), planned=False)
    return [
        line(
            "limpet", "vehicle", at, vehicle(s.VEHICLE, ready_at=first, ready_spread_h=12.0), DATA
        ),
        line("second-vehicle", "vehicle", at, second, DATA),
        line("ship", "ship", at, ship, s.SUPPORT_SHIP),
        line("chamber-1", "chamber", at, chamber(1), DATA),
        line("chamber-2", "chamber", at, chamber(2), DATA),
        line("chamber-3", "chamber", at, third, "offered by the squadron ashore"),
        line("schedule", "schedule", at, schedule(), "exercise medical officer"),
        line("limits", "lift_limits", at, limits, ORDERS),
        *drills(at),
    ]


def drills(at: datetime) -> list[Row]:
    """Return the exercise's own drills for what can go wrong under water."""
    texts = {
        "silence": "At the report overdue: call on the telephone every 5 min; at 20 min ship "
        "stands clear and listens; at 40 min inspection vehicle goes down.",
        "entanglement": "Stop all thrust; report depth, heading and what holds; inspection vehicle "
        "goes down with the cutter; vehicle does not drop weight before the ship answers.",
        "failed mating": "Break the seal, back off 10 m, inspect the seat by camera; two more "
        "attempts at most while the battery holds the way home and the reserve.",
    }
    return [
        line(
            f"drill-{case.replace(' ', '-')}",
            "drill",
            at,
            {"case": case, "text": text, "source": ORDERS},
            ORDERS,
        )
        for case, text in texts.items()
    ]


def lift(key: str, place: int, refuge: str, walking: int, stretcher: int, **more: Any) -> Row:
    """Return a planned lift of LIMPET."""
    return {
        "key": key,
        "place": place,
        "vehicle": s.VEHICLE,
        "refuge": refuge,
        "walking": walking,
        "stretcher": stretcher,
        **more,
    }


def plan() -> list[Row]:
    """Return four lifts, first chosen as F before A, and a fifth held."""
    at = z(13, "2150")
    lifts = (
        lift("F1", 0, "forward", 16, 0),
        lift("F2", 1, "forward", 4, 4),
        lift("A1", 2, "after", 16, 0),
        lift("A2", 3, "after", 13, 1),
        lift("5th", 4, "after", 0, 0, held=True, reason="held for those not accounted for"),
    )
    priority = {
        "refuges": ["forward", "after"],
        "fitness": ["walking", "stretcher"],
        "stretchers_per_lift": 4,
        "set_by": "rescue coordinator",
        "reason": "more stretcher cases forward; the stretchers last in each refuge",
    }
    return [
        *(line(f"lift-{one['key']}", "lift", at, one, "rescue coordinator") for one in lifts),
        line("priority", "priority", at, priority, "rescue coordinator"),
    ]


def options() -> list[Row]:
    """Return the decisions on the table since the first evening."""
    at = z(13, "2155")
    told: tuple[Row, ...] = (
        {"key": "other-port", "title": "NORTHERN LANTERN by Port Tressick",
         "response": "lantern-tressick"},
        {"key": "other-ship", "title": "CAPE ARDIS by Aldermouth", "response": "ardis-aldermouth"},
        {"key": "pods", "title": "post the four pods of stores", "pods": True},
        {"key": "after-first", "title": "lift A before F", "refuge_order": ["after", "forward"]},
        {"key": "third-chamber", "title": "fly in a third chamber", "add_chamber": "chamber 3",
         "note": "for a third lift from the after seat"},
        {"key": "second-vehicle", "title": f"ask for {SECOND} as a second vehicle",
         "add_vehicle": SECOND},
        {"key": "fewer", "title": "ten people a lift at most", "people_per_lift": 10},
        {"key": "higher-sea", "title": "launch and recover in Hs 0.5 m higher",
         "launch_hs_m": s.LAUNCH_HS_M + 0.5, "recovery_hs_m": s.RECOVERY_HS_M + 0.5,
         "note": "only with the operating authority's leave"},
    )  # fmt: skip
    return [line(f"option-{one['key']}", "decision", at, one, "operations room") for one in told]


def choice() -> list[Row]:
    """Return the better plan: pods first, A before F, the third chamber, the other port."""
    chosen = {
        "chosen": ["pods", "after-first", "third-chamber"],
        "reason": "the after refuge runs out first; those from it need a place under pressure",
        "decided_by": "rescue coordinator",
    }
    ready = vehicle(s.VEHICLE, ready_at=stamp(z(16, "0200")), ready_spread_h=8.0)
    return [
        line("choice", "plan_choice", BETTER_PLAN, chosen, "rescue coordinator"),
        line("limpet-better", "vehicle", BETTER_PLAN, ready, "rescue coordinator"),
    ]


def ended() -> list[Row]:
    """Return the decisions that are past: each is taken from the table by a record."""
    past = (
        ("other-port", z(15, "1410"), "NORTHERN LANTERN has sailed from Aldermouth"),
        ("other-ship", z(15, "1412"), "LIMPET is on board NORTHERN LANTERN"),
        ("pods", z(15, "2112"), "all four pods are taken in"),
    )
    by_key = {row["payload"]["key"]: row["payload"] for row in options()}
    return [
        line(f"option-{key}-ended", "decision", at,
             {**by_key[key], "withdrawn": True, "note": why}, "operations room")
        for key, at, why in past
    ]  # fmt: skip


def third_chamber() -> list[Row]:
    """Return the third chamber as it stands on the support ship's deck, and not before."""
    at = z(17, "0405")
    return [
        line("chamber-3-aboard", "chamber", at, chamber(3, available_at=stamp(z(17, "0900"))),
             s.SUPPORT_SHIP),
        line("chamber-3-place", "place", at, {"name": "chamber 3", "sort": "chamber"},
             s.SUPPORT_SHIP),
    ]  # fmt: skip


def sortie(key: str, times: tuple[str, ...], day: int, room: str, **aboard: int) -> list[Row]:
    """Return the phases of one sortie: eight times from the dive to being back on deck."""
    phases = ("down", "search", "mate", "transfer", "away", "up", "recover", "back")
    found = []
    for phase, hhmm in zip(phases, times, strict=True):
        payload: Row = {"vehicle": s.VEHICLE, "lift": key, "phase": phase}
        if phase == "down":
            payload["battery_kwh"] = 118.0
        if phase == "away":
            payload |= {
                "walking_aboard": aboard["walking"],
                "stretcher_aboard": aboard["stretcher"],
            }
        if phase == "back" and room:
            payload["chamber"] = room
        form = f"phase-{key}-{phase}"
        found.append(line(form, "sortie_phase", z(day, hhmm), payload, s.SUPPORT_SHIP))
    return found


def sorties() -> list[Row]:
    """Return the four sorties as they went; the second waited for the swell to fall."""
    first = ("0205", "0233", "0250", "0331", "0400", "0408", "0423", "0520")
    second = ("0420", "0447", "0504", "0549", "0620", "0628", "0643", "0740")
    third = ("1023", "1050", "1106", "1148", "1220", "1227", "1242", "1335")
    fourth = ("1625", "1652", "1712", "1752", "1830", "1838", "1853", "1945")
    return [
        *sortie("A1", first, 16, "chamber 1", walking=16, stretcher=0),
        *sortie("A2", second, 17, "chamber 2", walking=13, stretcher=1),
        *sortie("F1", third, 17, "", walking=16, stretcher=0),
        *sortie("F2", fourth, 17, "", walking=4, stretcher=4),
        *reports(),
    ]


def reports() -> list[Row]:
    """Return what was heard from the vehicle on the first two sorties."""
    told = (
        ("A1", z(16, "0252"), 104.0, 29.0, z(16, "0312")),
        ("A1", z(16, "0335"), 97.5, 28.3, z(16, "0400")),
        ("A2", z(17, "0506"), 103.0, 29.1, z(17, "0526")),
        ("A2", z(17, "0552"), 96.0, 28.4, z(17, "0620")),
    )
    return [
        line(
            f"report-{key}-{at:%H%M}",
            "sortie_report",
            at,
            {
                "vehicle": s.VEHICLE,
                "lift": key,
                "battery_kwh": battery,
                "life_support_h": life,
                "next_due": stamp(due),
            },
            s.VEHICLE,
        )
        for key, at, battery, life, due in told
    ]


def stamp(at: datetime) -> str:
    """Return a time as a payload holds it."""
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"


def records() -> list[Row]:
    """Return every record of the lifts, in the order heard."""
    made = [
        *resources(),
        *plan(),
        *options(),
        *choice(),
        *ended(),
        *third_chamber(),
        *sorties(),
    ]
    return sorted(made, key=lambda record: record["heard_at"])


def write(folder: Path) -> None:
    """Write ``lifts/records.jsonl`` under ``folder``."""
    write_rows(folder / "lifts", records())


if __name__ == "__main__":
    write(s.FOLDER)
