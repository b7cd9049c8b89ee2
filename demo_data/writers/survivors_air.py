"""The boat as a place with air: refuges, readings, stores, pods, levels, water coming in."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from demo_data import scenario as s, survivors_truth as truth
from demo_data.scenario import z
from demo_data.writers.rows import UWT
from demo_data.writers.survivors_rows import line, opinion


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
