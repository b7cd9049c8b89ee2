"""People in the water, who can reach them, and the way to a hospital."""

from datetime import timedelta

import pytest

from layers.contract import Moment
from layers.earth.position import Position
from layers.earth.values import DatumValue, DriftingGroup
from layers.survivors.muster.hospital import hospital_outlook
from layers.survivors.muster.muster import muster
from layers.survivors.muster.surface import water_groups
from tests.survivors_journal import AT, Told

HOUR = timedelta(hours=1)
SCENE = Position(50.0, -8.0)


def datum(*adrift: DriftingGroup) -> DatumValue:
    return DatumValue(
        where=SCENE,
        radius_95_m=150.0,
        ellipse_95=None,
        is_fix=True,
        depth_m=142.0,
        lost_at=None,
        adrift=adrift,
    )


def adrift(name: str) -> DriftingGroup:
    return DriftingGroup(name=name, position=SCENE, radius_95_m=4_000.0, persons=2)


def in_water(told: Told, **more: object) -> str:
    payload = {
        "group": "two escapees",
        "persons": 2,
        "since": "2027-03-13T15:00:00Z",
        "clothing": "light clothing, lifejacket",
        "sea_c": 10.0,
        "sea_source": "buoy",
        **more,
    }
    return told.add("survivors.in_water", payload)


def craft(told: Told, name: str, **more: object) -> str:
    payload = {
        "craft": name,
        "sort": "helicopter",
        "latitude_deg": 51.0,
        "longitude_deg": -8.0,
        "speed_kn": 120.0,
        "radius_nmi": 150.0,
        "ready_min": 30.0,
        "seats": 8,
        "stretchers": 2,
        "flies_at_m": 450.0,
        "source": "station",
        **more,
    }
    return told.add("survivors.craft", payload)


def test_group_in_the_water_has_its_time_its_drift_and_who_can_reach_it():
    told = Told()
    in_water(told)
    craft(told, "near")
    craft(told, "far", latitude_deg=56.0)
    group = water_groups(told.known(), AT + 6 * HOUR, datum(adrift("two escapees")))[0]
    assert group.in_water_h == 6.0
    assert group.cold.minutes == pytest.approx(176.8, abs=0.1)  # Hayward, see published tests
    # One degree of latitude at 50° N is 60.06 nmi on WGS 84: half an hour ready, half an hour out.
    assert group.reach[0].craft == "near"
    assert group.reach[0].hours == pytest.approx(0.5 + 60.06 / 120.0, abs=0.002)
    assert not group.reach[1].within_radius
    assert "near can be there in 1 h 00" in group.words


def test_recovered_group_is_no_longer_shown_and_unknown_drift_is_said_as_unknown():
    told = Told()
    in_water(told)
    assert water_groups(told.known(), AT, None)[0].position is None
    in_water(told, recovered=True)
    assert water_groups(told.known(), AT, None) == ()


def on_deck(told: Told, groups: list[tuple[int, str]], place: str = "deck") -> None:
    told.complement("sailing list", 20)
    told.move("not accounted for", place, groups)


def hospital(told: Told, name: str, latitude: float, **more: object) -> None:
    payload = {
        "hospital": name,
        "latitude_deg": latitude,
        "longitude_deg": -8.0,
        "stretcher_places": 2,
        "source": "telephone",
        **more,
    }
    told.add("survivors.hospital", payload)


def outlook(told: Told):
    moment = Moment(AT + HOUR, AT + HOUR)
    return hospital_outlook(told.known(), moment.at, muster(told.known(), moment), datum())


def test_sickest_go_first_to_the_nearest_hospital_with_room_and_the_rest_is_counted():
    told = Told()
    on_deck(told, [(3, "stretcher"), (2, "injured"), (5, "walking")])
    craft(told, "flight")
    hospital(told, "near", 51.0)
    hospital(told, "further", 51.5)
    found = outlook(told)
    assert [(f.persons, f.patients.fitness, f.hospital) for f in found.flights] == [
        (2, "stretcher", "near"),
        (1, "stretcher", "further"),
        (1, "injured", "further"),
    ]
    assert found.not_placed == 1


def test_escapees_go_where_there_is_recompression():
    told = Told()
    on_deck(told, [(1, "stretcher")], place="picked up")
    craft(told, "flight")
    hospital(told, "near", 51.0)
    hospital(told, "chamber", 51.5, recompression_places=2)
    assert outlook(told).flights[0].hospital == "chamber"


def test_height_limit_after_pressure_comes_from_what_was_entered():
    told = Told()
    told.complement("sailing list", 20)
    told.add(
        "survivors.move",
        {
            "from_place": "not accounted for",
            "to_place": "deck",
            "groups": [
                {
                    "persons": 1,
                    "fitness": "stretcher",
                    "exposure": {"value": 2.2, "unit": "bar", "reference": "absolute"},
                }
            ],
            "reason": "out of the chamber",
        },
    )
    craft(told, "flight")
    hospital(told, "near", 51.0)
    assert "No limit for flying after pressure is entered" in outlook(told).said[0]
    told.add(
        "survivors.flight_limit",
        {
            "after_pressure_h": 24.0,
            "height_m": 300.0,
            "above_bar_abs": 1.3,
            "source": "exercise annex, invented",
            "entered_by": "medical officer",
        },
    )
    found = outlook(told)
    assert found.patients[0].may_fly_from == AT + 24 * HOUR
    assert found.flights[0].against == ("must stay below 300 m after pressure",)


def test_craft_out_of_radius_is_said():
    told = Told()
    on_deck(told, [(1, "stretcher")])
    craft(told, "flight", radius_nmi=50.0)
    hospital(told, "near", 51.0)
    assert outlook(told).flights[0].against == ("beyond the radius of flight",)
