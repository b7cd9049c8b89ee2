"""The air: steps, stores, water told from gas, learning from readings, pods, people leaving."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.errors import InputError, RecordRefused
from layers.survivors.air.chemistry import o2_mol_per_h, respiratory_quotient
from layers.survivors.air.formulas import air_outlook
from layers.survivors.air.learning.events import AirPrior, Event, PeoplePresent, Sample
from layers.survivors.air.learning.learn import learn
from layers.survivors.air.state import Air, AirChange, LevelLine
from layers.survivors.air.step import run
from tests.survivors_journal import AT, Told

HOUR = timedelta(hours=1)
N = 2_000


def still(persons: int = 0, **more: float) -> Air:
    """A box of 260 m3 at 7 °C, 2.1 bar, 13 % oxygen, 2.2 % carbon dioxide."""
    ones = np.ones((1, 1))
    total = 2.1e5 * 260.0 / (8.314462618 * 280.15)
    values = {
        "o2": 0.13 * total,
        "co2": 0.022 * total,
        "inert": 0.848 * total,
        "volume_m3": 260.0,
        "oxygen_left": 0.0,
        "absorbs_left": 0.0,
        "breath": o2_mol_per_h(),
        "rq": respiratory_quotient(),
        "water_m3_h": 0.0,
        "leak_mol_h": 0.0,
        "hold_o2_kpa": 0.0,
        "hold_co2_kpa": np.inf,
        "kelvin": 280.15,
    }
    return Air(**{name: value * ones for name, value in {**values, **more}.items()})


def after_hours(air: Air, persons: int, hours: float) -> Air:
    people = np.array([[float(persons)]])
    return run(air, people, hours=hours, snapshot_hours=(hours,)).snapshots[0]


def test_water_raises_every_partial_pressure_and_keeps_the_fractions():
    air = still()
    wet = after_hours(still(water_m3_h=1.3), 0, 20.0)
    assert wet.volume_m3[0, 0] == pytest.approx(234.0)
    ratio = 260.0 / 234.0
    assert wet.pressure_bar()[0, 0] == pytest.approx(2.1 * ratio)
    assert wet.partial_kpa(wet.co2)[0, 0] == pytest.approx(air.partial_kpa(air.co2)[0, 0] * ratio)


def test_gas_leaking_in_raises_the_whole_and_dilutes_carbon_dioxide():
    air = still()
    leaky = after_hours(still(leak_mol_h=100.0), 0, 20.0)
    assert leaky.pressure_bar()[0, 0] > 2.1
    assert leaky.partial_kpa(leaky.co2)[0, 0] == pytest.approx(air.partial_kpa(air.co2)[0, 0])
    total = leaky.o2 + leaky.co2 + leaky.inert
    assert 100 * (leaky.co2 / total)[0, 0] < 2.2


def test_gas_leaking_out_takes_of_every_gas_its_share():
    air = still()
    total = air.o2 + air.co2 + air.inert
    # by hand: a tenth of all of it in 20 h, and the fractions stay
    left = after_hours(still(leak_mol_h=-0.005 * float(total[0, 0])), 0, 20.0)
    for name in ("o2", "co2", "inert"):
        assert getattr(left, name)[0, 0] == pytest.approx(0.9 * getattr(air, name)[0, 0])
    line = (LevelLine(what="co2", limit=6.08),)
    reached = [
        run(still(leak_mol_h=flow), np.array([[30.0]]), lines=line, hours=100.0).reached_h[0, 0, 0]
        for flow in (-0.001 * float(total[0, 0]), 0.0)
    ]
    # with people in it: by steps of a minute
    mol = 30 * o2_mol_per_h() * respiratory_quotient()
    co2, all_of_it, hours = float(air.co2[0, 0]), float(total[0, 0]), 0.0
    out = 0.001 * all_of_it
    limit = 6.08e3 * 260.0 / (8.314462618 * 280.15)
    used = 30 * o2_mol_per_h()
    while co2 < limit:
        co2 += (mol - out * co2 / all_of_it) / 60.0
        all_of_it += (mol - used - out) / 60.0
        hours += 1.0 / 60.0
    assert reached[0] == pytest.approx(hours, rel=0.006)  # its steps are longer
    assert reached[0] > reached[1]


def test_absorbent_holds_until_it_is_spent_then_the_rise_begins():
    mol_h = 30 * o2_mol_per_h() * respiratory_quotient()
    held = still(absorbs_left=10 * mol_h, hold_co2_kpa=4.62)
    lines = (LevelLine(what="co2", limit=6.08), LevelLine(what="absorbent"))
    reached = run(held, np.array([[30.0]]), lines=lines, hours=48.0).reached_h[:, 0, 0]
    free = (6.08 - 4.62) * 1000 * 260 / (8.314462618 * 280.15) / mol_h
    assert reached[0] == pytest.approx(10.0 + free, abs=0.05)
    assert reached[1] == pytest.approx(10.0, abs=1.0)


def test_candles_hold_oxygen_until_they_are_spent():
    used = 30 * o2_mol_per_h()
    air = still(oxygen_left=12 * used, hold_o2_kpa=27.3)
    low = run(air, np.array([[30.0]]), lines=(LevelLine(what="o2 low", limit=16.0),), hours=90.0)
    free = (27.3 - 16.0) * 1000 * 260 / (8.314462618 * 280.15) / used
    assert low.reached_h[0, 0, 0] == pytest.approx(12.0 + free, abs=0.1)


def test_no_store_ever_runs_negative():
    air = still(oxygen_left=50.0, hold_o2_kpa=27.0, absorbs_left=30.0, hold_co2_kpa=4.0)
    end = after_hours(air, 30, 100.0)
    assert end.oxygen_left[0, 0] == 0.0
    assert end.absorbs_left[0, 0] == 0.0
    assert end.o2[0, 0] >= 0.0


def test_people_leaving_make_the_rest_last_longer_in_proportion():
    line = (LevelLine(what="co2", limit=6.08),)
    stay = run(still(), np.array([[30.0]]), lines=line, hours=100.0).reached_h[0, 0, 0]
    gone = AirChange(compartment=0, after_h=np.array([0.0]), persons=-15.0)
    half = run(still(), np.array([[30.0]]), lines=line, changes=(gone,), hours=100.0)
    assert half.reached_h[0, 0, 0] == pytest.approx(2.0 * stay, abs=0.02)


def test_blocks_of_draws_give_the_same_as_all_at_once():
    rng = np.random.default_rng(3)
    air = Air(
        **{
            name: np.repeat(getattr(still(absorbs_left=300.0, hold_co2_kpa=4.6), name), 50, axis=1)
            for name in Air.__slots__
        }
    )
    air.breath *= np.exp(0.2 * rng.standard_normal((1, 50)))
    lines = (LevelLine(what="co2", limit=6.08), LevelLine(what="pressure", limit=2.2))
    whole = run(air, np.array([[30.0]]), lines=lines, block=50)
    pieces = run(air, np.array([[30.0]]), lines=lines, block=7)
    assert np.allclose(whole.reached_h, pieces.reached_h, rtol=0.0, atol=1e-6)


def test_a_compartment_that_fills_never_gets_a_negative_volume():
    end = after_hours(still(water_m3_h=30.0), 0, 200.0)
    assert end.volume_m3[0, 0] > 0.0


# Learning -------------------------------------------------------------------------------------

PRIOR = AirPrior(
    volume_m3=260.0,
    volume_share=0.05,
    breath=o2_mol_per_h(),
    breath_share=0.15,
    rq=respiratory_quotient(),
    water_share=0.004,
    leak_share=0.004,
    swing_share=0.0,  # here people breathe evenly, and no instrument keeps an error
    wander_share=0.0,
    bias_bar=0.0,
    bias_o2=0.0,
    bias_co2=0.0,
)


def told_by(truth: Air, persons: int) -> list[Event]:
    """Readings without error every four hours of how the air truly goes."""
    events: list[Event] = [PeoplePresent(at_h=0.0, persons=persons)]
    for at in (0.0, 4.0, 8.0, 12.0, 16.0, 20.0):
        air = after_hours(truth, persons, at)
        total = (air.o2 + air.co2 + air.inert)[0, 0]
        events.append(
            Sample(
                at_h=at,
                pressure_bar=float(air.pressure_bar()[0, 0]),
                o2_percent=float(100 * air.o2[0, 0] / total),
                co2_percent=float(100 * air.co2[0, 0] / total),
                kelvin=280.15,
                key=str(at),
            )
        )
    return events


def learnt(truth: Air, persons: int) -> Air:
    found = learn(PRIOR, told_by(truth, persons), 20.0, n_draws=N, seed=1, name="after")
    assert found is not None
    return found.air


def test_water_and_gas_coming_in_are_told_apart_from_the_readings():
    wet, leaky = learnt(still(water_m3_h=1.5), 10), learnt(still(leak_mol_h=140.0), 10)
    assert np.median(wet.water_m3_h) == pytest.approx(1.5, rel=0.25)
    assert abs(np.median(wet.leak_mol_h)) < 50.0
    assert np.median(leaky.leak_mol_h) == pytest.approx(140.0, rel=0.25)
    assert abs(np.median(leaky.water_m3_h)) < 0.5


def test_breathing_is_learnt_from_the_readings():
    truth = still()
    truth.breath *= 1.25
    found = learnt(truth, 30)
    ratio = found.breath / o2_mol_per_h() * 260.0 / found.volume_m3
    # Judged with the prior (1.00 +- 0.16) still in it, so a little short of the truth.
    assert np.median(ratio) == pytest.approx(1.25, abs=0.08)
    assert ratio.std() < PRIOR.breath_share / 2.0


def jump(at_h: float = 24.0, **more: object) -> Sample:
    """A pressure that no chance explains."""
    told = {"pressure_bar": 2.9, "o2_percent": 13.0, "co2_percent": 2.0, "kelvin": 280.15}
    return Sample(at_h=at_h, key=f"jump {at_h}", **told, **more)  # type: ignore[arg-type]  # fields by their names


def after_jumps(*jumps: Sample, persons: int = 10):
    events = [*told_by(still(), persons), *jumps]
    found = learn(PRIOR, events, jumps[-1].at_h, n_draws=N, seed=1, name="after")
    assert found is not None
    return found


def test_a_reading_no_chance_explains_is_doubtful_and_waits_beside_the_model():
    found = after_jumps(jump())
    last = next(c for c in found.corrections if c.key == "jump 24.0")
    assert last.doubtful
    assert last.off == pytest.approx(0.85, abs=0.1)
    assert np.median(found.air.pressure_bar()) == pytest.approx(2.05, abs=0.05)
    assert found.doubted is not None
    assert np.median(found.doubted.pressure_bar()) == pytest.approx(2.9, abs=0.03)
    assert found.doubt is not None
    assert "pressure" in found.doubt.quantities


def test_a_doubtful_reading_that_a_person_stands_by_begins_the_model_again():
    found = after_jumps(jump(sure=True))
    assert next(c for c in found.corrections if c.key == "jump 24.0").began_again
    assert np.median(found.air.pressure_bar()) == pytest.approx(2.9, abs=0.03)
    assert found.doubted is None


def test_a_second_reading_that_agrees_with_the_doubtful_one_settles_it():
    found = after_jumps(jump(24.0), jump(25.0))
    assert np.median(found.air.pressure_bar()) == pytest.approx(2.9, abs=0.05)
    assert found.doubt is None


def test_a_second_reading_that_agrees_with_the_model_drops_the_doubtful_one():
    plain = Sample(
        at_h=25.0, pressure_bar=2.05, o2_percent=11.8, co2_percent=3.2, kelvin=280.15, key="plain"
    )
    found = after_jumps(jump(), plain)
    assert found.doubted is None
    assert np.median(found.air.pressure_bar()) == pytest.approx(2.06, abs=0.05)


def test_a_reading_in_which_nobody_could_live_is_doubtful_at_once():
    # 0.0 % oxygen with people alive: loss of consciousness below about 6 kPa.
    first = Sample(
        at_h=0.0, pressure_bar=2.1, o2_percent=0.0, co2_percent=2.2, kelvin=280.15, key="first"
    )
    found = learn(
        PRIOR, [PeoplePresent(at_h=0.0, persons=10), first], 0.0, n_draws=N, seed=1, name="after"
    )
    assert found is not None
    assert found.read == {"carbon dioxide"}
    assert found.doubt is not None
    assert found.doubt.quantities == {"oxygen"}


def test_same_seed_gives_the_same_draws():
    assert np.array_equal(learnt(still(), 10).breath, learnt(still(), 10).breath)


# From the journal -----------------------------------------------------------------------------

SOURCE = "exercise annex, invented"


def refuge(told: Told | None = None) -> Told:
    told = told or Told()
    told.complement("sailing list", 30)
    told.move("not accounted for", "after", 30)
    told.add(
        "survivors.compartment",
        {"refuge": "after", "free_volume_m3": 260.0, "depth_m": 142.0},
    )
    told.add("survivors.air", reading())
    told.add(
        "survivors.level",
        {
            "name": "CO2",
            "quantity": "carbon dioxide",
            "gas": {"value": 6.0, "unit": "sev_percent"},
            "source": SOURCE,
            "entered_by": "medical officer",
        },
    )
    return told


def reading(**more: object) -> dict[str, object]:
    return {
        "refuge": "after",
        "pressure": {"value": 2.1, "unit": "bar", "reference": "absolute"},
        "oxygen": {"value": 13.0, "unit": "percent"},
        "carbon_dioxide": {"value": 2.2, "unit": "percent"},
        "temperature_c": 7.0,
        **more,
    }


def lioh(mass_kg: float) -> dict[str, object]:
    return {
        "item": "absorbent",
        "chemical": "lithium hydroxide",
        "mass_kg": mass_kg,
        "efficiency": 0.7,
        "told_for_c": 7.0,
    }


def looked(told: Told, hours: float = 1.0, n_draws: int = N):
    at = AT + hours * HOUR
    return air_outlook(told.known(), Moment(at, at), n_draws=n_draws)


def test_surface_equivalent_at_pressure_is_worked_out():
    # 2.2 % by volume at 2.1 bar absolute: 2.2 x 2.1 / 1.01325 = 4.56 % SEV, by hand.
    air = looked(refuge(), hours=0.0).refuges[0]
    assert air.co2_sev_percent.p50 == pytest.approx(4.56, abs=0.03)
    assert air.levels[0].source == SOURCE


def test_no_level_is_shipped():
    told = Told()
    told.complement("sailing list", 30)
    told.move("not accounted for", "after", 30)
    told.add("survivors.compartment", {"refuge": "after", "free_volume_m3": 260.0})
    told.add("survivors.air", reading())
    out = looked(told)
    assert out.endurance == ()
    assert any("the medical officer enters each with its source" in said for said in out.missing)


def test_stores_lengthen_the_time_and_a_pod_on_its_way_says_how_much_more():
    bare = looked(refuge()).refuges[0].levels[0].hours.p50
    told = refuge()
    told.add("survivors.stores", {"refuge": "after", "stock": lioh(100.0)})
    stored = looked(told).refuges[0].levels[0].hours.p50
    assert stored - bare == pytest.approx(
        100 * 0.7 * 0.91884 / (30 * 1.00 / 24), rel=0.05
    )  # kg taken over kg made an hour
    told.add(
        "survivors.pod",
        {"pod": "A1", "refuge": "after", "state": "posted", "contents": [lioh(20.0)]},
    )
    gain = looked(told).refuges[0].pod_gains[0]
    assert gain.gain_h.p50 == pytest.approx(20 * 0.7 * 0.91884 / (30 * 1.00 / 24), rel=0.05)


@dataclass(frozen=True)
class Leaving:
    at_us: np.ndarray
    refuge: str
    persons: int


def test_the_model_runs_again_on_the_same_draws_with_people_leaving():
    told = refuge()
    candles = {"item": "oxygen candles", "count": 0, "oxygen_kg_each": 2.0}
    for none in (lioh(0.0), candles):  # counted: there are none
        told.add("survivors.stores", {"refuge": "after", "stock": none})
    out = looked(told, n_draws=500)
    again = out.model(n_draws=500, pods=False, leaving=())
    assert np.array_equal(again[0].runs_out_us, out.endurance[0].runs_out_us)
    start_us = int((AT + HOUR).timestamp() * 1e6)
    fewer = out.model(
        n_draws=500, pods=False, leaving=(Leaving(np.full(500, start_us), "after", 15),)
    )
    left = again[0].runs_out_us - start_us
    # Exactly twice but for water and gas coming in, which do not ask how many are there.
    later = left > 0
    ratio = (fewer[0].runs_out_us - start_us)[later] / left[later]
    assert np.median(ratio) == pytest.approx(2.0, rel=0.06)
    assert ratio.min() > 1.4  # the day's swing makes the later hours other than the first


def test_breathing_from_bottles_raises_the_pressure_until_they_are_spent():
    told = refuge()
    before = looked(told, hours=4.0).refuges[0].pressure_bar.p50
    bottles = {"item": "breathing air", "air_kg": 50.0, "persons_breathing": 10}
    told.add("survivors.stores", {"refuge": "after", "stock": bottles})
    # 50 kg of air is 1726 mol: 0.155 bar in 260 m3 at 7 °C; ten persons at 10 L/min of 2.1 bar
    # use it up in 3.2 h. By hand; the 10 L/min are from memory, not checked against a page.
    rise = looked(told, hours=4.0).refuges[0].pressure_bar.p50 - before
    assert rise == pytest.approx(0.155, abs=0.02)
    later = looked(told, hours=8.0).refuges[0].pressure_bar.p50
    assert "from memory" in looked(told).refuges[0].doubts[0]
    assert later == pytest.approx(before + rise, abs=0.02)


def test_high_oxygen_level_and_carbon_monoxide_are_watched():
    told = refuge()
    for name, quantity, limit in (
        ("oxygen high", "high oxygen", {"gas": {"value": 28.0, "unit": "kPa"}}),
        ("CO", "carbon monoxide", {"carbon_monoxide_ppm": 50.0}),
    ):
        level = {"name": name, "quantity": quantity, "source": SOURCE, "entered_by": "officer"}
        told.add("survivors.level", level | limit)
    told.add("survivors.air", reading(carbon_monoxide_ppm=10.0), hours=1.0)
    told.add("survivors.air", reading(carbon_monoxide_ppm=12.0), hours=2.0)
    air = looked(told, hours=2.0).refuges[0]
    high = next(one for one in air.levels if one.name == "oxygen high")
    assert high.within_horizon < 0.5  # oxygen is being used up
    trend = next(one for one in air.trends if one.quantity == "carbon monoxide")
    # 12 ppm at 2.1 bar acts as 24.9 ppm at the surface and gains 4.15 an hour: 50 in 6.1 h.
    assert trend.last == pytest.approx(24.87, abs=0.01)
    assert dict(trend.crosses)["CO"] == pytest.approx(6.06, abs=0.02)


def test_correction_of_a_store_moves_the_time():
    told = refuge()
    wrong = told.add("survivors.stores", {"refuge": "after", "stock": lioh(181.0)})
    before = looked(told).refuges[0].levels[0].hours.p50
    told.opinion("journal.correct", wrong, fields={"stock": lioh(118.0)})
    assert looked(told).refuges[0].levels[0].hours.p50 < before - 20.0


def test_disputed_reading_is_left_out_and_said():
    told = refuge()
    doubted = told.add("survivors.air", reading(carbon_dioxide={"value": 5.9, "unit": "percent"}))
    told.opinion("journal.dispute", doubted)
    air = looked(told).refuges[0]
    assert air.co2_sev_percent.p50 < 5.0
    assert any("disputed and left out" in doubt for doubt in air.doubts)


def test_no_volume_says_what_would_fill_the_place():
    told = Told()
    told.complement("sailing list", 30)
    told.add("survivors.air", reading())
    assert any("free volume of 'after' is not known" in said for said in looked(told).missing)


# Bad input ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("payload", "said"),
    [
        (reading(carbon_dioxide={"value": 140.0, "unit": "percent"}), "140 % by volume is more"),
        (reading(carbon_dioxide={"value": 2.2}), "does not state its unit"),
        (reading(pressure={"value": 2.1, "unit": "bar"}), "does not state its reference"),
        (reading(pressure={"value": 2.1, "reference": "absolute"}), "does not state its unit"),
        (reading(pressure=None), "at an unstated pressure is unusable"),
        (reading(oxygen={"value": 99.0, "unit": "percent"}), "more than the whole"),
    ],
)
def test_unusable_reading_is_refused_with_a_sentence(payload, said):
    with pytest.raises(InputError, match=said):
        refuge().add("survivors.air", payload)


def test_feet_taken_for_bar_are_refused_above_the_sea_outside():
    # 36 fsw is 2.1 bar absolute; typed as bar it is more than the sea at 142 m (15.3 bar).
    wrong = reading(pressure={"value": 36.0, "unit": "bar", "reference": "gauge"})
    with pytest.raises(RecordRefused, match=r"more than the sea outside at 142 m \(15\.3 bar\)"):
        refuge().add("survivors.air", wrong)


def test_pressure_outside_what_people_are_brought_out_of_is_flagged():
    told = refuge()
    told.add("survivors.air", reading(pressure={"value": 9.0, "unit": "bar", "reference": "gauge"}))
    assert any("was the unit right?" in doubt for doubt in looked(told).refuges[0].doubts)


def test_more_used_than_there_was_is_refused():
    told = refuge()
    told.add("survivors.stores", {"refuge": "after", "stock": lioh(20.0)})
    used = {"refuge": "after", "item": "absorbent", "amount": 25.0, "unit": "kg"}
    with pytest.raises(RecordRefused, match=r"25 kg of absorbent used leaves -5: 'after' had 20"):
        told.add("survivors.stores_used", used)


def test_level_in_per_cent_by_volume_is_refused():
    level = {
        "name": "x",
        "quantity": "carbon dioxide",
        "gas": {"value": 3.0, "unit": "percent"},
        "source": SOURCE,
        "entered_by": "medical officer",
    }
    with pytest.raises(InputError, match="another partial pressure at each pressure"):
        refuge().add("survivors.level", level)


def test_level_without_a_source_is_refused():
    level = {
        "name": "x",
        "quantity": "carbon dioxide",
        "gas": {"value": 3.0, "unit": "sev_percent"},
        "entered_by": "medical officer",
    }
    with pytest.raises(InputError, match="source"):
        refuge().add("survivors.level", level)
