"""A sortie under way, its clocks and cases, what is learnt from it, and what is refused."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from demo_data.scenario import z
from layers.contract import Moment
from layers.earth.arrays import Floats
from layers.earth.clock import from_us
from layers.earth.errors import InputError, RecordRefused
from layers.journal.kinds import Kind
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, Record, as_record, form_identity
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.choose import as_chosen
from layers.survivors.lifts.kinds import LIFT_KINDS
from layers.survivors.lifts.margin import outlook
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import read_setting
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.sorties.learn import learn
from layers.survivors.lifts.sorties.sortie import moves_of, sorties
from layers.survivors.lifts.vehicle import ThreePoint, Vehicle
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import chamber, lift, limits, schedule, sea_series, vehicle
from tests.unit.lift_ground import ground, option

KINDS: dict[str, Kind] = {kind.name: kind for kind in LIFT_KINDS}
START = z(15, "1200")


class Book:
    """Records typed one after another."""

    def __init__(self) -> None:
        self.records: list[Record] = []

    def add(self, noun: str, payload: Any, at: datetime = START, check: bool = True) -> Record:
        kind = KINDS[f"survivors.{noun}"]
        plain = payload if isinstance(payload, dict) else payload.model_dump(mode="json")
        draft = Draft(
            kind=kind.name,
            payload=plain,
            valid_at=at,
            heard_at=at,
            source="test",
            identity=form_identity(f"f{len(self.records)}"),
        )
        value = check_payload(kind, plain, kind.name)
        if kind.refuse is not None and check:
            kind.refuse(value, draft, self.known(at))
        record = as_record(draft, seq=len(self.records) + 1, recorded_at=at, author="t")
        self.records.append(record)
        return record

    def known(self, at: datetime) -> Known:
        return Known(ListShelf(self.records), KINDS, len(self.records), at)


def book() -> Book:
    made = Book()
    made.add("vehicle", vehicle("V1", ready_at=START, life_support_h=20.0))
    made.add("chamber", chamber("C1"))
    made.add("chamber", chamber("C2"))
    made.add("schedule", schedule())
    made.add("lift_limits", limits())
    made.add("lift", lift("A1", 0, "V1", "after", 13, 1))
    made.add("lift", lift("A2", 1, "V1", "after", 16, 0))
    return made


def phase(name: Phase, **more: Any) -> dict[str, Any]:
    return {"vehicle": "V1", "lift": "A1", "phase": name.value, **more}


def gone_down(battery: float = 140.0) -> Book:
    made = book()
    made.add("sortie_phase", phase(Phase.DOWN, battery_kwh=battery), START)
    made.add("sortie_phase", phase(Phase.SEARCH), START + timedelta(minutes=25))
    made.add("sortie_phase", phase(Phase.MATE), START + timedelta(minutes=40))
    return made


def seen(made: Book, at: datetime) -> tuple[Any, ...]:
    known, moment = made.known(at), Moment(as_of=at, at=at)
    return sorties(known, moment, as_chosen(read_setting(known, moment, None)), sea_series())


def test_a_sortie_shows_its_phase_and_the_time_since_the_dive() -> None:
    at = START + timedelta(minutes=50)
    (one,) = seen(gone_down(), at)
    assert one.phase is Phase.MATE
    assert from_us(one.dived_us) == START
    taken = {p.phase: p.taken_min for p in one.phases}
    assert taken[Phase.DOWN] == pytest.approx(25.0)
    assert taken[Phase.SEARCH] == pytest.approx(15.0)
    assert taken[Phase.MATE] == pytest.approx(10.0)
    assert taken[Phase.UP] is None


def test_battery_falls_by_the_power_of_each_phase_since_it_was_told() -> None:
    # COMPUTED by hand: 25 min at 20 kW, 25 min at 10 kW from 140 kWh
    (one,) = seen(gone_down(), START + timedelta(minutes=50))
    assert one.battery_kwh == pytest.approx(140.0 - 20.0 * 25 / 60 - 10.0 * 25 / 60)


def test_a_battery_report_replaces_the_estimate() -> None:
    made = gone_down()
    at = START + timedelta(minutes=45)
    made.add("sortie_report", {"vehicle": "V1", "lift": "A1", "battery_kwh": 90.0}, at)
    (one,) = seen(made, at)
    assert one.battery_kwh == pytest.approx(90.0)
    assert one.battery_reported_us is not None


def test_what_the_rest_needs_shrinks_as_phases_pass() -> None:
    early, late = (seen(gone_down(), START + timedelta(minutes=m))[0] for m in (42, 60))
    assert late.battery_need_kwh < early.battery_need_kwh
    assert late.life_support_need_h < early.life_support_need_h


def test_turning_back_at_the_latest_leaves_the_reserve_on_deck() -> None:
    at = START + timedelta(minutes=50)
    (one,) = seen(gone_down(60.0), at)
    craft = vehicle("V1")
    assert one.turn_back_because == "battery above the reserve"
    hours = (one.turn_back_us / 1e6 - at.timestamp()) / 3600.0
    home = craft.away.likely * 10.0 + (142.0 / 20.0 + craft.recover.likely) * 20.0
    assert one.battery_kwh - hours * 10.0 - home / 60.0 == pytest.approx(craft.reserve_kwh)


def test_the_sea_can_set_the_latest_turn_back() -> None:
    made = book()
    at = START + timedelta(hours=19)
    made.add("sortie_phase", phase(Phase.DOWN, battery_kwh=150.0), at)
    made.add("sortie_phase", phase(Phase.SEARCH), at + timedelta(minutes=25))
    (one,) = seen(made, at + timedelta(minutes=30))
    assert one.turn_back_because == "sea at recovery"


def test_the_next_report_is_due_by_the_interval_or_as_agreed() -> None:
    made = gone_down()
    at = START + timedelta(minutes=50)
    (one,) = seen(made, at)
    assert from_us(one.next_due_us) == START + timedelta(minutes=55)
    assert one.overdue_min == 0.0
    (late,) = seen(made, START + timedelta(minutes=65))
    assert late.overdue_min == pytest.approx(10.0)
    agreed = {"vehicle": "V1", "lift": "A1", "next_due": "2027-03-15T13:30:00Z"}
    made.add("sortie_report", agreed, at)
    (again,) = seen(made, at)
    assert from_us(again.next_due_us) == z(15, "1330")


@pytest.mark.parametrize("case", ["silence", "entanglement", "failed mating"])
def test_a_case_starts_its_clock_and_shows_the_users_own_drill(case: str) -> None:
    made = gone_down()
    began = START + timedelta(minutes=45)
    drill = {"case": case, "text": "Do as the book says.", "source": "unit orders, page 3"}
    made.add("drill", drill, START)
    made.add("sortie_case", {"vehicle": "V1", "lift": "A1", "case": case}, began)
    (one,) = seen(made, began + timedelta(minutes=20))
    assert [(c.case, from_us(c.since_us), c.drill) for c in one.cases] == [
        (case, began, "Do as the book says.")
    ]
    ended = {"vehicle": "V1", "lift": "A1", "case": case, "ended": True}
    made.add("sortie_case", ended, began + timedelta(minutes=30))
    assert seen(made, began + timedelta(minutes=31))[0].cases == ()


def test_a_case_without_a_drill_has_none_shipped() -> None:
    made = gone_down()
    at = START + timedelta(minutes=45)
    made.add("sortie_case", {"vehicle": "V1", "lift": "A1", "case": "silence"}, at)
    assert seen(made, at)[0].cases[0].drill == ""


def test_nobody_is_under_way_once_back() -> None:
    made = gone_down()
    made.add("sortie_phase", phase(Phase.BACK, chamber="C1"), START + timedelta(hours=3))
    assert seen(made, START + timedelta(hours=3, minutes=1)) == ()
    assert len(seen(made, START + timedelta(hours=2))) == 1  # but was then


def test_who_is_aboard_moves_with_the_phase() -> None:
    one = lift("A1", 0, "V1", "after", 13, 1)
    (away,) = moves_of(Phase.AWAY, one, None)
    assert (away["from_place"], away["to_place"]) == ("after", "vehicle")
    assert [(g["persons"], g["fitness"]) for g in away["groups"]] == [
        (13, "walking"),
        (1, "stretcher"),
    ]
    (back,) = moves_of(Phase.BACK, one, "chamber 1")
    assert (back["from_place"], back["to_place"]) == ("vehicle", "chamber 1")
    assert moves_of(Phase.MATE, one, None) == ()


def test_times_taken_replace_the_estimates_and_the_spread_narrows() -> None:
    made = gone_down()
    made.add("sortie_phase", phase(Phase.TRANSFER), START + timedelta(minutes=90))
    made.add("sortie_phase", phase(Phase.AWAY), START + timedelta(minutes=120))
    at = START + timedelta(minutes=121)
    known, moment = made.known(at), Moment(as_of=at, at=at)
    setting = read_setting(known, moment, None)
    craft, before = setting.vehicle("V1"), vehicle("V1")
    assert craft.mate.likely == pytest.approx(50.0)  # 40 to 90 min
    assert craft.mate.high - craft.mate.low < (before.mate.high - before.mate.low) * 2
    told = {one.phase: one for one in setting.learnt}
    assert told[Phase.MATE].estimated_min == pytest.approx(25.0)
    assert told[Phase.MATE].taken_min == pytest.approx(50.0)
    assert told[Phase.TRANSFER].taken_min == pytest.approx(30.0)


def test_the_margin_moves_when_a_slow_sortie_is_back() -> None:
    made = book()
    air = PlainAir({"after": 60.0}, {"after": 30})
    people = (
        RefugePeople(refuge="after", persons=30, stretcher=1, pressure_bar_abs=2.1, seat="clear"),
    )
    slow = gone_down()
    for name, minutes in (
        (Phase.TRANSFER, 150),
        (Phase.AWAY, 200),
        (Phase.UP, 210),
        (Phase.RECOVER, 220),
        (Phase.BACK, 300),
    ):
        slow.add("sortie_phase", phase(name), START + timedelta(minutes=minutes))
    at = START + timedelta(minutes=301)
    moment = Moment(as_of=at, at=at)
    rest = (RefugePeople(
        refuge="after", persons=16, stretcher=0, pressure_bar_abs=2.1, seat="clear"
    ),)  # fmt: skip
    plain = outlook(made.known(at), {}, moment, people, air, n_draws=300, decision_draws=50)
    after = outlook(slow.known(at), {}, moment, rest, air, n_draws=300, decision_draws=50)
    assert plain.unavailable == after.unavailable == ""
    learnt = after.setting
    assert learnt is not None
    assert learnt.vehicle("V1").mate.likely == pytest.approx(110.0)
    assert after.lifts[0].state == "back"
    assert after.lifts[0].back_h.p50 == pytest.approx(-1 / 60)


def test_learning_from_no_sortie_changes_nothing() -> None:
    craft, told = learn(vehicle("V1"), [lift("A1", 0, "V1", "after")], [], 142.0)
    assert craft == vehicle("V1")
    assert told == ()


# What is refused, and that nothing was changed by it


@pytest.mark.parametrize(
    ("noun", "payload", "said"),
    [
        ("lift", lift("B", 3, "V1", "after", 14, 1), "want 17 seats, V1 has 16"),
        ("lift", lift("B", 3, "V1", "after", 1, 5), "5 stretcher cases have no seats"),
        ("lift", lift("B", 3, "NO SUCH", "after", 5, 0), "no vehicle 'NO SUCH' is recorded"),
        ("sortie_phase", phase(Phase.DOWN, battery_kwh=40.0), "would dive with 40 kWh"),
        ("sortie_phase", phase(Phase.DOWN) | {"lift": "Z9"}, "no lift 'Z9' is recorded"),
        ("chamber", chamber("C9", places=2), "attendants fill the 2 places"),
    ],
)
def test_a_record_that_cannot_stand_is_refused_and_the_plan_stays(
    noun: str, payload: Any, said: str
) -> None:
    made = book()
    before = list(made.records)
    with pytest.raises(RecordRefused, match=said):
        made.add(noun, payload)
    assert made.records == before


@pytest.mark.parametrize(
    ("noun", "payload", "said"),
    [
        ("lift", {"key": "B", "place": 1, "vehicle": "V1", "refuge": "after", "walking": 0,
                  "stretcher": 0}, "takes nobody"),
        ("decision", {"key": "x", "title": "nothing"}, "changes nothing"),
        ("sortie_phase", phase(Phase.DOWN) | {"phase": "swim"}, "down"),
        ("lift_limits", limits().model_dump(mode="json") | {"launch_hs_m": -1.0}, "more than 0"),
        ("vehicle", vehicle("V1").model_dump(mode="json") | {"reserve_kwh": 200.0},
         "leaves nothing"),
        ("vehicle", vehicle("V1").model_dump(mode="json") | {"max_pressure_bar_abs": 73.0},
         "10 or less"),  # feet or metres taken for bar
        ("schedule", schedule().model_dump(mode="json") | {"bands": [
            {"saturated_from_bar_abs": 1.0, "saturated_to_bar_abs": 1.3},
            {"saturated_from_bar_abs": 1.5, "saturated_to_bar_abs": 3.0}]}, "a gap"),
    ],
)  # fmt: skip
def test_a_payload_that_is_no_such_thing_is_refused_with_a_sentence(
    noun: str, payload: dict[str, Any], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        book().add(noun, payload)


def test_a_three_point_time_out_of_order_is_refused() -> None:
    with pytest.raises(ValueError, match="out of order"):
        ThreePoint(low=5.0, likely=3.0, high=9.0)


def test_without_a_plan_the_outlook_says_what_would_fill_the_place() -> None:
    empty = Book()
    moment = Moment(as_of=START, at=START)
    found = outlook(empty.known(START), {}, moment, (), PlainAir({}, {}), n_draws=10)
    assert "no limits of the lifts are recorded" in found.unavailable
    assert found.refuges == ()
    waits = RefugePeople(
        refuge="after", persons=30, stretcher=1, pressure_bar_abs=2.1, seat="clear"
    )
    air = PlainAir({"after": 60.0}, {"after": 30})
    (one,) = outlook(empty.known(START), {}, moment, (waits,), air, n_draws=50).refuges
    assert one.alone_h is not None  # how long they can last stands without a plan
    assert 48.0 <= one.alone_h.p50 <= 72.0
    assert "no limits of the lifts" in one.words


def test_what_is_chosen_becomes_the_plan_and_can_be_taken_back() -> None:
    made = book()
    made.add("decision", option("calm", launch_hs_m=1.5))
    made.add("plan_choice", {"chosen": ["calm"], "reason": "test", "decided_by": "SSRA"})
    at = START + timedelta(minutes=1)
    moment = Moment(as_of=at, at=at)
    assert as_chosen(read_setting(made.known(at), moment, None)).limits.launch_hs_m == 1.5
    made.add("plan_choice", {"chosen": [], "reason": "undone", "decided_by": "SSRA"})
    assert as_chosen(read_setting(made.known(at), moment, None)).limits.launch_hs_m == 3.0


def test_a_lift_recorded_for_later_does_not_count_before() -> None:
    made = book()
    made.add("lift", lift("A3", 2, "V1", "after"), START + timedelta(hours=5))
    moment = Moment(as_of=START, at=START)
    assert [one.key for one in read_setting(made.known(START), moment, None).lifts] == ["A1", "A2"]


def test_the_sortie_under_way_is_run_from_where_it_stands() -> None:
    at = START + timedelta(minutes=60)
    made = gone_down()
    known, moment = made.known(at), Moment(as_of=at, at=at)
    people = (
        RefugePeople(refuge="after", persons=30, stretcher=1, pressure_bar_abs=2.1, seat="clear"),
    )
    base = ground(400, people=people, air=PlainAir({"after": 60.0}, {"after": 30}))
    setting = as_chosen(read_setting(known, moment, None))
    outcome = evaluate(setting, base)
    left: Floats = outcome.runs.left_s[0].astype(np.float64)
    assert (outcome.runs.start_s[0] == -3600).all()
    # mating began at 40 min: at least the least time of the transfer is still to come
    least = (13 * 1 + 1 * 5) * 60 * 0.9
    assert left.min() >= least - 20 * 60
    assert left.std() > 0


def test_every_kind_has_a_title_and_a_name_of_this_layer() -> None:
    assert len({kind.name for kind in LIFT_KINDS}) == len(LIFT_KINDS)
    for kind in LIFT_KINDS:
        assert kind.name.startswith("survivors.")
        assert kind.title
    assert Vehicle in {kind.model for kind in LIFT_KINDS}


def test_a_sortie_given_up_leaves_its_lift_to_be_done_after_the_turn_round() -> None:
    made = gone_down()
    over = START + timedelta(minutes=180)
    made.add("sortie_phase", phase(Phase.UP), START + timedelta(minutes=150))
    made.add("sortie_phase", phase(Phase.GIVEN_UP), over)
    at = over + timedelta(minutes=5)
    known, moment = made.known(at), Moment(as_of=at, at=at)
    people = (
        RefugePeople(refuge="after", persons=30, stretcher=1, pressure_bar_abs=2.1, seat="clear"),
    )
    base = ground(200, people=people, air=PlainAir({"after": 60.0}, {"after": 30}))
    setting = as_chosen(read_setting(known, moment, None))
    assert [one.key for one in setting.waiting()] == ["A1", "A2"]
    outcome = evaluate(setting, base)
    turn = setting.vehicle("V1").turn_round
    assert (outcome.runs.start_s[0] >= turn.low * 60 - 301).all()
    assert np.median(outcome.runs.start_s[0]) >= turn.likely * 60 - 300
    assert outcome.persons.tolist() == [14, 16]
    made.add("sortie_phase", phase(Phase.DOWN), over + timedelta(hours=3))
    again = read_setting(made.known(over + timedelta(hours=4)), Moment(
        as_of=over + timedelta(hours=4), at=over + timedelta(hours=4)), None)  # fmt: skip
    assert again.facts["A1"].phase is Phase.DOWN
    assert len(again.facts["A1"].began_us) == 1


def test_people_left_booked_in_a_refuge_they_have_left_are_asked_about() -> None:
    made = gone_down()
    made.add("sortie_phase", phase(Phase.AWAY), START + timedelta(minutes=90))
    at = START + timedelta(minutes=95)
    known, moment = made.known(at), Moment(as_of=at, at=at)
    still = (
        RefugePeople(refuge="after", persons=30, stretcher=1, pressure_bar_abs=2.1, seat="clear"),
    )
    air = PlainAir({"after": 60.0}, {"after": 30})
    found = outlook(known, {}, moment, still, air, n_draws=50, decision_draws=50)
    said = " ".join(found.remarks)
    assert "No lift is planned for 14 of the 30 in after (1 on stretchers)." in said
    assert "Lift A1 has left the seat of after" in said


def test_once_off_the_seat_there_is_nothing_to_turn_back_from() -> None:
    made = gone_down()
    made.add("sortie_phase", phase(Phase.AWAY), START + timedelta(minutes=90))
    (one,) = seen(made, START + timedelta(minutes=95))
    assert one.returning
    assert not seen(gone_down(), START + timedelta(minutes=50))[0].returning
