"""The picture of a moment and its answers: found, computed by the worker, or computed here.

Results are shared read-only by all viewers (`st.cache_resource`); a copy for each viewer would
cost more than computing them.
"""

from __future__ import annotations

import threading
from collections import ChainMap
from collections.abc import Mapping, MutableMapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import streamlit as st

from dashboard import settings
from dashboard.cache import opened
from dashboard.cache.kept import KeptResults, Lasts
from dashboard.cache.lately import Itself, Lately
from layers import alive
from layers.answers import Answers
from layers.catalogue import BY_KEY, KINDS, LAYERS
from layers.contract import Moment, Shown, Unavailable
from layers.earth.clock import EPOCH, day_hhmm
from layers.expected import answers_for
from layers.journal.known import Known
from layers.journal.releases.released import ReleaseShelf
from layers.journal.releases.rules import WATCH, Release
from layers.picture import ROUGH, Picture, is_withheld, picture, result_keys
from layers.results import Results
from layers.watch.result import WatchState

KEPT_RESULTS = 120  # about fifteen pictures of eight layers; a night of ships is long in each
COMES_WITHIN = timedelta(seconds=15)
# It is started seconds after the first view and gives way to it: so long its absence is no alarm.
SAID_AFTER = timedelta(seconds=40)
WAIT_S = 1.5  # for the worker, before this process computes for itself


@st.cache_resource(show_spinner=False)
def _lasts() -> Lasts:
    return Lasts(opened.KEPT_MOMENTS)


@st.cache_resource(show_spinner=False)
def _kept() -> tuple[KeptResults, threading.Lock]:
    return KeptResults(KEPT_RESULTS), threading.Lock()


@st.cache_resource(show_spinner=False)
def _names() -> Lately[tuple[int, Moment, str], dict[str, str]]:
    return Lately(
        lambda key: result_keys(opened.known_of(key[0], key[1].as_of, key[2]), key[1]),
        opened.KEPT_MOMENTS,
    )


@st.cache_resource(show_spinner=False)
def _pictures() -> Lately[
    tuple[Moment, int, str, tuple[Itself[Shown | Unavailable], ...]], Picture
]:
    def put_together(
        key: tuple[Moment, int, str, tuple[Itself[Shown | Unavailable], ...]],
    ) -> Picture:
        layers = {layer.key: one.it for layer, one in zip(LAYERS, key[3], strict=True)}
        shelf = opened.shelf_of(key[2])
        reading = shelf if isinstance(shelf, ReleaseShelf) else None
        return Picture(moment=key[0], upto_seq=key[1], layers=layers, reading=reading)

    return Lately(put_together, opened.KEPT_MOMENTS)


@st.cache_resource(show_spinner=False)
def _answers() -> Lately[
    tuple[Itself[Picture], Itself[WatchState], Itself[Picture | None]], Answers
]:
    return Lately(lambda key: answers_for(key[0].it, key[1].it, key[2].it), opened.KEPT_MOMENTS)


def answers(picture: Picture, watch: WatchState, now: Picture | None = None) -> Answers:
    """Return the watch's questions answered, once for all who look at the same picture."""
    return _answers()((Itself(picture), Itself(watch), Itself(now)))


def _result_names(
    moment: Moment, upto_seq: int | None = None, release: Release = WATCH
) -> dict[str, str]:
    """Return, per layer, the key of its result at a moment."""
    upto_seq = opened.book().seq_at(moment.as_of) if upto_seq is None else upto_seq
    return _names()((upto_seq, moment, opened.key_of(release)))


@st.cache_resource(show_spinner=False)
def _results() -> Results:
    return Results(settings.incident_folder(), opened.book().key)


@st.cache_resource(show_spinner=False)
def _first_asked() -> datetime:
    """Return when the first viewer came: this process may have waited long for the journal."""
    return datetime.now(UTC)


