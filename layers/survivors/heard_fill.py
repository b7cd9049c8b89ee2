"""What fills a record about people, their air and the boat that was told by voice."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from datetime import datetime

from layers.earth.errors import JournalAway
from layers.earth.said.quantity import figure
from layers.journal.known import Known
from layers.journal.words.heard import Name, ToldRecord
from layers.survivors.muster.model import UNACCOUNTED

ATM_BAR = 1.01325  # one standard atmosphere, CGPM 1954
SPREAD_PERCENT = 10.0  # of a volume that somebody says; common practice, no source


def fill_complement(told: ToldRecord) -> None:
    """Put how many were on board; a part of them is told in its form."""
    riders = told.get("riders")
    if riders is None:
        told.put_as(persons="onboard")
        if told.has("besides"):  # 52 and besides: a number was lost
            told.lack("how many riders")
    elif not told.has("besides"):
        told.lack("are the riders counted in")
    elif not told.has("onboard"):
        if not told.get("besides"):
            told.lack("how many on board")
        told.put(part="riders", persons=riders)
    else:
        more = riders if told.get("besides") else 0
        told.put(persons=told.get("onboard") + more)
        told.assumed.append(
            f"{int(told.get('onboard') + more)} in all, {int(riders)} of them riders"
        )
    told.assume("all on board", part="all on board")
    before = _told_before(told, "survivors.complement", "part")
    if before is not None and 2 * told.payload.get("persons", before) < before:
        # those aboard a vehicle, more likely: nobody is lost from the sum by a word that slips
        told.lack(f"on board of what, where {before} were told of the boat")


def fill_report(told: ToldRecord) -> None:
    """Put a headcount at a place."""
    told.put_as(place="refuge", persons="count", injured="injured", stretcher="stretcher",
                walking="walking")  # fmt: skip
    if told.has("living"):
        told.put(persons=told.get("living"))
    if told.has("all_hands"):
        _all_hands(told)
    if told.has("dead"):
        _dead_there(told)
    elif told.has("dead_among"):
        told.lack("how many of them are dead")
    _told_before(told, "survivors.report", "place")


def _told_before(told: ToldRecord, kind: str, same: str) -> int | None:
    """Read back and return a count told of the same before that differs: a slip, or news.

    While the journal is away nobody can say so, and the count is taken all the same.
    """
    if told.known is None or told.amending:
        return None
    held: list[int] = []
    with contextlib.suppress(JournalAway):
        held = [entry.value.persons for entry in told.known.entries(kind)
                if getattr(entry.value, same) == told.payload.get(same)]  # fmt: skip
    if held and held[-1] != told.payload.get("persons"):
        told.assumed.append(f"told before: {held[-1]}")
        return held[-1]
    return None


def _dead_there(told: ToldRecord) -> None:
    """Put the dead of a headcount; 27 alive and 1 dead are 28 there, of 28 and 1 dead it is asked.

    A headcount is of all who are there.
    """
    dead = int(told.get("dead"))
    told.put(dead=dead)
    if told.has("living") or told.get("dead_among") is False:
        counted = told.get("living" if told.has("living") else "count")
        told.put(persons=counted + dead)
        told.assumed.append(f"{int(counted) + dead} there in all")
    elif not told.has("dead_among"):
        told.lack("are the dead counted in")


def _all_hands(told: ToldRecord) -> None:
    """Put all who are on board, as many as were told."""
    from layers.survivors.muster.on_board import persons_on_board

    found = persons_on_board(told.known, told.at) if told.known is not None else None
    if found is None or not found.rests_on:
        told.lack("how many people; nobody told how many were on board")
        return
    if found.conflicts:
        told.lack("how many people; those on board are told differently")
        return
    told.put(persons=found.pob)
    told.assumed.append(f"all hands are {found.pob}, as told on board")


def fill_move(told: ToldRecord) -> None:
    """Put people moved; their fitness is not known unless somebody says."""
    if told.confirmed:
        told.put(read_back=True)
        told.assumed.append("confirmed: booked as it is")
    if told.has("living"):
        told.roles = {**told.roles, "count": told.get("living")}
    told.put_as(from_place="from_place", to_place="to_place")
    if told.has("to_water"):
        told.put(to_place="on the surface")
    if told.has("picked") and not told.has("from_raft") and "from_place" not in told.payload:
        told.lack("from where: from the water, from a raft, or from which place")
    if told.has("from_raft"):
        told.put(from_place="on the surface")
    if told.payload.get("from_place") == "on the surface" and not told.amending:
        held = held_at(told, "on the surface")
        if held is not None and sum(held.values()) < int(told.get("count") or 0):
            told.put(from_place=UNACCOUNTED)
            told.assumed.append("not heard of until now")
    elif not told.amending and _nobody_told(told, told.payload.get("from_place")):
        told.assume("nobody was counted there before: of those not heard of",
                    nobody_counted_before=True)  # fmt: skip
    if told.has("picked") or told.has("fetched"):
        told.put(to_place="picked up")
        if told.has("fetched_by"):
            told.put(reason=f"picked up by {told.get('fetched_by').text}")
    if told.has("dead"):
        _died(told)
        return
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
        if not (told.has("injured") or told.has("stretcher") or told.amending):
            told.assumed.append("fitness not known")
    told.assume("", reason="as heard")


def _died(told: ToldRecord) -> None:
    """Put people dead where they are: they stay there, and are counted as dead from now on.

    Who was heard of nowhere is taken from those; whom the muster has there as well or hurt is
    named as that, which the ledger asks for.
    """
    place = told.get("where_died") or told.get("from_place")
    there = (place.key or place.text) if place is not None else told.payload.get("from_place")
    if there is None:
        return
    count = int(told.get("dead"))
    held = held_at(told, there)
    group: dict[str, object] = {"persons": count, "fitness": "dead"}
    origin = there
    if held is not None and sum(held.values()) < count:
        origin = UNACCOUNTED
        if not told.amending and "not heard of until now" not in told.assumed:
            told.assumed.append("not heard of until now")
    elif held is not None and held.get("unknown", 0) < count:
        booked = next((fit for fit, n in held.items() if n >= count and fit != "dead"), None)
        if booked:
            group["was"] = booked
    to_place = "picked up" if told.has("picked") else there
    told.put(from_place=origin, to_place=to_place, groups=[group])
    told.assume("", reason="as heard")


def held_at(told: ToldRecord, place: str) -> dict[str, int] | None:
    """Return how many the muster has at a place, by fitness; None without a muster."""
    from layers.survivors.muster.muster import book, place_sorts, told as moves_told
    from layers.survivors.muster.on_board import persons_on_board

    known = told.known
    if known is None:
        return None
    pob = persons_on_board(known, None).pob
    ledger = book(pob, place_sorts(known), moves_told(known, told.at)).ledger
    found: dict[str, int] = {}
    for lot in ledger.lots.get(place, ()):
        found[lot.fitness] = found.get(lot.fitness, 0) + lot.persons
    return found


def _nobody_told(told: ToldRecord, place: str | None) -> bool:
    """Return whether a place is a refuge of which no count and no move has told anything."""
    from layers.survivors.muster.model import PlaceSort
    from layers.survivors.muster.muster import place_sorts, told as accounts, touches

    if told.known is None or place_sorts(told.known).get(place or "") is not PlaceSort.REFUGE:
        return False
    return not any(touches(entry, place or "") for entry in accounts(told.known, told.at))


def fill_air(told: ToldRecord) -> None:
    """Put a reading of the air, always with its pressure; the surface equivalent is read back."""
    told.put_as(refuge="refuge", pressure="pressure", oxygen="o2", carbon_dioxide="co2",
                carbon_monoxide_ppm="co", temperature_c="temperature")  # fmt: skip
    pressure, gas = told.get("pressure"), told.get("co2")
    if pressure is not None and gas is not None and gas["unit"] == "percent":
        from layers.survivors.chambers.pressure import Pressure, bar_abs

        bar = bar_abs(Pressure(**pressure))
        told.also["co2"] = f"= {figure(gas['value'] * bar / ATM_BAR, 1)} % surface equivalent"


def fill_volume(told: ToldRecord) -> None:
    """Put a refuge's free volume."""
    told.put_as(refuge="refuge", free_volume_m3="volume", depth_m="depth")
    told.assume(f"± {SPREAD_PERCENT:g} %", spread_percent=SPREAD_PERCENT)


