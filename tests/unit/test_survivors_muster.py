"""The muster: double entry, never negative, always adding up, conflicts side by side."""

from datetime import timedelta

import pytest

from dashboard.panels.survivors import people
from layers.contract import Moment
from layers.earth.errors import InputError, RecordRefused
from layers.scene.ink import NIGHT
from layers.survivors.compute import compute
from layers.survivors.muster.muster import muster
from layers.survivors.muster.persons import persons_of
from layers.survivors.report import sentence, table
from tests.survivors_journal import AT, Told

HOUR = timedelta(hours=1)


def opened_by_telephone() -> Told:
    """The exercise at 132140Z, worked by hand: 71 = 24 + 30 + 2 + 2 + 1 + 12."""
    told = Told()
    told.complement("sailing list", 69)
    told.complement("riders", 2)
    told.move("not accounted for", "on the surface", 5, hours=1)
    told.move("on the surface", "picked up", 2, hours=2)
    told.move("on the surface", "dead", 1, hours=2)
    told.move("not accounted for", "forward", [(20, "walking"), (4, "stretcher")], hours=3)
    told.move("not accounted for", "after", [(29, "walking"), (1, "stretcher")], hours=3)
    return told


def test_hand_worked_hour_of_the_exercise_reads_as_the_watch_must_read_it():
    told = opened_by_telephone()
    who = muster(told.known(), Moment(AT + 3 * HOUR, AT + 3 * HOUR))
    assert (who.pob, who.out, who.to_go, who.dead, who.not_accounted) == (71, 2, 56, 1, 12)
    assert who.by_place["forward"] == 24
    assert who.by_place["after"] == 30
    assert who.by_place["on the surface"] == 2
    assert who.by_fitness == {
        "walking": 49,
        "injured": 0,
        "stretcher": 5,
        "unknown": 16,
        "dead": 1,
    }
    said = sentence(compute(told.known(), {}, Moment(AT + 3 * HOUR, AT + 3 * HOUR)))
    assert said == (
        "Of 71 on board: 54 in the hull (forward 24, after 30), 2 adrift, 12 not heard of, 2 out, "
        "1 dead; last report 131800Z MAR 27, 0 min old."
    )


def test_before_the_telephone_only_the_escapees_are_known_of():
    who = muster(opened_by_telephone().known(), Moment(AT + 9 * HOUR, AT + 1 * HOUR))
    assert who.by_place["not accounted for"] == 66
    assert who.by_place["forward"] == 0


def test_table_adds_up_in_its_last_row():
    rows = table(
        compute(opened_by_telephone().known(), {}, Moment(AT + 3 * HOUR, AT + 3 * HOUR))
    ).rows
    assert sum(row[1] for row in rows[:-1]) == rows[-1][1] == 71


def test_nobody_on_board_stated_says_what_would_open_the_muster():
    with pytest.raises(InputError, match=r"nobody has said how many were on board.*complement"):
        muster(Told().known(), Moment(AT, AT))


def test_move_that_makes_a_place_negative_is_refused_with_the_number():
    told = opened_by_telephone()
    with pytest.raises(RecordRefused, match=r"31 cannot leave 'after', where the muster has 30"):
        told.move("after", "vehicle", 31, hours=4)
    assert muster(told.known(), Moment(AT + 4 * HOUR, AT + 4 * HOUR)).by_place["after"] == 30


def test_more_stretchers_than_the_place_has_are_refused():
    told = opened_by_telephone()
    with pytest.raises(RecordRefused, match=r"2 stretcher cannot leave 'after'.*29 walking"):
        told.move("after", "vehicle", [(2, "stretcher")], hours=4)


def test_unknown_place_is_refused_with_the_places_there_are():
    with pytest.raises(RecordRefused, match=r"'conning tower' is not a place.*forward, after"):
        opened_by_telephone().move("after", "conning tower", 1, hours=4)


def test_more_reported_than_on_board_is_refused():
    with pytest.raises(RecordRefused, match=r"72 at 'forward' is more than the 71"):
        opened_by_telephone().report("forward", 72, hours=4)


