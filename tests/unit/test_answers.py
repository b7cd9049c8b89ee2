"""The rules that join answers, and their words, written from the interface's text."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from layers import answer_words
from layers.answers import Answers
from layers.contract import Moment
from layers.earth.told import (
    AlarmNow,
    DiveVerdict,
    InputAge,
    PersonsNow,
    RefugeMargin,
    SortieNow,
)
from layers.earth.uncertain import Bounds, NotKnown, Number, Stated, Withheld

NOW = datetime(2027, 3, 16, 6, 40, tzinfo=UTC)


def made(**given):
    blank = {
        "moment": Moment(NOW, NOW),
        "persons": NotKnown(missing=("how many are on board",)),
        "position": NotKnown(),
        "margin": {},
        "margin_unless": NotKnown(missing=("no air read",)),
        "all_out": NotKnown(),
        "dive": NotKnown(missing=("no limit entered",)),
        "sortie": NotKnown(),
        "next_decision": NotKnown(),
        "first_out": NotKnown(),
        "search_next": NotKnown(),
        "oldest_input": NotKnown(),
    }
    return Answers(**blank | given)


def refuge(name, hours, binds="CO2"):
    return RefugeMargin(
        refuge=name, persons=10, binds=binds, if_nobody_leaves_h=hours, as_planned_h=hours
    )


def test_nobody_counted_yet_is_a_dash_not_a_nought():
    (cell,) = answer_words.persons(made())
    assert (cell.figure, cell.word, cell.known) == ("–", "nobody counted yet", False)


def test_before_anyone_is_heard_of_all_on_board_are_not_heard_of():
    cells = answer_words.persons(made(persons=PersonsNow(on_board=71, not_heard_of=71)))
    assert [(c.figure, c.word) for c in cells] == [("71", "not heard of"), ("71", "POB")]


def test_counts_of_nobody_are_left_out_and_the_rest_add_up():
    now = PersonsNow(on_board=71, in_hull=38, adrift=2, not_heard_of=12, out=18, dead=1)
    assert now.counted == now.on_board
    said = [(c.figure, c.word) for c in answer_words.persons(made(persons=now))]
    assert said == [
        ("38", "in hull"),
        ("2", "adrift"),
        ("12", "not heard of"),
        ("18", "out"),
        ("71", "POB, 1 dead"),
    ]


def test_counts_that_contradict_each_other_say_so_wherever_they_are_read():
    now = PersonsNow(on_board=71, in_hull=44, not_heard_of=27, differ=1)
    assert answer_words.persons(made(persons=now))[-1].word == "POB, counts differ"
    now = replace(now, between={"in_hull": (41, 44), "not_heard_of": (27, 30), "dead": (0, 3)})
    said = [(one.figure, one.word) for one in answer_words.persons(made(persons=now))]
    assert said == [("41 to 44", "in hull"), ("27 to 30", "not heard of"),
                    ("71", "POB, 0 to 3 dead, counts differ")]  # fmt: skip


@pytest.mark.parametrize(
    ("hours", "figure"),
    [(21.9, "+21"), (0.2, "+0"), (-0.2, "−1"), (-6.5, "−7"), (-7.0, "−7")],
)
def test_hours_to_spare_are_rounded_down(hours, figure):
    found = made(margin={"after": refuge("after", Number(value=hours, unit="h"))})
    said = answer_words.margin(found)
    assert said.figure == figure
    assert said.late is (hours < 0)
    assert said.word.startswith("LATE, ") is (hours < 0)


def test_one_refuge_unread_makes_the_margin_at_most_the_other():
    found = made(
        margin={
            "after": refuge("after", Number(value=21.3, unit="h"), "cold"),
            "forward": refuge("forward", NotKnown(missing=("forward not read",)), ""),
        }
    )
    joined, _ = found.least_margin
    assert isinstance(joined, Bounds)
    said = answer_words.margin(found)
    assert (said.figure, said.unit, said.word) == ("≤ +21", "h", "forward not read")


def test_a_late_refuge_beside_an_unread_one_is_said_to_be_late():
    found = made(
        margin={
            "after": refuge("after", Number(value=-2.0, unit="h"), "cold"),
            "forward": refuge("forward", NotKnown(missing=("forward not read",)), ""),
        }
    )
    said = answer_words.margin(found)
    assert (said.figure, said.late) == ("≤ −2", True)


def test_no_air_read_is_a_dash_with_its_reason():
    said = answer_words.margin(made())
    assert (said.figure, said.word, said.known) == ("–", "no air read", False)


def test_a_dive_that_nobody_can_judge_is_a_question_not_a_yes():
    assert answer_words.dive(made()).figure == "?"
    doubt = Stated(value=DiveVerdict(may=None, because="forecast ended 1800Z"))
    said = answer_words.dive(made(dive=doubt))
    assert (said.figure, said.word) == ("?", "forecast ended 1800Z")


def test_no_dive_says_until_when_and_why():
    shut = DiveVerdict(
        may=False, because="recovery shuts 0820Z", opens=NOW + timedelta(hours=21, minutes=6)
    )
    said = answer_words.dive(made(dive=Stated(value=shut)))
    assert said.figure == "NO"
    assert said.word == "until 170346Z, in 21 h 06"
    assert said.more == "recovery shuts 0820Z"


def test_a_yes_or_an_hour_that_is_not_sure_has_its_chance_beside_it():
    at = NOW + timedelta(hours=1, minutes=20)
    open_ = DiveVerdict(may=True, because="", until=at, chance=0.72)
    said = answer_words.dive(made(dive=Stated(value=open_)))
    assert (said.figure, said.word) == ("YES", "until 0800Z, in 1 h 20, 72 of 100")
    shut = DiveVerdict(may=False, because="recovery shuts 0820Z", opens=at, chance=0.46)
    assert answer_words.dive(made(dive=Stated(value=shut))).more.startswith("46 of 100 then")
    sure = replace(open_, chance=0.95)
    assert answer_words.dive(made(dive=Stated(value=sure))).word == "until 0800Z, in 1 h 20"


def test_a_dive_that_had_to_be_ordered_before_now_says_so_where_it_says_yes():
    at = NOW + timedelta(hours=1, minutes=20)
    open_ = DiveVerdict(may=True, because="", until=at, decide_by=NOW - timedelta(minutes=40))
    said = answer_words.dive(made(dive=Stated(value=open_)))
    assert (said.figure, said.word) == ("YES", "until 0800Z if ordered by 0600Z")
    assert "decide by" not in said.more  # an hour that is past is no advice
    ahead = replace(open_, decide_by=NOW + timedelta(minutes=20))
    said = answer_words.dive(made(dive=Stated(value=ahead)))
    assert (said.word, said.more) == ("until 0800Z, in 1 h 20", "decide by 0700Z")


def test_a_late_case_below_nought_stands_first_in_the_words_that_every_place_shows():
    one = replace(refuge("after", Number(value=3.4, unit="h")), late_case_h=-4.2)
    said = answer_words.margin(made(margin={"after": one}))
    assert (said.figure, said.late) == ("+3", False)
    assert said.word == "−5 h if late, after refuge, CO2 binds"
    sure = replace(one, late_case_h=1.0)
    assert "if late" not in answer_words.margin(made(margin={"after": sure})).word


def test_a_report_that_is_late_is_not_told_as_a_phase_that_is():
    now = SortieNow(
        phase="mate", vehicle="LIMPET", since=NOW - timedelta(minutes=40),
        overdue_min=18.0,
    )  # fmt: skip
    said = answer_words.sortie(made(sortie=Stated(value=now)))
    assert said.word == "LIMPET, since 0600Z, report 18 min overdue"


def test_the_oldest_input_is_told_with_its_age():
    told = Stated(value=InputAge(what="air, both refuges", at=NOW - timedelta(minutes=205)))
    said = answer_words.oldest(made(oldest_input=told))
    assert (said.figure, said.word) == ("3 h 25", "oldest: air, both refuges")


def test_an_acknowledged_alarm_is_not_counted():
    def alarm(by):
        return AlarmNow(about="x", said="x", since=NOW, ended=None, taken_by=by, record_id="x")

    said = answer_words.alarms(made(alarms=(alarm(""), alarm("FW"))))
    assert (said.figure, said.word) == ("1", "alarm")


def test_what_is_withheld_says_so_and_nothing_more():
    found = made(margin_unless=Withheld(), dive=Withheld(), persons=Withheld())
    for said in (
        answer_words.margin(found),
        answer_words.dive(found),
        *answer_words.persons(found),
    ):
        assert (said.figure, said.word, said.known) == ("–", "withheld here", False)


class Told:
    """A stand-in for what the layers say, one verdict each."""

    def __init__(self, *parts):
        self.parts = parts

    def all(self, _question):
        return iter(self.parts)


def joined(*verdicts):
    from layers.answers import _dive

    parts = (Stated(value=v) if isinstance(v, DiveVerdict) else v for v in verdicts)
    return _dive(Told(*parts)).value


OPEN_SEA = DiveVerdict(may=True, because="", until=NOW + timedelta(hours=60))


def test_an_open_sea_is_no_dive_while_no_vehicle_is_there():
    away = DiveVerdict(may=False, because="no vehicle on scene", opens=NOW + timedelta(hours=50))
    found = joined(OPEN_SEA, away)
    assert (found.may, found.because, found.opens) == (False, "no vehicle on scene", away.opens)


def test_a_vehicle_that_comes_when_the_sea_has_shut_again_opens_nothing():
    away = DiveVerdict(may=False, because="no vehicle on scene", opens=NOW + timedelta(hours=70))
    found = joined(OPEN_SEA, away)
    assert (found.may, found.opens) == (False, None)


def test_two_reasons_are_both_said_and_the_later_hour_counts():
    sea = DiveVerdict(may=False, because="recovery shut", opens=NOW + timedelta(hours=3))
    away = DiveVerdict(may=False, because="no vehicle on scene", opens=NOW + timedelta(hours=9))
    found = joined(sea, away)
    assert found.opens == away.opens
    assert found.because == "recovery shut; no vehicle on scene"


def test_what_one_layer_does_not_know_is_never_a_yes():
    assert joined(OPEN_SEA, NotKnown(missing=("a plan of lifts",))).may is None
    assert joined(OPEN_SEA, DiveVerdict(may=None, because="when a vehicle can dive")).may is None


def test_open_in_every_respect_is_a_yes_until_the_first_end():
    found = joined(OPEN_SEA, DiveVerdict(may=True, because=""))
    assert (found.may, found.until) == (True, OPEN_SEA.until)


def test_a_rough_margin_says_so_where_there_is_little_room() -> None:
    """The strip and the wall show a few words only: the first of them must be that it is rough."""
    whole = refuge("after", Number(value=21.0, unit="h"))
    assert "rough" not in answer_words.margin(made(margin={"after": whole})).word
    first = made(margin={"after": replace(whole, rough=True)})
    assert answer_words.margin(first).word.startswith("rough: ")
