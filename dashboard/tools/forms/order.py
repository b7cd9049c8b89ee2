"""Which form comes first, and in a form which field: what most people know before the rest."""

from __future__ import annotations

from layers.catalogue import IN_WORDS

# what is needed in the first hours, in the order in which it is heard; then the rest by subject
FIRST_HOUR = (
    "datum.lkp", "datum.intended_movement", "watch.stage", "survivors.boat",
    "survivors.complement", "tracks.vessel", "tracks.position", "datum.bearing", "datum.range",
    "datum.sighting", "datum.heard", "datum.negative_search", "weather.observation",
    "weather.limit", "weather.place_of_work", "survivors.place", "survivors.report",
    "survivors.move", "survivors.air", "survivors.stores", "survivors.vehicle",
    "survivors.lift_limits", "survivors.lift", "watch.in_charge", "watch.task",
)  # fmt: skip
SUBJECTS: dict[str, str] = {
    "watch": "the watch",
    **{layer.key: layer.subject or layer.title.lower() for layer in IN_WORDS},
    "journal": "another record",
}
# fields that may be left out but stand with those that may not
KNOWN_FIRST: dict[str, tuple[str, ...]] = {
    "watch.stage": ("next_stage", "next_due"),
    "watch.decision": (),
    "watch.question": ("wanted_by",),
    "watch.task": ("due", "next_report_due", ""),
    "watch.task_report": ("state", "next_report_due"),
    "watch.in_charge": ("reach",),
    "watch.circuit": ("kept_by", "when"),
    "watch.promised": ("how", "expects", "expects_at", "tell_next", "tell_by"),
    "watch.help_asked": ("helps_until", "because"),
    "watch.help_answered": ("there_at", "said"),
    "watch.told_outside": ("answer",),
    "watch.alarm_rule": ("about", "limit"),
    "datum.lkp": ("sigma_m",),
    "datum.intended_movement": (
        "course_true_deg", "speed_min_kn", "speed_max_kn", "report_due", "length_nmi",
    ),
    "datum.bearing": ("", "heading_deg", "range_m"),
    "datum.range": ("", "slant_range_m", "sigma_m"),
    "datum.heard": ("",),
    "datum.sighting": ("persons",),
    "datum.negative_search": ("area", "radius_m", "spacing_m"),
    "datum.not_heard": ("", "by", "within_m"),
    "datum.loss_time": ("earliest", "latest"),
    "datum.object": ("object_type", "persons"),
    "datum.contact": ("length_m", "depth_m"),
    "tracks.position": ("course_true_deg", "speed_kn"),
    "tracks.vessel": ("mmsi", "length_m", "max_speed_kn"),
    "weather.observation": ("", "hs_m", "tp_s", "wind_from_true_deg", "wind_kn", "current_kn"),
    "weather.limit": ("hs_max_m", "wind_max_kn", "current_surface_max_kn"),
    "weather.place_of_work": ("water_depth_m",),
    "survivors.boat": ("name", "length_m", "escape_depth_m", "hull_depth_m"),
    "survivors.lies": ("heading_true_deg", "list_deg", "bow_down_deg", "depth_m"),
    "survivors.report": ("walking", "stretcher", "pressure"),
    "survivors.compartment": ("depth_m",),
    "survivors.air": ("oxygen", "carbon_dioxide", "temperature_c"),
    "survivors.stores": ("stock.count", "stock.chemical", "stock.mass_kg"),
    "survivors.vehicle": ("cycle_h", "stretcher_places", "ready_at"),
    "survivors.chamber": ("ship", "attendants"),
    "survivors.lift_limits": ("launch_hs_m", "recovery_hs_m", "mating_kn", "seat_depth_m"),
    "survivors.sortie_phase": ("walking_aboard", "stretcher_aboard", "chamber"),
    "survivors.sortie_report": ("depth_m", "battery_kwh", "life_support_h", "next_due"),
    "survivors.in_water": ("sea_c",),
    "forward_port.port": (),
    "forward_port.ship": ("speed_kn", "deck_length_m"),
    "forward_port.berth": ("length_m", "depth_m"),
    "forward_port.leg": ("ship", "speed_kn", "points"),
    "forward_port.option": ("port", "ship", "airfield"),
    "forward_port.activity": ("after", "least_h", "likely_h", "most_h", "leg"),
    "forward_port.actual": ("started_at", "finished_at"),
    "forward_port.held": ("sort", "kept_at", "bound_for", "persons"),
    "forward_port.ready_again": ("least_h", "likely_h", "most_h", "again_at", "is_ready"),
    "forward_port.told_coming": ("expected_at", "accepted"),
    "transponders.range": (),
    "transponders.typed_fix": ("ranges", "ship_", "bearing_true_deg", "depression_deg"),
}  # fmt: skip
WHO_TOLD = "who told it"  # stands for the form's own "from whom"
# required fields that nobody speaks: what is put there when they are left empty. Each is said
# beside its field; figures are common practice, no source.
# fields that begin with the stage of alert that was declared, and with its hour
STAGE: dict[str, tuple[str, str]] = {"forward_port.option": ("zero_is", "zero")}
LEFT_EMPTY: dict[str, str] = {
    "datum.lkp.sigma_m": "5 nmi",
    "datum.lkp.reported_by": WHO_TOLD,
    "datum.bearing.sigma_deg": "2°",
    "datum.sighting.sigma_m": "0.5 nmi",
    "datum.contact.sigma_m": "0.1 nmi",
    "datum.heard.within_m": "5 nmi",
    "watch.stage.basis": "as heard",
    "watch.decision.reasons": "as decided",
    "watch.decision.decided_by": WHO_TOLD,
    "watch.settled.said": "as heard",
    "watch.task_report.said": "as reported",
    "watch.withholding.reason": "as decided",
    "watch.help_answered.by": WHO_TOLD,
    "watch.acknowledged.by": WHO_TOLD,
    "watch.alarm_taken.by": WHO_TOLD,
    "weather.limit.duration_h": "1 h",
    "weather.limit.set_by": WHO_TOLD,
    "weather.place_of_work.reason": "as told",
    "weather.seat.reported_by": WHO_TOLD,
    "weather.tidal_stream.reported_by": WHO_TOLD,
    "weather.vehicle_limit.set_by": WHO_TOLD,
    "survivors.complement.part": "all on board",
    "survivors.move.reason": "as heard",
    "survivors.level.entered_by": WHO_TOLD,
    "survivors.flight_limit.entered_by": WHO_TOLD,
    "survivors.priority.set_by": WHO_TOLD,
    "survivors.priority.reason": "as decided",
    "survivors.plan_choice.reason": "as decided",
    "survivors.plan_choice.decided_by": WHO_TOLD,
    "survivors.hospital.source": WHO_TOLD,
    "survivors.craft.source": WHO_TOLD,
    "datum.wreck.source": WHO_TOLD,
    "datum.weighting.reason": "as decided",
    "forward_port.choice.reason": "as decided",
    "transponders.sound_source.provenance": WHO_TOLD,
    "transponders.listener.provenance": WHO_TOLD,
}


def rank(kind: str) -> tuple[int, str]:
    """Return a kind's place in a list of all: the first hour's first."""
    if kind in FIRST_HOUR:
        return FIRST_HOUR.index(kind), kind
    return len(FIRST_HOUR) + list(SUBJECTS).index(kind.split(".")[0]), kind


def stands_first(kind: str, field: str, required: bool) -> bool:
    """Return whether a field is shown at once, and not under what is folded."""
    told = LEFT_EMPTY.get(f"{kind}.{field}", "")
    spoken = not told or told[0].isdigit()  # a figure is told, "as heard" never
    return (required and spoken) or field in KNOWN_FIRST.get(kind, ())
