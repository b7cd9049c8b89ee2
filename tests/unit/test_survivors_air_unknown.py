"""The air where knowledge is partial, late or doubtful: bounds or *not known*, never a figure."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.earth.uncertain import Bounds, NotKnown, Number, ends
from layers.survivors.air.formulas import air_outlook
from layers.survivors.air.report import sentence
from tests.survivors_journal import AT, Told

HOUR = timedelta(hours=1)
SOURCE = {"source": "invented for a test", "entered_by": "the test"}
LEVELS = {
    "CO2": ("carbon dioxide", {"gas": {"value": 6.0, "unit": "sev_percent"}}),
    "O2": ("low oxygen", {"gas": {"value": 16.0, "unit": "kPa"}}),
    "CO": ("carbon monoxide", {"carbon_monoxide_ppm": 50.0}),
    "cold": ("low temperature", {"temperature_c": 4.0}),
    "pressure": ("pressure", {"pressure": {"value": 5.0, "unit": "bar", "reference": "absolute"}}),
    "chlorine": ("other gas", {"gas_name": "chlorine", "ppm": 2.0}),
}


def boat(*levels: str, volume: bool = True, persons: int | None = 30, room: float = 260.0) -> Told:
    told = Told()
    told.complement("sailing list", 60)
    if persons:
        told.move("not accounted for", "after", persons)
    if volume:
        told.add("survivors.compartment", {"refuge": "after", "free_volume_m3": room})
    for name in levels:
        quantity, limit = LEVELS[name]
        told.add("survivors.level", {"name": name, "quantity": quantity, **limit, **SOURCE})
    return told


def no_stores(told: Told) -> None:
    """Tell that stores were counted, and there are none."""
    soda = {"item": "absorbent", "chemical": "soda lime", "mass_kg": 0.0, "efficiency": 0.7}
    candles = {"item": "oxygen candles", "count": 0, "oxygen_kg_each": 2.0}
    for stock in (soda, candles):
        told.add("survivors.stores", {"refuge": "after", "stock": stock})


def read(told: Told, hours: float = 0.0, **more: object) -> str:
    reading: dict[str, object] = {
        "refuge": "after",
        "pressure": {"value": 1.3, "unit": "bar", "reference": "absolute"},
    }
    gases = {"oxygen": more.pop("o2", None), "carbon_dioxide": more.pop("co2", None)}
    for name, value in gases.items():
        if value is not None:
            reading[name] = {"value": value, "unit": "percent"}
    return told.add("survivors.air", {**reading, **more}, hours)


def looked(told: Told, hours: float = 1.0):
    at = AT + hours * HOUR
    return air_outlook(told.known(), Moment(at, at), n_draws=1_000)


def refuge(told: Told, hours: float = 1.0):
    return looked(told, hours).refuges[0]


# What ends life binds, whatever its kind ------------------------------------------------------


def test_a_level_already_reached_is_said_first_whatever_its_kind():
    told = boat("CO2", "CO", "cold")
    read(told, o2=19.0, co2=1.0, carbon_monoxide_ppm=400.0, temperature_c=9.0)
    found = looked(told, 0.5)
    assert found.refuges[0].levels[0].name == "CO"
    assert found.refuges[0].levels[0].reached
    assert sentence(found).startswith("After refuge: 'CO' (50 ppm surface equivalent) IS REACHED.")
    assert {one.level for one in found.endurance} >= {"CO2", "CO"}


def test_cold_that_comes_sooner_binds_by_its_trend_with_its_error():
    told = boat("CO2", "cold", room=3_000.0)
    for at, warm in ((0.0, 9.0), (6.0, 8.0), (12.0, 7.0)):
        read(told, at, o2=19.0, co2=0.5, temperature_c=warm)
    one = refuge(told, 12.0)
    assert one.levels[0].name == "cold"
    # 7 °C falling 1 °C in six hours: 4 °C after 18 h by the straight line, later if it slows.
    assert 17.0 < one.levels[0].hours.p50 < 24.0
    assert one.levels[0].hours.p10 < one.levels[0].hours.p50 < one.levels[0].hours.p90


def test_water_at_the_hatch_is_a_level_of_its_refuge():
    told = boat()
    told.add(
        "survivors.compartment",
        {"refuge": "after", "free_volume_m3": 260.0, "free_volume_at_hatch_m3": 200.0},
    )
    read(told, o2=19.0, co2=0.5)
    told.add("survivors.inflow", {"refuge": "after", "what": "water", "m3_per_h": 2.0,
                                  "spread_percent": 10.0})  # fmt: skip
    level = next(one for one in refuge(told).levels if one.quantity == "flooding")
    assert level.hours.p50 == pytest.approx(29.0, abs=6.0)  # 60 m3 at 2 an hour, by hand 30 h


def test_another_gas_counts_too():
    told = boat("chlorine")
    for at, ppm in ((0.0, 0.2), (2.0, 0.5), (4.0, 0.8)):
        read(told, at, other_gases=[{"gas": "chlorine", "ppm": ppm}])
    assert refuge(told, 4.0).levels[0].name == "chlorine"


# Not known stays not known --------------------------------------------------------------------


def test_a_gas_that_was_not_read_is_neither_spoken_nor_forecast():
    told = boat("CO2", "O2")
    read(told, temperature_c=9.0)
    found = looked(told)
    one = found.refuges[0]
    assert one.oxygen_kpa is None
    assert one.co2_sev_percent is None
    assert "carbon dioxide 2" not in sentence(found)
    assert "oxygen in 'after'" in sentence(found)
    assert isinstance(one.lasts, NotKnown)
    assert found.endurance == ()


def test_one_level_never_read_leaves_at_most_that_of_the_others():
    told = boat("CO2", "CO")
    no_stores(told)
    read(told, o2=19.0, co2=1.0)
    one = refuge(told)
    lasts = one.lasts
    assert isinstance(lasts, Bounds)
    assert lasts.at_least is None
    assert lasts.at_most == pytest.approx(one.levels[0].hours.p50)
    assert lasts.missing == ("carbon monoxide in 'after'",)


@pytest.mark.parametrize(
    ("lacks", "asked"),
    [({"volume": False}, "the free volume of 'after'"), ({"persons": None}, "how many are in")],
)
def test_no_volume_or_nobody_counted_leaves_no_time(lacks: dict[str, object], asked: str):
    told = boat("CO2", **lacks)  # type: ignore[arg-type]  # fields by their names
    read(told, o2=19.0, co2=1.0)
    found = looked(told)
    assert found.endurance == ()
    assert any(asked in missing for end in found.unknown for missing in end.missing)
    assert found.refuges[0].co2_sev_percent is not None  # as read, it stands


def test_a_level_reached_is_known_even_without_the_volume():
    told = boat("CO2", volume=False)
    read(told, o2=17.0, co2=6.0)
    assert refuge(told).levels[0].reached


def test_a_refuge_never_read_is_named_and_the_other_stays_a_number():
    told = boat("CO2")
    no_stores(told)
    told.move("not accounted for", "forward", 20)
    read(told, o2=19.0, co2=1.0)
    found = looked(told)
    assert [one.refuge for one in found.unknown if not one.level] == ["forward"]
    assert isinstance(found.refuges[0].lasts, Number)


def test_nobody_is_asked_of_refuges_that_nobody_spoke_of():
    told = boat("CO2")
    read(told, o2=19.0, co2=1.0)
    assert not any("forward" in said for said in looked(told).missing)


# Doubtful readings ----------------------------------------------------------------------------


def steady(room: float = 900.0) -> Told:
    told = boat("CO2", room=room)
    no_stores(told)
    for at, co2 in ((0.0, 1.0), (2.0, 1.1), (4.0, 1.2)):
        read(told, at, o2=19.0, co2=co2)
    return told


def test_a_slip_that_shortens_sets_the_at_least_and_is_asked_about():
    plain = refuge(steady(), 5.0)
    told = steady()
    read(told, 5.0, o2=18.8, co2=16.0)  # 1.6 typed as 16
    one = refuge(told, 5.0)
    level = one.levels[0]
    assert not level.reached
    assert level.hours.p50 == pytest.approx(plain.levels[0].hours.p50, rel=0.1)
    least, most = ends(level.form)
    assert least == 0.0
    assert most is not None
    assert most > 5.0
    assert "Doubtful" in one.doubt
    assert "carbon dioxide read 16.00" in one.doubt


def test_a_slip_that_lengthens_waits():
    told = steady(room=300.0)
    plain = refuge(steady(room=300.0), 6.0).levels[0].hours.p50
    read(told, 6.0, o2=19.0, co2=0.1)
    level = refuge(told, 6.0).levels[0]
    assert isinstance(level.form, Number)
    assert level.hours.p50 == pytest.approx(plain, rel=0.15)


def test_a_person_who_adopts_it_makes_it_count():
    told = steady()
    slip = read(told, 5.0, o2=16.0, co2=6.0)
    told.opinion("journal.adopt", slip, hours=5.0)
    assert refuge(told, 5.0).levels[0].reached


# Breathing by time, stores, absorbent ---------------------------------------------------------


def test_asleep_from_now_on_does_not_rewrite_the_past():
    told = boat("CO2")
    read(told, o2=19.0, co2=1.0)
    before = refuge(told, 6.0)
    told.add("survivors.breathing", {
        "oxygen_kg_person_day": 0.42, "carbon_dioxide_kg_person_day": 0.50, "source": "asleep",
    }, hours=6.0)  # fmt: skip
    after = refuge(told, 6.0)
    assert after.co2_sev_percent == before.co2_sev_percent
    ratio = after.levels[0].hours.p50 / before.levels[0].hours.p50
    assert ratio == pytest.approx(2.0, rel=0.15)


def test_sleep_that_nobody_ends_is_held_eight_hours_and_work_until_told():
    def hours(activity: str) -> float:
        told = boat("CO2", room=900.0)
        read(told, o2=19.0, co2=1.0)
        told.add("survivors.activity", {"refuge": "after", "activity": activity}, hours=1.0)
        return float(refuge(told, 1.0).levels[0].hours.p50)

    awake, asleep, working = (hours(a) for a in ("awake", "asleep", "working"))
    assert working < 0.8 * awake
    assert awake < asleep < awake + 8.0 * (1.0 - 0.7) + 2.0


def test_people_on_sets_of_their_own_take_nothing_while_they_last():
    told = boat("CO2", persons=30)
    read(told, o2=19.0, co2=1.0)
    plain = refuge(told, 1.0).levels[0].hours.p50
    told.add("survivors.own_air", {
        "refuge": "after", "persons": 15, "lasts_h": 4.0, "source": "after refuge",
    }, hours=1.0)  # fmt: skip
    # Half breathe four hours long: two hours of everybody's air are saved, by hand.
    assert refuge(told, 1.0).levels[0].hours.p50 - plain == pytest.approx(2.0, abs=0.7)


def own_air(told: Told, persons: int, lasts_h: float, at_h: float = 0.0) -> None:
    payload = {"refuge": "after", "persons": persons, "lasts_h": lasts_h, "source": "after refuge"}
    told.add("survivors.own_air", payload, hours=at_h)


@pytest.mark.parametrize("told_for", [20, 30])
def test_people_who_are_all_on_sets_of_their_own_still_have_a_time(told_for: int):
    told = boat("CO2", persons=20)
    read(told, o2=19.0, co2=1.0)
    plain = refuge(told, 0.0)
    own_air(told, told_for, 12.0)
    apart = refuge(told, 0.0)
    assert apart.persons == plain.persons == 20
    # nobody breathes for twelve hours, then all who are there do, however many sets were told
    later = apart.levels[0].hours.p50 - plain.levels[0].hours.p50
    assert later == pytest.approx(12.0, abs=1.0)
    assert "Nobody waits" not in sentence(looked(told))


@dataclass(frozen=True)
class Out:
    at_us: np.ndarray
    refuge: str
    persons: int


def test_whoever_was_brought_out_does_not_breathe_on_when_own_air_ends():
    told = boat("CO2", persons=20, room=60.0)
    read(told, o2=19.0, co2=1.0)
    own_air(told, 20, 6.0)
    model = looked(told, 0.0).model
    lift = Out(np.array([to_us(AT + 3 * HOUR)]), "after", 16)
    (end,) = model(n_draws=500, pods=False, leaving=(lift,))
    hours = np.median((end.runs_out_us - to_us(AT)) / 3.6e9)
    # by hand: 1.3 kPa to 6.08 kPa of 60 m3 at 10 °C by 4 people from the sixth hour on
    by_hand = 6.0 + (6.08 - 1.3) * 60e3 / (8.314 * 283.15) / (4 * 1000.0 / 44.01 / 24.0)
    assert hours == pytest.approx(by_hand, rel=0.06)


def lioh(kg: float, **more: object) -> dict[str, object]:
    return {"item": "absorbent", "chemical": "lithium hydroxide", "mass_kg": kg,
            "efficiency": 0.7, "told_for_c": 9.0, **more}  # fmt: skip


def test_stores_used_after_a_pod_came_in_are_taken_from_the_whole():
    told = boat("CO2")
    read(told, o2=19.0, co2=1.0, temperature_c=9.0)
    told.add("survivors.stores", {"refuge": "after", "stock": lioh(50.0)})
    pod = {"pod": "A1", "refuge": "after", "state": "taken in", "contents": [lioh(100.0)]}
    told.add("survivors.pod", pod, hours=0.5)
    used = {"refuge": "after", "item": "absorbent", "amount": 60.0, "unit": "kg"}
    told.add("survivors.stores_used", used, hours=0.6)
    left = refuge(told, 0.6).stores[0].left_kg.p50
    assert left == pytest.approx(90.0 * 0.7 * 0.91884, rel=0.05)


def test_absorbent_takes_less_in_the_cold_and_says_so():
    def taken(warm: float, **more: object) -> tuple[float, str]:
        told = boat("CO2")
        read(told, o2=19.0, co2=1.0, temperature_c=warm)
        stock = {"item": "absorbent", "chemical": "soda lime", "mass_kg": 50.0, **more}
        told.add("survivors.stores", {"refuge": "after", "stock": stock})
        one = refuge(told, 0.1)
        return one.stores[0].left_kg.p50, " ".join(one.doubts)

    warm, _ = taken(25.0, efficiency=0.7)
    cold, said = taken(2.0, efficiency=0.7)
    assert warm == pytest.approx(50 * 0.7 * 0.59398, rel=0.06)
    assert cold < 0.75 * warm
    assert "as little as 20 % in 2 °C water" in said
    spread, told = taken(25.0, use="spread")
    curtain, _ = taken(25.0, use="curtain")
    blown, _ = taken(25.0, use="blown")
    assert spread < curtain < blown
    assert "from memory" in told


def test_days_of_rich_oxygen_are_said_with_the_limits_they_pass():
    def said(bar: float) -> str:
        told = boat("CO2", room=2_000.0, persons=10)
        pressure = {"value": bar, "unit": "bar", "reference": "absolute"}
        for at in (0.0, 12.0, 24.0):
            read(told, at, o2=21.0, co2=0.3, pressure=pressure)
        return " ".join(refuge(told, 24.0).doubts)

    # COMPUTED: 0.21 of 4.9 bar is 1.0156 ata; ((1.0156 - 0.5) / 0.5) ** 0.833 * 1440 min = 1477
    assert "Oxygen dose here: 1477 units a day" in said(4.9)
    assert "300 each (REPEX" in said(4.9)
    assert "a day's limit" in said(4.9)
    assert "Oxygen dose" not in said(1.3)


def test_an_instrument_that_another_contradicts_is_learnt():
    told = boat("CO2", room=2_000.0, persons=5)
    for at in (0.0, 4.0, 8.0):
        read(told, at, o2=19.0, co2=2.0, instrument="A")
        read(told, at + 0.1, o2=19.0, co2=2.4, instrument="B")
    now = refuge(told, 8.1).co2_sev_percent
    assert now is not None
    # Neither is believed alone: between 2.0 and 2.4 % of 1.3 bar, 2.57 and 3.08 % SEV.
    assert 2.57 < now.p50 < 3.08
    assert now.p90 - now.p10 < 0.5


def test_the_pressure_ahead_is_there_for_each_draw():
    told = boat("CO2")
    read(told, o2=19.0, co2=1.0)
    told.add("survivors.inflow", {"refuge": "after", "what": "water", "m3_per_h": 3.0})
    curves = looked(told).model.curves(n_draws=200, pods=False, leaving=())
    at = curves.at("after", np.full(200, 20.0))
    assert np.median(at) > np.median(curves.at("after", np.zeros(200))) * 1.1


# Stores that nobody told of -------------------------------------------------------------------

ROOM_M3, BAR, PERSONS = 400.0, 1.3, 30
MOL = BAR * 1e5 * ROOM_M3 / (8.314462618 * 282.15)
# kg a person-day, NASA RP-1324
O2_H, CO2_H = PERSONS * 840.0 / 31.998 / 24.0, PERSONS * 1000.0 / 44.0095 / 24.0


@pytest.mark.parametrize("hours", [8.0, 24.0])
@pytest.mark.parametrize("held", [{"oxygen"}, {"carbon dioxide"}, {"oxygen", "carbon dioxide"}])
def test_at_least_is_no_more_than_if_untold_stores_are_spent_now(held: set[str], hours: float):
    """What they held reads as little breath, much room, a wrong instrument: none is counted on."""
    told = boat("CO2", "O2", persons=PERSONS, room=ROOM_M3)
    o2 = co2 = 0.0
    for at in np.arange(0.0, hours + 0.1, 4.0):
        o2 = 0.20 * MOL - (0.0 if "oxygen" in held else O2_H * at)
        co2 = 0.008 * MOL + (0.0 if "carbon dioxide" in held else CO2_H * at)
        total = o2 + co2 + 0.792 * MOL
        reading = {
            "refuge": "after",
            "pressure": {"value": round(BAR * total / MOL, 2), "unit": "bar",
                         "reference": "absolute"},
            "oxygen": {"value": round(100.0 * o2 / total, 1), "unit": "percent"},
            "carbon_dioxide": {"value": round(100.0 * co2 / total, 2), "unit": "percent"},
            "temperature_c": 9.0,
        }  # fmt: skip
        told.add("survivors.air", reading, float(at))
    kpa = BAR * 100.0 / MOL
    by_hand = {
        "O2": (o2 - 16.0 / kpa) / O2_H,
        "CO2": (6.0 * 1.01325 / kpa - co2) / CO2_H,
    }
    model = looked(told, hours).model
    for one in model(n_draws=1_000, pods=False, leaving=()):
        after_h = (one.runs_out_us - to_us(AT + hours * HOUR)) / 3.6e9
        assert np.median(after_h) <= by_hand[one.level] * 1.1 + 0.5, one.level
        assert np.median(after_h) >= by_hand[one.level] * 0.75 - 1.0, one.level
    for level in refuge(told, hours).levels:  # what the air's own page says of each level
        assert isinstance(level.form, Bounds)
        assert level.form.at_most is None
        assert level.form.at_least == pytest.approx(level.hours.p50)
        assert level.form.at_least <= by_hand[level.name] * 1.1 + 0.5, level.name
        assert "stores" in level.form.missing[0]
        assert "at least" in sentence(looked(told, hours))
