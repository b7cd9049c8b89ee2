"""How people, their air and the boat are told by voice: words, roles, and what fills the rest."""

from __future__ import annotations

from dataclasses import replace

from layers.contract.heard_roles import COUNT, DEPTH, REFUGE
from layers.earth.said import quantity as q
from layers.journal.words.heard import HeardWords, Slot
from layers.survivors.heard_boat import HEARD_BOAT
from layers.survivors.heard_fill import (
    fill_air,
    fill_complement,
    fill_in_water,
    fill_inflow,
    fill_move,
    fill_phase,
    fill_report,
    fill_seat,
    fill_used,
    fill_volume,
    fill_water,
)
from layers.survivors.heard_lifts import HEARD_LIFTS, INSIDE, VEHICLE

ON_BOARD = Slot(key="onboard", title="how many on board", sort="count", least=0.0, most=2_000.0,
                usual=(1.0, 300.0),
                cues=("on board", "pob", "souls on board", "persons on board", "people on board",
                      "men on board", "crew of", "crew", "souls", "complement",
                      "all told", "embarked", "souls embarked", "persons embarked"))  # fmt: skip
RIDERS = Slot(key="riders", title="", sort="count", least=1.0, most=2_000.0, cues=(
    "riders", "rider", "ship riders", "passengers", "trainees", "civilians"))  # fmt: skip
BESIDES = Slot(key="besides", title="are the riders counted in", sort="choice",
               choices={"riders counted in": False, "including": False,
                        "counted in": False, "besides the crew": True, "besides": True,
                        "in addition": True, "plus": True, "as well as": True,
                        "beyond the crew": True, "on top": True})  # fmt: skip
INCLUDING = Slot(key="including", title="", sort="choice", choices={"including": True})
ALL_HANDS = Slot(key="all_hands", title="", sort="choice", choices={
    "all hands": True, "everybody": True, "everyone": True, "the whole crew": True,
    "all souls": True})  # fmt: skip
INJURED = Slot(key="injured", title="injured", sort="count", cues=("injured", "hurt", "wounded"),
               least=0.0, most=2_000.0)  # fmt: skip
STRETCHER = Slot(
    key="stretcher",
    title="stretcher cases",
    sort="count",
    least=0.0,
    most=2_000.0,
    cues=("stretcher cases", "stretcher", "on stretchers", "stretcher case"),
)
WALKING = Slot(key="walking", title="walking", sort="count", least=0.0, most=2_000.0,
               cues=("walking", "able to walk", "fit to walk", "can walk", "on their feet"),
               )  # fmt: skip
LIVING = Slot(key="living", title="", sort="count", cues=("alive", "living"), least=0.0,
              most=2_000.0, usual=(0.0, 300.0))  # fmt: skip
# of a headcount: are they among those counted
DEAD_AMONG = Slot(
    key="dead_among", title="are the dead counted in", sort="choice",
    choices={"the dead counted in": True, "counted in": True,
             "the dead besides": False, "besides": False})  # fmt: skip
WATER = Slot(key="state", title="dry or flooded", sort="choice", choices={
    "flooded": "flooded", "is flooded": "flooded", "all flooded": "flooded",
    "completely flooded": "flooded", "fully flooded": "flooded", "flooded up": "flooded",
    "flooded to the deckhead": "flooded", "full of water": "flooded",
    "dry": "dry", "is dry": "dry", "still dry": "dry",
    "not known if flooded": "not known"})  # fmt: skip
ALL_PLACES = ("refuge", "vehicle", "chamber", "deck", "hospital", "ashore", "surface", "place")
FROM = Slot(key="from_place", title="from which place", sort="name", names=ALL_PLACES,
            offered=("from the water", "from the raft"),
            preps=("from", "out of", "of"))  # fmt: skip
TO = Slot(key="to_place", title="to which place", sort="name", names=ALL_PLACES,
          offered=("in the water",), preps=("to", "into", "on", "aboard", "onto"))  # fmt: skip
