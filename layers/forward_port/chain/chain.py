"""The chain: activities that wait for each other, run forwards over all draws at once.

References
----------
Kelley & Walker (1959), Critical-path planning and scheduling, Proc. Eastern Joint Computer
Conference, 160-173 (from memory): earliest start is the latest finish of what is waited for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter

import numpy as np

from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.errors import InputError
from layers.forward_port.chain import resources
from layers.forward_port.chain.gates import Gate

_SAME_H = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One activity as the network needs it.

    Times are hours after the chain's zero; ``duration_h`` has shape (n_draws,).
    """

    key: str
    after: tuple[str, ...]
    duration_h: Floats
    resource: str = ""
    capacity: int = 1
    priority: int = 0
    not_before_h: float | None = None
    gate: Gate | None = None
    started_h: float | None = None
    finished_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """The links in an order in which each comes after what it waits for.

    ``waits`` lists, per link, the places of what it waits for, resources included.
    """

    links: tuple[Link, ...]
    waits: tuple[tuple[int, ...], ...]
    place: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainRun:
    """Starts and finishes, hours after zero, shape (n_links, n_draws).

    ``freed_h`` is when everything waited for was done; ``waited_h`` is how long a window was
    then waited for.
    """

    network: Network
    start_h: Floats
    finish_h: Floats
    freed_h: Floats
    waited_h: Floats


def network(links: Sequence[Link], where: str = "chain") -> Network:
    """Return the network of the links, with one user of a resource after the other.

    What has begun or is done waits for nothing any more: facts come in any order. Those that
    share a resource use it by `resources.order`, worked for the mean times.

    Raises
    ------
    InputError
        Two links of one key, a wait for one that is not there, or a cycle; it names the row.
    """
    _sorted(links, where)  # a circle in what was entered is told whatever has begun
    freed = [replace(link, after=()) if _begun(link) else link for link in links]
    ordered = _sorted(freed, where)
    place = {link.key: number for number, link in enumerate(ordered)}
    waits = tuple(tuple(place[key] for key in link.after) for link in ordered)
    free = Network(links=ordered, waits=waits, place=place)
    means = _at_the_mean(free)
    likely = run(means, level=np.zeros(1, dtype=np.int64), gated=False)
    end = int(np.argmax(likely.finish_h[:, 0])) if len(ordered) else 0
    latest, _ = latest_h(means, end, likely) if ordered else (np.zeros(0), np.zeros(0))
    capacity: dict[str, int] = {}
    for link in ordered:
        if link.resource:
            capacity[link.resource] = max(capacity.get(link.resource, 1), link.capacity)
    more = resources.order(
        {link.key: link.after for link in ordered},
        {link.key: float(link.duration_h.mean()) for link in ordered},
        {link.key: float(latest[number]) for number, link in enumerate(ordered)},
        {link.key: link.priority for link in ordered},
        {link.key: link.resource for link in ordered if link.resource},
        capacity,
        {link.key: link.not_before_h for link in ordered if link.not_before_h is not None},
        {
            link.key: (float(likely.start_h[number, 0]), float(likely.finish_h[number, 0]))
            for number, link in enumerate(ordered)
            if _begun(link)
        },
    )
    final = _sorted(
        [
            replace(link, after=tuple(dict.fromkeys((*link.after, *more.get(link.key, ())))))
            for link in ordered
        ],
        where,
    )
    place = {link.key: number for number, link in enumerate(final)}
    return Network(
        links=final,
        waits=tuple(tuple(place[key] for key in link.after) for link in final),
        place=place,
    )


def _begun(link: Link) -> bool:
    return link.started_h is not None or link.finished_h is not None


