"""The air carried exactly from event to event against an ODE solver of a general library.

The equations are written here from the text: well mixed ideal gas, people breathing, water taking
volume, absorbent holding carbon dioxide while it lasts. `scipy.integrate.solve_ivp` steps them.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.survivors.air.chemistry import o2_mol_per_h, respiratory_quotient
from layers.survivors.air.state import AirChange, LevelLine
from layers.survivors.air.step import run
from tests.unit.test_survivors_air import still

R = 8.314462618
KELVIN = 280.15


def solved(
    persons: float, leaves: tuple[float, float], water: float, hold_kpa: float, takes: float
):
    """Return the pressure in bar and carbon dioxide in kPa through 100 h."""  # fmt: skip
    air = still()
    o2, co2 = float(air.o2[0, 0]), float(air.co2[0, 0])
    inert, volume = float(air.inert[0, 0]), 260.0

    def rates(t: float, y: np.ndarray) -> list[float]:
        o2_now, co2_now, free, left = y
        n = persons - (leaves[1] if t >= leaves[0] else 0.0)
        made = n * o2_mol_per_h() * respiratory_quotient()
        # a stiff pull to what is held stands for absorbent that is used as it is needed
        over = co2_now - hold_kpa * 1000.0 * free / (R * KELVIN)
        taken = 20.0 * max(over, 0.0) * min(max(left, 0.0) / 3.0, 1.0)
        used = n * o2_mol_per_h() if o2_now > 0 else 0.0
        return [-used, made - taken, -water, -taken]

    grid = np.linspace(0.0, 100.0, 2001)
    found = solve_ivp(
        rates, (0.0, 100.0), [o2, co2, volume, takes], t_eval=grid, rtol=1e-5, max_step=0.05,
    )  # fmt: skip
    o2_t, co2_t, free, _ = found.y
    unit = R * KELVIN / free
    return grid, (o2_t + co2_t + inert) * unit / 1e5, co2_t * unit / 1e3, o2_t * unit / 1e3


@pytest.mark.parametrize(
    ("persons", "leaves", "water", "takes"),
    [(30, (40.0, 16.0), 0.55, 900.0), (12, (1e9, 0.0), 1.2, 0.0), (30, (10.5, 30.0), 0.0, 300.0)],
)
def test_events_are_where_the_solver_has_them(persons, leaves, water, takes):
    hold = 4.7
    grid, bar, co2, o2 = solved(persons, leaves, water, hold, takes)
    air = still(water_m3_h=water, absorbs_left=takes, hold_co2_kpa=hold)
    gone = AirChange(compartment=0, after_h=np.array([leaves[0]]), persons=-leaves[1])
    limits = {"co2": 6.08, "o2 low": 16.0, "pressure": 2.6}
    lines = tuple(LevelLine(what=what, limit=limit) for what, limit in limits.items())
    ran = run(
        air, np.array([[float(persons)]]), lines=lines, changes=(gone,), hours=100.0,
        snapshot_hours=(60.0,),
    )  # fmt: skip
    then = ran.snapshots[0]
    at = int(np.searchsorted(grid, 60.0))
    # The solver's absorbent follows with a lag of a twentieth of an hour: a little above.
    assert then.pressure_bar()[0, 0] == pytest.approx(bar[at], rel=1e-3)
    assert then.partial_kpa(then.co2)[0, 0] == pytest.approx(co2[at], rel=0.01)
    for n, past in enumerate((co2 >= 6.08, o2 <= 16.0, bar >= 2.6)):
        found = ran.reached_h[n, 0, 0]
        expected = grid[np.argmax(past)] if past.any() else np.inf
        if np.isinf(expected):
            assert found > 99.9
        else:
            assert found == pytest.approx(expected, abs=0.15)


def test_a_day_swings_about_its_mean_and_a_closed_box_stays_closed():
    # Twice the pace for half the time is the same as the mean: closed form.
    line = (LevelLine(what="co2", limit=6.08),)
    people = np.array([[30.0]])
    even = run(still(), people, lines=line, hours=48.0).reached_h[0, 0, 0]
    paces = tuple(
        AirChange(compartment=0, after_h=np.array([h]), pace=np.array([1.5 if k % 2 else 0.5]))
        for k, h in enumerate(np.arange(0.0, 48.0, even / 4))
    )
    assert run(still(), people, lines=line, changes=paces, hours=48.0).reached_h[
        0, 0, 0
    ] == pytest.approx(even, rel=1e-6)
