"""The ground kept clear: nobody's silence is a yes, and the drafts say what was entered."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import InputError
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.values import DatumValue, ShipState, TracksValue
from layers.journal.known import Known, ListShelf
from layers.kept_clear import LAYER
from layers.kept_clear.report import to_airmen, to_shipping, wall_line
from tests.unit.forward_port_cases import row

NOW = datetime(2027, 3, 16, 3, 0, tzinfo=UTC)
HERE = Position(49.8353, -8.4965)


def at(hours):
    return NOW + timedelta(hours=hours)


def area(**more):
    given = {"radius_nmi": 5.0, "starts": at(-5).isoformat(), "ends": at(60).isoformat(),
             "set_by": "coordinator"}  # fmt: skip
    return row("kept_clear.area", at(-6), **given | more)


def below(who, down, hours, **more):
    return row("kept_clear.below", at(hours), who=who, below=down, reported_by="ship", **more)


def stop(what, state, hours, who="all"):
    return row("kept_clear.stop", at(hours), sort=what, state=state, who=who, reported_by="ship")


def phase(name, hours, **more):
    return row("survivors.sortie_phase", at(hours), vehicle="V1", lift="A1", phase=name, **more)


def shipping(*drafts, exercise=""):
    found = kept(*drafts)
    return to_shipping(found, found.grounds[0], exercise)


def airmen(*drafts):
    found = kept(*drafts)
    return to_airmen(found, found.grounds[0])


def ship(name, off_nmi, bearing=90.0, course=None, speed=None, fixed_at=NOW):
    return ShipState(
        name=name, role="other", position=going(HERE, bearing, off_nmi * 1852.0), fixed_at=fixed_at,
        course_true_deg=course, speed_kn=speed, heading_true_deg=None, stale=False,
    )  # fmt: skip


def kept(*drafts, ships=(), datum=True):
    from layers.journal.record import as_record

    records = [
        as_record(draft, seq=n, recorded_at=NOW, author="watch")
        for n, draft in enumerate(drafts, 1)
    ]
    others = {"tracks": TracksValue(ships=tuple(ships))}
    if datum:
        others["datum"] = DatumValue(
            where=HERE, radius_95_m=100.0, ellipse_95=None, is_fix=True, depth_m=140.0, lost_at=None
        )
    known = Known(ListShelf(records), KINDS, len(records), NOW)
    return LAYER.compute(known, others, Moment(NOW, NOW))


def state(found, what):
    return next(one.safe for one in found.stopped if one.what == what)


def test_nothing_recorded_says_what_to_record():
    with pytest.raises(InputError, match="safety area"):
        kept()


def test_a_vehicle_is_under_water_from_its_first_phase_until_it_is_back_on_deck():
    down = kept(area(), phase("down", -1), phase("mate", -0.5, walking_aboard=12))
    assert [(one.who, one.persons, one.since) for one in down.under] == [("V1", 12, at(-1))]
    rising = kept(area(), phase("down", -1), phase("recover", -0.1))
    assert [one.who for one in rising.under] == ["V1"]
    assert kept(area(), phase("down", -1), phase("back", -0.1)).under == ()


def test_divers_are_below_until_they_are_told_to_be_up():
    assert kept(area(), below("divers", True, -2, persons=2)).under[0].persons == 2
    assert kept(area(), below("divers", True, -2), below("divers", False, -1)).under == ()


def test_silence_is_never_stopped():
    found = kept(area(), below("divers", True, -1))
    assert [one.safe for one in found.stopped] == [None] * 4
    asked = kept(area(), stop("active sonar", "asked", -1))
    assert state(asked, "active sonar") is None
    assert "not answered" in LAYER.sentence(asked)


def test_all_have_stopped_but_one_who_goes_on():
    drafts = [area(), below("divers", True, -1), stop("active sonar", "stopped", -2)]
    assert state(kept(*drafts), "active sonar") is True
    one = kept(*drafts, stop("active sonar", "goes on", -1, who="GREY"))
    assert state(one, "active sonar") is False
    assert "GREY" in wall_line(one)
    again = kept(*drafts, stop("active sonar", "goes on", -1, who="GREY"),
                 stop("active sonar", "stopped", -0.5, who="GREY"))  # fmt: skip
    assert state(again, "active sonar") is True
    assert wall_line(again) == ""


def test_a_ship_that_was_only_asked_leaves_it_open_after_others_stopped():
    found = kept(
        area(), stop("active sonar", "stopped", -2), stop("active sonar", "asked", -1, who="GREY"),
        ships=[ship("GREY", 2.0)],
    )  # fmt: skip
    assert state(found, "active sonar") is None


def test_who_is_inside_who_steers_in_and_who_does_not():
    found = kept(area(), ships=[
        ship("IN", 3.0), ship("COMING", 14.9, course=270.0, speed=10.0),
        ship("LEAVING", 15.0, course=90.0, speed=10.0), ship("FAR", 60.0, course=270.0, speed=10.0),
    ])  # fmt: skip
    assert [(one.name, one.enters) for one in found.ships] == [("IN", None), ("COMING", at(1))]


def test_without_a_datum_the_area_has_no_place_and_its_draft_a_blank():
    found = kept(area(), datum=False)
    assert found.grounds[0].centre is None
    assert LAYER.marks(found) == ()
    assert "____" in to_shipping(found, found.grounds[0])


def test_before_it_begins_and_after_it_ends_it_is_not_in_force():
    later = kept(area(starts=at(1).isoformat()))
    assert not later.grounds[0].in_force
    assert "begins" in LAYER.sentence(later)
    over = kept(area(ends=at(-1).isoformat()))
    assert "ended" in LAYER.sentence(over)


def test_the_draft_to_shipping_says_place_times_and_exercise():
    """Position to a hundredth of a minute, worked by hand: 49.8353 N is 49-50.12N."""
    text = shipping(area(sea_area="Sea area One"), exercise="Exercise X")
    assert text.splitlines()[0] == text.splitlines()[-1] == "EXERCISE EXERCISE EXERCISE"
    assert "SEA AREA ONE WARNING ____/27" in text
    assert "WITHIN 5 MILES OF 49-50.12N 008-29.79W" in text
    assert "FROM 152200 UTC MAR 27 TO 181500 UTC MAR 27" in text
    assert "CANCEL THIS MESSAGE 181500 UTC MAR 27" in text
    assert "EXERCISE" not in shipping(area())


def test_no_airspace_is_asked_for_without_a_ceiling():
    assert airmen(area()) == ""
    text = airmen(area(ceiling_ft=3000))
    assert "B) 2703152200 C) 2703181500" in text
    assert "F) SFC G) 3000FT AMSL" in text


def test_an_area_that_ends_before_it_starts_or_has_half_a_position_is_refused():
    with pytest.raises(InputError, match="end after"):
        area(ends=at(-7).isoformat())
    with pytest.raises(InputError, match="both"):
        area(latitude_deg=50.0)


def test_one_ship_that_stopped_answers_for_nobody_else():
    """Who has sonar and is not seen on AIS has not been asked by asking another."""
    one = kept(area(), below("divers", True, -1), stop("active sonar", "stopped", -1, who="GREY"))
    assert state(one, "active sonar") is None
    assert "stopped by GREY; others not asked" in LAYER.sentence(one)
    drafts = [area(), stop("active sonar", "asked", -1)]
    asked = kept(
        *drafts, stop("active sonar", "stopped", -0.5, who="GREY"), ships=[ship("GREY", 2)]
    )
    assert state(asked, "active sonar") is None
    both = kept(area(), stop("active sonar", "stopped", -1, who="GREY"),
                stop("active sonar", "stopped", -0.5))  # fmt: skip
    assert state(both, "active sonar") is True


def test_a_second_area_does_not_lift_the_first():
    north = going(HERE, 0.0, 12.0 * 1852.0)
    second = row("kept_clear.area", at(-1), name="escapees", latitude_deg=north.latitude_deg,
                 longitude_deg=north.longitude_deg, radius_nmi=2.0, starts=at(-1).isoformat(),
                 ends=at(5).isoformat(), set_by="coordinator")  # fmt: skip
    found = kept(area(), second, ships=[ship("IN FIRST", 3.0), ship("IN SECOND", 12.0, 0.0)])
    assert {(one.name, one.area) for one in found.ships} == {
        ("IN FIRST", "safety area"), ("IN SECOND", "escapees")
    }  # fmt: skip
    assert len(LAYER.marks(found)) == 2
    assert "safety area: 5 nmi" in LAYER.sentence(found)
    assert "scapees: 2 nmi" in LAYER.sentence(found)
    drafts = [to_shipping(found, ground) for ground in found.grounds]
    assert len({draft.splitlines()[2] for draft in drafts}) == 2
    # a newer word of the same name does
    moved = kept(area(), area(radius_nmi=8.0))
    assert [ground.area.radius_nmi for ground in moved.grounds] == [8.0]
    # and what has ended goes, where another stands
    over = kept(area(ends=at(-1).isoformat()), second)
    assert [ground.area.name for ground in over.grounds] == ["escapees"]


def test_a_ship_is_where_she_has_come_to_since_her_fix():
    """12 nmi off at 12 kn an hour ago, heading for the middle: she is over it now."""
    found = kept(area(), ships=[
        ship("OVER", 12.0, course=270.0, speed=12.0, fixed_at=at(-1)),
        ship("PAST", 20.0, bearing=270.0, course=270.0, speed=12.0, fixed_at=at(-1)),
        ship("LATER", 27.0, course=270.0, speed=12.0, fixed_at=at(-1)),
    ])  # fmt: skip
    over, later = found.ships
    assert (over.name, over.enters, round(over.off_nmi, 1)) == ("OVER", None, 0.0)
    assert later.name == "LATER"
    assert abs((later.enters - at(10.0 / 12.0)).total_seconds()) < 400
    assert "reckoned from 0200Z" in str(LAYER.tables(found))


def test_a_fast_ship_does_not_slip_through_a_small_area_between_two_looks():
    """24 kn across 0.2 nmi: she is in it for one minute."""
    small = area(radius_nmi=0.2)
    for off in np.linspace(5.0, 9.0, 41):
        found = kept(small, ships=[ship("FAST", off, course=270.0, speed=24.0)])
        assert [one.name for one in found.ships] == ["FAST"], off
        hours = (off - 0.2) / 24.0
        assert abs((found.ships[0].enters - at(hours)).total_seconds()) < 10, off
