"""Where a ship was when she saw or heard something: from her track, unless somebody told it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from layers.earth import geodesy
from layers.earth.clock import clock_words, from_us, to_us
from layers.earth.position import Position
from layers.earth.said.alike import plain_name
from layers.earth.units import M_PER_NMI, S_PER_H
from layers.journal.known import Known

REACH = timedelta(hours=2)  # an older fix says nothing of where she is
FIX_M = 100.0  # of a fix, one standard deviation; common practice, no source
HELD = 0.1  # share of the run by which course and speed are not held; common practice, no source
UNHELD_KN = 10.0  # where no course or speed came with the fix


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnPlace:
    """A ship's place at a time, how good it is (one standard deviation, m), and from what."""

    position: Position
    sigma_m: float
    words: str


def subject_of(known: Known, name: str) -> str:
    """Return the subject under which a ship's fixes come; her name where nobody entered her."""
    said = plain_name(name)
    for entry in reversed(known.entries("tracks.vessel")):
        if said in (plain_name(entry.value.name), plain_name(entry.value.subject)):
            return str(entry.value.subject)
    return name.strip()


def own_place(known: Known, name: str, at: datetime) -> OwnPlace | None:
    """Return where a ship was, or None when no fix is near that time.

    Parameters
    ----------
    known : Known
        The records that count.
    name : str
        As she is called, or her subject.
    at : datetime
        When, UTC.
    """
    subject = subject_of(known, name)
    span = (to_us(at - REACH), to_us(at + REACH))
    columns = known.stretches("tracks.position", {subject: span})
    rows = np.argsort(columns["valid_at_us"], kind="stable")
    when = columns["valid_at_us"][rows]
    wanted = to_us(at)
    before = int(np.searchsorted(when, wanted, side="right")) - 1
    if before < 0:
        return None
    row, gap_s = int(rows[before]), (wanted - int(when[before])) / 1e6
    start = Position(float(columns["latitude_deg"][row]), float(columns["longitude_deg"][row]))
    if gap_s > REACH.total_seconds():
        return None
    said = f"by her fix {clock_words(from_us(int(when[before])), at)}"
    if before + 1 < len(rows) and gap_s > 0:
        after = int(rows[before + 1])
        end = Position(
            float(columns["latitude_deg"][after]), float(columns["longitude_deg"][after])
        )
        share = (wanted - int(when[before])) / max(int(when[before + 1]) - int(when[before]), 1)
        leg_m, bearing_deg, _ = geodesy.between(start, end)
        place = geodesy.going(start, bearing_deg, leg_m * share)
        off_m = HELD * min(share, 1.0 - share) * leg_m
        return OwnPlace(position=place, sigma_m=float(np.hypot(FIX_M, off_m)),
                        words=f"between her fixes about {clock_words(at, at)}")  # fmt: skip
    speed, course = float(columns["speed_kn"][row]), float(columns["course_true_deg"][row])
    if np.isnan(speed) or np.isnan(course):
        off_m = UNHELD_KN * M_PER_NMI * gap_s / S_PER_H
        return OwnPlace(position=start, sigma_m=float(np.hypot(FIX_M, off_m)), words=said)
    run_m = speed * M_PER_NMI * gap_s / S_PER_H
    place = geodesy.going(start, course, run_m) if run_m > 0 else start
    reckoned = f"reckoned from her fix {clock_words(from_us(int(when[before])), at)}"
    return OwnPlace(
        position=place,
        sigma_m=float(np.hypot(FIX_M, HELD * run_m)),
        words=reckoned if gap_s > 60 else said,
    )
