"""The response of the exercise: ports, loads, ships, the chain, the choice and what happened.

Each port fails something: Port Tressick's crane at the outreach needed and a 4.1 m bridge on
its road, Skerry Haven's runway, Aldermouth's depth alongside for the deeper of the two ships.
Whether Aldermouth's crane reaches is not known until it is asked for, and decides.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from layers.earth.position import Position

RECORDS = list[dict[str, Any]]
PLANNED = z(13, "1035")
FIRST_CHOICE, SECOND_CHOICE = z(13, "1145"), z(13, "1910")
ALL_LANTERN = ["lantern-aldermouth", "lantern-tressick", "lantern-skerry"]
ALL_ARDIS = ["ardis-aldermouth", "ardis-tressick"]
AT_ALDERMOUTH = ["lantern-aldermouth", "ardis-aldermouth"]
AT_TRESSICK = ["lantern-tressick", "ardis-tressick"]


def stamp(at: datetime) -> str:
    """Return a time as the records carry it."""
    return at.isoformat().replace("+00:00", "Z")


def row(
    form: str,
    kind: str,
    payload: dict[str, Any],
    at: datetime,
    source: str = "rescue staff",
    author: str = "watch officer 2",
) -> dict[str, Any]:
    """Return one record, heard when it was valid."""
    return {
        "id": f"forward-port-{form}",
        "kind": f"forward_port.{kind}",
        "valid_at": stamp(at),
        "heard_at": stamp(at),
        "source": source,
        "author": author,
        "payload": payload,
    }


def places() -> RECORDS:
    """Return ports, airfields, berths and tides."""
    found = []
    for name, position in s.PORTS.items():
        payload = {
            "name": name,
            "latitude_deg": position.latitude_deg,
            "longitude_deg": position.longitude_deg,
            "basis": "surveyed" if name == "Aldermouth" else "reported",
        }
        found.append(row(f"port-{name}", "port", payload, z(13, "0915"), "port directory"))
    runways = {
        "Aldermouth field": (2133.0, 45.0),
        "Tressick field": (2744.0, 45.0),
        "Skerry strip": (1524.0, 45.0),
    }
    for name, position in s.AIRFIELDS.items():
        length, width = runways[name]
        payload = {
            "name": name,
            "latitude_deg": position.latitude_deg,
            "longitude_deg": position.longitude_deg,
            "runway_length_m": length,
            "runway_width_m": width,
            "surface": "asphalt",
            "bearing_t": 180.0,
            "elevation_m": 60.0,
            "hottest_c": 14.0,
        }
        found.append(row(f"airfield-{name}", "airfield", payload, z(13, "0920"), "runway table"))
    berths = {
        "Port Tressick": ("Western arm", 160.0, 8.5, 6.0),
        "Skerry Haven": ("Pier 2", 210.0, 11.0, 5.0),
        "Aldermouth": ("Ring quay", 140.0, 5.9, 5.0),
    }
    for name, (berth, length, depth, strength) in berths.items():
        payload = {
            "port": name,
            "name": berth,
            "length_m": length,
            "depth_m": depth,
            "strength_t_m2": strength,
        }
        found.append(row(f"berth-{name}", "berth", payload, z(13, "0940"), f"{name} harbour"))
    return [*found, row("tide-aldermouth", "tide", tide(), z(13, "0945"), "tide table")]


def tide() -> dict[str, Any]:
    """Return Aldermouth's high and low waters: near neaps on 16 March."""
    first_high, between = z(13, "0640"), timedelta(hours=6, minutes=15)
    turns = []
    for number in range(32):
        day = number * between.total_seconds() / 86_400.0
        swing = 0.85 + 0.10 * abs(day - 3.0)  # metres either side of the mean
        high = number % 2 == 0
        turns.append(
            {
                "at": stamp(first_high + number * between),
                "height_m": round(2.1 + (swing if high else -swing), 2),
            }
        )
    return {"port": "Aldermouth", "turns": turns}


