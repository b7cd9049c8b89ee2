"""While a picture is worked out what is ready of it shows at once, and the rest as it stood."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from dashboard.cache import opened, pictures
from dashboard.cache.opened import Present
from dashboard.cache.ready import ASK_AGAIN_S, MOST, Coming
from layers.catalogue import LAYERS
from layers.contract import Moment, Unavailable
from layers.journal.releases.rules import WATCH, Release
from layers.picture import Picture

AT = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)


def said(words: str) -> Unavailable:
    return Unavailable(reason=words)


def stood(at: datetime = AT, upto_seq: int = 10) -> Picture:
    layers = {layer.key: said(f"{layer.key} before") for layer in LAYERS}
    return Picture(moment=Moment(at, at), upto_seq=upto_seq, layers=layers)


def here(number: int) -> Present:
    at = AT + timedelta(seconds=number)
    return Present(revision=10 + number, now=at, shown=at, told=10 + number)


@pytest.fixture
def there(monkeypatch: pytest.MonkeyPatch) -> dict[int, dict[str, Unavailable]]:
    """What the computing process has finished, by the place in the journal's order."""
    done: dict[int, dict[str, Unavailable]] = {}
    monkeypatch.setattr(pictures, "names_of", lambda _at, upto, _release: upto)
    monkeypatch.setattr(pictures, "ready_layers", lambda upto: done.get(upto, {}))
    monkeypatch.setattr(pictures, "ask", lambda at, _upto, release: asked.append((at, release)))
    monkeypatch.setattr(opened, "read_by", lambda _release: None)
    asked.clear()
    return done


asked: list[tuple[datetime, Release]] = []


def test_a_layer_that_is_ready_shows_and_the_others_stand(there: dict[int, Any]) -> None:
    coming, before = Coming(), stood()
    assert coming.newest(here(1), WATCH, before) is None
    there[11] = {"tracks": said("a ship moved")}
    made = coming.newest(here(1), WATCH, before)
    assert made is not None
    assert made.layers["tracks"] == said("a ship moved")
    assert made.layers["weather"] is before.layers["weather"]
    assert made.upto_seq == 11
    assert coming.newest(here(1), WATCH, made) is None, "nothing more is ready yet"
    there[11] |= {"weather": said("the wind rose")}
    again = coming.newest(here(1), WATCH, made)
    assert again is not None
    assert again.layers["weather"] == said("the wind rose")


def test_records_that_keep_coming_do_not_hold_back_what_is_ready(there: dict[int, Any]) -> None:
    coming, before = Coming(), stood()
    for number in (1, 2, 3):
        assert coming.newest(here(number), WATCH, before) is None
    there[12] = {"tracks": said("as of the second record")}
    made = coming.newest(here(4), WATCH, before)
    assert made is not None
    assert made.upto_seq == 12


def test_nothing_older_than_what_stands_is_shown(there: dict[int, Any]) -> None:
    coming = Coming()
    for number in (1, 2):
        coming.newest(here(number), WATCH, stood())
    there[11] = {"tracks": said("as of the first record")}
    newer = stood(here(2).shown, 12)  # a page was run meanwhile
    assert coming.newest(here(2), WATCH, newer) is None


def test_what_stood_long_ago_is_not_put_beside_what_is_newer(there: dict[int, Any]) -> None:
    there[11] = {"tracks": said("a ship moved")}
    long_ago = stood(AT - timedelta(minutes=5), 3)
    assert Coming().newest(here(1), WATCH, long_ago) is None


def test_who_was_never_shown_anything_is_shown_no_half_picture(there: dict[int, Any]) -> None:
    there[11] = {"tracks": said("a ship moved")}
    assert Coming().newest(here(1), WATCH, None) is None
    few = replace(stood(), layers={"tracks": said("before")})
    assert Coming().newest(here(1), WATCH, few) is None


def test_a_release_is_asked_for_at_once_and_the_watch_when_it_is_late(
    there: dict[int, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = [100.0]
    monkeypatch.setattr("dashboard.cache.ready.time.monotonic", lambda: clock[0])
    watch, readers = Coming(), Coming()
    guarded = Release(exact_position=False)
    for _ in range(3):
        watch.ask(here(1), WATCH)
        readers.ask(here(1), guarded)
    assert asked == [(here(1).shown, guarded)]
    clock[0] += ASK_AGAIN_S
    watch.ask(here(1), WATCH)
    assert asked[1:] == [(here(1).shown, WATCH)]


def test_what_is_waited_for_does_not_grow(there: dict[int, Any]) -> None:
    coming = Coming()
    for number in range(1, 100):
        coming.newest(here(number), WATCH, stood())
    there[11] = {"tracks": said("long ago")}
    assert coming.newest(here(100), WATCH, stood()) is None
    assert len(coming._held) <= MOST