def test_backdated_move_that_breaks_a_later_one_is_refused():
    told = opened_by_telephone()
    told.move("after", "vehicle", 16, hours=6)
    with pytest.raises(RecordRefused, match="it would make the later move at"):
        told.move("after", "not accounted for", 20, hours=5)


def test_correcting_the_list_below_those_accounted_for_is_refused():
    with pytest.raises(RecordRefused, match=r"makes 52 on board, but 59 are accounted for"):
        opened_by_telephone().complement("sailing list", 50, hours=5)


def test_report_stands_beside_the_ledger_and_the_difference_is_shown():
    told = opened_by_telephone()
    told.report("forward", 22, hours=4, source="inspection vehicle")
    who = muster(told.known(), Moment(AT + 5 * HOUR, AT + 5 * HOUR))
    assert who.by_place["forward"] == 24
    assert [c.difference for c in who.conflicts] == [-2]
    assert "inspection vehicle told 22" in who.conflicts[0].text
    assert persons_of(who).differ == 1  # and every strip says that counts differ


def test_report_that_agreed_when_made_is_no_conflict_after_people_left():
    told = opened_by_telephone()
    told.report("after", 30, hours=3)
    told.move("after", "vehicle", 16, hours=6)
    assert muster(told.known(), Moment(AT + 7 * HOUR, AT + 7 * HOUR)).conflicts == ()


def test_two_sources_for_the_list_stand_side_by_side_and_the_larger_counts():
    told = Told()
    told.complement("sailing list", 69, source="base")
    told.complement("sailing list", 68, source="squadron")
    who = muster(told.known(), Moment(AT, AT))
    assert who.pob == 69
    assert [c.difference for c in who.conflicts] == [1]


def test_adopted_statement_settles_the_list():
    told = Told()
    told.complement("sailing list", 69, source="base")
    told.opinion("journal.adopt", told.complement("sailing list", 68, source="squadron"))
    who = muster(told.known(), Moment(AT, AT))
    assert who.pob == 68
    assert who.conflicts == ()


def test_disputed_rider_counts_until_settled_and_is_said_to_be_disputed():
    told = Told()
    told.complement("sailing list", 69)
    rider = told.complement("rider 2", 1)
    told.opinion("journal.dispute", rider)
    assert muster(told.known(), Moment(AT, AT)).pob_disputed == 1
    told.opinion("journal.dispute", rider, settled=True)
    assert muster(told.known(), Moment(AT, AT)).pob_disputed == 0


def test_retracted_move_leaves_a_later_one_set_aside_and_shown():
    told = opened_by_telephone()
    first = told.move("after", "vehicle", 16, hours=6)
    told.move("vehicle", "chamber 1", 16, hours=7)
    told.opinion("journal.retract", first)
    who = muster(told.known(), Moment(AT + 8 * HOUR, AT + 8 * HOUR))
    assert who.by_place["after"] == 30
    assert "16 at 132200Z MAR 27 set aside" in who.conflicts[0].text
    assert sum(who.by_place.values()) == 71


def test_fitness_changes_in_place_with_was():
    told = opened_by_telephone()
    told.move("after", "after", [(3, "injured", "walking")], hours=4)
    who = muster(told.known(), Moment(AT + 4 * HOUR, AT + 4 * HOUR))
    after = who.place("after")
    assert after is not None
    assert (after.of("walking"), after.of("injured"), after.persons) == (26, 3, 30)


def test_added_chamber_takes_people():
    told = opened_by_telephone()
    told.add("survivors.place", {"name": "chamber 3", "sort": "chamber"}, hours=3)
    told.move("after", "chamber 3", 16, hours=4)
    assert muster(told.known(), Moment(AT + 4 * HOUR, AT + 4 * HOUR)).out == 18


