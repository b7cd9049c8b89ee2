"""Taking the plot out: pictures and data in any format, each export itself a record."""

from __future__ import annotations

import hashlib
import math
import time
from dataclasses import replace

import streamlit as st

from dashboard import state
from dashboard.cache import opened
from dashboard.state import Key
from dashboard.tools.rate import RateLimit
from dashboard.tools.send import draft_now
from dashboard.view import NOWHERE, Seen, chart_frame, seen_for
from layers.earth.chart.frames import frame_for
from layers.earth.errors import MusterplotError, NotAllowed
from layers.scene.ink import INKS
from layers.scene.release import Release, Stamp
from layers.scene.snapshot import FORMATS, About, MadeFile, snapshot
from layers.watch.withheld import exports_before, kept_back, release_for

KINDS = {
    "png": "picture, PNG", "pdf": "sheet, PDF", "svg": "drawing, SVG", "html": "map, HTML",
    "geojson": "data, GeoJSON", "kml": "data, KML", "gpx": "data, GPX", "csv": "data, CSV",
}  # fmt: skip

READERS_EXPORTS = 10  # a minute; each is a record, and the journal keeps them all
MINUTE_S = 60.0


@st.cache_resource(show_spinner=False)
def _readers_rate() -> RateLimit:
    return RateLimit(READERS_EXPORTS, MINUTE_S)


def _check_rate(seen: Seen) -> None:
    """Refuse a reader's export beyond so many a minute; readers without log-in count as one."""
    if seen.writable:
        return
    wait_s = _readers_rate().take(f"{seen.actor.via} {seen.actor.name}", time.monotonic())
    if wait_s:
        raise NotAllowed(
            f"at most {READERS_EXPORTS} exports a minute are made for {seen.actor.name}; "
            f"nothing was made or recorded: try again in {math.ceil(wait_s)} s"
        )


def show(seen: Seen) -> None:
    """Show the form; making the file is a record, then it can be saved."""
    with st.form("snapshot", border=True):
        form = st.selectbox("What to take out", FORMATS, format_func=lambda f: KINDS.get(f, f))
        ink = st.radio("Colours", tuple(INKS), index=1, horizontal=True)
        to = st.text_input("To whom it may go", "operations room")
        name = choose(seen, "snapshot_release")
        made = st.form_submit_button("Make it")
    if made:
        release = release_of(seen, name, to)
        try:
            written = take(seen, form, ink, release)
            name = f"plot-{seen.moment.at:%d%H%M}Z.{form}"
            note(seen, name, release, written.content)
        except MusterplotError as reason:
            st.error(str(reason))
            return
        state.put(Key.EXPORT, (name, written.content))
    held = state.get(Key.EXPORT)
    if held:
        st.download_button(f"Save {held[0]}", held[1], file_name=held[0], key="save_export")


CHOICES = {
    "watch": "all of it, without names",
    "wall": "as on the wall",
    "readers": "as readers see it",
    "outside": "without place, medical detail and names",
}


def choose(seen: Seen, key: str) -> str:
    """Let the watch choose what the export may hold; everybody else exports what they see."""
    if not seen.writable:
        return ""
    return str(st.selectbox("What it may hold", CHOICES, format_func=lambda n: CHOICES[n], key=key))


def release_of(seen: Seen, name: str, to: str) -> Release:
    """Return the release of an export: the chosen one, else that of who looks."""
    to = to.strip() or "not stated"
    if not name:
        return replace(seen.release, names=False, to=to)
    if name == "watch":
        return Release(to=to, audience="watch")
    here = opened.present()
    return replace(release_for(opened.known(here.revision, here.shown), name), names=False, to=to)


def as_read(seen: Seen, release: Release) -> Seen:
    """Return what an export is made from: what this viewer sees, read anew where it holds less."""
    if not release.guarded or release.cuts == seen.release.cuts:
        return seen
    return seen_for(seen, release)


def take(seen: Seen, form: str, ink: str, release: Release, *, for_slide: bool = False) -> MadeFile:
    """Return the snapshot of what this viewer sees, as a release may hold it."""
    shown = as_read(seen, release)
    frame = chart_frame(seen)
    if shown is not seen:  # the frame tells where she is as well as a mark
        about = shown.about or NOWHERE
        frame = frame_for(about, frame.name, frame.half_width_m)
    seq, head = shown.journal.head()
    return snapshot(
        shown.picture,
        form,
        answers=shown.answers,
        about=About(seen.exercise, seq, head, number_of(release)),
        ink=INKS[ink],
        land=opened.land(),
        release=release,
        frame=frame,
        marking=shown.watch.marking,
        hidden=tuple(state.get(Key.HIDDEN)),
        shaded=bool(state.get(Key.SHADED)),
        every_mark=bool(state.get(Key.EVERY_MARK)),
        numbers=shown.known.numbers_of,
        for_slide=for_slide,
    )


def number_of(release: Release) -> int | None:
    """Return the number of the next export of a release that withholds, counted by themselves."""
    if not release.guarded:
        return None
    here = opened.present()
    return exports_before(opened.known(here.revision, here.shown), release) + 1


def stamp_of(seen: Seen, title: str, release: Release) -> Stamp:
    """Return the words that stand on an export of what this viewer sees."""
    seq, head = seen.journal.head()
    return Stamp(
        title=title,
        exercise=seen.exercise,
        moment=seen.moment,
        head_seq=seq,
        head_hash=head,
        marking=seen.watch.marking,
        releasable_to=release.to,
        release=release,
        number=number_of(release),
    )


def note(seen: Seen, what: str, release: Release, content: bytes) -> None:
    """Record that an export was made; a reader's export is noted in the journal's own name."""
    _check_rate(seen)
    _, head = opened.book().head()
    payload = {
        "what": what,
        "may_go_to": release.to,
        "as_of": seen.moment.as_of.isoformat(),
        "shown_for": seen.moment.at.isoformat(),
        "head_hash": head,
        "digest": hashlib.sha256(content).hexdigest(),
        "withheld": list(kept_back(release)),
    }
    opened.record_export(seen.actor, draft_now(seen, "watch.export", payload))
