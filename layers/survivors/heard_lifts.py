"""How vehicles, chambers, lifts, stores, levels and hospitals are told by voice, in few words.

What nobody says of them is filled where the models fill it, or here; the read-back says it.
"""

from __future__ import annotations

from dataclasses import replace

from layers.contract.heard_roles import COUNT, POSITION, REFUGE, TIME
from layers.earth.said import quantity as q
from layers.journal.words.heard import HeardWords, Slot
from layers.survivors.heard_lifts_fill import (
    fill_chamber,
    fill_hospital,
    fill_level,
    fill_lift,
    fill_limits,
    fill_pod,
    fill_priority,
    fill_stores,
    fill_vehicle,
    lifts,
    vehicles,
)

NAMED = r"[A-Za-z][A-Za-z0-9.'-]*"
VEHICLE_WORD = Slot(key="vehicle_word", title="vehicle", sort="choice",
                    choices={"rescue vehicle": True, "new vehicle": True})  # fmt: skip
THE_VEHICLE = Slot(key="the_vehicle", title="vehicle", sort="name", names=("vehicle",))
VEHICLE = Slot(key="vehicle", title="vehicle", sort="name", names=("rescue vehicle",),
               preps=("", "by", "of", "from"))  # fmt: skip
NEW_VEHICLE = Slot(key="new_vehicle", title="name of the vehicle", sort="word", loose=True,
                   only_with="the_vehicle|vehicle_word", pattern=NAMED)  # fmt: skip
SEATS = Slot(key="seats", title="places for people", sort="count", loose=True, least=1.0,
             most=200.0, cues=("seats", "takes", "carries", "room for"))  # fmt: skip
CYCLE = Slot(key="cycle", title="hours from dive to dive", sort="quantity", measure=q.SPAN,
             unit="h", cues=("cycle", "per cycle", "dive to dive", "round trip",
                             "from dive to dive", "cycle time"), loose=True,
             only_with="seats", least=0.1, most=240.0)  # fmt: skip
STATE = Slot(key="vehicle_state", title="working or not", sort="choice", choices={
    "broken": "broken", "broken down": "broken", "out of order": "broken", "defective": "broken",
    "unserviceable": "broken", "u/s": "broken", "mended": "working", "repaired": "working",
    "lost": "lost", "is lost": "lost", "sunk": "lost",
    "working again": "working", "serviceable": "working"})  # fmt: skip
REPAIR = Slot(key="repair", title="hours until it is mended", sort="quantity", measure=q.SPAN,
              unit="h", cues=("mended in", "to mend", "repair takes"), loose=True,
              only_with="vehicle_state", least=0.1, most=1_000.0)  # fmt: skip
MENDED_AT = Slot(key="mended_at", title="until when it is broken", sort="time", ahead=True,
                 preps=("until", "till"), only_with="vehicle_state")  # fmt: skip
# of its state alone: what it is like has no hour
STATE_AT = replace(TIME, only_with="vehicle_state")
# no title: offered nowhere
INSIDE = Slot(key="inside", title="", sort="count", cues=("on board",), least=0.0,
              most=200.0)  # fmt: skip
INSIDE_LOST = replace(INSIDE, only_with="vehicle_state")
READY = Slot(key="ready", title="when it can first dive", sort="time", ahead=True,
             cues=("ready", "can dive", "first dive", "dives first", "on scene"))  # fmt: skip
CHAMBER = Slot(key="chamber", title="chamber", sort="name", names=("chamber",))
NEW_CHAMBER = Slot(key="new_chamber", title="name of the chamber", sort="word", loose=True,
                   pattern=NAMED)  # fmt: skip
PLACES = Slot(key="places", title="places", sort="count", cues=("places",), least=1.0, most=500.0)
ABOARD = Slot(key="ship", title="ship", sort="name", names=("ship",),
              preps=("aboard", "on", "of", "in"))  # fmt: skip
CARRIED = Slot(key="carried", title="aboard which ship", sort="name", names=("ship",),
               preps=("aboard", "on"))  # fmt: skip
LAUNCH = Slot(key="launch", title="highest sea for launch", sort="quantity", measure=q.LENGTH,
              unit="m", alone=True, cues=("launch",), least=0.1, most=20.0,
              usual=(0.1, 12.0))  # fmt: skip
RECOVERY = replace(LAUNCH, key="recovery", title="highest sea for recovery", cues=("recovery",))
SEAT_DEPTH = Slot(key="seat_depth", title="depth of the seat", sort="quantity", measure=q.LENGTH,
                  unit="m", alone=True, least=1.0, most=1_000.0,
                  cues=("seat depth", "depth", "depth at the seat",
                        "depth of the seat"))  # fmt: skip
