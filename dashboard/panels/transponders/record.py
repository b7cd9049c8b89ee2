"""Recording from the seabed page: drops, states, fixes, sources of sound, a typed profile."""

from __future__ import annotations

import hashlib

import streamlit as st

from dashboard.away.link import recorded_words
from dashboard.tools.forms import record_form, told_time
from dashboard.tools.send import send
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.contract import Origin
from layers.earth.errors import MusterplotError
from layers.transponders.sound.profile_csv_feed import read

FORMS = (
    "transponders.drop",
    "transponders.between",
    "transponders.box_in_errors",
    "transponders.state",
    "transponders.typed_fix",
    "transponders.sound_source",
    "transponders.listener",
)
TYPED = "profile, depth by depth"
VALUES = {
    "temperature (°C) and practical salinity": ("temperature_c", "practical_salinity"),
    "temperature (°C) and absolute salinity (g/kg)": ("temperature_c", "absolute_salinity_g_kg"),
    "temperature (°C) only": ("temperature_c",),
    "sound speed (m/s)": ("sound_speed_m_s",),
}


def show(seen: Seen) -> None:
    """Show a choice of what to record and its form."""
    if not seen.writable:
        return
    with st.container(key="seabed_record"):
        chosen = st.selectbox(
            "What to record",
            (*FORMS, TYPED),
            key="seabed.choice",
            format_func=lambda name: KINDS[name].title if name in KINDS else name,
        )
        if chosen != TYPED:
            record_form.show(seen, KINDS[chosen], key="seabed")
        elif _profile(seen):
            st.rerun()


def _profile(seen: Seen) -> bool:
    """Show the form of a typed profile; what was typed stays when it is refused."""
    with st.form("seabed.profile"):
        names = VALUES[st.selectbox("Measured", list(VALUES), key="seabed.profile.values")]
        depth = st.selectbox(
            "Depth in", ("depth_m", "depth_ft", "pressure_dbar"), key="seabed.profile.depth"
        )
        rows = st.text_area(
            "One depth a line: depth, then the values, parted by commas",
            key="seabed.profile.rows",
            placeholder="0, 11.0, 35.3",
        )
        left, middle, right = st.columns(3)
        valid = told_time.field("Measured at", seen.now, "seabed.profile.at", place=left)
        lat = middle.text_input("Latitude", key="seabed.profile.lat", placeholder="49 50.0N")
        lon = right.text_input("Longitude", key="seabed.profile.lon", placeholder="008 30.0W")
        source = st.text_input("From whom", key="seabed.profile.source")
        sent = st.form_submit_button("Record it")
    if not sent:
        return False
    try:
        about = [f"# time: {told_time.read(valid, 'Measured at', seen.now).isoformat()}"]
        about += [f"# latitude: {lat}"] if lat.strip() else []
        about += [f"# longitude: {lon}"] if lon.strip() else []
        text = "\n".join((*about, ",".join((depth, *names)), rows))
        data = text.encode()
        reading = read(
            data,
            Origin(
                source=source.strip() or seen.actor.name,
                received_at=seen.now,
                digest=hashlib.sha256(data).hexdigest(),
            ),
        )
        if reading.rejects:
            st.error("; ".join(reject.reason for reject in reading.rejects))
            return False
        send(seen, reading.drafts)
    except MusterplotError as reason:
        st.error(str(reason))
        return False
    st.toast(recorded_words("sound-speed profile"))
    return True
