"""The watch's desk: who is in charge, what was promised, asked for and told outside."""

from __future__ import annotations

from datetime import timedelta

from layers.contract import Moment
from layers.watch.desk import desk
from layers.watch.state import state
from tests.unit.test_survivors_boat import START, known

NOW = Moment(START + timedelta(hours=2), START + timedelta(hours=2))


def hour(hours):
    return (START + timedelta(hours=hours)).isoformat()


def test_an_office_is_held_by_who_was_told_last():
    held = desk(
        known(
            ("watch.in_charge", {"office": "SSRA", "who": "Skarv operations"}),
            ("watch.in_charge", {"office": "OSC", "who": "SALTMARSH"}),
            ("watch.in_charge", {"office": "osc", "who": "CAPE ARDIS", "reach": "VHF 10"}),
        ),
        NOW,
    )
    assert [entry.value.who for entry in held.in_charge] == ["Skarv operations", "CAPE ARDIS"]
    assert held.office("OSC").value.reach == "VHF 10"
    assert held.office("coordinator") is None


def test_a_circuit_struck_off_is_not_listed():
    gone = {"who": "SALTMARSH", "how": "HF 4125 kHz"}
    held = desk(
        known(
            ("watch.circuit", gone),
            ("watch.circuit", {"who": "the boat", "how": "UWT 8 kHz", "kept_by": "CAPE ARDIS"}),
            ("watch.circuit", gone | {"in_use": False}),
        ),
        NOW,
    )
    assert [entry.value.who for entry in held.circuits] == ["the boat"]


def test_what_she_was_promised_falls_due_and_only_the_last_message_counts():
    found = known(
        ("watch.promised", {"told": "help is coming", "tell_next": "when", "tell_by": hour(1)}),
        ("watch.promised", {"told": "vehicle by noon", "expects": "three bangs",
                            "expects_at": hour(1.5), "tell_next": "seat", "tell_by": hour(4)}),
    )  # fmt: skip
    events = {event.sort: event for event in state(found, NOW).events}
    assert events["the boat expects"].overdue
    assert events["the boat expects"].what == "three bangs"
    assert not events["tell the boat"].overdue
    assert events["tell the boat"].at == START + timedelta(hours=4)


def test_help_is_open_until_answered_and_its_hour_is_said():
    asked = ("watch.help_asked", {"asked_of": "Port of Savona", "what": "a 40 t crane",
                                  "helps_until": hour(1)})  # fmt: skip
    found = known(asked)
    (each,) = desk(found, NOW).asked
    assert each.open
    assert each.past
    assert [event.sort for event in state(found, NOW).overdue] == ["helps until"]
    target = each.asked.id
    for answer, still_open, past in (
        ("not yet", True, True), ("no", False, True), ("yes", False, False)
    ):  # fmt: skip
        told = ("watch.help_answered", {"target": target, "answer": answer, "by": "harbour"})
        (each,) = desk(known(asked, told), NOW).asked
        assert (each.open, each.past) == (still_open, past)
    assert not state(known(asked, told), NOW).events


def test_who_was_told_what_no_longer_holds_is_to_be_told_again():
    families = {"whom": "families' office", "told": "52 are on board", "answer": "persons",
                "answer_said": "52 on board"}  # fmt: skip
    press = {"whom": "press", "told": "a boat is overdue"}
    held = desk(known(("watch.told_outside", families), ("watch.told_outside", press)), NOW)
    assert held.tell_again({"persons": "52 on board"}) == ()
    assert held.tell_again({}) == ()
    (again,) = held.tell_again({"persons": "51 on board"})
    assert again.told.value.whom == "families' office"
    assert again.now_reads == "51 on board"
    anew = families | {"told": "51 are on board", "answer_said": "51 on board"}
    held = desk(known(("watch.told_outside", families), ("watch.told_outside", anew)), NOW)
    assert held.tell_again({"persons": "51 on board"}) == ()


def test_a_situation_report_holds_what_the_journal_holds_and_no_instruction():
    from layers.answers import answers
    from layers.picture import picture
    from layers.scene.release import Release, Stamp
    from layers.scene.sitrep import StaffWords, next_number, precedence, sitrep

    found = known(
        ("datum.lkp", {"latitude_deg": 43.3333333, "longitude_deg": 8.6666667,
                       "sigma_m": 1513.2, "reported_by": "COMSUB"}),
        ("datum.intended_movement", {"report_due": hour(1)}),
        ("survivors.boat", {"name": "GREYWETHER", "length_m": 68.0}),
        ("watch.in_charge", {"office": "SSRA", "who": "Skarv operations", "reach": "+39 010 1"}),
        ("watch.help_asked", {"asked_of": "Savona", "what": "a 40 t crane",
                              "helps_until": hour(5)}),
        ("watch.stage", {"stage": "SUBMISS", "basis": "as heard"}),
        ("watch.export", {"what": "SITREP 4", "may_go_to": "all", "as_of": hour(0),
                          "shown_for": hour(0), "head_hash": "0" * 64}),
    )  # fmt: skip
    made = picture(found._shelf, NOW, found.upto_seq, ["datum"])
    stamp = Stamp(title="SITREP", exercise="HEATH", moment=NOW, head_seq=7, head_hash="0" * 64)
    answered = answers(made, state(found, NOW))
    text = sitrep(made, found, answered, stamp, Release(), StaffWords())
    assert "A. IDENTITY OF CASUALTY\n   GREYWETHER (record 3)" in text
    # 1513.2 m along each axis hold her within 3704 m, 2 nmi, with 95 %
    assert "Last known position 43°20.0′N 008°40.0′E at 130701Z MAR 27, within 2 nmi" in text
    assert "Last contact 130701Z MAR 27 (record 1)" in text
    assert "Report due 130800Z MAR 27, missed, 1 h 00 ago (record 2)" in text
    assert "Skarv operations (SSRA, +39 010 1) (record 4)" in text
    assert "a 40 t crane, asked of Savona, helps until 131200Z MAR 27 (record 5)" in text
    assert "length 68 m (record 3)" in text
    for word in ("add the", "enter ", "accepted", "would fill", "type "):
        assert word not in text.lower()
    assert next_number(found) == 5
    assert precedence(state(found, NOW)) == "DISTRESS"