LIFT_KEY = Slot(key="lift_key", title="name of the lift", sort="word", loose=True,
                pattern=r"[A-Za-z]{1,3}[-.]?\d{1,3}", names=("lift",), cues=("lift",))  # fmt: skip
LYING = Slot(key="stretcher", title="stretcher cases", sort="count", least=0.0, most=200.0,
             cues=("stretcher cases", "stretcher", "on stretchers", "stretcher case"))  # fmt: skip
SECOND = replace(REFUGE, key="second", title="compartment that goes next")
THIRD = replace(REFUGE, key="third", title="compartment that goes third")
CANISTERS, CANDLES = "absorbent", "oxygen candles"
STOCK = Slot(key="stock", title="which stores", sort="choice", choices={
    "canisters": (CANISTERS, None), "absorbent canisters": (CANISTERS, None),
    "canister": (CANISTERS, None), "soda lime canisters": (CANISTERS, "soda lime"),
    "lithium canisters": (CANISTERS, "lithium hydroxide"),
    **{f"{cans} {of}lioh": (CANISTERS, "lithium hydroxide")
       for cans in ("cans", "canisters") for of in ("", "of ")},
    **{f"{lime} {cans}": (CANISTERS, kind) for cans in ("cans", "canisters")
       for lime, kind in (("lioh", "lithium hydroxide"), ("soda lime", "soda lime"))},
    "oxygen candles": (CANDLES, None),
    "o2 candles": (CANDLES, None),
    "candles": (CANDLES, None), "candle": (CANDLES, None)})  # fmt: skip
NONE_OF = Slot(key="none_of", title="of which there is none", sort="choice", choices={
    f"{none} {word}": item for none in ("no", "no more", "out of")
    for word, item in (("canisters", CANISTERS), ("canister", CANISTERS), ("absorbent", CANISTERS),
                       ("soda lime", CANISTERS), ("candles", CANDLES), ("candle", CANDLES),
                       ("oxygen candles", CANDLES))})  # fmt: skip
PIECES = Slot(key="pieces", title="how many", sort="number", cues=tuple(STOCK.choices), least=0.0,
              most=999.0, counts=True)  # fmt: skip
MASS_OF = Slot(key="mass_of", title="absorbent", sort="choice", choices={
    "soda lime": "soda lime", "absorbent": None, "lithium hydroxide": "lithium hydroxide",
    "oxygen": "oxygen"})  # fmt: skip
MASS = Slot(key="mass", title="how much", sort="quantity", measure=q.MASS, unit="kg", loose=True,
            only_with="mass_of", least=0.0, most=100_000.0)  # fmt: skip
POD = Slot(key="pod", title="number of the pod", sort="word", cues=("pod",),
           pattern=r"[A-Za-z]{0,3}[-.]?\d{1,3}")  # fmt: skip
POD_STATE = Slot(key="pod_state", title="planned, posted or taken in", sort="choice", choices={
    "planned": "planned", "posted": "posted", "taken in": "taken in",
    "pod lost": "lost"})  # fmt: skip
POD_TO = replace(REFUGE, preps=("for", "to", "into", "in", ""))
LEVEL_CO2 = Slot(key="co2", title="carbon dioxide", sort="gas", cues=("co2", "carbon dioxide"))
LEVEL_O2 = Slot(key="o2", title="oxygen", sort="gas", cues=("o2", "oxygen"))
LEVEL_C = Slot(key="temperature", title="temperature", sort="quantity", measure=q.TEMPERATURE,
               unit="c", cues=("temperature", "temp"), least=-10.0, most=70.0)  # fmt: skip
LEVEL_BAR = Slot(key="pressure", title="pressure", sort="pressure", cues=("pressure",),
                 least=0.2, most=60.0)  # fmt: skip
LEVEL_CO = Slot(key="co", title="carbon monoxide", sort="quantity", measure=q.PARTS, unit="ppm",
                cues=("co", "carbon monoxide"), least=0.0, most=100_000.0)  # fmt: skip
BEDS = Slot(key="beds", title="places for stretcher cases", sort="count",
            cues=("beds", "stretcher places"), least=0.0, most=5_000.0)  # fmt: skip
OTHER_BEDS = Slot(key="other_beds", title="other places", sort="count", cues=("other places",),
                  least=0.0, most=5_000.0)  # fmt: skip
RECOMPRESSION = Slot(key="recompression", title="recompression places", sort="count",
                     cues=("recompression places", "recompression"), least=0.0,
                     most=500.0)  # fmt: skip
THE_HOSPITAL = Slot(key="the_hospital", title="hospital", sort="name", names=("hospital",))
NEW_HOSPITAL = Slot(key="new_hospital", title="name of the hospital", sort="word", loose=True,
                    only_with="the_hospital", pattern=NAMED)  # fmt: skip