def fill_seat(told: ToldRecord) -> None:
    """Put the state of a rescue seat; it is named for its compartment."""
    refuge = told.get("refuge")
    told.put_as(refuge="refuge", state="seat_state")
    if refuge is not None:
        told.assume("", seat=f"{refuge.text} seat")


def fill_in_water(told: ToldRecord) -> None:
    """Put people seen in the water."""
    told.put_as(persons="living")
    told.put_as(persons="count", group="group", clothing="clothing", sea_c="sea_c")
    if told.has("raft"):
        told.put(group=f"raft {told.get('raft')}")
    told.assume("", group=f"seen {told.at:%d%H%M}Z")
    told.assume("in it since then", since=told.at.isoformat())
    told.assume("what they wear not known", clothing="not known")


def fill_water(told: ToldRecord) -> None:
    """Put whether a compartment is dry or flooded."""
    told.put_as(refuge="refuge", state="state")


def fill_inflow(told: ToldRecord) -> None:
    """Put what is said to come in."""
    told.put_as(refuge="refuge", what="inflow", m3_per_h="flow")
    told.assume("± 50 %", spread_percent=50.0)


def fill_boat(told: ToldRecord) -> None:
    """Put what is known of the boat herself."""
    told.put_as(name="boat_name", length_m="length", escape_depth_m="escape_depth",
                hull_depth_m="hull_depth")  # fmt: skip


