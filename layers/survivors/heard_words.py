"""How people, their air and the boat are told by voice: words, roles, and what fills the rest."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from layers.contract.heard_roles import COUNT, DEPTH, LENGTH, REFUGE
from layers.earth import quantity as q
from layers.earth.quantity import figure
from layers.journal.heard_words import HeardWords, Name, Role, Told
from layers.journal.known import Known

ATM_BAR = 1.01325  # one standard atmosphere, CGPM 1954
SPREAD_PERCENT = 10.0  # of a volume that somebody says; common practice, no source
PLACE_NAMES = {  # as said -> the sort of place
    "vehicle": "vehicle", "deck": "deck", "on deck": "deck", "hospital": "hospital",
    "ashore": "ashore", "chamber 1": "chamber", "chamber 2": "chamber",
}  # fmt: skip
ON_BOARD = Role(key="onboard", title="how many on board", sort="count", least=0.0, most=2_000.0,
                usual=(1.0, 300.0),
                cues=("on board", "pob", "souls on board", "persons on board", "people on board",
                      "men on board", "crew of", "complement", "all told"))  # fmt: skip
INJURED = Role(key="injured", title="injured", sort="count", cues=("injured", "hurt", "wounded"),
               least=0.0, most=2_000.0)  # fmt: skip
STRETCHER = Role(key="stretcher", title="stretcher cases", sort="count", least=0.0, most=2_000.0,
                 cues=("stretcher cases", "stretcher", "on stretchers", "stretcher case"))  # fmt: skip
ALL_PLACES = ("refuge", "vehicle", "chamber", "deck", "hospital", "ashore", "surface", "place")
FROM = Role(key="from_place", title="from which place", sort="name", names=ALL_PLACES,
            preps=("from", "out of", "of"))  # fmt: skip
TO = Role(key="to_place", title="to which place", sort="name", names=ALL_PLACES,
          preps=("to", "into", "on", "aboard", "onto"))  # fmt: skip
OXYGEN = Role(key="o2", title="oxygen", sort="gas", cues=("o2", "oxygen"), usual=(8.0, 25.0))
CARBON = Role(key="co2", title="carbon dioxide", sort="gas", cues=("co2", "carbon dioxide"),
              usual=(0.0, 6.0))  # fmt: skip
CO = Role(key="co", title="carbon monoxide", sort="quantity", measure=q.PARTS, unit="ppm",
          cues=("co", "carbon monoxide"), least=0.0, most=100_000.0)  # fmt: skip
PRESSURE = Role(key="pressure", title="pressure", sort="pressure", loose=True,
                cues=("pressure", "internal pressure"), least=0.2, most=60.0, usual=(0.8, 6.0))  # fmt: skip
TEMPERATURE = Role(key="temperature", title="temperature", sort="quantity", measure=q.TEMPERATURE,
                   unit="c", loose=True, cues=("temperature", "temp"), least=-10.0, most=70.0)  # fmt: skip
VOLUME = Role(key="volume", title="free volume", sort="quantity", measure=q.VOLUME, unit="m3",
              cues=("volume", "free volume", "air volume"), loose=True, least=0.1, most=20_000.0)  # fmt: skip
SEAT_STATE = Role(key="seat_state", title="clear or fouled", sort="choice", choices={
    "clear": "clear", "seat clear": "clear", "fouled": "fouled", "seat fouled": "fouled",
    "obstructed": "fouled", "not known": "not known"})  # fmt: skip
SEAT_WORD = Role(key="seat_word", title="seat", sort="choice",
                 choices={"rescue seat": True, "seat": True, "hatch": True})  # fmt: skip
CLOTHING = Role(key="clothing", title="what they wear", sort="choice", choices={
    "lifejackets": "light clothing, lifejacket", "in lifejackets": "light clothing, lifejacket",
    "survival suits": "immersion suit", "immersion suits": "immersion suit",
    "in suits": "immersion suit", "in a raft": "in a raft"})  # fmt: skip
GROUP = Role(key="group", title="name of the group", sort="word", cues=("group",))
FLOW = Role(key="flow", title="how much an hour", sort="quantity", measure=q.FLOW, unit="m3_h",
            loose=True, cues=("at a rate of", "rate"), least=0.0, most=1_000.0)  # fmt: skip
INFLOW = Role(key="inflow", title="water or air", sort="choice", choices={
    "water coming in": "water", "flooding": "water", "making water": "water", "leaking": "water",
    "water ingress": "water", "air leaking in": "air", "air coming in": "air"})  # fmt: skip
VEHICLE = Role(key="vehicle", title="vehicle", sort="name", names=("rescue vehicle",),
               preps=("", "by", "of", "from"))  # fmt: skip
LIFT = Role(
    key="lift", title="lift", sort="name", names=("lift",), preps=("", "on", "for", "of", "in")
)
PHASE = Role(key="phase", title="what began", sort="choice", choices={
    "dives": "down", "dived": "down", "diving now": "down", "left surface": "down",
    "going down": "down", "searching for the seat": "search", "mated": "mate", "on the seat": "mate",
    "mating begun": "mate", "transfer begun": "transfer", "hatch open": "transfer",
    "transferring": "transfer", "hatch shut": "away", "left the seat": "away", "unmated": "away",
    "coming up": "up", "ascending": "up", "surfaced": "recover", "on the surface": "recover",
    "secured on deck": "back", "back on deck": "back", "gave up": "given up", "given up": "given up",
})  # fmt: skip
STORE = Role(key="item", title="which stores", sort="choice", choices={
    "oxygen candles": "oxygen candles", "candles": "oxygen candles"})  # fmt: skip
AMOUNT = Role(key="amount", title="how many", sort="count", cues=("used", "burnt", "burned"),
              loose=True, least=1.0, most=10_000.0)  # fmt: skip


def fill_complement(told: Told) -> None:
    """Put how many were on board; a part of them is told in its form."""
    told.put_as(persons="onboard")
    told.assume("all on board", part="all on board")


def fill_report(told: Told) -> None:
    """Put a headcount at a place."""
    told.put_as(place="refuge", persons="count", injured="injured", stretcher="stretcher")


def fill_move(told: Told) -> None:
    """Put people moved; their fitness is not known unless somebody says."""
    told.put_as(from_place="from_place", to_place="to_place")
    if told.has("count"):
        groups = []
        count = int(told.get("count"))
        for role, fitness in (("injured", "injured"), ("stretcher", "stretcher")):
            if told.has(role):
                groups.append({"persons": int(told.get(role)), "fitness": fitness})
                count -= int(told.get(role))
        if count > 0:
            groups.insert(0, {"persons": count, "fitness": "unknown"})
        told.put(groups=groups)
        if not (told.has("injured") or told.has("stretcher")):
            told.assume("fitness not known", reason="as heard")
    told.assume("", reason="as heard")


def fill_air(told: Told) -> None:
    """Put a reading of the air, always with its pressure; the surface equivalent is read back."""
    told.put_as(refuge="refuge", pressure="pressure", oxygen="o2", carbon_dioxide="co2",
                carbon_monoxide_ppm="co", temperature_c="temperature")  # fmt: skip
    pressure, gas = told.get("pressure"), told.get("co2")
    if pressure is not None and gas is not None and gas["unit"] == "percent":
        from layers.survivors.chambers.pressure import Pressure, bar_abs

        bar = bar_abs(Pressure(**pressure))
        told.also["co2"] = f"= {figure(gas['value'] * bar / ATM_BAR, 1)} % surface equivalent"


def fill_volume(told: Told) -> None:
    """Put a refuge's free volume."""
    told.put_as(refuge="refuge", free_volume_m3="volume", depth_m="depth")
    told.assume(f"± {SPREAD_PERCENT:g} %", spread_percent=SPREAD_PERCENT)