def test_counts_that_contradict_give_the_least_and_the_most_that_can_be_true():
    """By hand, of 71: forward 24 or 22, after 33, adrift 2, out 2, dead 1.

    In the hull 22 + 33 = 55 to 24 + 33 = 57; not heard of 71 - 57 - 5 = 9 to 71 - 55 - 5 = 11.
    """
    told = opened_by_telephone()
    told.report("forward", 22, hours=4, source="inspection vehicle")
    told.report("after", 33, hours=4, source="underwater telephone")
    who = muster(told.known(), Moment(AT + 5 * HOUR, AT + 5 * HOUR))
    now = persons_of(who)
    assert who.by_place["after"] == 33  # the headcount finds three who were not heard of
    assert now.between["in_hull"] == (55, 57)
    assert now.between["not_heard_of"] == (9, 11)
    assert set(now.between) == {"in_hull", "not_heard_of"}
    assert now.figure("in_hull") == "55 to 57"
    assert now.figure("adrift") == "2"
    for figure in (">55 to 57</text>", ">9 to 11</text>"):
        assert figure in people.drawing(who, NIGHT)
    said = sentence(compute(told.known(), {}, Moment(AT + 5 * HOUR, AT + 5 * HOUR)))
    assert said.startswith("Of 71 on board: 55 to 57 in the hull")
    assert "9 to 11 not heard of" in said


def test_two_lists_that_differ_bound_who_is_not_heard_of():
    told = opened_by_telephone()
    told.complement("sailing list", 66, source="squadron")
    now = persons_of(muster(told.known(), Moment(AT + 3 * HOUR, AT + 3 * HOUR)))
    # 69 or 66, and 2 riders; 59 are heard of
    assert now.between == {"on_board": (68, 71), "not_heard_of": (9, 12)}


def test_accounts_that_agree_leave_nothing_open():
    now = persons_of(muster(opened_by_telephone().known(), Moment(AT + 3 * HOUR, AT + 3 * HOUR)))
    assert not now.between


def test_a_headcount_tells_of_its_dead_and_nobody_else_is_missing_for_them():
    told = Told()
    told.complement("crew", 47)
    told.add("survivors.report", {"place": "after", "persons": 28, "injured": 3, "dead": 1})
    who = muster(told.known(), Moment(AT, AT))
    assert (who.place("after").alive, who.dead, who.not_accounted) == (27, 1, 19)
    assert who.place("after").of("injured") == 3
    assert not who.conflicts
    # told again an hour later with one more of them dead: the same 28, one alive fewer
    told.add("survivors.report", {"place": "after", "persons": 28, "dead": 2}, 1.0)
    later = AT + timedelta(hours=1)
    who = muster(told.known(), Moment(later, later))
    assert (who.place("after").alive, who.dead, who.not_accounted) == (26, 2, 19)


def test_a_compartment_told_flooded_where_people_live_leaves_open_whether_they_do():
    told = Told()
    told.complement("crew", 47)
    told.report("after", 28)
    told.report("forward", 11)
    told.add("survivors.water", {"refuge": "after", "state": "flooded"}, 0.5)
    then = AT + timedelta(hours=0.6)
    now = persons_of(muster(told.known(), Moment(then, then)))
    assert (now.between["in_hull"], now.between["not_heard_of"]) == ((11, 39), (8, 36))
    # whoever is told alive there afterwards settles it
    told.report("after", 28, 1.0)
    then = AT + timedelta(hours=1)
    assert not muster(told.known(), Moment(then, then)).conflicts


def test_a_flooded_compartment_takes_none_of_the_ready_made_refuges_away():
    told = Told()
    told.complement("crew", 47)
    told.add("survivors.place", {"name": "engine room", "sort": "refuge"})
    assert "forward" not in muster(told.known(), Moment(AT, AT)).by_place
    told.add("survivors.water", {"refuge": "engine room", "state": "flooded"})
    who = muster(told.known(), Moment(AT, AT))
    assert {"forward", "after", "engine room"} <= set(who.by_place)
    rows = compute(told.known(), {}, Moment(AT, AT)).refuges
    assert {one.refuge: one.water for one in rows}["engine room"] == "flooded"