def fill_lies(told: ToldRecord) -> None:
    """Put how she lies on the bottom."""
    if told.has("her_heading"):
        told.put(heading_true_deg=told.get("her_heading")[0])
    if told.has("list"):
        turned = -1.0 if told.get("list_side") == "port" else 1.0
        told.put(list_deg=turned * told.get("list"))
    told.put_as(bow_down_deg="trim")
    if told.has("trim_up"):
        told.put(bow_down_deg=-told.get("trim_up"))
    if told.has("trim_unsaid"):
        told.lack("bow down or bow up")
    if told.has("list") and not told.has("list_side"):
        told.lack("list to port or starboard")
    if told.has("list_side") and not told.has("list"):
        told.lack("list")
    told.put_as(depth_m="depth")
    if told.has("depth_at"):
        told.put_as(depth_m="depth_at")


def fill_place(told: ToldRecord) -> None:
    """Put a place where people can be."""
    told.put_as(name="place_name", sort="place_sort")
    new = told.get("refuge")
    if isinstance(new, Name):  # told with its first headcount or reading
        told.put(name=new.key)
    told.assume("a refuge", sort="refuge")


def fill_phase(told: ToldRecord) -> None:
    """Put a phase of a sortie that began."""
    told.put_as(vehicle="vehicle", lift="lift", phase="phase", walking_aboard="count")
    told.put_as(walking_aboard="inside")
    if not told.has("lift") and not told.amending:
        running = _running(told)
        if running is None:
            told.lack("lift")
        else:
            told.assume(f"lift {running}, as under way", lift=running)


def _running(told: ToldRecord) -> str | None:
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


def fill_used(told: ToldRecord) -> None:
    """Put candles that were used up."""
    told.put_as(refuge="refuge", item="item")
    if told.has("amount"):
        told.put(amount=float(told.get("amount")))
    told.assume("", unit="candles")


def boats(known: Known, at: datetime) -> Iterable[Name]:
    """Return the boat's own name, once it is told."""
    for entry in known.entries("survivors.boat"):
        if entry.value.name:
            yield Name(text=entry.value.name, sort="the boat", hers=True)


def places(known: Known, at: datetime) -> Iterable[Name]:
    """Return the places where people can be, with short words for the ready-made ones."""
    from layers.survivors.muster.muster import place_sorts

    sorts = place_sorts(known)
    for name, sort in sorts.items():
        if name in ("dead", "picked up"):
            continue  # states: told of people where they are, and of what was done
        yield Name(text=name, sort=_sort(str(sort.value)), key=name)
    yield from (n for n in SHORT if n.key in sorts)
    for name, sort in sorts.items():  # "forward compartment" of "forward", and the other way round
        if sort.value == "refuge":
            short = name.removesuffix(" refuge").removesuffix(" compartment").removesuffix(" room")
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
    Name(text="the water", sort="surface", key="on the surface"),
    Name(text="surface", sort="surface", key="on the surface"),
    Name(text="the surface", sort="surface", key="on the surface"),
)
READY = (
    Name(text="forward", sort="refuge", key="forward"),
    Name(text="after", sort="refuge", key="after"),
    *SHORT,
    Name(text="vehicle", sort="vehicle", key="vehicle"),
    Name(text="deck", sort="deck", key="deck"),
    Name(text="hospital", sort="hospital", key="hospital"),
)
