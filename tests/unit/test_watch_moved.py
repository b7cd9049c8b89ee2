"""What moved since a handover: short, from what to what, and nothing that only grew older."""

from __future__ import annotations

from layers.watch.moved import MOST, moved_words, parts_moved

MUSTER = "Of 71 on board {} out and {} to go (forward 24, after {}), 12 not accounted for; {}."


def test_only_what_moved_is_said_from_and_to() -> None:
    before = MUSTER.format(16, 42, 16, "last report 160155Z MAR 27, 40 min old")
    after = MUSTER.format(18, 40, 14, "last report 160555Z MAR 27, 4 min old")
    assert parts_moved(before, after) == (
        (
            "Of 71 on board 16 out and 42 to go (forward 24, after 16)",
            "Of 71 on board 18 out and 40 to go (forward 24, after 14)",
        ),
    )


def test_a_part_is_set_beside_the_one_it_was() -> None:
    told = moved_words(
        "95 % within 1.8 nmi, from 9 reports, last heard 2112Z.",
        "95 % within 133 m, from 20 reports, last heard 0916Z. 1 of them does not fit the rest.",
    )
    assert told == (
        "95 % within 1.8 nmi → 95 % within 133 m; from 9 reports → from 20 reports; "
        "now: 1 of them does not fit the rest"
    )


def test_what_moves_with_the_clock_alone_is_left_out() -> None:
    said = "Launch window closes in {} ({}), buoy {} old."
    before = said.format("7 h 25", "1000Z", "5 min")
    assert moved_words(before, said.format("3 h 25", "1000Z", "9 min")) == ""
    assert "1000Z) → " in moved_words(before, said.format("3 h 25", "0900Z", "9 min"))
    assert moved_words("", "") == ""


def test_many_parts_are_counted() -> None:
    told = moved_words("", ", ".join(f"{letter * 6} {number}" for number, letter in
                                     enumerate("abcdefg")))  # fmt: skip
    assert told.endswith(f"; and {7 - MOST} more")
