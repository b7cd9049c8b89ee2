"""Simulated losses with errors that have owners: how often the regions hold the truth.

The generator is written from the world, not from the estimate: a boat that moves and is lost,
ships with a gyro and a navigation error of their own, reports that are simply wrong, two that
cross at a false place, reports made before the loss. Each loss goes the program's own way from
records to the datum. Beside it stands an estimator that is told what nobody can know: which
reports are wrong, and how much of each error is the observer's constant one. And between the two
one that doubts each report as much as the program does, but works on a grid and not with
particles: what it needs more than the first is the price of not knowing who is wrong, what the
program needs more than it would be the program's own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from pyproj import Geod
from scipy.stats import cauchy, norm

from layers.datum.before.base import base_of
from layers.datum.before.prior import States
from layers.datum.evidence.counted import counted
from layers.datum.evidence.influence import MISFIT, Estimated, estimated, judged
from layers.datum.kinds import KINDS
from layers.datum.probability.containment import Grid, smallest_circle
from layers.datum.probability.particles import estimate
from layers.datum.reports import aims, reports, setting_of
from layers.earth.arrays import Floats
from layers.earth.units import M_PER_NMI, M_S_PER_KN
from layers.journal.kinds import OPINIONS
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, as_record, form_identity

GEOD = Geod(ellps="WGS84")
NAMED = {kind.name: kind for kind in (*OPINIONS, *KINDS)}
START = datetime(2027, 3, 12, 22, 0, tzinfo=UTC)
DUE_H, SHOWN_H = 8.0, 20.0
PARTICLES = 24_000  # fewer than the 200,000 in use serve here
SIGMA_DEG, CONSTANT_DEG = 2.0, 1.6
WRONG = 0.2  # of a bearing that nobody graded: the program's own default
PARTS = (0.50, 0.90, 0.95)


@dataclass
class Loss:
    """One simulated loss: the truth, and what was reported."""

    latitude_deg: float
    longitude_deg: float
    lost_h: float
    facts: list[tuple[str, float, dict[str, Any]]] = field(default_factory=list)
    wrong: list[int] = field(default_factory=list)  # rows of facts that are simply wrong
    owners: dict[int, str] = field(default_factory=dict)  # row of facts to its observer


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What one loss showed: in which regions the truth lay, areas, and who was accused."""

    regions: tuple[bool, bool, bool]
    circle: bool
    lost: bool  # the time of loss within its 5 to 95 %
    area_nmi2: float
    accused_right: int
    accused_wrong: int
    area_told_nmi2: float = np.nan
    area_doubting_nmi2: float = np.nan


def lost_boat(rng: np.random.Generator) -> Loss:
    """Return a boat lost on her way, with her last position and movement reported."""
    lat, lon = 49.52, -9.3
    sigma, course, length = 900.0, float(rng.uniform(40.0, 90.0)), 70.0
    low, high = 6.0, 8.0
    turn, off = rng.uniform(0.0, 360.0), sigma * np.hypot(*rng.standard_normal(2))
    lon_t, lat_t, _ = GEOD.fwd(lon, lat, turn, off)
    lost_h = rng.uniform(0.0, DUE_H)
    run = rng.uniform(low, high) * lost_h * M_PER_NMI
    drift = 0.25 * M_PER_NMI * lost_h * rng.standard_normal(2)
    if rng.random() < 0.05:  # she left her track
        off_track = 0.5 * high * M_S_PER_KN * lost_h * 3_600.0 * rng.standard_normal(2)
        run, drift = 0.0, off_track
    # a rhumb line in a thousand steps
    for _ in range(50):
        lon_t, lat_t, _ = GEOD.fwd(lon_t, lat_t, course, run / 50.0)
    lon_t, lat_t, _ = GEOD.fwd(
        lon_t, lat_t, np.degrees(np.arctan2(drift[0], drift[1])), np.hypot(*drift)
    )
    loss = Loss(float(lat_t), float(lon_t), lost_h)
    loss.facts.append(
        ("datum.lkp", 0.0, {"latitude_deg": lat, "longitude_deg": lon, "sigma_m": sigma,
                            "reported_by": "X"})
    )  # fmt: skip
    due = (START + timedelta(hours=DUE_H)).isoformat().replace("+00:00", "Z")
    loss.facts.append(
        ("datum.intended_movement", 0.0,
         {"course_true_deg": course, "length_nmi": length, "speed_min_kn": low,
          "speed_max_kn": high, "report_due": due})
    )  # fmt: skip
    return loss