# no title: offered where it is asked to which place
TO_WATER = Slot(key="to_water", title="", sort="choice", choices={
    "in the water": "water", "into the water": "water", "in water": "water",
    "in a raft": "raft", "into a raft": "raft"})  # fmt: skip
OXYGEN = Slot(key="o2", title="oxygen", sort="gas", cues=("o2", "oxygen"), usual=(8.0, 25.0))
CARBON = Slot(key="co2", title="carbon dioxide", sort="gas", cues=("co2", "carbon dioxide"),
              usual=(0.0, 6.0))  # fmt: skip
CO = Slot(key="co", title="carbon monoxide", sort="quantity", measure=q.PARTS, unit="ppm",
          cues=("co", "carbon monoxide"), least=0.0, most=100_000.0)  # fmt: skip
PRESSURE = Slot(
    key="pressure",
    title="pressure",
    sort="pressure",
    loose=True,
    cues=("pressure", "internal pressure"),
    least=0.2,
    most=60.0,
    usual=(0.8, 6.0),
)
TEMPERATURE = Slot(
    key="temperature",
    title="temperature",
    sort="quantity",
    measure=q.TEMPERATURE,
    unit="c",
    loose=True,
    cues=("temperature", "temp"),
    least=-10.0,
    most=70.0,
)
VOLUME = Slot(
    key="volume",
    title="free volume",
    sort="quantity",
    measure=q.VOLUME,
    unit="m3",
    cues=("volume", "free volume", "air volume"),
    loose=True,
    least=0.1,
    most=20_000.0,
)
SEAT_STATE = Slot(key="seat_state", title="clear or fouled", sort="choice", choices={
    "clear": "clear", "fouled": "fouled",
    "obstructed": "fouled", "free": "clear", "blocked": "fouled",
    "not known": "not known", "not seen": "not known", "can't see": "not known",
    "cannot see": "not known", "not seen yet": "not known"})  # fmt: skip
SEAT_WORD = Slot(key="seat_word", title="seat", sort="choice",
                 choices={"rescue seat": True, "seat": True, "hatch": True, "hatches": True,
                          "seats": True, "rescue seats": True})  # fmt: skip
IN_RAFT = tuple(f"{into} {raft}{number}" for into in ("in", "aboard", "on")
                for number in ("", " number", " no")
                for raft in ("raft", "life raft", "liferaft"))  # fmt: skip
CLOTHING = Slot(key="clothing", title="what they wear", sort="choice", choices={
    "lifejackets": "light clothing, lifejacket", "in lifejackets": "light clothing, lifejacket",
    "survival suits": "immersion suit", "immersion suits": "immersion suit",
    "in suits": "immersion suit", "in a raft": "in a raft",
    **dict.fromkeys(IN_RAFT, "in a raft")})  # fmt: skip
RAFT = Slot(key="raft", title="number of the raft", sort="word", pattern=r"\d{1,2}|[A-Z]",
            cues=IN_RAFT)  # fmt: skip
GROUP = Slot(key="group", title="name of the group", sort="word", cues=("group",))
FLOW = Slot(key="flow", title="how much an hour", sort="quantity", measure=q.FLOW, unit="m3_h",
            loose=True, cues=("at a rate of", "rate"), least=0.0, most=1_000.0)  # fmt: skip
INFLOW = Slot(key="inflow", title="water or air", sort="choice", choices={
    "water coming in": "water", "flooding": "water", "making water": "water",
    "taking water": "water", "taking in water": "water", "leaking": "water",
    "filling with water": "water",
    "water ingress": "water", "water coming into": "water",
    "air leaking in": "air", "air coming in": "air"})  # fmt: skip
