"""A plan as RTZ holds all that both public schemas ask for, the later copy of 1.2 too.

What is asked stands here anew, from the published schemas (RTZ 1.0 and 1.2, IEC 61174 annex S, as
CIRM publishes them; of 1.2 two copies are about, the later one (2020-07-08) asks for the waypoint's
revision): which elements in which order, which attributes are needed, of what type.
"""

import re
from datetime import UTC, datetime
from xml.etree.ElementTree import fromstring

import pytest

from layers.datum.search.patterns import Pattern, PatternTurn, pattern
from layers.datum.search.plan_files import rtz
from layers.earth.plane import Plane
from layers.earth.position import Position

START = datetime(2027, 3, 13, 22, 0, tzinfo=UTC)
WHOLE = re.compile(r"\d+")
DECIMAL = re.compile(r"[+-]?\d+(\.\d*)?")
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?")


def number(low, high, *, below=False):
    def good(text):
        if not DECIMAL.fullmatch(text):
            return False
        value = float(text)
        return low <= value < high if below else low <= value <= high

    return good


def text(said):
    return True


def whole(said):
    return WHOLE.fullmatch(said) is not None


def time(said):
    return TIME.fullmatch(said) is not None


# element: (children in order with least number, attributes needed, attributes allowed beside)
ASKED = {
    "route": ((("routeInfo", 1), ("waypoints", 1), ("schedules", 0)), {"version": text}, {}),
    "routeInfo": ((), {"routeName": text}, {"routeStatus": text, "vesselName": text}),
    "waypoints": ((("waypoint", 2),), {}, {}),
    "waypoint": ((("position", 1), ("leg", 0)), {"id": whole}, {"revision": whole, "name": text}),
    "position": (
        (), {"lat": number(-90, 90), "lon": number(-180, 180, below=True)}, {},
    ),
    "leg": ((), {}, {"geometryType": lambda said: said in ("Loxodrome", "Orthodrome")}),
    "schedules": ((("schedule", 0),), {}, {}),
    "schedule": ((("calculated", 0),), {"id": whole}, {"name": text}),
    "calculated": ((("scheduleElement", 0),), {}, {}),
    "scheduleElement": (
        (), {"waypointId": whole}, {"etd": time, "eta": time, "speed": number(0, 1e9)},
    ),
}  # fmt: skip


def faults(data, version, *, later):
    """Return what a file lacks by the schema of a version."""
    space = f"{{http://www.cirm.org/RTZ/{version.replace('.', '/')}}}"
    root, found = fromstring(data), []
    if root.tag != f"{space}route" or root.get("version") != version:
        found.append("root")

    def look(element):
        name = element.tag.removeprefix(space)
        if name not in ASKED:
            found.append(f"no such element {name}")
            return
        children, needed, allowed = ASKED[name]
        if name == "waypoint" and later:
            needed = needed | {"revision": whole}
        order = [child.tag.removeprefix(space) for child in element]
        for child, least in children:
            if order.count(child) < least:
                found.append(f"{name} without {child}")
        places = [[c for c, _ in children].index(child) for child in order if child in
                  dict(children)]  # fmt: skip
        if places != sorted(places) or len(places) != len(order):
            found.append(f"{name}: order of {order[:4]}")
        found.extend(f"{name} without {key}" for key in needed if key not in element.attrib)
        for key, value in element.attrib.items():
            good = (allowed | needed).get(key)
            if good is None or not good(value):
                found.append(f"{name} {key}={value!r}")
        for child in element:
            look(child)

    look(root)
    ids = [e.get("id") for e in root.iter(f"{space}waypoint")]
    if len(set(ids)) != len(ids):
        found.append("ids are not unique")
    found.extend(
        f"schedule of {e.get('waypointId')}"
        for e in root.iter(f"{space}scheduleElement")
        if e.get("waypointId") not in ids
    )
    return found


def made(code, lat, lon):
    return pattern(
        code, plane=Plane(lat, lon), middle=Position(lat, lon), length_m=12_000.0, width_m=9_000.0,
        bearing_true_deg=30.0, spacing_m=900.0, speed_kn=8.0, start=START, searcher='A "&< B',
        turn_radius_m=400.0, run_in_m=300.0,
    )  # fmt: skip


@pytest.mark.parametrize("code", ["PS", "CS", "SS", "VS", "lanes"])
@pytest.mark.parametrize(
    ("lat", "lon"), [(49.8, -8.5), (0.0, 0.0), (-60.0, 179.99), (82.0, -180.0)]
)
def test_a_plan_is_what_both_schemas_ask_for(code, lat, lon):
    found = made(code, lat, lon)
    assert faults(rtz(found, "EXERCISE X"), "1.2", later=True) == []
    assert faults(rtz(found, "EXERCISE X"), "1.2", later=False) == []
    assert faults(rtz(found, version="1.0"), "1.0", later=False) == []


def test_a_corner_on_the_date_line_is_below_180():
    corners = [Position(10.0, 179.9), Position(10.0, 179.9999999)]
    turns = tuple(PatternTurn(name=str(n), position=p, at=START) for n, p in enumerate(corners, 1))
    found = Pattern(code="TS", searcher="A", turns=turns, searching=(True,), spacing_m=1.0,
                    speed_kn=5.0)  # fmt: skip
    assert faults(rtz(found), "1.2", later=True) == []


def test_the_checker_sees_what_is_missing():
    good = rtz(made("PS", 49.8, -8.5))
    assert faults(good.replace(b' revision="0"', b""), "1.2", later=True)
    assert faults(good.replace(b"routeName", b"routeTitle"), "1.2", later=False)
    assert faults(good.replace(b'lat="', b'lat="1'), "1.2", later=False)
    assert faults(good, "1.0", later=False)
