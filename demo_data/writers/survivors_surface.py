"""People in the water, who can fetch them and who stands ready, hospitals and flying."""

from __future__ import annotations

from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.survivors_air import MEDICAL
from demo_data.writers.survivors_rows import line


def surface_and_ashore() -> list[dict[str, Any]]:
    """Return who is in the water, who can fetch them, and where a hospital has room."""
    return [*in_the_water(), *crafts(), *ready_now(), *hospitals(), flight_limit()]


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
        "speed_kn": 16.0,
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


def ready_now() -> list[dict[str, Any]]:
    """Return what stands ready should they come up by themselves, and again when more is there."""
    told: tuple[tuple[str, str, str, int, int, int], ...] = (
        ("saltmarsh-1", "131608", "SALTMARSH", 24, 1, 0),
        ("heron-1", "132212", "GREY HERON", 40, 1, 1),
        ("lantern-1", "160142", s.SUPPORT_SHIP, 60, 2, 2),
        ("saltmarsh-2", "160531", "SALTMARSH", 20, 1, 0),
        ("heron-2", "160536", "GREY HERON", 40, 1, 1),
        ("lantern-2", "160548", s.SUPPORT_SHIP, 60, 1, 2),
    )
    return [
        line(
            f"survivors-ready-{form}",
            "survivors.ready",
            z(int(at[:2]), at[2:]),
            {"held_by": ship, "raft_places": rafts, "boats": boats, "doctors": doctors},
            source=ship,
        )
        for form, at, ship, rafts, boats, doctors in told
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