def _post(loss: Loss, rng: np.random.Generator, near_m: float = 6e3, far_m: float = 2e4) -> Any:
    lon, lat, _ = GEOD.fwd(
        loss.longitude_deg, loss.latitude_deg, rng.uniform(0.0, 360.0), rng.uniform(near_m, far_m)
    )
    return {"latitude_deg": float(lat), "longitude_deg": float(lon)}


def _bearing_to(post: Any, lat: float, lon: float) -> float:
    return float(GEOD.inv(post["longitude_deg"], post["latitude_deg"], lon, lat)[0]) % 360.0


def add_bearing(loss: Loss, ship: str, post: Any, at_h: float, error_deg: float) -> None:
    """Add a bearing of the wreck with an error."""
    true = _bearing_to(post, loss.latitude_deg, loss.longitude_deg)
    loss.owners[len(loss.facts)] = ship
    loss.facts.append(
        ("datum.bearing", at_h, post | {
            "observer": ship, "bearing_deg": (true + error_deg) % 360.0, "sense": "true",
            "sigma_deg": SIGMA_DEG, "position_sigma_m": 50.0,
        })
    )  # fmt: skip


def add_range(loss: Loss, rng: np.random.Generator) -> None:
    """Add a range of 400 m standard deviation."""
    post = _post(loss, rng)
    metres = GEOD.inv(post["longitude_deg"], post["latitude_deg"], loss.longitude_deg,
                      loss.latitude_deg)[2]  # fmt: skip
    loss.facts.append(
        ("datum.range", 15.0, post | {
            "observer": "RANGER", "slant_range_m": float(metres + 400.0 * rng.standard_normal()),
            "sigma_m": 400.0, "position_sigma_m": 0.0, "chance_wrong": 0.02,
        })
    )  # fmt: skip


def honest(rng: np.random.Generator) -> Loss:
    """Return five bearings of five ships and a range, each with errors of its own."""
    loss = lost_boat(rng)
    for number in range(5):
        add_bearing(loss, f"SHIP {number}", _post(loss, rng), 12.0 + number,
                    SIGMA_DEG * rng.standard_normal())  # fmt: skip
    add_range(loss, rng)
    return loss


def sparse(rng: np.random.Generator) -> Loss:
    """Return no, one or two bearings."""
    loss = lost_boat(rng)
    for number in range(rng.integers(0, 3)):
        add_bearing(loss, f"SHIP {number}", _post(loss, rng), 12.0 + number,
                    SIGMA_DEG * rng.standard_normal())  # fmt: skip
    return loss


def shared(rng: np.random.Generator, each: int) -> Loss:
    """Return two ships with several bearings each; most of the error is the ship's own gyro's."""
    loss = lost_boat(rng)
    for ship in ("ONE", "TWO"):
        constant = CONSTANT_DEG * rng.standard_normal()
        post = _post(loss, rng)
        for number in range(each):
            moved = GEOD.fwd(post["longitude_deg"], post["latitude_deg"], 90.0, 300.0 * number)
            here = {"latitude_deg": float(moved[1]), "longitude_deg": float(moved[0])}
            own = np.sqrt(SIGMA_DEG**2 - CONSTANT_DEG**2) * rng.standard_normal()
            add_bearing(loss, ship, here, 12.0 + 0.3 * number, constant + own)
    return loss


