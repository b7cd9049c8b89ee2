"""A sortie's phases from the vehicle's own track: over her, alongside, on deck; seat at 142 m.

Written from the text: phases come from the vehicle's own track where there is one; what is told
stands, and no track tells who is aboard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_END, VEHICLE
from layers.catalogue import BY_KEY, KINDS
from layers.contract import Moment
from layers.earth.clock import from_us, to_us
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.values import (
    DatumValue,
    PlacedVehicle,
    TracksValue,
    TranspondersValue,
    WayOnSurface,
)
from layers.journal.known import Known
from layers.picture import picture
from layers.survivors.compute import compute_margin
from layers.survivors.lifts.choose import as_chosen
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import PlanSetting, read_setting
from layers.survivors.lifts.sorties.learn import learn
from layers.survivors.lifts.sorties.sortie import Sortie, phase_words, sorties
from layers.survivors.lifts.sorties.track import seen_in
from tests.survivors_journal import AT
from tests.unit.lift_cases import sea_series
from tests.unit.test_margin_unknown import boat, calm
from tests.unit.test_survivors_sortie import START, Book, book, phase

HER = Position(49.8, -8.5)
SEAT_M = 142.0
SHIP = "OSTERFJORD"


def minutes(count: float) -> datetime:
    return START + timedelta(minutes=count)


def way(
    name: str, role: str, places: Sequence[tuple[float, Position]], start: datetime = START
) -> WayOnSurface:
    """Return a way of places at so many minutes."""
    return WayOnSurface(
        name=name,
        role=role,
        at_us=np.array([to_us(start + timedelta(minutes=at)) for at, _ in places]),
        latitudes_deg=np.array([place.latitude_deg for _, place in places]),
        longitudes_deg=np.array([place.longitude_deg for _, place in places]),
        record=f"way of {name}",
    )


def surface(*told: tuple[str, str, Sequence[tuple[float, Position]]]) -> dict[str, Any]:
    return {"tracks": TracksValue(ships=(), ways=tuple(way(*one) for one in told))}


def stays(
    from_min: float, to_min: float, place: Position, every: float = 2.0
) -> list[tuple[float, Position]]:
    return [(float(at), place) for at in np.arange(from_min, to_min + 0.1, every)]


def runs(
    from_min: float, to_min: float, start: Position, kn: float, every: float = 2.0
) -> list[tuple[float, Position]]:
    return [
        (float(at), going(start, 90.0, kn * 1852.0 / 60.0 * (at - from_min) + 0.01))
        for at in np.arange(from_min, to_min + 0.1, every)
    ]


def by_net(
    at: float, place: Position, depth_m: float, good_to_m: float = 4.0, depth_sigma_m: float = 1.0
) -> PlacedVehicle:
    return PlacedVehicle(
        subject="V1", position=place, good_to_m=good_to_m, depth_m=depth_m,
        depth_sigma_m=depth_sigma_m, at=minutes(at), record=f"net {at:g}",
    )  # fmt: skip


def net(*fixes: PlacedVehicle, radius_95_m: float | None = 5.0) -> dict[str, Any]:
    her = DatumValue(where=HER, radius_95_m=radius_95_m, ellipse_95=None, is_fix=True,
                     depth_m=SEAT_M, lost_at=None)  # fmt: skip
    return {"transponders": TranspondersValue(profile=None, vehicles=fixes), "datum": her}


def setting(made: Book, at: float, others: dict[str, Any]) -> PlanSetting:
    moment = Moment(as_of=minutes(at), at=minutes(at))
    return as_chosen(read_setting(made.known(minutes(at)), moment, None, seen_in(others)))


def under_way(made: Book, at: float, others: dict[str, Any]) -> tuple[Sortie, ...]:
    moment = Moment(as_of=minutes(at), at=minutes(at))
    plan = setting(made, at, others)
    return sorties(made.known(minutes(at)), moment, plan, sea_series())


def coming_up() -> Book:
    """Down at 0, away with fourteen at 100; its climb of 142 m takes seven minutes."""
    made = book()
    made.add("sortie_phase", phase(Phase.DOWN, battery_kwh=140.0), START)
    made.add("sortie_phase", phase(Phase.AWAY, walking_aboard=13, stretcher_aboard=1),
             minutes(100.0))  # fmt: skip
    return made


def test_its_own_satellite_fix_beside_the_ship_is_the_surface_and_says_which_ship() -> None:
    beside = going(HER, 200.0, 60.0)
    others = surface(
        (SHIP, "support ship", stays(0.0, 130.0, HER)),
        ("FAR", "support ship", stays(0.0, 130.0, going(HER, 0.0, 900.0))),
        ("V1", "rescue vehicle", stays(115.0, 121.0, beside)),
    )
    (one,) = under_way(coming_up(), 122.0, others)
    assert (one.phase, one.by_track) == (Phase.RECOVER, True)
    assert from_us(one.phase_since_us) == minutes(115.0)
    assert phase_words(one) == f"recover (by its track), alongside {SHIP}"
    # without it the climb alone is reckoned; what was told of it stays before the track
    (without,) = under_way(coming_up(), 122.0, {})
    assert without.phase is Phase.AWAY
    told = coming_up()
    told.add("sortie_phase", phase(Phase.UP), minutes(116.0))
    (one,) = under_way(told, 117.0, others)
    assert one.phase is Phase.RECOVER


def test_up_far_from_every_ship_is_at_the_surface_alongside_none() -> None:
    others = surface(
        (SHIP, "support ship", stays(0.0, 130.0, HER)),
        ("V1", "rescue vehicle", stays(115.0, 121.0, going(HER, 90.0, 700.0))),
    )
    (one,) = under_way(coming_up(), 122.0, others)
    assert one.phase is Phase.RECOVER
    assert one.beside == ""
    assert "0 m deep" in phase_words(one)


def carried(kn: float = 9.0) -> dict[str, Any]:
    """Alongside from 110, and from 150 on gone eastward with the ship."""
    beside = going(HER, 200.0, 60.0)
    return surface(
        (SHIP, "support ship", stays(0.0, 150.0, HER) + runs(152.0, 240.0, HER, kn)),
        ("V1", "rescue vehicle", stays(110.0, 150.0, beside) + runs(152.0, 240.0, beside, kn)),
    )


def test_gone_on_with_the_ship_it_is_on_deck_and_the_chamber_is_asked_for() -> None:
    made = coming_up()
    assert under_way(made, 149.0, carried())[0].phase is Phase.RECOVER
    assert under_way(made, 170.0, carried()) == ()
    fact = setting(made, 170.0, carried()).facts["A1"]
    assert fact.done
    # 500 m at 9 kn take 1.8 min: seen by the second fix under way, never before she went
    assert minutes(152.0) < from_us(fact.began_us[Phase.BACK]) <= minutes(156.0)
    (said,) = fact.odd
    assert said == (f"Lift A1: V1 is on deck of {SHIP} by its track, and nobody told that it is "
                    "back: say when, and into which chamber they went")  # fmt: skip
    made.add("sortie_phase", phase(Phase.BACK, chamber="C1"), minutes(131.0))  # told late: counts
    told = setting(made, 170.0, carried()).facts["A1"]
    assert not told.odd
    assert from_us(told.began_us[Phase.BACK]) == minutes(131.0)


def test_what_the_track_shows_late_teaches_no_length_of_a_phase() -> None:
    plan = setting(coming_up(), 170.0, carried())
    whole = learn(plan.vehicle("V1"), plan.lifts, plan.facts.values(), SEAT_M)[1]
    assert Phase.RECOVER not in {one.phase for one in whole}


def test_beside_a_ship_that_drifts_it_is_in_the_water() -> None:
    (one,) = under_way(coming_up(), 239.0, carried(kn=1.5))
    assert one.phase is Phase.RECOVER


def test_who_is_aboard_no_track_tells_on_deck_or_not() -> None:
    made = book()
    made.add("sortie_phase", phase(Phase.DOWN), START)
    made.add("sortie_phase", phase(Phase.TRANSFER), minutes(70.0))
    at = 170.0
    (one,) = under_way(made, at, carried())
    assert one.phase is Phase.TRANSFER
    (said,) = setting(made, at, carried()).facts["A1"].odd
    assert f"on deck of {SHIP} by its track and nobody told that it left the seat: say who" in said
    early = book()
    early.add("sortie_phase", phase(Phase.DOWN), START)
    (said,) = setting(early, at, carried()).facts["A1"].odd
    assert "say who is aboard" in said


def test_a_vehicle_on_deck_on_the_way_to_the_scene_has_begun_nothing() -> None:
    assert setting(book(), 200.0, carried()).facts == {}


def down() -> Book:
    made = book()
    made.add("sortie_phase", phase(Phase.DOWN, battery_kwh=140.0), START)
    return made


STILL = going(HER, 10.0, 20.0)


@pytest.mark.parametrize(
    ("places", "radius_m", "found"),
    [
        ((STILL, going(STILL, 90.0, 2.0), STILL), 5.0, Phase.MATE),
        ((STILL, going(STILL, 90.0, 40.0), STILL), 5.0, Phase.SEARCH),  # it goes to and fro
        ((STILL, STILL, STILL), 2_000.0, Phase.SEARCH),  # over her? her place is not known so well
        ((STILL, STILL, STILL), None, Phase.SEARCH),
        (tuple(going(HER, 10.0, 300.0) for _ in range(3)), 5.0, Phase.SEARCH),  # still, off her
    ],
)
def test_still_over_her_at_the_depth_of_the_seat_it_mates(
    places: tuple[Position, ...], radius_m: float | None, found: Phase
) -> None:
    others = net(*(by_net(30.0 + 4.0 * n, place, 140.5) for n, place in enumerate(places)),
                 radius_95_m=radius_m)  # fmt: skip
    (one,) = under_way(down(), 39.0, others)
    assert one.phase is found
    if found is Phase.MATE:
        assert phase_words(one).startswith("mate (by its track)")
        assert from_us(one.phase_since_us) == minutes(30.0)


def test_seen_for_less_than_five_minutes_or_badly_it_searches_still() -> None:
    soon = net(by_net(30.0, STILL, 140.5), by_net(33.0, STILL, 140.5))
    rough = net(*(by_net(30.0 + 4 * n, STILL, 140.5, good_to_m=25.0) for n in range(3)))
    for others in (soon, rough):
        assert under_way(down(), 39.0, others)[0].phase is Phase.SEARCH


def test_the_depth_that_the_net_finds_without_a_gauge_counts_where_it_is_good() -> None:
    place = going(HER, 10.0, 20.0)
    (one,) = under_way(down(), 31.0, net(by_net(30.0, place, 140.0, depth_sigma_m=2.0)))
    assert (one.phase, one.by_track) == (Phase.SEARCH, True)
    (one,) = under_way(down(), 31.0, net(by_net(30.0, place, 140.0, depth_sigma_m=30.0)))
    assert one.phase is Phase.DOWN


def test_told_as_mated_and_seen_far_off_her_is_asked() -> None:
    made = down()
    made.add("sortie_phase", phase(Phase.MATE), minutes(40.0))
    off = net(by_net(60.0, going(HER, 250.0, 400.0), 141.0))
    (said,) = setting(made, 61.0, off).facts["A1"].odd
    assert "V1 is at 141 m, not over her and nobody told that it left the seat" in said
    assert not setting(made, 61.0, net(by_net(60.0, STILL, 141.0))).facts["A1"].odd


def test_the_margin_hears_of_the_track_and_asks_on_the_page() -> None:
    told = boat()
    for name, hours in (("down", 0.1), ("away", 1.5)):
        more = {"walking_aboard": 16} if name == "away" else {}
        told.add("survivors.sortie_phase", {"vehicle": "V1", "lift": "A1", "phase": name, **more},
                 hours)  # fmt: skip
    told.move("after", "V1", [(16, "walking")], 1.5)
    at = AT + timedelta(hours=3.0)
    ways = carried()["tracks"].ways
    shift = to_us(AT) - to_us(START)
    moved = tuple(replace(one, at_us=one.at_us + shift) for one in ways)
    looked = [
        compute_margin(told.known(), {"weather": calm(at), **more}, Moment(at, at), 200,
                       decision_draws=0).outlook
        for more in ({}, {"tracks": TracksValue(ships=(), ways=moved)})
    ]  # fmt: skip
    assert [len(one.sorties) for one in looked] == [1, 0]
    assert any("into which chamber they went" in said for said in looked[1].remarks)
    states = [{lift.key: lift.state for lift in one.lifts}["A1"] for one in looked]
    assert states == ["away", "back"]


def test_in_the_exercise_the_net_and_the_tracks_hand_on_what_there_is() -> None:
    shelf, upto = demo_journal(DEMO_END)
    at = DEMO_END - timedelta(hours=2)
    shown = picture(shelf, Moment(at, at), upto, keys=("transponders", "tracks"))
    others = {key: BY_KEY[key].hand(shown.layers[key].result) for key in ("transponders", "tracks")}
    fixes = [one for one in others["transponders"].vehicles if one.subject == VEHICLE]
    assert len(fixes) == 4
    names = {entry.id for entry in
             Known(shelf, KINDS, upto, at).entries("transponders.typed_fix")}  # fmt: skip
    assert {one.record for one in fixes} <= names
    assert any(one.role == "support ship" for one in others["tracks"].ways)
    plan = read_setting(Known(shelf, KINDS, upto, at), Moment(at, at), SEAT_M, seen_in(others))
    assert [odd for fact in plan.facts.values() for odd in fact.odd] == []
