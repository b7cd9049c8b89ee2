"""The kinds of record the survivors layer owns."""

from __future__ import annotations

from layers.journal.kinds import Kind
from layers.survivors.air.model import (
    ActivityTold,
    AirReading,
    Breathing,
    Compartment,
    Inflow,
    Level,
    OwnAir,
    Pod,
    Stores,
    StoresUsed,
)
from layers.survivors.air.refusals import refuse_outside_refuges, refuse_reading, refuse_used
from layers.survivors.lifts.kinds import LIFT_KINDS
from layers.survivors.muster.boat import Boat, Lies
from layers.survivors.muster.model import (
    Complement,
    DryOrFlooded,
    Move,
    PlaceOfPeople,
    Report,
    Seat,
)
from layers.survivors.muster.refusals import (
    ask_move,
    complement_taken_with,
    moves_taken_with,
    place_taken_with,
    refuse_complement,
    refuse_move,
    refuse_place,
    refuse_report,
)
from layers.survivors.muster.surface_model import Craft, FlightLimit, Hospital, InWater, Ready

PEOPLE_KINDS: tuple[Kind, ...] = (
    Kind(
        name="survivors.complement",
        title="persons on board",
        model=Complement,
        refuse=refuse_complement,
        takes_with=complement_taken_with,
    ),
    Kind(
        name="survivors.place",
        title="place for people",
        model=PlaceOfPeople,
        refuse=refuse_place,
        takes_with=place_taken_with,
    ),
    Kind(name="survivors.report", title="headcount reported", model=Report, refuse=refuse_report),
    Kind(
        name="survivors.move",
        title="people moved",
        model=Move,
        refuse=refuse_move,
        ask=ask_move,
        takes_with=moves_taken_with,
    ),
    Kind(name="survivors.seat", title="state of a rescue seat", model=Seat),
    Kind(
        name="survivors.water",
        title="compartment dry or flooded",
        model=DryOrFlooded,
        refuse=refuse_outside_refuges,
    ),
    Kind(name="survivors.boat", title="the boat herself", model=Boat),
    Kind(
        name="survivors.lies",
        title="how she lies on the bottom",
        model=Lies,
    ),
)

AIR_KINDS: tuple[Kind, ...] = (
    Kind(
        name="survivors.compartment",
        title="free volume of a refuge",
        model=Compartment,
        refuse=refuse_outside_refuges,
    ),
    Kind(name="survivors.air", title="air read", model=AirReading, refuse=refuse_reading),
    Kind(
        name="survivors.stores",
        title="stores counted",
        model=Stores,
        refuse=refuse_outside_refuges,
    ),
    Kind(name="survivors.stores_used", title="stores used", model=StoresUsed, refuse=refuse_used),
    Kind(name="survivors.pod", title="pod of stores", model=Pod, refuse=refuse_outside_refuges),
    Kind(name="survivors.level", title="level of the air", model=Level),
    Kind(name="survivors.breathing", title="what a person breathes", model=Breathing),
    Kind(
        name="survivors.activity",
        title="what people do in a refuge",
        model=ActivityTold,
        refuse=refuse_outside_refuges,
    ),
    Kind(
        name="survivors.own_air",
        title="people on air of their own",
        model=OwnAir,
        refuse=refuse_outside_refuges,
    ),
    Kind(
        name="survivors.inflow",
        title="water or gas coming in",
        model=Inflow,
        refuse=refuse_outside_refuges,
    ),
)

SURFACE_KINDS: tuple[Kind, ...] = (
    Kind(name="survivors.in_water", title="people in the water", model=InWater),
    Kind(name="survivors.craft", title="craft that can fetch people", model=Craft),
    Kind(name="survivors.ready", title="what stands ready at the surface", model=Ready),
    Kind(name="survivors.hospital", title="hospital and its places", model=Hospital),
    Kind(name="survivors.flight_limit", title="limit for flying after pressure", model=FlightLimit),
)

KINDS: tuple[Kind, ...] = (*PEOPLE_KINDS, *AIR_KINDS, *SURFACE_KINDS, *LIFT_KINDS)
