"""Exercise SABLE TIDE: the truth and the times that every file of the demo agrees on.

Invented from end to end: the navy, the boat, the ships, the ports and every figure; only the
coastline is real. Each layer's part of the demo is made from these values by its own
``write_<layer>.py`` beside this file, with a fixed seed; ``python -m demo_data`` writes them all.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from layers.earth.position import Position

FOLDER = Path(__file__).parent
SEED = 20270313
NAME = "Exercise SABLE TIDE"


def z(day: int, hhmm: str) -> datetime:
    """Return a time in March 2027: ``z(13, "0700")`` is 130700Z MAR 27."""
    return datetime(2027, 3, day, int(hhmm[:2]), int(hhmm[2:]), tzinfo=UTC)


# The DISSUB. TRUTH is known to this file only; the staff must find it.
DISSUB = "GREYWETHER"
POB = 71
SAILING_LIST = 69
LENGTH_M = 68.0
TRUTH = Position(49.8333, -8.5)
DEPTH_M = 142.0
LIST_DEG, BOW_DOWN_DEG = 12.0, 4.0
WRECK = Position(49.7990, -8.4430)  # 3 nmi away, of like size
# 44 nmi on 245° from where she is; LKP lies there, the PIM runs 065° at 8 kn, 95 nmi on.
LKP_BEARING_DEG, LKP_RANGE_NMI = 245.0, 44.0
PIM_COURSE_DEG, PIM_SPEED_KN, PIM_LENGTH_NMI = 65.0, 8.0, 95.0

# The alert
LAST_REPORT = z(12, "2200")
REPORT_MISSED = z(13, "0600")
SUBLOOK = z(13, "0700")
SUBMISS = z(13, "0900")
SLICK = z(13, "1010")
BUOY_PARTED = z(13, "1125")
SUBSUNK = z(13, "1300")
ESCAPEES_SEEN = z(13, "1530")
TELEPHONE = z(13, "2140")

# The demo opens here: as known at this time everything below it is recorded. The first lift
# (about 16 Mar 0400Z under the better plan) is then still ahead for a browser that scrubs back.
DEMO_NOW = z(16, "0635")
DEMO_END = z(20, "1200")  # the muster is closed

# The response
VEHICLE = "LIMPET"
SEATS, STRETCHER_SEATS, ATTENDANTS = 16, 3, 2
SUPPORT_SHIP = "NORTHERN LANTERN"  # two days' steaming off, must call at a port
SHIP_OF_OPPORTUNITY = "CAPE ARDIS"  # nearer, without fittings
SEARCH_SHIPS = ("SALTMARSH", "GREY HERON")  # took the bearings and steered the legs
MMSI = {
    "NORTHERN LANTERN": 299000101,
    "CAPE ARDIS": 299000102,
    "SALTMARSH": 299000103,
    "GREY HERON": 299000104,
}  # 299 is not allocated to any administration (ITU table of MIDs; from memory)
PORTS = {
    # real coast positions, invented names
    "Port Tressick": Position(50.1530, -5.0600),
    "Skerry Haven": Position(51.6900, -5.0800),
    "Aldermouth": Position(51.8400, -8.2700),
}
HOME_BASE = Position(43.9000, -69.0000)  # LIMPET's home, flown in four loads
CHAMBER_PLACES = 18  # attendants included

# Who is where, as told by underwater telephone at TELEPHONE
FORWARD, FORWARD_STRETCHER, FORWARD_BAR_ABS = 24, 4, 1.1
AFTER, AFTER_STRETCHER, AFTER_BAR_ABS = 30, 1, 2.1  # rising slowly by flooding
ESCAPED_SEEN, PICKED_UP_ALIVE, PICKED_UP_DEAD = 5, 2, 1  # two still sought
UNACCOUNTED = 12
GAS = {
    "forward": {"co2_percent": 1.4, "o2_percent": 18.9, "temperature_c": 9.0},
    "after": {"co2_percent": 2.2, "o2_percent": 13.0, "temperature_c": 7.0},
}

# Limits in the exercise
LAUNCH_HS_M, RECOVERY_HS_M = 3.0, 2.5
THROUGH_WATER_KN, MATING_KN = 1.2, 0.8
BLOW_FROM, BLOW_TO, BLOW_PEAK_HS_M = z(16, "1000"), z(16, "2200"), 4.5
SWELL_TO, SWELL_HS_M = z(17, "0400"), 2.6
FIRST_LIFT = z(16, "0400")

# The response: the support ship's passage and call (forward port, tracks). Flown from home by
# way of a stop, about 2,400 nmi to Aldermouth.
FLIGHT_STOP = Position(48.9400, -54.5700)
AIRFIELDS = {
    "Aldermouth field": Position(51.8413, -8.4911),
    "Tressick field": Position(50.4400, -4.9950),
    "Skerry strip": Position(51.8330, -4.9610),
}
LANTERN_CALLED, LANTERN_CALLED_AT = z(13, "0745"), Position(60.3000, -14.2000)
LANTERN_TO_PORT = (
    Position(56.2000, -11.6000),
    Position(52.2000, -10.9500),
    Position(51.3000, -10.2000),
    Position(51.3000, -9.3000),
    Position(51.7000, -8.2700),
    Position(51.7900, -8.2600),
    PORTS["Aldermouth"],
)
LANTERN_ALONGSIDE, LANTERN_SAILED, LANTERN_ON_SCENE = z(14, "2320"), z(15, "1350"), z(15, "2240")
PORT_TO_SCENE = (
    PORTS["Aldermouth"],
    Position(51.7900, -8.2600),
    Position(51.7000, -8.2700),
)

# What left her on 13 March (datum): five by the after hatch with a raft, half an hour after the
# loss; her indicator buoy at once, its line parted; oil rose until the patrol came.
LEFT_HER = z(13, "0400")
BUOY_LEFT = z(13, "0345")

# The net (transponders): let go round the DISSUB, then boxed in from NORTHERN LANTERN's track.
BOX_IN_FROM, BOX_IN_TO, BOX_IN_RADIUS_NMI = z(15, "2305"), z(16, "0025"), 0.3
TRANSPONDERS = ("TP1", "TP2", "TP3", "TP4")
ASTRAY, ASTRAY_BEARING_DEG, ASTRAY_M = "TP3", 310.0, 150.0