HEARD_LIFTS = {
    "survivors.vehicle": HeardWords(
        words=(),
        needs=("the_vehicle|vehicle_word|vehicle|new_vehicle|seats",
               "seats|cycle|ready|carried|vehicle_state"),
        takes=("cycle", "ready", "repair", "mended_at", "time", "inside"),
        names_new="rescue vehicle",
        roles=(THE_VEHICLE, VEHICLE_WORD, VEHICLE, NEW_VEHICLE, SEATS, CYCLE, READY, CARRIED,
               STATE, REPAIR, MENDED_AT, STATE_AT, INSIDE_LOST),
        cores=(("the_vehicle", "seats"), ("the_vehicle", "cycle"), ("the_vehicle", "ready"),
               ("vehicle_word", "seats"), ("vehicle_word", "cycle"), ("vehicle_word", "ready"),
               ("vehicle", "seats"), ("vehicle", "cycle"), ("vehicle", "ready"),
               ("vehicle", "carried"), ("vehicle_word", "carried"), ("the_vehicle", "carried"),
               ("vehicle", "vehicle_state"), ("the_vehicle", "vehicle_state"),
               ("vehicle_word", "vehicle_state"), ("seats", "cycle")),
        example="vehicle 14 seats, 5.5 h cycle", fill=fill_vehicle, fields=("name", "seats"),
        names=vehicles, timed=False),
    "survivors.chamber": HeardWords(
        words=("chamber", "decompression chamber"),
        needs=("chamber|new_chamber", "places"), takes=("ship", "ready"),
        roles=(CHAMBER, NEW_CHAMBER, PLACES, ABOARD, READY), cores=(("chamber", "places"),),
        example="chamber ARDIS 8 places", fill=fill_chamber, fields=("name",), timed=False),
    "survivors.lift_limits": HeardWords(
        words=("limits of the lifts", "lift limits"),
        needs=("launch|recovery|seat_depth",),
        roles=(LAUNCH, RECOVERY, SEAT_DEPTH), fill=fill_limits, timed=False,
        example="lift limits launch 2.5 m recovery 2.0 m"),
    "survivors.lift": HeardWords(
        words=("lift", "planned lift"), needs=("lift_key", "refuge", "count"),
        takes=("vehicle", "stretcher"), roles=(LIFT_KEY, REFUGE, COUNT, VEHICLE, LYING),
        fill=fill_lift, fields=("key", "place", "vehicle", "walking", "stretcher"), timed=False,
        example="lift A1 from aft 14 people by LIMPET", names=lifts),
    "survivors.priority": HeardWords(
        words=("goes first", "first out", "first"), needs=("refuge",), takes=("second", "third"),
        roles=(REFUGE, SECOND, THIRD), fill=fill_priority,
        fields=("refuges", "set_by", "reason"), timed=False, example="aft first, then forward"),
    "survivors.stores": HeardWords(
        words=("stores", "stores counted", "left", "remaining"),
        needs=("refuge", "stock|mass_of|none_of", "pieces|mass|none_of"),
        roles=(REFUGE, STOCK, PIECES, MASS_OF, MASS, NONE_OF),
        cores=(("refuge", "stock"), ("refuge", "mass_of"), ("refuge", "none_of")),
        # as in a list, where the figure may be what there was: candles 14 left
        perhaps={r"((?:(?:o2|oxygen) )?candles|(?:[a-z]+ )?canisters):? (\d{1,3})": r"\2 \1"},
        example="forward 30 canisters", fill=fill_stores, fields=("stock",)),
    "survivors.pod": HeardWords(
        words=("pod of stores",),
        needs=("pod", "refuge", "stock|mass_of", "pieces|mass", "pod_state"),
        roles=(POD, POD_TO, STOCK, PIECES, MASS_OF, MASS, POD_STATE),
        cores=(("pod", "stock"), ("pod", "mass_of"), ("pod", "pod_state")),
        example="pod 3 for aft 20 canisters posted 1215Z", fill=fill_pod,
        fields=("state", "contents")),
    "survivors.level": HeardWords(
        words=("level", "action level"), needs=("co2|o2|temperature|pressure|co",),
        takes=("refuge",),
        roles=(LEVEL_CO2, LEVEL_O2, LEVEL_C, LEVEL_BAR, LEVEL_CO, REFUGE), fill=fill_level,
        fields=("name", "quantity", "source", "entered_by"), timed=False,
        example="level co2 6 % sev"),
    "survivors.hospital": HeardWords(
        words=(), needs=("the_hospital", "new_hospital", "position", "beds"),
        takes=("other_beds", "recompression"),
        roles=(THE_HOSPITAL, NEW_HOSPITAL, POSITION, BEDS, OTHER_BEDS, RECOMPRESSION),
        cores=(("the_hospital", "position"),), fill=fill_hospital, timed=False,
        fields=("hospital", "source"), example="hospital PIETRA 4405N 00955E 6 beds"),
}  # fmt: skip