def fill_seat(told: Told) -> None:
    """Put the state of a rescue seat; it is named for its compartment."""
    refuge = told.get("refuge")
    told.put_as(refuge="refuge", state="seat_state")
    if refuge is not None:
        told.assume("", seat=f"{refuge.text} seat")


def fill_in_water(told: Told) -> None:
    """Put people seen in the water."""
    told.put_as(persons="count", group="group", clothing="clothing", sea_c="sea_c")
    told.assume("", group=f"seen {told.at:%d%H%M}Z")
    told.assume("in it since now", since=told.at.isoformat())
    told.assume("what they wear not known", clothing="not known")


def fill_inflow(told: Told) -> None:
    """Put what is said to come in."""
    told.put_as(refuge="refuge", what="inflow", m3_per_h="flow")
    told.assume("± 50 %", spread_percent=50.0)


def fill_boat(told: Told) -> None:
    """Put what is known of the boat herself."""
    told.put_as(name="boat_name", length_m="length", escape_depth_m="escape_depth",
                hull_depth_m="hull_depth")  # fmt: skip


def fill_lies(told: Told) -> None:
    """Put how she lies on the bottom."""
    if told.has("her_heading"):
        told.put(heading_true_deg=told.get("her_heading")[0])
    for field, role, side, sign in (
        ("list_deg", "list", "list_side", "port"), ("bow_down_deg", "trim", "trim_side", "up"),
    ):  # fmt: skip
        if told.has(role):
            turned = -1.0 if told.get(side) == sign else 1.0
            told.payload[field] = turned * told.get(role)
    if told.has("list") and not told.has("list_side"):
        told.lack("list to port or starboard")
    told.put_as(depth_m="depth")


