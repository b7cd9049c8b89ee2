"""Ten thousand draws of a chain of sixty activities, against networkx on the same draws."""

from __future__ import annotations

import time
from statistics import median

import networkx as nx
import numpy as np

from layers.forward_port.chain import chain, pert
from tests.benchmarks.figure import Figure

ACTIVITIES, DRAWS, SEED = 60, 10_000, 4


def links(seed: int = SEED) -> list[chain.Link]:
    """Return sixty activities that each wait for up to three, and an end that waits for all."""
    rng = np.random.default_rng(seed)
    made = []
    for number in range(ACTIVITIES):
        count = min(number, int(rng.integers(1, 4)))
        after = sorted(rng.choice(number, size=count, replace=False)) if number else []
        three = sorted(rng.uniform(0.5, 12.0, 3))
        made.append(
            chain.Link(
                key=f"a{number}",
                after=tuple(f"a{other}" for other in after),
                duration_h=pert.draw_h(*three, pert.uniforms(f"a{number}", SEED, DRAWS)),
            )
        )
    end = chain.Link(key="end", after=tuple(link.key for link in made), duration_h=np.zeros(DRAWS))
    return [*made, end]


def by_networkx(made: list[chain.Link], draws: int) -> list[float]:
    """Return the longest path of each draw; the graph is built once, its weights set anew."""
    durations = {link.key: link.duration_h for link in made}
    graph = nx.DiGraph()
    for link in made:
        for other in link.after:
            graph.add_edge(other, link.key)
    found = []
    for draw in range(draws):
        for other, _, data in graph.edges(data=True):
            data["weight"] = durations[other][draw]
        found.append(float(nx.dag_longest_path_length(graph)))
    return found


def figures(runs: int = 3, networkx_draws: int = DRAWS) -> list[Figure]:
    """Return how many times faster all draws are than networkx, equal to the second."""
    made = links()
    level = np.zeros(DRAWS, dtype=np.int64)
    net = chain.network(made)
    last = net.place["end"]
    ours = []
    for _ in range(max(runs, 3)):
        start = time.perf_counter()
        done = chain.run(chain.network(made), level=level)
        ours.append(time.perf_counter() - start)
    start = time.perf_counter()
    theirs = by_networkx(made, networkx_draws)
    taken = (time.perf_counter() - start) * DRAWS / networkx_draws
    off_s = np.abs(done.finish_h[last, :networkx_draws] - np.array(theirs)).max() * 3600
    if off_s >= 1.0:
        raise AssertionError(f"the two differ by {off_s} s")
    return [
        Figure(
            issue=4,
            name="10,000 draws of a chain of 60 activities",
            ratio=taken / median(ours),
            target=100.0,
            direction="at least",
            reference="networkx dag_longest_path_length on the same draws",
            unit="× faster",
            note=f"{1000 * median(ours):.0f} ms; largest difference {off_s:.2g} s",
        )
    ]
