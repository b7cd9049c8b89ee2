"""Does it fly: the pieces in the hold, the aircraft on the runway, and the ground that bears it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layers.forward_port import model
from layers.forward_port.ports.fit import Fit, Verdict, compared

PERHAPS_FEET_M = 4_300.0  # few runways are longer: a greater figure may be feet
SOFT = ("grass", "turf", "gravel", "grvl", "grv", "grs", "dirt", "sand", "clay", "earth", "soil",
        "snow", "ice", "coral", "laterite", "unpaved")  # fmt: skip


def runway(
    load: Sequence[model.Piece], aircraft: model.Aircraft, field: model.Airfield
) -> tuple[Fit, ...]:
    """Return whether an aircraft with a load can use the runway: length at that load, width."""
    mass = sum(piece.mass_t for piece in load)
    need = runway_need_m(aircraft, mass)
    subject = f"{aircraft.name} with {mass:g} t"
    note = "" if need is not None else "the aircraft's need at this load is not given"
    if need is not None:
        need, note = at_its_height_m(need, field)
    found = compared(
        subject, field.name, "runway length", need, field.runway_length_m, "m", note, field.basis
    )
    if found.verdict is Verdict.FITS and None in (field.elevation_m, field.hottest_c):
        found = replace(found, verdict=Verdict.NOT_KNOWN)  # higher or hotter it must be longer
    length = field.runway_length_m
    if length is not None and length > PERHAPS_FEET_M and field.basis != "surveyed":
        words = f"{length:g} may be feet ({length * 0.3048:.0f} m): confirm the unit"
        found = replace(found, verdict=Verdict.NOT_KNOWN, note=words)
    return (
        found,
        compared(
            subject,
            field.name,
            "runway width",
            aircraft.runway_width_m,
            field.runway_width_m,
            "m",
            basis=field.basis,
        ),
        *_ground(subject, aircraft, field),
    )


def runway_need_m(aircraft: model.Aircraft, payload_t: float) -> float | None:
    """Return the runway needed at a payload: that of the next payload in the table, or None."""
    table = sorted(aircraft.runway, key=lambda need: need.payload_t)
    enough = [need.length_m for need in table if need.payload_t >= payload_t - 1e-9]
    return enough[0] if enough else None


def at_its_height_m(need_m: float, field: model.Airfield) -> tuple[float, str]:
    """Return the length needed at an airfield's elevation and temperature, and a note.

    Notes
    -----
    7 % more for every 300 m of elevation, then 1 % for every degree above the standard
    atmosphere's temperature at that elevation (15 °C less 6.5 °C a kilometre).

    References
    ----------
    ICAO Doc 9157, Aerodrome Design Manual, Part 1 (Runways), section 3.5; from memory, not
    checked against the page.
    """
    if field.elevation_m is None:
        both = " and temperature are" if field.hottest_c is None else " is"
        return need_m, f"its elevation{both} not entered"
    high = max(field.elevation_m, 0.0)
    need = need_m * (1.0 + 0.07 * high / 300.0)
    if field.hottest_c is None:
        return round(need), f"at {field.elevation_m:g} m; its temperature is not entered"
    standard_c = 15.0 - 6.5 * high / 1000.0
    need *= 1.0 + 0.01 * max(field.hottest_c - standard_c, 0.0)
    return round(need), f"at {field.elevation_m:g} m and {field.hottest_c:g} °C"


def is_soft(surface: str) -> bool | None:
    """Return whether a runway's surface is not paved; None where the words do not say."""
    words = surface.lower()
    if not words.strip():
        return None
    return any(word in words for word in SOFT)


def _ground(subject: str, aircraft: model.Aircraft, field: model.Airfield) -> tuple[Fit, ...]:
    """Return whether the ground carries the aircraft: what it is made of, and its strength."""
    soft = is_soft(field.surface)
    verdict, note = Verdict.FITS, field.surface
    if soft is None:
        verdict, note = Verdict.NOT_KNOWN, "nobody has told its surface"
    elif soft and aircraft.soft_ground is None:
        verdict, note = Verdict.NOT_KNOWN, f"{field.surface}: may it land on soft ground?"
    elif soft and not aircraft.soft_ground:
        verdict = Verdict.DOES_NOT
    surface = Fit(
        subject=subject,
        against=field.name,
        what="runway surface",
        verdict=verdict,
        need=None,
        limit=None,
        unit="",
        note=note,
    )
    strength = compared(
        subject,
        field.name,
        "runway strength",
        aircraft.greatest_mass_t,
        field.bearing_t,
        "t",
        "ask for the aircraft's mass and what the runway carries"
        if field.bearing_t is None or aircraft.greatest_mass_t is None
        else "",
        field.basis,
    )
    return surface, strength


def hold(load: Sequence[model.Piece], aircraft: model.Aircraft) -> tuple[Fit, ...]:
    """Return whether the pieces of one load go into the hold together, one behind the other."""
    subject = f"load {load[0].load}"
    mass = sum(piece.mass_t for piece in load)
    return (
        compared(subject, aircraft.name, "payload", mass, aircraft.payload_t, "t"),
        compared(
            subject,
            aircraft.name,
            "hold length",
            sum(piece.length_m for piece in load),
            aircraft.hold_length_m,
            "m",
        ),
        compared(
            subject,
            aircraft.name,
            "hold width",
            max(piece.width_m for piece in load),
            aircraft.hold_width_m,
            "m",
        ),
        compared(
            subject,
            aircraft.name,
            "hold height",
            max(piece.height_m for piece in load),
            aircraft.hold_height_m,
            "m",
        ),
    )