def fill_place(told: Told) -> None:
    """Put a place where people can be."""
    told.put_as(name="place_name", sort="place_sort")


def fill_phase(told: Told) -> None:
    """Put a phase of a sortie that began."""
    told.put_as(vehicle="vehicle", lift="lift", phase="phase", walking_aboard="count")
    if not told.has("lift") and not told.amending:
        running = _running(told)
        if running is None:
            told.lack("lift")
        else:
            told.assume(f"lift {running}, as under way", lift=running)


def _running(told: Told) -> str | None:
    """Return the lift that the vehicle is on, or its next one."""
    if told.known is None or told.get("vehicle") is None:
        return None
    vehicle = told.get("vehicle").text
    done: dict[str, str] = {}
    for entry in told.known.entries("survivors.sortie_phase"):
        if entry.value.vehicle == vehicle:
            done[entry.value.lift] = str(entry.value.phase)
    for lift, phase in reversed(done.items()):
        if phase not in ("back", "given up"):
            return lift
    planned = [
        e.value for e in told.known.entries("survivors.lift")
        if e.value.vehicle == vehicle and not e.value.withdrawn and not e.value.held
    ]  # fmt: skip
    waiting = [lift for lift in planned if lift.key not in done]
    return min(waiting, key=lambda lift: lift.place).key if waiting else None


def fill_used(told: Told) -> None:
    """Put candles that were used up."""
    told.put_as(refuge="refuge", item="item")
    if told.has("amount"):
        told.put(amount=float(told.get("amount")))
    told.assume("", unit="candles")


def places(known: Known, at: datetime) -> Iterable[Name]:
    """Return the places where people can be, with short words for the ready-made ones."""
    from layers.survivors.muster.muster import place_sorts

    sorts = place_sorts(known)
    for name, sort in sorts.items():
        yield Name(text=name, sort=_sort(str(sort.value)), key=name)
    yield from (n for n in SHORT if n.key in sorts)
    for name, sort in sorts.items():  # "forward compartment" of "forward", and the other way round
        if sort.value == "refuge":
            short = name.removesuffix(" refuge").removesuffix(" compartment")
            for said in (short, f"{short} compartment", f"{short} refuge"):
                if said != name:
                    yield Name(text=said, sort="refuge", key=name)


def _sort(value: str) -> str:
    return {"on the surface": "surface"}.get(value, value)


SHORT = (
    Name(text="fwd", sort="refuge", key="forward"),
    Name(text="fore", sort="refuge", key="forward"),
    Name(text="aft", sort="refuge", key="after"),
    Name(text="aft compartment", sort="refuge", key="after"),
    Name(text="forward compartment", sort="refuge", key="forward"),
    Name(text="after compartment", sort="refuge", key="after"),
)
READY = (
    Name(text="forward", sort="refuge", key="forward"),
    Name(text="after", sort="refuge", key="after"),
    *SHORT,
    Name(text="vehicle", sort="vehicle", key="vehicle"),
    Name(text="deck", sort="deck", key="deck"),
    Name(text="hospital", sort="hospital", key="hospital"),
)


def vehicles(known: Known, at: datetime) -> Iterable[Name]:
    """Return the rescue vehicles."""
    for entry in known.entries("survivors.vehicle"):
        yield Name(text=entry.value.name, sort="rescue vehicle", key=entry.value.name)


def lifts(known: Known, at: datetime) -> Iterable[Name]:
    """Return the planned lifts by their keys."""
    for entry in known.entries("survivors.lift"):
        yield Name(text=entry.value.key, sort="lift", key=entry.value.key)