LIFT = Slot(
    key="lift", title="lift", sort="name", names=("lift",), preps=("", "on", "for", "of", "in")
)
PHASE = Slot(
    key="phase",
    title="what began",
    sort="choice",
    choices={
        "dives": "down",
        "dived": "down",
        "diving now": "down",
        "left surface": "down",
        "going down": "down",
        "searching for the seat": "search",
        "mated": "mate",
        "on the seat": "mate",
        "mating begun": "mate",
        "transfer begun": "transfer",
        "hatch open": "transfer",
        "transferring": "transfer",
        "hatch shut": "away",
        "left the seat": "away",
        "unmated": "away",
        "coming up": "up",
        "ascending": "up",
        "surfaced": "recover",
        "on the surface": "recover",
        "secured on deck": "back",
        "back on deck": "back",
        "gave up": "given up",
        "given up": "given up",
    },
)
STORE = Slot(
    key="item",
    title="which stores",
    sort="choice",
    choices={"oxygen candles": "oxygen candles", "candles": "oxygen candles"},
)
AMOUNT = Slot(key="amount", title="how many", sort="number", cues=tuple(STORE.choices),
              counts=True, least=1.0, most=999.0)  # fmt: skip
PICKED = Slot(key="picked", title="picked up", sort="choice", choices={
    "picked up": True, "pulled out": True, "pulled": True})  # fmt: skip
# no title: nobody is asked whether people are dead
DEAD = Slot(key="dead", title="", sort="count", cues=("dead", "died", "have died", "killed"),
            least=1.0, most=2_000.0)  # fmt: skip
OUT_OF_THE_RAFT = Slot(key="from_raft", title="", sort="choice", choices={
    **{f"{out} {the}{raft}": True for out in ("from", "off", "out of")
       for the in ("the ", "a ", "") for raft in ("raft", "life raft", "liferaft")},
    "raft": True, "life raft": True, "liferaft": True})  # fmt: skip
FETCHED = Slot(key="fetched", title="", sort="choice", choices={
    "rescued": True, "recovered": True})  # fmt: skip
WHERE_DIED = Slot(key="where_died", title="where they died", sort="name", only_with="dead",
                  names=ALL_PLACES, preps=("in", "at", "aboard", "on", ""))  # fmt: skip
FETCHED_BY = Slot(key="fetched_by", title="by which ship", sort="name", names=("ship",),
                  only_with="picked|fetched", preps=("by", "aboard", ""))  # fmt: skip
