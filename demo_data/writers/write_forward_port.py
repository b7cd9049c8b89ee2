"""The response of the exercise: ports, loads, ships, the chain, the choice and what happened.

Each port fails something: Port Tressick's crane at the outreach needed and a 4.1 m bridge on
its road, Skerry Haven's runway, Aldermouth's depth alongside for the deeper of the two ships.
Whether Aldermouth's crane reaches is not known until it is asked for, and decides.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.response_chain import at_the_scene, before_the_port, through_the_port
from demo_data.writers.response_ports import cranes, places, roads
from demo_data.writers.response_rows import (
    FIRST_CHOICE,
    RECORDS,
    SECOND_CHOICE,
    row,
)
from demo_data.writers.rows import stamp, write_rows
from layers.earth.position import Position


def loads() -> RECORDS:
    """Return the load list in four loads, the aircraft, the road train and the ships."""
    pieces = [
        ("LIMPET", 8.6, 2.9, 3.1, 24.5, 1),
        ("launch frame", 9.8, 3.3, 3.2, 29.0, 2),
        ("winch", 4.2, 2.5, 2.6, 14.0, 3),
        ("control van", 6.1, 2.45, 2.6, 8.5, 3),
        ("chamber 1", 6.4, 2.5, 2.7, 13.5, 4),
        ("chamber 2", 6.4, 2.5, 2.7, 13.5, 4),
    ]
    found = [
        row(
            f"piece-{name}",
            "piece",
            {
                "name": name,
                "length_m": length,
                "width_m": width,
                "height_m": height,
                "mass_t": mass,
                "load": load,
            },
            z(13, "0910"),
            "load list",
        )
        for name, length, width, height, mass, load in pieces
    ]
    aircraft = {
        "name": "heavy freighter",
        "hold_length_m": 20.5,
        "hold_width_m": 4.0,
        "hold_height_m": 3.8,
        "payload_t": 37.0,
        "runway": [
            {"payload_t": 20.0, "length_m": 1450.0},
            {"payload_t": 30.0, "length_m": 1750.0},
            {"payload_t": 37.0, "length_m": 1950.0},
        ],
        "runway_width_m": 30.0,
        "soft_ground": False,
        "greatest_mass_t": 155.0,
        "cruise_kn": 400.0,
    }
    trailer = {
        "name": "low-loader",
        "bed_height_m": 0.95,
        "mass_t": 21.0,
        "tractor_wheelbase_m": 3.9,
        "trailer_wheelbase_m": 9.2,
        "width_m": 2.75,
    }
    lantern = {
        "name": "NORTHERN LANTERN",
        "length_m": 98.0,
        "draught_m": 6.1,
        "deck_length_m": 48.0,
        "deck_width_m": 17.0,
        "deck_strength_t_m2": 7.5,
        "deck_load_t": 900.0,
        "outreach_m": 18.0,
        "under_keel_m": 0.6,
        "speed_kn": 17.0,
        "displacement_t": 6400.0,
        "block_coefficient": 0.65,
        "waterline_m": 90.0,
    }
    ardis = lantern | {
        "name": "CAPE ARDIS",
        "length_m": 84.0,
        "draught_m": 7.3,
        "deck_length_m": 40.0,
        "deck_width_m": 15.0,
        "deck_strength_t_m2": 5.0,
        "deck_load_t": 600.0,
        "outreach_m": 17.0,
        "speed_kn": 12.5,
        "displacement_t": 4900.0,
        "waterline_m": 78.0,
    }
    at = z(13, "0925")
    return [
        *found,
        row("aircraft", "aircraft", aircraft, at, "air cell"),
        row("trailer", "trailer", trailer, at, "roads office"),
        row("ship-lantern", "ship", lantern, at, "ship's card"),
        row("ship-ardis", "ship", ardis, at, "ship's card"),
    ]


def point(place: Position) -> dict[str, float]:
    """Return one point of a leg."""
    return {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg}


def legs() -> RECORDS:
    """Return flights, road legs and passages."""
    found = []
    for port, field in (("Aldermouth", "Aldermouth field"), ("Tressick", "Tressick field"),
                        ("Skerry", "Skerry strip")):  # fmt: skip
        payload = {
            "key": f"flight-{port.lower()}",
            "mode": "flight",
            "points": [point(s.HOME_BASE), point(s.FLIGHT_STOP), point(s.AIRFIELDS[field])],
            "speed_kn": 400.0,
            "wind_from_true_deg": 265.0,
            "wind_kn": 45.0,
            "stop_h": 1.2,
        }
        found.append(row(f"leg-flight-{port}", "leg", payload, z(13, "1020"), "air cell"))
    for port, road in (("aldermouth", "Ring road"), ("tressick", "Coast road"),
                       ("skerry", "Haven road")):  # fmt: skip
        payload = {"key": f"road-{port}", "mode": "road", "road": road}
        found.append(row(f"leg-road-{port}", "leg", payload, z(13, "1021"), "roads office"))
    return found + passages()


def passages() -> RECORDS:
    """Return the passages of both ships to each port, and from there to the scene."""
    land_end = [
        Position(49.85, -5.9),
        Position(49.86, -5.2),
        Position(49.95, -4.95),
        Position(50.12, -5.01),
    ]
    haven_mouth = [Position(51.3, -5.6), Position(51.62, -5.2)]
    lantern_west = list(s.LANTERN_TO_PORT[:3])
    scene = s.TRUTH  # the staff's plan takes the datum of the day; it moves little
    ends = {
        "aldermouth": (list(s.LANTERN_TO_PORT[3:6]), s.PORTS["Aldermouth"]),
        "tressick": (land_end, s.PORTS["Port Tressick"]),
        "skerry": (haven_mouth, s.PORTS["Skerry Haven"]),
    }
    found = []
    for port, (approach, berth) in ends.items():
        via = lantern_west + approach
        if port == "skerry":
            via = [*lantern_west, Position(51.0, -9.6), Position(51.0, -6.2), *approach]
        found.append(
            _sea(f"lantern-to-{port}", "NORTHERN LANTERN", [s.LANTERN_CALLED_AT, *via, berth])
        )
        out = [berth, *approach[::-1], scene]
        if port == "aldermouth":
            out = [*s.PORT_TO_SCENE, scene]
        found.append(_sea(f"lantern-{port}-scene", "NORTHERN LANTERN", out, 14.5))
        if port != "skerry":
            start = Position(48.3, -6.05)
            there = [start, *approach, berth]
            if port == "aldermouth":
                there = [start, Position(49.6, -7.0), *s.PORT_TO_SCENE[::-1]]
            found.append(_sea(f"ardis-to-{port}", "CAPE ARDIS", there))
            found.append(_sea(f"ardis-{port}-scene", "CAPE ARDIS", out, 12.0))
    return found


def _sea(
    key: str, ship: str, points: list[Position], speed_kn: float | None = None
) -> dict[str, Any]:
    payload: dict[str, Any] = {
        "key": key,
        "mode": "sea",
        "points": [point(place) for place in points],
        "ship": ship,
    }
    if speed_kn is not None:
        payload["speed_kn"] = speed_kn
    return row(f"leg-{key}", "leg", payload, z(13, "1025"), "ships cell")


def options() -> RECORDS:
    """Return the five options for the rescue, the way home and the way to hospital."""
    names = {
        "lantern-aldermouth": ("NORTHERN LANTERN", "Aldermouth"),
        "lantern-tressick": ("NORTHERN LANTERN", "Port Tressick"),
        "lantern-skerry": ("NORTHERN LANTERN", "Skerry Haven"),
        "ardis-aldermouth": ("CAPE ARDIS", "Aldermouth"),
        "ardis-tressick": ("CAPE ARDIS", "Port Tressick"),
    }
    berths = {"Aldermouth": "Ring quay", "Port Tressick": "Western arm", "Skerry Haven": "Pier 2"}
    fields = {
        "Aldermouth": "Aldermouth field",
        "Port Tressick": "Tressick field",
        "Skerry Haven": "Skerry strip",
    }
    found = []
    for key, (ship, port) in names.items():
        lantern = ship == "NORTHERN LANTERN"
        payload = {
            "key": key,
            "title": f"{ship} via {port}",
            "port": port,
            "berth": berths[port],
            "airfield": fields[port],
            "ship": ship,
            "aircraft": "heavy freighter",
            "trailer": "low-loader",
            "zero": stamp(s.SUBMISS),
            "zero_is": "SUBMISS",
            "sight": "descent",
            "ready": "on-station",
            "last": "first-out",
            "alongside_from": stamp(z(14, "2300") if lantern else z(13, "2300")),
            "alongside_h": 15.0 if lantern else 40.0,
        }
        found.append(row(f"option-{key}", "option", payload, z(13, "1030")))
    home = {
        "key": "home",
        "title": "Return of LIMPET",
        "purpose": "return",
        "zero": stamp(z(19, "1600")),
        "zero_is": "the last lift",
        "last": "load-1",
        "backwards_of": "lantern-aldermouth",
    }
    hospital = {
        "key": "hospital",
        "title": "Stretcher cases to hospital",
        "purpose": "hospital",
        "zero": stamp(z(17, "0600")),
        "zero_is": "the decision to fly them",
        "last": "hospital-door",
    }
    return [
        *found,
        row("option-home", "option", home, z(16, "0500")),
        row("option-hospital", "option", hospital, z(16, "0510"), "medical cell"),
    ]


def choices() -> RECORDS:
    """Return the plan first chosen, and the better one seven hours later."""
    first = {
        "option": "lantern-tressick",
        "reason": "Longest runway and a 60 t crane; its reach is not known yet, nor is "
        "Aldermouth's.",
    }
    second = {
        "option": "lantern-aldermouth",
        "reason": "Port Tressick's crane lifts 19 t at 18 m, the launch frame is 29 t; "
        "Aldermouth's lifts 33 t there, its road has no low bridge, and her draught fits.",
    }
    return [
        row("choice-1", "choice", first, FIRST_CHOICE, "SSRA", "watch officer 1"),
        row("choice-2", "choice", second, SECOND_CHOICE, "SSRA", "watch officer 1"),
    ]


def clearances() -> RECORDS:
    """Return how the clearances came in."""
    asked = {"activity": "overflight", "state": "asked", "by": "foreign office"}
    given = {"activity": "overflight", "state": "given", "by": "foreign office"}
    return [
        row("clearance-1", "clearance", asked | {"at": stamp(z(13, "0930"))}, z(13, "0930")),
        row("clearance-2", "clearance", given | {"at": stamp(z(13, "1420"))}, z(13, "1425")),
    ]


def actuals() -> RECORDS:
    """Return what happened and when, on the option that was followed."""
    steps: list[tuple[str, str | None, str | None]] = [
        # activity, started, finished; day and time in March
        ("steam-lantern-aldermouth", "13 0745", "14 2230"),
        ("steam-lantern-tressick", "13 0745", None),
        ("recall", "13 0900", "13 1430"),
        ("aircraft", "13 0900", "13 1510"),
        ("escort", "13 1000", "13 2100"),
        ("load-1", "13 1515", "13 1640"),
        ("load-2", "13 1640", "13 1800"),
        ("load-3", "13 1800", "13 1915"),
        ("load-4", "13 1915", "13 2045"),
        ("fly-1-aldermouth", "13 1945", "14 0250"),
        ("fly-2-aldermouth", "13 2000", "14 0310"),
        ("fly-3-aldermouth", "13 2030", "14 0330"),
        ("fly-4-aldermouth", "13 2115", "14 0420"),
        ("unload-1-aldermouth", "14 0300", "14 0400"),
        ("customs-aldermouth", "14 0250", "14 0520"),
        ("unload-2-aldermouth", "14 0400", "14 0455"),
        ("unload-3-aldermouth", "14 0455", "14 0600"),
        ("unload-4-aldermouth", "14 0600", "14 0710"),
        ("road-1-aldermouth", "14 0600", "14 0730"),
        ("road-2-aldermouth", "14 0900", "14 1020"),
        ("road-3-aldermouth", "14 1150", "14 1315"),
        ("road-4-aldermouth", "14 1440", "14 1600"),
        ("berth-lantern-aldermouth", "14 2230", "14 2320"),
        ("lift-1-lantern-aldermouth", "14 2340", "15 0105"),
        ("lift-2-lantern-aldermouth", "15 0105", "15 0235"),
        ("lift-3-lantern-aldermouth", "15 0235", "15 0350"),
        ("lift-4-lantern-aldermouth", "15 0350", "15 0510"),
        ("fasten-lantern-aldermouth", "15 0510", "15 0850"),
        ("trials-lantern-aldermouth", "15 0850", "15 1340"),
        ("out-lantern-aldermouth", "15 1350", "15 2240"),
        ("on-station", "15 2240", "16 0055"),
        ("descent", "16 0105", "16 0315"),
        ("first-out", "16 0315", "16 0420"),
    ]
    found = []
    for key, started, finished in steps:
        # What happened on the way that was followed says nothing about the other options.
        shared = key in {"recall", "aircraft", "escort"} or key.startswith("load-")
        option = "" if shared or key.startswith(("fly", "unload", "customs", "road")) else (
            key.split("-", 1)[1] if key.startswith("steam") else "lantern-aldermouth"
        )  # fmt: skip
        for part, said in (("started_at", started), ("finished_at", finished)):
            if said is None:
                continue
            at = z(int(said[:2]), said[3:])
            payload = {"activity": key, "option": option, part: stamp(at)}
            found.append(row(f"actual-{key}-{part}", "actual", payload, at + timedelta(minutes=4)))
    return found


def records() -> RECORDS:
    """Return every record of the response, in order of hearing."""
    made = [
        *places(),
        *cranes(),
        *roads(),
        *loads(),
        *legs(),
        *options(),
        *before_the_port(),
        *through_the_port(),
        *at_the_scene(),
        *choices(),
        *clearances(),
        *actuals(),
    ]
    return sorted(made, key=lambda record: record["heard_at"])


def write(folder: Path) -> None:
    """Write the records under ``forward_port``."""
    write_rows(folder / "forward_port", records())