def still_starting(name: str, within: timedelta | None = None) -> bool:
    """Whether another process, which is started after the first view, may not be there yet.

    One that has been there since is not starting: when it is gone, it is gone.
    """
    first = _first_asked()
    if not settings.has_worker() or abs(datetime.now(UTC) - first) > (within or COMES_WITHIN):
        return False
    return not alive.has_come(settings.incident_folder(), name, first)


def worker_lives() -> bool:
    """Whether the computing process gave a sign of life lately, or is about to."""
    return still_starting("worker") or _worker_is_there()


def _worker_is_there() -> bool:
    return alive.is_alive(settings.incident_folder(), "worker", datetime.now(UTC))


def shared_picture(
    as_of: datetime, at: datetime, upto_seq: int | None = None, release: Release = WATCH
) -> Picture:
    """Return the picture at a moment: found, computed by the worker, or computed here.

    For a release it is computed from what that may read, and only while somebody looks through
    it: the worker is asked for it then. Releases with the same rules share it.

    ``upto_seq`` is the last record recorded by ``as_of``; asked for when it is not given.

    The worker is asked first, so that a datum that takes seconds holds up no other viewer; when
    it is gone, or late, this process computes for itself. A slow layer is not waited for: a
    result from shortly before that moment stands, with its time, until the new one is there.
    """
    kept, busy = _kept()
    journal = opened.book()
    moment = Moment(as_of=as_of, at=at)
    upto_seq = journal.seq_at(as_of) if upto_seq is None else upto_seq
    names = _result_names(moment, upto_seq, release)
    overlay: MutableMapping[str, Shown | Unavailable] = kept
    if worker_lives():
        # a first viewer has the picture sooner from here than from who has not started yet
        wait_s = WAIT_S if _worker_is_there() else 0.0
        _results().wait_for(_missing(names, slow=False), moment, wait_s, release, upto_seq)
        _fetch(names)
        late = {
            key: names[key]
            for key in names
            if BY_KEY[key].slow and names[key] not in kept and not _is_withheld(key, release)
        }
        if late:
            _results().ask(moment, upto_seq, slow=True)
            stand_ins = {
                name: _first_look(name) or _last(key, moment, release) for key, name in late.items()
            }
            overlay = ChainMap(stand_ins, kept)
    else:
        _fetch(names)
    there = {key: found for key, name in names.items() if (found := overlay.get(name))}
    if len(there) == len(names):
        made = _pictures()(
            (
                moment,
                upto_seq,
                opened.key_of(release),
                tuple(Itself(there[each.key]) for each in LAYERS),
            )
        )
    else:
        with busy:  # two viewers who ask for the same thing compute it once
            made = picture(opened.read_by(release), moment, upto_seq, kept=overlay)
        if overlay is kept:  # no worker keeps it for the next who starts
            _keep_on_disk({n: made.layers[key] for key, n in names.items() if key not in there})
    _let_go(kept)
    for key, name in names.items():
        if BY_KEY[key].slow and name in kept and isinstance(found := kept[name], Shown):
            _lasts().note(_eyes(key, release), moment, found)
    return made


def _keep_on_disk(made: Mapping[str, Shown | Unavailable]) -> None:
    results = _results()
    for name, found in made.items():
        if isinstance(found, Shown):
            results[name] = found


_SEEN_GONE = [0]


def _let_go(kept: KeptResults) -> None:
    """Let pictures and answers go with the results they are made of: a night makes each large."""
    if kept.let_go == _SEEN_GONE[0]:
        return
    _SEEN_GONE[0] = kept.let_go
    held = kept.holds()

    def gone(made: Picture) -> bool:
        return any(
            isinstance(found, Shown) and id(found) not in held
            for key, found in made.layers.items()
            if not BY_KEY[key].slow
        )

    _pictures().let_go(
        lambda key: any(
            isinstance(one.it, Shown) and id(one.it) not in held
            for layer, one in zip(LAYERS, key[3], strict=True)
            if not layer.slow
        )
    )
    _answers().let_go(lambda key: gone(key[0].it))


def _missing(names: Mapping[str, str], *, slow: bool) -> list[str]:
    kept, _ = _kept()
    return [name for key, name in names.items() if name not in kept and BY_KEY[key].slow == slow]


