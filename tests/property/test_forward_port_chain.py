"""Laws of the chain, whatever its shape."""

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from layers.forward_port.chain import chain, pert


@st.composite
def chains(draw):
    count = draw(st.integers(2, 12))
    links = []
    for number in range(count):
        after = draw(st.sets(st.integers(0, number - 1), max_size=3)) if number else set()
        hours = draw(st.floats(0, 50, allow_nan=False))
        links.append(
            chain.Link(
                key=f"a{number}",
                after=tuple(f"a{other}" for other in sorted(after)),
                duration_h=np.array([hours]),
                resource=draw(st.sampled_from(["", "", "crane"])),
            )
        )
    end = chain.Link(key="end", after=tuple(link.key for link in links), duration_h=np.zeros(1))
    return [*links, end]


def worked(links):
    net = chain.network(links)
    return net, chain.run(net, level=np.zeros(1, dtype=np.int64))


@given(chains())
@settings(max_examples=80, deadline=None)
def test_end_is_the_longest_path_of_networkx(links):
    net, done = worked(links)
    graph = nx.DiGraph()
    for number, link in enumerate(net.links):
        graph.add_node(link.key)
        for other in net.waits[number]:
            before = net.links[other]
            graph.add_edge(before.key, link.key, weight=float(before.duration_h[0]))
    longest = nx.dag_longest_path_length(graph)
    assert done.finish_h[net.place["end"], 0] == pytest.approx(longest, abs=1e-9)


@given(chains(), st.integers(0, 100), st.floats(0, 10))
@settings(max_examples=80, deadline=None)
def test_an_hour_less_never_brings_the_end_later_nor_more_than_an_hour_sooner(links, which, less):
    net, done = worked(links)
    end = net.place["end"]
    place = which % len(net.links)
    level = np.zeros(1, dtype=np.int64)
    sooner = chain.run(net, level=level, shorten=(place, less)).finish_h[end, 0]
    assert sooner <= done.finish_h[end, 0] + 1e-9
    assert sooner >= done.finish_h[end, 0] - less - 1e-9


@given(chains())
@settings(max_examples=80, deadline=None)
def test_nobody_uses_the_crane_at_the_same_time(links):
    net, done = worked(links)
    spans = sorted(
        (done.start_h[net.place[link.key], 0], done.finish_h[net.place[link.key], 0])
        for link in net.links
        if link.resource == "crane"
    )
    for (_, finish), (start, _) in pairwise(spans):
        assert start >= finish - 1e-9


@given(chains())
@settings(max_examples=80, deadline=None)
def test_what_is_critical_has_no_slack_and_the_other_way_round_starts_at_the_end(links):
    net, done = worked(links)
    end = net.place["end"]
    found, _ = chain.critical(done, end)
    _, slack = chain.latest_h(net, end, done)
    assert np.all(np.abs(slack[found[:, 0]]) < 1e-6)
    assert found[end, 0]


@given(
    st.tuples(st.floats(0, 10), st.floats(0, 10), st.floats(0, 10)).map(sorted),
    st.floats(0, 1),
    st.floats(0, 1),
)
@settings(max_examples=100, deadline=None)
def test_draws_stay_between_least_and_most_and_keep_their_order(three, u, v):
    low, high = sorted((u, v))
    drawn = pert.draw_h(*three, np.array([low, high]))
    assert three[0] - 1e-9 <= drawn[0] <= drawn[1] + 1e-9
    assert drawn[1] <= three[2] + 1e-9
