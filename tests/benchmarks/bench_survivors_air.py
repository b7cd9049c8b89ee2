"""Figures of the air: six compartments, 10,000 draws, 10 days in 10-minute steps."""

from __future__ import annotations

import numpy as np

from layers.survivors.air.chemistry import AIR_O2_FRACTION, o2_mol_per_h, respiratory_quotient
from layers.survivors.air.state import Air, LevelLine
from layers.survivors.air.step import run
from tests.benchmarks.figure import Figure, seconds
from tests.property.test_survivors_air_coverage import coverage

SHAPE, STEPS = (6, 10_000), 1_440


def compartments() -> Air:
    """Six refuges with stores that run out part of the way, water and gas coming in."""
    rng = np.random.default_rng(20270313)
    volume = 300.0 * np.exp(0.1 * rng.standard_normal(SHAPE))
    total = 101_325.0 * volume / (8.314462618 * 293.15)

    def spread(value: float, share: float) -> np.ndarray:
        return value * np.exp(share * rng.standard_normal(SHAPE))

    return Air(
        o2=AIR_O2_FRACTION * total,
        co2=0.0004 * total,
        inert=(1.0 - 0.0004 - AIR_O2_FRACTION) * total,
        volume_m3=volume,
        oxygen_left=spread(4_000.0, 0.2),
        absorbs_left=spread(4_000.0, 0.2),
        breath=spread(o2_mol_per_h(), 0.15),
        rq=spread(respiratory_quotient(), 0.03),
        water_m3_h=spread(0.1, 0.5),
        leak_mol_h=spread(1.0, 0.5),
        hold_o2_kpa=spread(19.0, 0.05),
        hold_co2_kpa=spread(2.0, 0.05),
        kelvin=np.full(SHAPE, 293.15),
    )


def figures() -> list[Figure]:
    """Return the cost of the air, and how often its bands hold synthetic truth."""
    air, people = compartments(), np.full((6, 1), 25.0)
    lines = (
        LevelLine(what="co2", limit=3.04),
        LevelLine(what="o2 low", limit=16.0),
        LevelLine(what="pressure", limit=1.2),
        LevelLine(what="absorbent"),
        LevelLine(what="oxygen stores"),
    )
    value, factor, term = np.ones(SHAPE), np.full(SHAPE, 0.9999), np.full(SHAPE, 0.001)

    def bare() -> None:
        for _ in range(STEPS):
            np.multiply(value, factor, out=value)
            np.add(value, term, out=value)

    def whole() -> None:
        run(air, people, lines=lines, hours=240.0, block=10_000)

    shares = coverage(1_000, 600, seed=2027)
    worst = max(shares.values(), key=lambda share: abs(share - 0.95))
    told = ", ".join(f"{name} {share:.3f}" for name, share in shares.items())
    return [
        Figure(
            issue=6,
            name="air of six compartments, 10,000 draws, 10 days",
            ratio=seconds(whole, 5) / seconds(bare, 5),
            target=15.0,
            direction="at most",
            reference="numpy multiply and add, in place, of the same arrays and steps",
            note="five lines watched, stores running out on the way",
        ),
        Figure(
            issue=6,
            name="air: 95 % bands hold synthetic truth, the share furthest from 0.95",
            ratio=worst,
            target=0.93,
            direction="at least",
            reference="1,000 worlds drawn and read with error (also at most 0.97)",
            unit="",
            note=told,
        ),
    ]
