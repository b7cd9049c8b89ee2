"""How far a sound can be heard: the sonar equation, every term kept to be shown."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy

from layers.earth.values import HearingRange
from layers.transponders.model import Listener, SoundSource
from layers.transponders.sound.absorption import ainslie_mccolm, francois_garrison
from layers.transponders.sound.noise import FROM_MEMORY, band_noise_db

FLUCTUATION_DB = 6.0  # of signal over noise, one sigma; our own assumption, no source
TRAPPED, SPHERICAL = 15.0, 20.0  # spreading: 15 log r where surface and seabed keep sound in
FURTHEST_M = 200_000.0
LOSSES = (
    "What the seabed and a rough surface swallow is not counted: sound that comes by way of "
    "either is weaker than shown, and by how much is not known."
)
# Pressure of 1060 dyn/cm², 106 Pa rms, at 1 m is 160.5 dB re 1 µPa (computed); that the standard
# for such pingers asks for it is from memory, its clause not seen. Frequency and pulse are
# printed in a maker's manual.
PINGER = SoundSource(
    name="distress pinger",
    source_level_db=160.5,
    frequency_khz=37.5,
    band_hz=100.0,
    provenance="160.5 dB from memory (least output of a 37.5 kHz beacon), not checked against "
    "the page; 37.5 kHz, 10 ms seen; band 1/10 ms",
)
BY_EAR = Listener(
    name="listener",
    depth_m=10.0,
    array_gain_db=0.0,
    detection_threshold_db=10.0,
    provenance="one hydrophone at 10 m, 10 dB over noise wanted; our own assumption, no source",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterColumn:
    """What the sound runs through: means over the water column, and the wind above it.

    ``assumed`` says what of the water nobody measured, in words; empty where all was.
    """

    temperature_c: float
    salinity: float
    depth_m: float
    wind_m_s: float | None
    wind_words: str
    assumed: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """One source, one listener: every term of the sonar equation, and the ranges."""

    source: SoundSource
    listener: Listener
    noise_db: float | None  # in the band, own noise included
    ambient_db: float | None
    absorption_db_km: float
    absorption_other_db_km: float  # by the second formula, to compare
    merit_db: float | None  # source level - noise + gain - threshold: the loss it can bear
    range_50_m: float | None
    range_90_m: float | None
    trapped_50_m: float | None  # with 15 log r
    direct_to_m: float | None  # beyond it only by way of the seabed
    rays_from: str  # the depth that the rays leave from, in words; empty without a profile
    why_not: str


def hear(
    source: SoundSource,
    listener: Listener,
    sea: WaterColumn,
    direct_to_m: float | None,
    rays_from: str = "",
) -> Hearing:
    """Return how far one listener hears one source, and every term of it."""
    alpha = float(
        francois_garrison(source.frequency_khz, sea.temperature_c, sea.salinity, sea.depth_m)
    )
    other = float(
        ainslie_mccolm(source.frequency_khz, sea.temperature_c, sea.salinity, sea.depth_m)
    )
    wind = sea.wind_m_s
    if wind is None:
        return Hearing(
            source=source,
            listener=listener,
            noise_db=None,
            ambient_db=None,
            absorption_db_km=alpha,
            absorption_other_db_km=other,
            merit_db=None,
            range_50_m=None,
            range_90_m=None,
            trapped_50_m=None,
            direct_to_m=direct_to_m,
            rays_from=rays_from,
            why_not="the wind is not known: record it with the listener, or feed the weather",
        )
    ambient = band_noise_db(source.frequency_khz, source.band_hz, wind)
    noise = ambient
    if listener.self_noise_db is not None:
        noise = float(10.0 * np.log10(10 ** (ambient / 10) + 10 ** (listener.self_noise_db / 10)))
    merit = figure_of_merit(source, listener, noise)
    margin_90 = FLUCTUATION_DB * float(scipy.special.ndtri(0.9))
    return Hearing(
        source=source,
        listener=listener,
        noise_db=noise,
        ambient_db=ambient,
        absorption_db_km=alpha,
        absorption_other_db_km=other,
        merit_db=merit,
        range_50_m=range_m(merit, alpha),
        range_90_m=range_m(merit - margin_90, alpha),
        trapped_50_m=range_m(merit, alpha, TRAPPED),
        direct_to_m=direct_to_m,
        rays_from=rays_from,
        why_not="",
    )


def figure_of_merit(source: SoundSource, listener: Listener, noise_db: float) -> float:
    """Return the loss at which detection is as likely as not, dB."""
    return (
        source.source_level_db - noise_db + listener.array_gain_db - listener.detection_threshold_db
    )


def loss_db(range_m: float, absorption_db_km: float, spreading: float = SPHERICAL) -> float:
    """Return transmission loss from 1 m, dB: spreading and absorption."""
    return spreading * float(np.log10(range_m)) + absorption_db_km * range_m / 1000.0


def range_m(merit_db: float, absorption_db_km: float, spreading: float = SPHERICAL) -> float:
    """Return the range at which loss equals the figure of merit, m; 0 when it is under 1 m."""
    from scipy.optimize import brentq  # imported here: slow to start

    if merit_db <= 0.0:
        return 0.0
    if loss_db(FURTHEST_M, absorption_db_km, spreading) < merit_db:
        return FURTHEST_M
    return float(
        brentq(lambda r: loss_db(r, absorption_db_km, spreading) - merit_db, 1.0, FURTHEST_M)
    )


def ground_m(
    heard: Hearing, slant_m: float | None, source_depth_m: float | None
) -> tuple[float | None, str]:
    """Return how far over ground a slant range reaches, and what cuts it short.

    None where the source lies deeper below the listener than the range is long: it is heard at
    no distance. Direct sound ends at the shadow; beyond it only what comes by way of the seabed.
    """
    if not slant_m:
        return None, "not heard at any distance"
    rise = 0.0 if source_depth_m is None else abs(source_depth_m - heard.listener.depth_m)
    if rise >= slant_m:
        return None, f"not heard even overhead: {rise:.0f} m of water between"
    reach = math.sqrt(slant_m**2 - rise**2)
    if heard.direct_to_m is not None and heard.direct_to_m < reach:
        return heard.direct_to_m, "cut short where direct sound ends"
    return reach, ""


def handed(heard: Hearing, source_depth_m: float | None) -> HearingRange | None:
    """Return what other layers need to say how likely a listener would have heard it."""
    if heard.merit_db is None:
        return None
    return HearingRange(
        source=heard.source.name,
        listener=heard.listener.name,
        listener_depth_m=heard.listener.depth_m,
        source_depth_m=source_depth_m,
        merit_db=heard.merit_db,
        absorption_db_km=heard.absorption_db_km,
        fluctuation_db=FLUCTUATION_DB,
        direct_to_m=heard.direct_to_m,
        range_50_m=ground_m(heard, heard.range_50_m, source_depth_m)[0],
    )


def terms(heard: Hearing) -> tuple[tuple[str, float | None, str, str], ...]:
    """Return every term in order: name, value, unit, where it comes from."""
    source, listener = heard.source, heard.listener
    at_50 = heard.range_50_m
    spread = None if not at_50 else SPHERICAL * float(np.log10(at_50))
    lost = None if not at_50 else heard.absorption_db_km * at_50 / 1000.0
    return (
        ("source level", source.source_level_db, "dB re 1 µPa at 1 m", source.provenance),
        ("frequency", source.frequency_khz, "kHz", source.provenance),
        ("band", source.band_hz, "Hz", source.provenance),
        ("sea noise in band", heard.ambient_db, "dB re 1 µPa", FROM_MEMORY),
        ("own noise in band", listener.self_noise_db, "dB re 1 µPa", listener.provenance),
        ("noise together", heard.noise_db, "dB re 1 µPa", "powers added"),
        ("array gain", listener.array_gain_db, "dB", listener.provenance),
        ("detection threshold", listener.detection_threshold_db, "dB", listener.provenance),
        ("figure of merit", heard.merit_db, "dB", "source − noise + gain − threshold"),
        ("spreading at 50 % range", spread, "dB", "20 log r"),
        ("absorption", heard.absorption_db_km, "dB/km", "Francois and Garrison 1982"),
        (
            "absorption, second formula",
            heard.absorption_other_db_km,
            "dB/km",
            "Ainslie and McColm 1998, to compare",
        ),
        ("absorption at 50 % range", lost, "dB", "range × absorption"),
        ("fluctuation", FLUCTUATION_DB, "dB, 68 % within", "our own assumption, no source"),
        ("heard with 50 %", heard.range_50_m, "m", "loss = figure of merit"),
        ("heard with 90 %", heard.range_90_m, "m", "1.28 times the fluctuation in hand"),
        ("heard with 50 % if sound is kept in", heard.trapped_50_m, "m", "15 log r"),
        (
            "direct sound as far as",
            heard.direct_to_m,
            "m",
            f"rays{heard.rays_from}; beyond, by way of the seabed",
        ),
    )