HEARD = {
    "survivors.complement": HeardWords(
        words=(), needs=("onboard",), roles=(ON_BOARD,), cores=(("onboard",),),
        example="52 on board", fill=fill_complement, fields=("part",)),
    "survivors.report": HeardWords(
        words=("headcount", "muster"), needs=("refuge", "count"), takes=("injured", "stretcher"),
        roles=(REFUGE, COUNT, INJURED, STRETCHER), cores=(("refuge", "count"),),
        example="forward 20 people", fill=fill_report, fields=("place", "persons")),
    "survivors.move": HeardWords(
        words=("moved", "out", "transferred", "moving"),
        needs=("count", "from_place", "to_place"), takes=("injured", "stretcher"),
        roles=(COUNT, FROM, TO, INJURED, STRETCHER), example="14 out from aft on deck 0655",
        fill=fill_move, fields=("groups", "reason")),
    "survivors.air": HeardWords(
        words=("air read", "air"), needs=("refuge", "o2|co2|co|temperature", "pressure"),
        roles=(REFUGE, OXYGEN, CARBON, CO, PRESSURE, TEMPERATURE),
        cores=(("o2",), ("co2",), ("co",)),
        example="aft o2 17.5 percent co2 1.9 percent at 1.4 bar abs", fill=fill_air),
    "survivors.compartment": HeardWords(
        words=("free volume of",), needs=("refuge", "volume"), takes=("depth",),
        roles=(REFUGE, VOLUME, DEPTH), cores=(("refuge", "volume"),),
        example="forward volume 420 m3 depth 140 m", fill=fill_volume, timed=False,
        fields=("free_volume_m3",)),
    "survivors.seat": HeardWords(
        words=(), needs=("seat_word", "refuge", "seat_state"), roles=(SEAT_WORD, REFUGE, SEAT_STATE),
        cores=(("seat_word", "seat_state"),), example="forward rescue seat clear 0410Z",
        fill=fill_seat, fields=("seat", "state")),
    "survivors.in_water": HeardWords(
        words=("in the water", "people in the water"), needs=("count",),
        takes=("group", "clothing"), roles=(COUNT, GROUP, CLOTHING),
        example="5 people in the water survival suits 1530Z", fill=fill_in_water,
        fields=("persons", "since", "group", "clothing")),
    "survivors.inflow": HeardWords(
        words=(), needs=("refuge", "inflow", "flow"), roles=(REFUGE, INFLOW, FLOW),
        cores=(("inflow",),), example="aft flooding 2 m3/h", fill=fill_inflow,
        fields=("what", "m3_per_h")),
    "survivors.stores_used": HeardWords(
        words=("used", "burnt"), needs=("refuge", "item", "amount"), roles=(REFUGE, STORE, AMOUNT),
        cores=(("item", "amount"),), example="aft used 3 candles 0410Z", fill=fill_used,
        fields=("unit",)),
    "survivors.boat": HeardWords(
        words=("boat", "submarine", "the boat is"),
        needs=("boat_name|length|escape_depth|hull_depth",),
        roles=(Role(key="boat_name", title="name of the boat", sort="word", cues=("named", "boat",
                    "submarine", "name"), pattern=r"[A-Za-z][A-Za-z0-9.'-]*"), LENGTH,
               Role(key="escape_depth", title="escape depth", sort="quantity", measure=q.LENGTH,
                    unit="m", alone=True, cues=("escape depth", "escape limit"), least=1.0,
                    most=1_000.0),
               Role(key="hull_depth", title="hull depth", sort="quantity", measure=q.LENGTH,
                    unit="m", alone=True, cues=("hull depth", "collapse depth", "depth limit"),
                    least=1.0, most=6_000.0)),
        example="boat GREYWETHER length 68 m escape depth 180 m", fill=fill_boat, timed=False),
    "survivors.lies": HeardWords(
        words=("she lies", "lies", "lying on the bottom", "on the bottom"),
        needs=("her_heading|list|trim|depth",), takes=("list_side", "trim_side"),
        roles=(Role(key="her_heading", title="heading", sort="direction", alone=True,
                    cues=("heading", "hdg")),
               Role(key="list", title="list", sort="quantity", measure=q.ANGLE, unit="deg",
                    alone=True, cues=("list", "listing", "heel"), least=0.0, most=180.0),
               Role(key="list_side", title="to port or starboard", sort="choice",
                    choices={"to starboard": "starboard", "to port": "port", "port": "port",
                             "starboard": "starboard"}),
               Role(key="trim", title="bow down or up", sort="quantity", measure=q.ANGLE,
                    unit="deg", alone=True, cues=("bow down", "bow up", "trim"), least=0.0, most=90.0),
               Role(key="trim_side", title="down or up", sort="choice", choices={}), DEPTH),
        example="she lies heading 200 list 12 to starboard bow down 4 depth 142 m",
        fill=fill_lies, fields=("heading_true_deg",)),
    "survivors.place": HeardWords(
        words=("compartment named", "new compartment", "new place"),
        needs=("place_name",), takes=("place_sort",),
        roles=(Role(key="place_name", title="its name", sort="word", loose=True,
                    cues=("named", "called")),
               Role(key="place_sort", title="what sort of place", sort="choice",
                    choices={"as refuge": "refuge", "as chamber": "chamber",
                             "as vehicle": "vehicle", "as deck": "deck"})),
        example="new compartment named motor-room as refuge",
        fill=lambda told: (fill_place(told), told.assume("a refuge", sort="refuge"))[0],
        fields=("name", "sort"), names=places, ready_names=READY, timed=False),
    "survivors.sortie_phase": HeardWords(
        words=("sortie",), needs=("vehicle", "phase"), takes=("lift", "count"),
        roles=(VEHICLE, LIFT, PHASE, COUNT), cores=(("vehicle", "phase"),),
        example="LIMPET hatch shut 0540Z", fill=fill_phase, fields=("lift",)),
    "survivors.vehicle": HeardWords(words=(), names=vehicles),
    "survivors.lift": HeardWords(words=(), names=lifts),
}  # fmt: skip