COUNTED = "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|some|several"
HEARD = {
    "survivors.complement": HeardWords(
        words=(),
        needs=("onboard|riders",),
        takes=("besides",),
        roles=(ON_BOARD, RIDERS, BESIDES),
        cores=(("onboard",), ("riders",)),
        example="52 on board",
        fill=fill_complement,
        fields=("part",),
    ),
    "survivors.report": HeardWords(
        words=("headcount", "muster"),
        needs=("refuge", "count|living|all_hands"),
        takes=("injured", "stretcher", "walking", "including", "dead", "dead_among"),
        roles=(
            REFUGE,
            COUNT,
            ALL_HANDS,
            LIVING,
            INJURED,
            STRETCHER,
            INCLUDING,
            DEAD,
            DEAD_AMONG,
            WALKING,
        ),
        cores=(("refuge", "count"), ("refuge", "living"), ("refuge", "all_hands")),
        # how they are hurt is kept as whether they walk: asked, for a burnt man may do either
        perhaps={
            "unconscious": "stretcher cases",
            "burn(?:s|ed)?(?: cases?)?|fractures?|broken (?:bones?|limbs?|legs?|arms?)": "injured",
        },
        instead={
            rf"(?:\d+|{COUNTED})(?: (?:people|men|persons|souls))?(?: (?:are|is|still|yet))* "
            r"(?:not (?:been )?(?:heard of|accounted for)|unaccounted(?: for)?|missing)(?: yet)?": (
                "how many are not heard of is worked out, those on board less those told of; "
                "who is where, or how many are on board?",
            ),
        },
        example="forward 20 people",
        fill=fill_report,
        fields=("place", "persons"),
    ),
    "survivors.move": HeardWords(
        words=(
            "moved",
            "out",
            "transferred",
            "moving",
            "escaped",
            "came out",
            "rescued",
            "recovered",
            "picked up",
            "pulled",
            "pulled out",
            "dead",
            "died",
            "have died",
            "killed",
        ),
        needs=(
            "count|living|dead",
            "from_place|where_died|from_raft|picked",
            "to_place|picked|dead|fetched|to_water",
        ),
        cores=(
            ("dead", "from_place"),
            ("dead", "where_died"),
            ("picked",),
        ),
        takes=("injured", "stretcher", "fetched_by"),
        roles=(
            COUNT,
            FROM,
            TO,
            TO_WATER,
            PICKED,
            replace(DEAD, not_beside="count|living"),
            WHERE_DIED,
            FETCHED,
            FETCHED_BY,
            LIVING,
            INJURED,
            STRETCHER,
            OUT_OF_THE_RAFT,
        ),
        example="14 out from aft on deck 0655",
        fill=fill_move,
        fields=("groups", "reason"),
    ),
    "survivors.air": HeardWords(
        words=("air read", "air"),
        needs=("refuge", "pressure"),
        takes=("o2", "co2", "co", "temperature"),
        roles=(REFUGE, OXYGEN, CARBON, CO, PRESSURE, TEMPERATURE),
        cores=(("o2",), ("co2",), ("co",), ("refuge", "pressure")),
        example="aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs",
        fill=fill_air,
    ),
    "survivors.compartment": HeardWords(
        words=("free volume of",),
        needs=("refuge", "volume"),
        takes=("depth",),
        roles=(REFUGE, VOLUME, DEPTH),
        cores=(("refuge", "volume"),),
        example="forward volume 420 m3 depth 140 m",
        fill=fill_volume,
        timed=False,
        fields=("free_volume_m3",),
    ),
    "survivors.seat": HeardWords(
        words=("rescue seat",),
        needs=("seat_word|refuge", "refuge", "seat_state"),  # the word is read back first
        roles=(SEAT_WORD, REFUGE, SEAT_STATE),
        cores=(("seat_word", "seat_state"),),
        example="forward rescue seat clear 0410Z",
        fill=fill_seat,
        fields=("seat", "state"),
    ),
    "survivors.in_water": HeardWords(
        words=("in the water", "people in the water", *IN_RAFT),
        needs=("count|living",),
        takes=("group", "clothing", "raft"),
        roles=(COUNT, LIVING, GROUP, CLOTHING, RAFT),
        cores=(("count", "clothing"), ("living", "clothing"), ("raft",)),
        example="5 people in the water survival suits 1130Z",
        fill=fill_in_water,
        fields=("persons", "since", "group", "clothing"),
    ),
    "survivors.water": HeardWords(
        words=(),
        needs=("refuge", "state"),
        roles=(REFUGE, WATER),
        cores=(("refuge", "state"),),
        example="forward dry 0140Z",
        fill=fill_water,
    ),
    "survivors.inflow": HeardWords(
        words=(),
        needs=("refuge", "inflow", "flow"),
        roles=(REFUGE, INFLOW, FLOW),
        cores=(("inflow",),),
        example="aft flooding 2 m3/h",
        fill=fill_inflow,
        fields=("what", "m3_per_h"),
    ),
    "survivors.stores_used": HeardWords(
        words=("used", "burnt"),
        needs=("refuge", "item", "amount"),
        roles=(REFUGE, STORE, AMOUNT),
        cores=(("item", "amount"),),
        example="aft used 3 candles 0410Z",
        fill=fill_used,
        fields=("unit",),
    ),
    **HEARD_BOAT,
    "survivors.sortie_phase": HeardWords(
        words=("sortie",),
        needs=("vehicle", "phase"),
        takes=("lift", "count", "inside"),
        roles=(VEHICLE, LIFT, PHASE, COUNT, INSIDE),
        cores=(("vehicle", "phase"),),
        example="LIMPET L1 hatch shut 0540Z",
        fill=fill_phase,
        fields=("lift",),
    ),
    **HEARD_LIFTS,
}
