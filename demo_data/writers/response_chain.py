"""The chain of the response, activity by activity, with the choices and what happened."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.response_rows import (
    ALL_ARDIS,
    ALL_LANTERN,
    AT_ALDERMOUTH,
    AT_TRESSICK,
    PLANNED,
    RECORDS,
    row,
)
from demo_data.writers.rows import stamp


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