def one_wrong(rng: np.random.Generator, by_deg: float) -> Loss:
    """Return five bearings of five ships, one wrong."""
    loss = lost_boat(rng)
    bad = int(rng.integers(0, 5))
    for number in range(5):
        error = SIGMA_DEG * rng.standard_normal()
        if number == bad:
            error = by_deg * rng.choice([-1.0, 1.0])
            loss.wrong.append(len(loss.facts))
        add_bearing(loss, f"SHIP {number}", _post(loss, rng), 12.0 + number, error)
    add_range(loss, rng)
    return loss


def two_conspire(rng: np.random.Generator) -> Loss:
    """Return five bearings of which two cross at one false place, 3 to 6 nmi off."""
    loss = lost_boat(rng)
    false_lon, false_lat, _ = GEOD.fwd(
        loss.longitude_deg, loss.latitude_deg, rng.uniform(0.0, 360.0),
        rng.uniform(3.0, 6.0) * M_PER_NMI,
    )  # fmt: skip
    bad = set(rng.choice(5, 2, replace=False).tolist())
    for number in range(5):
        post = _post(loss, rng)
        error = SIGMA_DEG * rng.standard_normal()
        if number in bad:
            error += _bearing_to(post, float(false_lat), float(false_lon)) - _bearing_to(
                post, loss.latitude_deg, loss.longitude_deg
            )
            loss.wrong.append(len(loss.facts))
        add_bearing(loss, f"SHIP {number}", post, 12.0 + number, error)
    return loss


def timed(rng: np.random.Generator) -> Loss:
    """Return tapping heard at a time, a last sign of life, and one bearing while under way."""
    loss = lost_boat(rng)
    post = _post(loss, rng, 2e3, 8e3)
    heard_h = min(loss.lost_h + rng.uniform(0.1, 3.0), 12.0)
    loss.facts.append(
        ("datum.heard", heard_h, post | {"observer": "EAR", "by": "hull tapping",
                                         "within_m": 9_000.0, "chance_wrong": 0.02})
    )  # fmt: skip
    well_h = max(loss.lost_h - rng.uniform(0.1, 3.0), 0.02)
    well = (START + timedelta(hours=well_h)).isoformat().replace("+00:00", "Z")
    loss.facts.append(
        ("datum.loss_time", well_h, {"what": "last signal", "observer": "CONSORT",
                                     "earliest": well, "chance_wrong": 0.02})
    )  # fmt: skip
    add_bearing(loss, "SHIP 0", _post(loss, rng), 13.0, SIGMA_DEG * rng.standard_normal())
    return loss


def known_of(loss: Loss) -> Known:
    """Return the loss as the journal would hold it."""
    records = []
    for number, (kind, hours, payload) in enumerate(loss.facts, start=1):
        at = START + timedelta(hours=hours)
        draft = Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="trial",
                      identity=form_identity(f"{kind}{number}"))  # fmt: skip
        records.append(as_record(draft, seq=number, recorded_at=at, author="a"))
    return Known(ListShelf(records), NAMED, len(records), START + timedelta(hours=SHOWN_H))


def estimate_of(known: Known, seed: int, particles: int = PARTICLES) -> tuple[Any, Estimated]:
    """Return plane and estimate, made the program's own way with fewer particles."""
    at = START + timedelta(hours=SHOWN_H)
    base = base_of(known, at)
    setting = setting_of(known, base, None, at)
    built = reports(known, base, setting, None, at)
    counts = counted(built)
    clouds = estimate(base.target, counts.terms, seed, particles, enough=480.0,
                      aims=aims(known, built, setting, at))  # fmt: skip
    return base.plane, estimated(base.target, built, counts, clouds, seed)


