"""Cells where water is taken off the ground: exact against a flood from edge and sinks cell by cell."""

import heapq

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels.accumulate import accumulate
from screening.kernels.conduit_links import NO_PIPES, Pipes
from screening.kernels.d8 import directions_through, receivers
from screening.kernels.direction_codes import OUTLET
from screening.kernels.fill import build_basin_graph, fill_basins, with_pipes, with_sinks
from screening.kernels.order import downstream_order

SHAPE = (7, 11)


def flooded(elev, sinks):
    """Levels from which water can leave over the edge or at a sink: a flood from the lowest outlet up."""
    n_rows, n_cols = elev.shape
    level = np.full(elev.shape, np.inf, np.float32)
    edge = [(r, c) for r in range(n_rows) for c in range(n_cols) if r in (0, n_rows - 1) or c in (0, n_cols - 1)]
    heap = [(float(elev[place]), place) for place in [*edge, *(divmod(int(sink), n_cols) for sink in sinks)]]
    heapq.heapify(heap)
    while heap:
        height, (row, col) = heapq.heappop(heap)
        if height >= level[row, col]:
            continue
        level[row, col] = height
        for r in range(max(row - 1, 0), min(row + 2, n_rows)):
            for c in range(max(col - 1, 0), min(col + 2, n_cols)):
                heapq.heappush(heap, (max(height, float(elev[r, c])), (r, c)))
    return level


grounds = st.builds(
    lambda values: np.array(values, np.float32).reshape(SHAPE),
    st.lists(st.integers(0, 6), min_size=SHAPE[0] * SHAPE[1], max_size=SHAPE[0] * SHAPE[1]),
)
cells = st.lists(st.integers(0, SHAPE[0] * SHAPE[1] - 1), min_size=1, max_size=6)

ways = st.lists(st.tuples(st.integers(0, 76), st.integers(0, 76)), min_size=1, max_size=4)


@settings(max_examples=200, deadline=None)
@given(elev=grounds, sink=cells)
def test_the_fill_with_sinks_is_exact_and_all_ground_drains_once(elev, sink):
    sinks = np.array(sink, np.int64)
    filled = fill_basins(elev, with_sinks(build_basin_graph(elev, True), elev, sinks))
    assert np.array_equal(filled, flooded(elev, sinks))
    codes, links = directions_through(filled, True, NO_PIPES, sinks)
    receiver = receivers(codes, links)
    order = downstream_order(receiver, links)
    area = accumulate(receiver, order, np.ones(elev.size))
    ends = receiver == np.arange(elev.size)
    assert set(sinks.tolist()) <= set(np.flatnonzero(ends).tolist())
    assert area[ends].sum() == elev.size
    is_edge = np.ones(SHAPE, bool)
    is_edge[1:-1, 1:-1] = False
    # Water ends at the edge or in a sink, and nowhere else.
    assert (is_edge.ravel()[ends] | np.isin(np.flatnonzero(ends), sinks)).all()


@settings(max_examples=200, deadline=None)
@given(elev=grounds, sink=cells, ends=ways)
def test_sinks_and_pipes_together_make_no_cycle(elev, sink, ends):
    sinks = np.array(sink, np.int64)
    pairs = np.array([pair for pair in ends if pair[0] != pair[1]], np.int64).reshape(-1, 2)
    crest = np.maximum(elev.ravel()[pairs[:, 0]], elev.ravel()[pairs[:, 1]])
    pipes = Pipes(pairs[:, 0].copy(), pairs[:, 1].copy(), crest)
    graph = with_sinks(with_pipes(build_basin_graph(elev, True), pipes), elev, sinks)
    filled = fill_basins(elev, graph)
    codes, links = directions_through(filled, True, pipes, sinks)
    receiver = receivers(codes, links)
    order = downstream_order(receiver, links)
    assert order.size == elev.size
    area = accumulate(receiver, order, np.ones(elev.size))
    assert area[receiver == np.arange(elev.size)].sum() == elev.size
    assert (codes.ravel()[sinks] == OUTLET).all()
    assert not np.isin(links.cell, sinks).any()


def test_without_sinks_the_graph_is_the_same_one():
    elev = np.arange(77, dtype=np.float32).reshape(SHAPE)
    graph = build_basin_graph(elev, True)
    assert with_sinks(graph, elev, np.empty(0, np.int64)) is graph
    # A sink above the outlet that its basin has changes nothing of the levels.
    assert with_sinks(graph, elev, np.array([60])) is graph


def pit():
    """A pit of one basin within a bank, 0 m at its floor and 1 m beside it, and a hole in the data."""
    elev = np.full((5, 9), 6.0, np.float32)
    elev[1:4, 1:5] = 1.0
    elev[2, 2] = 0.0
    elev[2, 7] = np.nan
    return elev


def test_the_lowest_sink_of_a_basin_counts():
    elev, floor, beside = pit(), 2 * 9 + 2, 1 * 9 + 4
    for sinks in ([floor, beside], [beside, floor]):
        filled = fill_basins(elev, with_sinks(build_basin_graph(elev, True), elev, np.array(sinks, np.int64)))
        np.testing.assert_array_equal(filled, elev)
    filled = fill_basins(elev, with_sinks(build_basin_graph(elev, True), elev, np.array([beside], np.int64)))
    assert (filled[1:4, 1:5] == 1.0).all()


def test_a_pool_that_only_a_pipe_to_a_sink_drains_goes_there():
    """A pool below the sink stands at its level; the water that comes over goes to the sink, either way of the pipe."""
    elev = np.full((5, 9), 6.0, np.float32)
    elev[1:4, 1:4], elev[1:4, 5:8] = 1.0, 1.5
    pool, sink = 2 * 9 + 2, 2 * 9 + 6
    for ends in ((pool, sink), (sink, pool)):
        pipes = Pipes(*(np.array([end], np.int64) for end in ends), np.array([1.2], np.float32))
        sinks = np.array([sink], np.int64)
        graph = with_sinks(with_pipes(build_basin_graph(elev, True), pipes), elev, sinks)
        codes, links = directions_through(fill_basins(elev, graph), True, pipes, sinks)
        assert links.cell.tolist() == [pool] and links.target.tolist() == [sink]
        receiver = receivers(codes, links)
        area = accumulate(receiver, downstream_order(receiver, links), np.ones(elev.size))
        assert area[sink] == elev.size


def test_sinks_and_pipes_on_no_data_take_nothing():
    elev, floor, hole = pit(), 2 * 9 + 2, 2 * 9 + 7
    graph = build_basin_graph(elev, False)
    nothing = fill_basins(elev, graph)
    assert nothing[2, 2] == 6.0
    assert with_sinks(graph, elev, np.array([hole], np.int64)) is graph
    both = fill_basins(elev, with_sinks(graph, elev, np.array([hole, floor], np.int64)))
    np.testing.assert_array_equal(both, elev)
    for ends in ((floor, hole), (hole, floor)):
        pipes = Pipes(*(np.array([end], np.int64) for end in ends), np.array([0.5], np.float32))
        np.testing.assert_array_equal(fill_basins(elev, with_pipes(graph, pipes)), nothing)