def cranes() -> RECORDS:
    """Return the cranes, as they became known."""
    tressick = {"port": "Port Tressick", "name": "quay crane", "largest_t": 60.0, "reach": []}
    hooked = {"rigging_t": 1.2, "dynamic_factor": 1.05}  # sheltered water, told by the riggers
    told = tressick | {
        **hooked,
        "reach": [
            {"outreach_m": 12.0, "capacity_t": 60.0},
            {"outreach_m": 16.0, "capacity_t": 28.0},
            {"outreach_m": 20.0, "capacity_t": 19.0},
        ],
    }
    skerry = {
        "port": "Skerry Haven",
        "name": "mobile crane",
        "largest_t": 120.0,
        "rigging_t": 1.2,
        "dynamic_factor": 1.05,
        "reach": [
            {"outreach_m": 14.0, "capacity_t": 52.0},
            {"outreach_m": 20.0, "capacity_t": 34.0},
        ],
    }
    aldermouth = {"port": "Aldermouth", "name": "ring crane", "largest_t": 80.0, "reach": []}
    answer = aldermouth | {
        **hooked,
        "reach": [
            {"outreach_m": 14.0, "capacity_t": 45.0},
            {"outreach_m": 18.0, "capacity_t": 33.0},
            {"outreach_m": 22.0, "capacity_t": 26.0},
        ],
    }
    return [
        row("crane-tressick", "crane", tressick, z(13, "0950"), "Port Tressick harbour"),
        row("crane-skerry", "crane", skerry, z(13, "0955"), "Skerry Haven harbour"),
        row("crane-aldermouth", "crane", aldermouth, z(13, "1000"), "Aldermouth harbour"),
        row("crane-tressick-2", "crane", told, z(13, "1640"), "Port Tressick harbour"),
        row("crane-aldermouth-2", "crane", answer, z(13, "1815"), "Aldermouth harbour"),
    ]


def roads() -> RECORDS:
    """Return the road legs; Port Tressick's direct road goes under a bridge 4.1 m high."""
    base = {"width_m": 5.5, "bridge_t": 80.0, "corner_radius_m": 14.0, "corner_width_m": 9.0}
    legs = [
        ("Ring road", "Aldermouth field", "Aldermouth", 31.0, 25.0, 5.1, {}),
        ("Coast road", "Tressick field", "Port Tressick", 44.0, 25.0, 4.1, {}),
        ("Haven road", "Skerry strip", "Skerry Haven", 26.0, 25.0, 4.9, {"bridge_t": 60.0}),
    ]
    found = []
    for name, field, port, length, speed, overhead, more in legs:
        start, goal = s.AIRFIELDS[field], s.PORTS[port]
        payload = {
            "name": name,
            "airfield": field,
            "port": port,
            "length_km": length,
            "speed_km_h": speed,
            "overhead_m": overhead,
            "points": [
                [start.latitude_deg, start.longitude_deg],
                [goal.latitude_deg, goal.longitude_deg],
            ],
            **base,
            **more,
        }
        found.append(row(f"road-{name}", "road", payload, z(13, "1005"), "roads office"))
    return found


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


def activity(
    key: str,
    title: str,
    after: list[str],
    hours: tuple[float, float, float] | None = None,
    at: datetime = PLANNED,
    **more: Any,
) -> dict[str, Any]:
    """Return one activity."""
    payload: dict[str, Any] = {"key": key, "title": title, "after": after, **more}
    if hours is not None:
        payload |= dict(zip(("least_h", "likely_h", "most_h"), hours, strict=True))
    return row(f"activity-{key}", "activity", payload, at)


def before_the_port() -> RECORDS:
    """Return what is the same for every option up to the flights."""
    found = [
        activity("recall", "Recall the team and break LIMPET down", [], (4.0, 5.5, 8.0)),
        activity("aircraft", "Position four aircraft at home", [], (4.0, 6.0, 9.0)),
        activity("overflight", "Clearance to overfly and land", [], (3.0, 5.0, 10.0)),
        activity("escort", "Road escort and police notice", [], (6.0, 9.0, 14.0)),
    ]
    for n in range(1, 5):
        after = ["recall", "aircraft"]
        found.append(
            activity(
                f"load-{n}",
                f"Load aircraft {n}",
                after if n == 1 else [*after, f"load-{n - 1}"],
                (1.0, 1.3, 2.0),
                resource="loader at home",
                returns=True,
            )
        )
    return found


def through_the_port() -> RECORDS:
    """Return flights, road and load-out for each port."""
    found = []
    for port, opts in (("aldermouth", AT_ALDERMOUTH), ("tressick", AT_TRESSICK),
                       ("skerry", ["lantern-skerry"])):  # fmt: skip
        home = port == "aldermouth"
        found.append(
            activity(
                f"customs-{port}",
                "Customs and the host nation's agent",
                [f"fly-1-{port}"],
                (0.5, 2.0, 5.0),
                options=opts,
            )
        )
        for n in range(1, 5):
            found += [
                activity(
                    f"fly-{n}-{port}",
                    f"Fly load {n}",
                    [f"load-{n}", "overflight"],
                    options=opts,
                    leg=f"flight-{port}",
                    leg_most=1.2,
                    returns=home,
                ),
                activity(
                    f"unload-{n}-{port}",
                    f"Unload aircraft {n}",
                    [f"fly-{n}-{port}"],
                    (0.7, 1.0, 1.6),
                    options=opts,
                    resource=f"loader at {port}",
                    returns=home,
                ),
                activity(
                    f"road-{n}-{port}",
                    f"Road move of load {n}",
                    [f"unload-{n}-{port}", f"customs-{port}", "escort"],
                    options=opts,
                    leg=f"road-{port}",
                    leg_most=1.8,
                    resource=f"road train at {port}",
                    returns=home,
                ),
            ]
    return found + load_out()