def _fetch(names: Mapping[str, str]) -> None:
    kept, _ = _kept()
    for name in names.values():
        if name not in kept and (found := _results().get(name)) is not None:
            kept.keep(name, found, _results().size(name))


def _first_look(name: str) -> Shown | Unavailable | None:
    """Return a slow layer's rough result, where it is there."""
    kept, _ = _kept()
    _fetch({name: name + ROUGH})
    return kept.get(name + ROUGH)


def _eyes(key: str, release: Release) -> str:
    """Return under what a layer's last result is kept: no release is given another's."""
    return f"{key} {opened.key_of(release)}"


def _last(key: str, moment: Moment, release: Release) -> Shown | Unavailable:
    """Return a slow layer's last result before a moment, saying of when it is."""
    found = _lasts().before(_eyes(key, release), moment)
    if found is None:
        why = "being worked out"
        return Unavailable(reason=f"{BY_KEY[key].title}: {why}", short=why, owed=True)
    return _STAND_INS(Itself(found))


def _standing_in(found: Itself[Shown]) -> Shown:
    of = getattr(found.it.result, "at", None)
    when = f" as of {day_hhmm(of)}" if isinstance(of, datetime) else ""
    said = f"{found.it.sentence} (Worked out{when}; being worked out anew.)"
    return replace(found.it, sentence=said)


_STAND_INS = Lately(_standing_in, 2 * len(LAYERS))


def _is_withheld(key: str, release: Release) -> bool:
    """Whether a release does not tell a layer: it is then known at once."""
    nothing = Known(opened.read_by(release), KINDS, 0, EPOCH)
    return is_withheld(BY_KEY[key], nothing)


def is_ready(
    as_of: datetime, at: datetime, upto_seq: int | None = None, release: Release = WATCH
) -> bool:
    """Whether the picture at a moment can be shown at once, slow layers apart."""
    return not worker_lives() or _is_kept(Moment(as_of=as_of, at=at), upto_seq, release)


def is_kept(at: datetime, upto_seq: int, release: Release) -> bool:
    """Whether the picture of a moment was worked out and is still kept, slow layers apart."""
    return _is_kept(Moment(as_of=at, at=at), upto_seq, release)


def _is_kept(moment: Moment, upto_seq: int | None, release: Release) -> bool:
    return _results().there(_missing(_result_names(moment, upto_seq, release), slow=False))


def names_of(at: datetime, upto_seq: int, release: Release) -> Mapping[str, str]:
    """Return, per layer, the key of its result at a moment of which all is known by then."""
    return _result_names(Moment(as_of=at, at=at), upto_seq, release)


def ready_layers(names: Mapping[str, str]) -> dict[str, Shown | Unavailable]:
    """Return what is there of the results of these keys, a slow layer's first look with it."""
    kept, _ = _kept()
    _fetch(names)
    found = {key: kept.get(name) for key, name in names.items()}
    for key, name in names.items():
        if found[key] is None and BY_KEY[key].slow:
            found[key] = _first_look(name)
    return {key: result for key, result in found.items() if result is not None}


def ask(at: datetime, upto_seq: int, release: Release) -> None:
    """Ask for the quick layers of a moment's picture as a release reads it; wait for nothing."""
    _results().ask(Moment(as_of=at, at=at), upto_seq, release=release)


def how_far(moment: Moment, upto_seq: int, release: Release = WATCH) -> int:
    """Return 2 when the slow layers' results are there, 1 when a first look is, else 0."""
    if is_complete(moment, upto_seq, release):
        return 2
    names = _result_names(moment, upto_seq, release)
    return int(any(name + ROUGH in _results() for name in _missing(names, slow=True)))


def is_complete(moment: Moment, upto_seq: int, release: Release = WATCH) -> bool:
    """Whether the slow layers' results are there too."""
    if release.guarded and all(_is_withheld(k.key, release) for k in LAYERS if k.slow):
        return True
    names = _result_names(moment, upto_seq, release)
    return _results().there(_missing(names, slow=True))
