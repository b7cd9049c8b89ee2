"""Who saw which release when: told in few records, however often pages are opened.

Written from the text: for an inquiry the copy says who saw which release when; a reader's session
begins, the release changes, it ends. Readers can not flood the journal by it.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from dashboard.looks import MOST_AN_HOUR, Eye, Looks, Whose
from layers.catalogue import KINDS
from layers.earth.errors import JournalAway
from layers.journal.known import check_payload
from layers.journal.releases.rules import Release

AT = datetime(2027, 3, 16, 6, 40, tzinfo=UTC)
OPEN, SHUT = Release(), Release(exact_position=False)
OFFICE = Whose("C. Marlow <marlow@example; 7>", OPEN)


class Book:
    """What was recorded, and when it is true; one record a minute stands in the journal."""

    def __init__(self) -> None:
        self.told: list[tuple[dict[str, Any], datetime]] = []
        self.away = False
        self.looks = Looks(self.put, lambda at: int((at - AT).total_seconds() // 60) + 100)

    def put(self, payload: dict[str, Any], at: datetime) -> None:
        if self.away:
            raise JournalAway("gone")
        check_payload(KINDS["watch.look"], payload, "look")
        self.told.append((payload, at))

    def minutes(self, first: int, last: int, eye: Eye, whose: Whose | None = None) -> None:
        """Let a page ask every minute, and the server record every minute."""
        for minute in range(first, last + 1):
            at = AT + timedelta(minutes=minute)
            self.looks.see(eye, whose, at) if whose else self.looks.touch(eye, at)
            self.looks.step(at)

    def quiet(self, until: int) -> None:
        self.looks.step(AT + timedelta(minutes=until))


def hour(minute: int) -> str:
    return (AT + timedelta(minutes=minute)).isoformat().replace("+00:00", "Z")


def test_a_look_is_told_when_it_begins_and_when_it_is_over() -> None:
    book, eye = Book(), Eye("3f" * 12, "p readers", False)
    book.minutes(0, 0, eye, OFFICE)
    ((begun, at),) = book.told
    assert (begun["who"], begun["began"], at) == (OFFICE.who, hour(0), AT)
    assert "ended" not in begun
    book.minutes(1, 90, eye, OFFICE)  # opened again and again
    book.minutes(91, 120, eye)  # and left open
    assert len(book.told) == 1
    book.quiet(126)
    over, at = book.told[1]
    assert (over["began"], over["ended"], over["upto"]) == (hour(0), hour(120), 220)
    assert at == AT + timedelta(minutes=120)  # true when the page was last heard of
    book.quiet(300)
    assert len(book.told) == 2


def test_what_is_withheld_is_told_and_another_release_is_another_look() -> None:
    book = Book()
    book.minutes(0, 5, Eye("aa", " readers", False), Whose("reader", OPEN))
    book.minutes(6, 20, Eye("aa", "p readers", False), Whose("reader", SHUT))
    told = [(each["withheld"], each.get("ended")) for each, _ in book.told]
    names, place = "names of persons", "exact position of the DISSUB"
    assert told == [([names], None), ([place, names], None), ([names], hour(5))]


def test_a_page_that_comes_back_after_a_gap_in_the_network_is_a_look_again() -> None:
    book, eye = Book(), Eye("aa", " readers", False)
    book.minutes(0, 3, eye, Whose("reader", OPEN))
    book.quiet(10)
    book.minutes(20, 22, eye)  # it was never made anew
    book.quiet(40)
    assert [(each["began"], each.get("ended")) for each, _ in book.told] == [
        (hour(0), None), (hour(0), hour(3)), (hour(20), None), (hour(20), hour(22)),
    ]  # fmt: skip


@pytest.mark.parametrize("readers", [200, 5_000])
def test_many_readers_make_few_records_and_are_all_counted(readers: int) -> None:
    book = Book()
    for number in range(readers):
        eye = Eye(f"{number:08d}", " readers", False)
        book.looks.see(eye, Whose("reader", OPEN), AT + timedelta(seconds=number % 600))
        book.looks.step(AT + timedelta(seconds=number % 600))
    book.quiet(60)
    assert len(book.told) <= 2 * (MOST_AN_HOUR + 1)
    assert sum(each["lookers"] for each, _ in book.told if "ended" in each) == readers


def test_what_can_not_be_recorded_now_is_recorded_when_the_journal_is_back() -> None:
    book, eye = Book(), Eye("aa", " readers", False)
    book.away = True
    with pytest.raises(JournalAway):
        book.minutes(0, 0, eye, OFFICE)
    book.away = False
    book.quiet(2)
    assert [each["began"] for each, _ in book.told] == [hour(0)]


def test_at_the_servers_end_open_looks_are_over() -> None:
    book, eye = Book(), Eye("aa", " wall", True)
    book.minutes(0, 7, eye, Whose("reader", Release(audience="wall")))
    book.looks.step(AT + timedelta(minutes=8), all_end=True)
    assert book.told[-1][0]["ended"] == hour(7)
    assert book.told[-1][0]["through"] == "wall"