def held(loss: Loss, seed: int, *, accuse: bool = False, told: bool = False) -> Held:
    """Return in which regions the truth lay."""
    known = known_of(loss)
    plane, made = estimate_of(known, seed)
    x, y = plane.point(loss.latitude_deg, loss.longitude_deg)
    states, weight, grid = made.cloud.states, made.cloud.weight, made.answer.grid
    column, row = int((x - grid.x0_m) // grid.cell_m), int((y - grid.y0_m) // grid.cell_m)
    ny, nx = grid.held.shape
    here = grid.held[row, column] if 0 <= row < ny and 0 <= column < nx else -1.0
    centre, radius = smallest_circle(states.x_m, states.y_m, weight, grid)
    order = np.argsort(states.lost_s)
    edges = np.cumsum(weight[order])
    low, high = (
        states.lost_s[order][min(int(np.searchsorted(edges, p)), len(order) - 1)]
        for p in (0.05, 0.95)
    )
    right = wrong = 0
    if accuse:
        evidence, _ = judged(made)
        ids = {e.id: e.record.seq - 1 for e in known.entries("datum.bearing")}
        for item in evidence:
            if item.agreement == MISFIT and item.key in ids:
                if ids[item.key] in loss.wrong:
                    right += 1
                else:
                    wrong += 1
    return Held(
        regions=tuple(bool(here >= grid.level(part)) for part in PARTS),  # type: ignore[arg-type]  # the grid's own parts
        circle=bool(np.hypot(centre[0] - x, centre[1] - y) <= radius),
        lost=bool(low <= loss.lost_h * 3_600.0 <= high),
        area_nmi2=grid.area_m2(0.95) / M_PER_NMI**2,
        accused_right=right,
        accused_wrong=wrong,
        area_told_nmi2=told_area(loss, grid) if told else np.nan,
        area_doubting_nmi2=told_area(loss, grid, doubting=True) if told else np.nan,
    )


def doubted(off: Floats, sigma: float, wrong: float, span: float) -> Floats:
    """Return the density of a report that may be off by more than it states.

    As ``layers/datum/evidence/laws.py`` says it: a report not wrong is understated with half the
    chance of a wrong one, by a root of two or by two alike; a wrong one follows nine times in ten
    Cauchy's law of four times the stated error, else anything alike.
    """

    def normal(times: float) -> Floats:
        return np.asarray(norm.pdf(off, scale=times * sigma))

    understated = 0.5 * (normal(np.sqrt(2.0)) + normal(2.0))
    right = (1.0 - 0.5 * wrong) * normal(1.0) + 0.5 * wrong * understated
    near = 0.9 * cauchy.pdf(off, scale=4.0 * sigma) + 0.1 * 0.5 / span
    return np.asarray((1.0 - wrong) * right + wrong * near)


def told_area(
    loss: Loss, grid: Grid, across: int = 150, times: int = 24, *, doubting: bool = False
) -> float:
    """Return the 95 % area of an estimator that knows the covariance and who is wrong, nmi².

    Worked on a fine grid over the program's own region: the prior over the times of loss, times
    the joint normal law of the reports that are right; or, ``doubting``, times what each report
    says when nobody knows who is wrong (one report of each observer).
    """
    known = known_of(loss)
    base = base_of(known, START + timedelta(hours=SHOWN_H))
    ny, nx = grid.held.shape
    side = max(nx, ny) * grid.cell_m / across
    east = grid.x0_m + side * (np.arange(int(nx * grid.cell_m / side)) + 0.5)
    north = grid.y0_m + side * (np.arange(int(ny * grid.cell_m / side)) + 0.5)
    x, y = (values.ravel() for values in np.meshgrid(east, north))
    lat, lon = base.plane.unproject(x, y)
    by_ship: dict[str, list[Floats]] = {}
    moments = (np.arange(times) + 0.5) / times * base.prior.span_s
    prior = [base.prior.log_density(States(x, y, np.full(len(x), at))) for at in moments]
    log_weight = np.logaddexp.reduce(prior, axis=0)
    for number, (kind, _, payload) in enumerate(loss.facts):
        if kind not in ("datum.bearing", "datum.range") or (number in loss.wrong and not doubting):
            continue
        azimuth, _, metres = GEOD.inv(
            np.full(len(x), payload["longitude_deg"]), np.full(len(x), payload["latitude_deg"]),
            lon, lat,
        )  # fmt: skip
        wrong = payload.get("chance_wrong", WRONG)
        if kind == "datum.range":
            off, sigma = payload["slant_range_m"] - metres, payload["sigma_m"]
        else:
            off = (payload["bearing_deg"] - azimuth + 180.0) % 360.0 - 180.0
            sigma = SIGMA_DEG
        if doubting:
            span = 100_000.0 if kind == "datum.range" else 180.0
            log_weight += np.log(doubted(off, sigma, wrong, span))
        elif kind == "datum.range":
            log_weight += -0.5 * (off / sigma) ** 2
        else:
            by_ship.setdefault(loss.owners[number], []).append(off)
    for offs in by_ship.values():
        n = len(offs)
        if n == 1:
            log_weight += -0.5 * (offs[0] / SIGMA_DEG) ** 2
            continue
        cov = (SIGMA_DEG**2 - CONSTANT_DEG**2) * np.eye(n) + CONSTANT_DEG**2
        stack = np.stack(offs)
        log_weight += -0.5 * np.einsum("in,ij,jn->n", stack, np.linalg.inv(cov), stack)
    weight = np.sort(np.exp(log_weight - log_weight.max()))[::-1]
    held = np.searchsorted(np.cumsum(weight), 0.95 * weight.sum()) + 1
    return float(held * side**2 / M_PER_NMI**2)


ROWS: dict[str, Any] = {
    "honest, five bearings and a range": honest,
    "sparse, none to two bearings": sparse,
    "two ships, four bearings each, one gyro error a ship": lambda rng: shared(rng, 4),
    "two ships, eight bearings each, one gyro error a ship": lambda rng: shared(rng, 8),
    "one of five wrong by 5 degrees": lambda rng: one_wrong(rng, 5.0),
    "one of five wrong by 10 degrees": lambda rng: one_wrong(rng, 10.0),
    "one of five wrong by 25 degrees": lambda rng: one_wrong(rng, 25.0),
    "two of five cross at a false place": two_conspire,
    "heard on the bottom, a last sign of life": timed,
}


def row(name: str, losses: int, seed: int = 20_270_313, **asked: bool) -> list[Held]:
    """Return what the losses of one row showed; the seeds are fixed."""
    make = ROWS[name]
    found = []
    for number in range(losses):
        rng = np.random.default_rng([seed, number, sum(map(ord, name))])
        found.append(held(make(rng), seed + number, **asked))
    return found


def told(name: str, found: list[Held]) -> str:
    """Return a row in words, all its figures."""
    n = len(found)
    regions = [sum(h.regions[k] for h in found) for k in range(3)]
    parts = [f"{100.0 * count / n:.0f}" for count in regions]
    area = float(np.median([h.area_nmi2 for h in found]))
    ratio = np.median([h.area_nmi2 / h.area_told_nmi2 for h in found])
    own = np.median([h.area_nmi2 / h.area_doubting_nmi2 for h in found])
    return (
        f"{name}: {n} losses, 50/90/95 % hold {'/'.join(parts)}, circle "
        f"{100.0 * sum(h.circle for h in found) / n:.0f}, time of loss "
        f"{100.0 * sum(h.lost for h in found) / n:.0f} of 90, median 95 % area {area:.2f} nmi² "
        f"({ratio:.2f} times the told estimator's, {own:.2f} times that of one with the same "
        f"doubts), accused right "
        f"{sum(h.accused_right for h in found)} wrong {sum(h.accused_wrong for h in found)}"
    )