def run(
    net: Network,
    *,
    level: Ints,
    now_h: float | None = None,
    gated: bool = True,
    shorten: tuple[int, float] | None = None,
) -> ChainRun:
    """Return the earliest starts and finishes of every draw.

    Parameters
    ----------
    net : Network
        From :func:`network`.
    level : ndarray, shape (n_draws,)
        Which draw of the sea each draw meets, for the gates.
    now_h : float, optional
        What has not started cannot start before it, what runs cannot be done before it.
    gated : bool
        Whether windows are waited for.
    shorten : tuple of (int, float), optional
        Take so many hours off the duration of the link at this place.
    """
    count, draws = len(net.links), len(level)
    start, finish, freed, waited = (np.zeros((count, draws)) for _ in range(4))
    for number, link in enumerate(net.links):
        duration = link.duration_h
        if shorten is not None and shorten[0] == number:
            duration = np.maximum(duration - shorten[1], 0.0)
        free = freed[number]
        for other in net.waits[number]:
            np.maximum(free, finish[other], out=free)
        if link.started_h is not None:
            start[number] = link.started_h
        else:
            earliest = free.copy()
            if link.not_before_h is not None:
                if net.waits[number]:
                    np.maximum(earliest, link.not_before_h, out=earliest)
                else:  # may have begun before the chain's zero
                    earliest[:] = link.not_before_h
            if now_h is not None and link.finished_h is None:
                np.maximum(earliest, now_h, out=earliest)
            start[number] = earliest
            if gated and link.gate is not None and link.finished_h is None:
                start[number] = link.gate.wait(earliest, duration, level)
                waited[number] = start[number] - earliest
        if link.finished_h is not None:
            finish[number] = link.finished_h
            if link.started_h is None:
                start[number] = np.minimum(start[number], link.finished_h)
        else:
            finish[number] = start[number] + duration
            if now_h is not None:
                np.maximum(finish[number], now_h, out=finish[number])
    return ChainRun(network=net, start_h=start, finish_h=finish, freed_h=freed, waited_h=waited)


def critical(done: ChainRun, last: int) -> tuple[Bools, Bools]:
    """Return (is critical, waits critically for its window), shape (n_links, n_draws).

    A link is critical in a draw when its finish alone decides when the last one can be done:
    followed backwards from the last link to whatever was finished at the moment the next was
    free. What only waits for a window holds nothing up behind it.
    """
    net = done.network
    is_critical = np.zeros(done.start_h.shape, dtype=bool)
    is_critical[last] = True
    for number in range(len(net.links) - 1, -1, -1):
        link = net.links[number]
        if link.finished_h is not None or link.started_h is not None:
            continue
        held = is_critical[number] & (np.abs(done.start_h[number] - done.freed_h[number]) < _SAME_H)
        if not held.any():
            continue
        for other in net.waits[number]:
            decides = np.abs(done.finish_h[other] - done.freed_h[number]) < _SAME_H
            is_critical[other] |= held & decides
    return is_critical, is_critical & (done.waited_h > _SAME_H)


def latest_h(net: Network, last: int, done: ChainRun) -> tuple[Floats, Floats]:
    """Return (latest start, float) of every link in the first draw, windows not counted.

    The backward pass of the critical path method: latest finish is the earliest of the latest
    starts of what waits for it.
    """
    finish = np.full(len(net.links), np.inf)
    finish[last] = done.finish_h[last, 0]
    for number in range(len(net.links) - 1, -1, -1):
        span = done.finish_h[number, 0] - done.start_h[number, 0]
        for other in net.waits[number]:
            finish[other] = min(finish[other], finish[number] - span)
    span_all = done.finish_h[:, 0] - done.start_h[:, 0]
    latest = finish - span_all
    return latest, latest - done.start_h[:, 0]


def backwards(
    after: Mapping[str, tuple[str, ...]], kept: Sequence[str]
) -> dict[str, tuple[str, ...]]:
    """Return the waits of the chain run the other way, over the kept activities only.

    What was waited for now waits; a wait through an activity that is left out is kept.
    """
    keep = set(kept)

    def before(key: str, seen: set[str]) -> set[str]:
        found: set[str] = set()
        for other in after.get(key, ()):
            if other in seen:
                continue
            seen.add(other)
            found |= {other} if other in keep else before(other, seen)
        return found

    turned: dict[str, set[str]] = {key: set() for key in kept}
    for key in kept:
        for other in before(key, set()):
            turned[other].add(key)
    return {key: tuple(sorted(waits)) for key, waits in turned.items()}


def _sorted(links: Sequence[Link], where: str) -> tuple[Link, ...]:
    by_key: dict[str, Link] = {}
    for link in links:
        if link.key in by_key:
            raise InputError(f"activity {link.key!r} is there twice", where=where)
        by_key[link.key] = link
    for link in links:
        for other in link.after:
            if other not in by_key:
                raise InputError(
                    f"activity {link.key!r} waits for {other!r}, which is not in it",
                    where=where,
                    accepted=", ".join(sorted(by_key)),
                )
    try:
        order = tuple(TopologicalSorter({k: by_key[k].after for k in by_key}).static_order())
    except CycleError as failure:
        ring = " waits for ".join(repr(key) for key in reversed(failure.args[1]))
        raise InputError(
            f"the chain goes in a circle: {ring}", where=where, accepted="waits without a circle"
        ) from None
    return tuple(by_key[key] for key in order)


def _at_the_mean(net: Network) -> Network:
    links = tuple(
        replace(link, duration_h=np.array([float(link.duration_h.mean())])) for link in net.links
    )
    return Network(links=links, waits=net.waits, place=net.place)