def load_out() -> RECORDS:
    """Return ships to the ports, lifting on board, sea-fastening, and the passage out."""
    found = [
        activity(
            "mobile-crane",
            "Hire and rig a crane that reaches",
            [],
            (26.0, 44.0, 60.0),
            options=AT_TRESSICK,
        ),
        activity(
            "fittings",
            "Make seatings for a ship without fittings",
            [],
            (18.0, 24.0, 36.0),
            options=ALL_ARDIS,
        ),
    ]
    for option, port in (
        ("lantern-aldermouth", "aldermouth"),
        ("lantern-tressick", "tressick"),
        ("lantern-skerry", "skerry"),
        ("ardis-aldermouth", "aldermouth"),
        ("ardis-tressick", "tressick"),
    ):
        ship = option.split("-")[0]
        found += _one_load_out(option, ship, port)
    return found


def _one_load_out(option: str, ship: str, port: str) -> RECORDS:
    only = [option]
    name = "NORTHERN LANTERN" if ship == "lantern" else "CAPE ARDIS"
    lift_after = [f"berth-{option}"] + (["mobile-crane"] if port == "tressick" else [])
    left = s.LANTERN_CALLED if ship == "lantern" else z(13, "1100")
    found = [
        activity(
            f"steam-{option}",
            f"{name} steams to port",
            [],
            options=only,
            leg=f"{ship}-to-{port}",
            leg_least=0.97,
            leg_most=1.15,
            not_before=stamp(left),
        ),
        activity(
            f"berth-{option}",
            "Pilot and berth",
            [f"steam-{option}"],
            (0.5, 0.8, 1.5),
            options=only,
        ),
    ]
    for n in range(1, 5):
        found.append(
            activity(
                f"lift-{n}-{option}",
                f"Lift load {n} on board",
                [*lift_after, f"road-{n}-{port}"],
                (0.8, 1.2, 2.2),
                options=only,
                resource=f"crane at {port}",
                returns=option == "lantern-aldermouth",
            )
        )
    fasten = (2.5, 3.5, 6.0) if ship == "lantern" else (14.0, 20.0, 30.0)
    lifts = [f"lift-{n}-{option}" for n in range(1, 5)]
    extra = ["fittings"] if ship == "ardis" else []
    return [
        *found,
        activity(f"fasten-{option}", "Sea-fasten", [*lifts, *extra], fasten, options=only),
        activity(
            f"trials-{option}",
            "Connect, try and accept",
            [f"fasten-{option}"],
            (3.0, 4.5, 8.0),
            options=only,
        ),
        activity(
            f"out-{option}",
            f"{name} steams to the scene",
            [f"trials-{option}"],
            options=only,
            leg=f"{ship}-{port}-scene",
            leg_least=0.97,
            leg_most=1.2,
            returns=option == "lantern-aldermouth",
        ),
    ]


def at_the_scene() -> RECORDS:
    """Return what is the same for every option at the scene, and the way to hospital."""
    arrived = [f"out-{option}" for option in (*ALL_LANTERN, *ALL_ARDIS)]
    return [
        activity("on-station", "Take station and brief the dive", arrived, (1.5, 2.2, 4.0)),
        activity(
            "descent",
            "Launch, dive, find the seat and mate",
            ["on-station"],
            (1.3, 2.1, 3.8),
            hs_max_m=s.LAUNCH_HS_M,
        ),
        activity("first-out", "First survivors pass into LIMPET", ["descent"], (0.7, 1.1, 2.0)),
        activity(
            "hospital-lift",
            "Stretcher cases ready to fly, doctor agrees",
            [],
            at=z(16, "0512"),
            options=["hospital"],
        ),
        activity(
            "hospital-flight",
            "Helicopter to Aldermouth",
            ["hospital-lift"],
            (1.2, 1.5, 2.5),
            z(16, "0512"),
            options=["hospital"],
            daylight=True,
        ),
        activity(
            "hospital-door",
            "Ambulance to hospital",
            ["hospital-flight"],
            (0.4, 0.6, 1.2),
            z(16, "0512"),
            options=["hospital"],
        ),
        activity(
            "recover-all",
            "Recover vehicle and transponders, close down",
            [],
            (3.0, 5.0, 9.0),
            z(16, "0500"),
            options=["home"],
        ),
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
    place = folder / "forward_port"
    place.mkdir(parents=True, exist_ok=True)
    text = "".join(json.dumps(record, ensure_ascii=False) + "\n" for record in records())
    (place / "records.jsonl").write_text(text, encoding="utf-8")
