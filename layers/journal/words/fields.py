"""What a field of a record is called where people read: never by its name in the code.

One table for forms, refusals, the log and lists. A name that reads well with its underscores
turned to spaces ("report due") needs no entry; one field of one kind may be called otherwise
than its namesakes (``kind.field``).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

WORDS: dict[str, str] = {
    # who and what
    "subject": "ship: MMSI or name",
    "mmsi": "MMSI, nine digits",
    "observer": "seen or heard by",
    "by": "by whom",
    "who": "who",
    "whom": "to whom",
    "told": "what was told",
    "said": "what was said",
    "key": "short name",
    "target": "which record",
    "replaces": "in place of",
    "object": "of what",
    "object_type": "what it is, for its drift",
    "on": "switched on",
    "sort": "what sort",
    "with_whom": "with whom",
    "means": "by what means",
    "matters": "what matters most",
    "basis": "basis",
    "part": "who is counted",
    "group": "which people",
    "form": "what it looks like",
    "may_go_to": "may go to",
    "head_hash": "head of the journal",
    "digest": "check figure",
    "blob": "stored file",
    "crs": "map system",
    "said_by": "said by",
    "time_from": "where its time comes from",
    "read_from": "read from",
    "set_by": "set by",
    "entered_by": "entered by",
    "reported_by": "told by",
    "provenance": "where the figure comes from",
    "reach": "how to reach them",
    "how": "on what",
    "kept_by": "watch kept by",
    "answer": "answer",
    "answer_said": "how that answer read",
    "valid_at": "when it was true",
    "heard_at": "when it was heard",
    "recorded_at": "when it was recorded",
    # place and movement
    "sigma_m": "good to",
    "position_sigma_m": "own place within, 95 %",
    "release_sigma_m": "place of release within, 95 %",
    "sigma_s": "time good to",
    "sigma_deg": "bearing good to",
    "bearing_sigma_deg": "bearing good to",
    "depression_sigma_deg": "angle down good to",
    "depression_deg": "angle down",
    "depth_sigma_m": "depth good to",
    "range_sigma_m": "range good to",
    "water_depth_sigma_m": "water depth good to",
    "leeway_sigma_percent": "leeway good to",
    "leeway_percent": "leeway, share of the wind",
    "leeway_source": "where the leeway comes from",
    "length_nmi": "how far she meant to run",
    "speed_min_kn": "speed, at least",
    "speed_max_kn": "speed, at most",
    "greatest_speed_kn": "fastest she can go",
    "navigation_sigma_nmi_per_h": "her own navigation drifts by",
    "off_track_chance": "chance that she left the track",
    "chance_wrong": "chance that it is not her",
    "chance_dissub": "chance that it is her",
    "still_rising_chance": "chance that it still rises",
    "at_loss_chance": "chance that it came up when she was lost",
    "within_m": "heard no farther off than",
    "fades_over_m": "fades over",
    "leak": "bears on her",
    "released_from": "came up at the earliest",
    "released_to": "came up at the latest",
    "left_dissub_from": "left her at the earliest",
    "left_dissub_to": "left her at the latest",
    "slant_range_m": "range",
    "travel_time_s": "time the sound took",
    "two_way_s": "time there and back",
    "way": "asked and answered, or one way",
    "turn_round_s": "delay of the answer",
    "object_depth_m": "her depth",
    "observer_depth_m": "depth of the ear",
    "transducer_depth_m": "depth of the transducer",
    "paths": "paths of the sound",
    "earlier_by_s": "heard earlier here by",
    "second_": "the second position",
    "ship_": "ship's position",
    "heading_deg": "heading of the ship",
    "heading_sense": "heading told",
    "deviation_deg": "deviation",
    "gyro_error_deg": "gyro error",
    "grid_convergence_deg": "grid north from true north",
    "sense": "true, magnetic or relative",
    "sweep_width_m": "sweep width",
    "pod_curve": "how detection falls off",
    "cut_short": "cut short",
    "across_nmi": "found when held within",
    "shallowest_m": "she cannot lie shallower than",
    "deepest_m": "she cannot lie deeper than",
    "ruled_out_radius_m": "ruled out within",
    "is_dissub": "it is her own fix",
    "slant_m": "range",
    "length_m": "length",
    "escape_depth_m": "escape possible down to",
    "hull_depth_m": "hull holds down to",
    "list_deg": "list, to starboard",
    "bow_down_deg": "bow down",
    # sea and weather
    "hs_m": "sea, significant height",
    "hs_max_m": "sea at most, significant height",
    "tp_s": "peak period",
    "tp_min_s": "peak period at least",
    "tp_max_s": "peak period at most",
    "mean_period_s": "mean period",
    "wind_from_true_deg": "wind from",
    "wave_from_true_deg": "waves from",
    "swell_hs_m": "swell, height",
    "swell_tp_s": "swell, period",
    "swell_from_true_deg": "swell from",
    "wind_wave_hs_m": "wind sea, height",
    "wind_wave_tp_s": "wind sea, period",
    "wind_wave_from_true_deg": "wind sea from",
    "air_c": "air temperature",
    "dew_c": "dew point",
    "sea_c": "sea temperature",
    "sea_depth_m": "measured at a depth of",
    "salinity_psu": "salinity",
    "current_set_true_deg": "current sets towards",
    "current_kn": "current",
    "current_surface_max_kn": "current at the surface at most",
    "current_seat_max_kn": "current at the seat at most",
    "visibility_min_nmi": "visibility at least",
    "wind_max_kn": "wind at most",
    "duration_h": "how long it takes",
    "notice_h": "notice it needs",
    "anemometer_m": "height of the anemometer",
    "stale_after_min": "stale after",
    "closing_m_s": "closing speed at the seat",
    "touchdown_max_m_s": "touch-down speed at most",
    "list_max_deg": "list at most",
    "bow_down_max_deg": "bow down at most",
    "tilt_max_deg": "tilt at most",
    "speed_deg_per_h": "speed of the constituent",
    # people and air
    "free_volume_m3": "free volume",
    "spread_percent": "good to",
    "carbon_dioxide": "carbon dioxide",
    "carbon_monoxide_ppm": "carbon monoxide",
    "temperature_c": "temperature",
    "held_at": "held at",
    "oxygen_kg_each": "oxygen from each",
    "oxygen_kg": "oxygen, all together",
    "mass_kg": "absorbent, all together",
    "air_kg": "air, all together",
    "efficiency": "share of what chemistry allows",
    "binds_kg_co2_per_kg": "carbon dioxide bound by each kg",
    "count": "how many",
    "persons_breathing": "people breathing from it",
    "oxygen_kg_person_day": "oxygen a person breathes a day (kg)",
    "carbon_dioxide_kg_person_day": "carbon dioxide a person gives a day (kg)",
    "m3_per_h": "how much comes in",
    "was": "booked as",
    "flies_at_m": "flies at",
    "above_bar_abs": "counts above",
    "after_pressure_h": "hours after the pressure",
    # lifts
    "cycle_h": "from one dive to the next",
    "cycle_spread_percent": "cycle good to",
    "seats": "places",
    "stretcher_places": "stretchers it takes",
    "stretcher_seats": "places one stretcher takes",
    "battery_kwh": "battery",
    "reserve_kwh": "battery kept in reserve",
    "charge_kw": "charging",
    "transit_kw": "power under way",
    "seat_kw": "power at the seat",
    "speed_down_m_min": "speed down",
    "speed_up_m_min": "speed up",
    "search": "finding the seat takes",
    "launch": "launch takes",
    "mate": "mating takes",
    "transfer_walking": "one who walks takes",
    "transfer_stretcher": "one stretcher takes",
    "away": "leaving the seat takes",
    "recover": "recovery takes",
    "into_chamber": "into the chamber takes",
    "turn_round": "turn-round takes",
    "repair": "a repair takes",
    "failure_chance": "chance of a fault after a lift",
    "failed_mating_chance": "chance that a mating fails",
    "max_pressure_bar_abs": "pressure it may carry",
    "person_kg": "weight of a person",
    "ballast_kg": "ballast it can give up",
    "life_support_h": "life support",
    "report_every_min": "reports every",
    "crew_rest_h": "rest of a crew",
    "ready_at": "first ready to dive",
    "ready_spread_h": "ready within, in all",
    "ready_min": "ready in",
    "follows_chain": "ready when the response is",
    "planned": "in the plan",
    "launch_hs_m": "sea at launch at most",
    "recovery_hs_m": "sea at recovery at most",
    "through_water_kn": "current on the way at most",
    "mating_kn": "current at the seat at most",
    "recoverable_throughout": "must be recoverable at any time",
    "seat_depth_m": "depth of the seat",
    "horizon_h": "looks ahead",
    "chance_wanted": "chance wanted that all are out in time",
    "chamber_rule": "a chamber place must be",
    "available_at": "can be used from",
    "make_ready_min": "made ready again in",
    "held": "held back",
    "withdrawn": "struck off",
    "walking": "who walk",
    "stretcher": "on stretchers",
    "stretchers": "stretchers",
    "walking_aboard": "aboard, who walk",
    "stretcher_aboard": "aboard, on stretchers",
    "next_due": "next one due",
    "tell_by": "tell her by",
    "pods": "the pods planned are posted",
    "add_vehicle": "a further vehicle",
    "add_chamber": "a further chamber",
    "chambers_of": "chambers of this ship alone",
    "response": "port and ship",
    "saturated_from_bar_abs": "held from",
    "saturated_to_bar_abs": "held to",
    "from_bar_abs": "from",
    "to_bar_abs": "to",
    "oxygen_fraction": "oxygen in the gas, 0 to 1",
    "oxygen_l_min": "oxygen used, litres a minute",
    # ports
    "zero": "the clock starts at",
    "zero_is": "that hour is",
    "sight": "ends with the first sight of her",
    "ready": "after it the vehicle is ready to dive",
    "last": "ends with the first one out",
    "backwards_of": "runs this one backwards",
    "returns": "also done on the way home",
    "leg_least": "leg at least, times what is worked out",
    "leg_most": "leg at most, times what is worked out",
    "least_h": "takes at least",
    "likely_h": "takes most likely",
    "most_h": "takes at most",
    "not_before": "not before",
    "network": "over the general sea lanes",
    "stop_h": "stops on the way",
    "points": "points on the way",
    "load": "goes with load number",
    "strength_t_m2": "bears, t a square metre",
    "deck_strength_t_m2": "deck bears, t a square metre",
    "largest_t": "lifts at most",
    "outreach_m": "outreach",
    "capacity_t": "lifts there",
    "under_keel_m": "wanted under her keel",
    "waterline_m": "length on the waterline",
    "at": "at",
    "alongside_h": "alongside for",
    "duration": "takes",
    "index_number": "number in the index",
}
# one field of one kind, where its namesakes mean something else
OF_A_KIND: dict[str, str] = {
    "watch.alarm_rule.sort": "alarm when",
    "watch.alarm_rule.about": "only for",
    "watch.alarm_rule.limit": "limit, in hours, nmi or people",
    "watch.in_charge.who": "who holds it",
    "watch.promised.how": "how she was told",
    "watch.promised.told": "what she was told",
    "watch.promised.expects": "what she expects",
    "watch.promised.expects_at": "when she expects it",
    "watch.promised.tell_next": "what she must be told next",
    "watch.promised.received": "did she answer",
    "watch.help_asked.because": "what for",
    "watch.clock.how": "what became of it",
    "watch.help_asked.helps_until": "latest hour at which it helps",
    "watch.told_outside.answer": "told from which answer",
    "watch.listening.at": "she sends at",
    "weather.observation.station": "at which ship or station",
    "weather.observation.sort": "what it is",
    "datum.lkp.sigma_m": "good to: within, 95 %",
    "datum.contact.sigma_m": "good to: within, 95 %",
    "datum.sighting.sigma_m": "good to: within, 95 %",
    "datum.range.sigma_m": "range good to",
    "datum.sighting.what": "what was seen",
    "datum.object.name": "what is looked for",
    "datum.searcher.name": "who searches",
    "survivors.craft.seats": "seats",
    "survivors.move.groups": "who",
    "survivors.lift.place": "which in turn",
    "survivors.stores.stock": "what is there",
    "survivors.vehicle.attendants": "attendants in it",
    "forward_port.leg.key": "name of the leg",
    "forward_port.option.key": "name of this way",
    "forward_port.activity.key": "name of the activity",
    "tracks.vessel.name": "name",
    "tracks.vessel.role": "what she does here",
}
# Errors of a place are told as the circle that holds her with 95 %, and kept as the standard
# deviation along each axis: sqrt(-2 ln 0.05) of them, for two alike and independent (Rayleigh).
WITHIN_95 = math.sqrt(-2.0 * math.log(0.05))
TOLD_WITHIN_95 = frozenset(
    {
        "datum.lkp.sigma_m", "datum.contact.sigma_m", "datum.sighting.sigma_m",
        "position_sigma_m", "release_sigma_m",
    }
)  # fmt: skip
UNITS: tuple[tuple[str, str], ...] = (
    ("_true_deg", "°T"),
    ("_bar_abs", "bar absolute"),
    ("_m3_per_h", "m³/h"),
    ("_per_h", "per hour"),
    ("_nmi_per_h", "nmi per hour"),
    ("_m_s", "m/s"),
    ("_m_min", "m/min"),
    ("_km_h", "km/h"),
    ("_kwh", "kWh"),
    ("_kw", "kW"),
    ("_deg", "°"),
    ("_kn", "kn"),
    ("_nmi", "nmi"),
    ("_km", "km"),
    ("_m", "m"),
    ("_min", "min"),
    ("_s", "s"),
    ("_h", "h"),
    ("_c", "°C"),
    ("_kg", "kg"),
    ("_t", "t"),
    ("_m3", "m³"),
    ("_db", "dB"),
    ("_khz", "kHz"),
    ("_hz", "Hz"),
    ("_hpa", "hPa"),
    ("_percent", "%"),
    ("_ppm", "ppm"),
    ("_psu", "‰"),
)
_NAME = re.compile(r"\b[a-z][a-z0-9]*(?:_[a-z0-9]+)+\b")


def unit_of(name: str) -> str:
    """Return the unit that a field's name ends with, as it is printed; empty for none."""
    if name in ("m3_per_h",):
        return "m³/h"
    if name.endswith("_nmi_per_h"):
        return "nmi/h"
    for ending, unit in UNITS:
        if name.endswith(ending) and len(name) > len(ending):
            return unit
    return ""


