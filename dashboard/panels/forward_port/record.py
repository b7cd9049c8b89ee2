"""Recording on the response page: an actual time, a choice, a route, a figure asked for."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping
from typing import Any

import streamlit as st

from dashboard.away.link import recorded_words
from dashboard.cache import opened
from dashboard.door.uploads import uploader
from dashboard.tools.forms import record_form
from dashboard.tools.send import draft_now, send
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.contract import Origin, Reading
from layers.earth.clock import dtg, iso, parse_time
from layers.earth.errors import InputError, MusterplotError
from layers.earth.position import Position
from layers.earth.said.parse import parse_position
from layers.forward_port.legs import coast
from layers.forward_port.result import ForwardPortResult
from layers.journal.record import Draft
from layers.tracks.feeds import gpx_feed, rtz_feed

FIGURES = (
    "forward_port.crane",
    "forward_port.berth",
    "forward_port.tide",
    "forward_port.tide_constants",
    "forward_port.tide_differences",
    "forward_port.road",
    "forward_port.airfield",
    "forward_port.port",
    "forward_port.piece",
    "forward_port.ship",
    "forward_port.aircraft",
    "forward_port.trailer",
    "forward_port.leg",
    "forward_port.option",
    "forward_port.activity",
    "forward_port.clearance",
)


def show(seen: Seen) -> None:
    """Show the four forms."""
    if not seen.writable:
        st.caption("Reading only: the watch records.")
        return
    found = seen.picture.shown("forward_port")
    with st.expander("Enter an actual time"):
        _actual(seen, found.result if found else None)
    with st.expander("Record a choice"):
        _choice(seen, found.result if found else None)
    with st.expander("Enter or import a route"):
        _route(seen)
    with st.expander("Record a figure: crane, berth, road, ship, activity, clearance …"):
        record_form.show_one_of(seen, FIGURES, chooser="response.figure", key="response")


def _actual(seen: Seen, result: ForwardPortResult | None) -> None:
    main = result.main() if result else None
    if result is None or main is None or not main.activities:
        why = seen.picture.owed("forward_port")
        st.caption(why or "No chain yet: its activities come first.")
        return
    others = [o for o in result.options if o.option.purpose != "rescue" and o.activities]
    if others:  # the way home and to hospital happen too
        ways = {each.option.key: each for each in (main, *others)}
        way = st.selectbox("Of which way", list(ways), key="response.actual.way",
                           format_func=lambda key: ways[key].option.title)  # fmt: skip
        main = ways[way]
    rows = sorted(main.activities, key=lambda a: (a.finished_at is not None, a.planned_start))
    titles = {activity.key: activity.title for activity in rows}
    with st.form("response.actual"):
        key = st.selectbox(
            f"Activity of {main.option.title}", list(titles), format_func=titles.__getitem__
        )
        left, right = st.columns(2)
        begun = left.text_input("Began at", placeholder=dtg(seen.now), key="response.actual.begun")
        done = right.text_input("Done at", placeholder=dtg(seen.now), key="response.actual.done")
        source = st.text_input("From whom", key="response.actual.source")
        sent = st.form_submit_button("Record the time")
    if not sent:
        return
    times = {"started_at": begun, "finished_at": done}
    try:
        payload = {
            name: iso(parse_time(text, name.replace("_", " ")))
            for name, text in times.items()
            if text.strip()
        }
        _append(seen, "actual", {"activity": key, "option": main.option.key, **payload}, source)
    except MusterplotError as reason:
        st.error(str(reason))
        return
    st.rerun()


def _choice(seen: Seen, result: ForwardPortResult | None) -> None:
    options = [o.option for o in result.options if o.option.purpose == "rescue"] if result else []
    if not options:
        st.caption(seen.picture.owed("forward_port") or "No option yet: record one first.")
        return
    titles = {option.key: option.title for option in options}
    with st.form("response.choice"):
        key = st.selectbox("Option", list(titles), format_func=titles.__getitem__)
        reason = st.text_area("Reason", key="response.choice.reason")
        source = st.text_input("Decided by", key="response.choice.source")
        sent = st.form_submit_button("Record the choice")
    if not sent:
        return
    try:
        _append(seen, "choice", {"option": key, "reason": reason.strip()}, source)
    except MusterplotError as refused:
        st.error(str(refused))
        return
    st.rerun()


def _route(seen: Seen) -> None:
    sent_file = uploader("A GPX or RTZ file", type=["gpx", "rtz"], key="response.route")
    with st.form("response.waypoints"):
        name = st.text_input("Name of the route", key="response.route.name")
        text = st.text_area(
            "Or its waypoints, one position a line",
            key="response.route.points",
            placeholder="51 50.4N 008 16.2W\n49 50.0N 008 30.0W",
        )
        sent = st.form_submit_button("Record the route")
    if not sent:
        return
    try:
        drafts = (
            _imported(seen, sent_file.name, sent_file.getvalue())
            if sent_file is not None
            else [_typed(seen, name, text)]
        )
        coast.use(opened.land())
        for draft in drafts:
            places = [
                Position(w["latitude_deg"], w["longitude_deg"]) for w in draft.payload["waypoints"]
            ]
            coast.refuse_over_land(places, f"route {draft.payload['name']}")
        send(seen, drafts)
        st.session_state.pop("response.tracks.route.id", None)
    except MusterplotError as reason:
        st.error(str(reason))
        return
    untested = "" if coast.tested() else "; not tested against the coast, which is not cut yet"
    st.toast(recorded_words(f"{len(drafts)} route(s){untested}"))
    st.rerun()


def _imported(seen: Seen, name: str, data: bytes) -> list[Draft]:
    origin = Origin(source=name, received_at=seen.now, digest=hashlib.sha256(data).hexdigest())
    reader = rtz_feed if rtz_feed.recognise(data[:65_536], name) else gpx_feed
    reading: Reading = reader.read(data, origin)
    if reading.rejects:
        raise InputError(reading.rejects[0].reason, where=name)
    routes = [draft for draft in reading.drafts if draft.kind == "tracks.route"]
    if not routes:
        raise InputError("no route in it", where=name, accepted="a GPX or RTZ file with a route")
    return routes


def _typed(seen: Seen, name: str, text: str) -> Draft:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not name.strip() or len(lines) < 2:
        raise InputError(
            "a route needs a name and two waypoints or more",
            where="route",
            accepted="one position a line",
        )
    places = [parse_position(line) for line in lines]
    payload = {
        "name": name.strip(),
        "from_format": "typed",
        "waypoints": [
            {"latitude_deg": p.latitude_deg, "longitude_deg": p.longitude_deg} for p in places
        ],
    }
    return _draft(seen, "tracks.route", payload, "")


def _append(seen: Seen, kind: str, payload: Mapping[str, Any], source: str) -> None:
    name = f"forward_port.{kind}"
    send(seen, [_draft(seen, name, payload, source)])
    st.session_state.pop(f"response.{name}.id", None)  # the next one is another record
    st.toast(recorded_words(f"{KINDS[name].title}"))


def _draft(seen: Seen, kind: str, payload: Mapping[str, Any], source: str) -> Draft:
    # Made when the form opens, so that sent twice on a bad line it is still one record.
    form_id = st.session_state.setdefault(f"response.{kind}.id", uuid.uuid4().hex)
    return draft_now(seen, kind, payload, form=form_id, source=source)