def field_words(name: str, kind: str = "") -> str:
    """Return what a field is called, in small letters and without its unit.

    Parameters
    ----------
    name : str
        The field's name; of a field within a field the last part is enough.
    kind : str
        Name of the kind it belongs to, for the few that need it.
    """
    if found := OF_A_KIND.get(f"{kind}.{name}"):
        return found
    last = name.rsplit(".", 1)[-1]
    if found := OF_A_KIND.get(f"{kind}.{last}") or WORDS.get(name) or WORDS.get(last):
        return found
    for ending, _ in UNITS:
        if last.endswith(ending) and len(last) > len(ending):
            last = last.removesuffix(ending)
            break
    return last.replace("_", " ")


def told_factor(name: str, kind: str = "") -> float:
    """Return how many times the value that is kept people tell: 1, or that of 95 %."""
    last = name.rsplit(".", 1)[-1]
    return WITHIN_95 if {last, f"{kind}.{last}"} & TOLD_WITHIN_95 else 1.0


def field_label(name: str, kind: str = "") -> str:
    """Return a field's label with its unit: ``Range (m)``."""
    words, unit = field_words(name, kind), unit_of(name.rsplit(".", 1)[-1])
    shown = words[:1].upper() + words[1:]
    return f"{shown} ({unit})" if unit and f"({unit})" not in shown else shown


def in_plain_words(text: str, kind: str = "", names: Iterable[str] = ()) -> str:
    """Return a sentence with every field's name put in words, and times as they are read.

    Parameters
    ----------
    text : str
        A refusal, or another sentence that was made near the code.
    names : iterable of str
        Names without an underscore that are to be put in words too.
    """
    known = set(names)

    def said(found: re.Match[str]) -> str:
        return field_words(found[0], kind)

    plain = _NAME.sub(said, text)
    for name in known:
        plain = re.sub(rf"(?<![\w’']){re.escape(name)}(?=:|$)", field_words(name, kind), plain)
    return plain
