"""Saddles that join basins, beside the plain way: all saddles sorted, and taken if they join two sets."""

import numpy as np
import pytest

from screening.kernels import joins
from screening.kernels.fill import build_basin_graph
from tests.made_ground import bumps, suburb


def plain_joins(graph, rank):
    edges = []
    for basin in np.flatnonzero(graph.outlet_cell >= 0):
        edges.append((float(graph.outlet_elev[basin]), 0, int(rank[basin]), int(graph.outlet_cell[basin])))
    for a, b, h, c in zip(graph.basin_a, graph.basin_b, graph.saddle_elev, graph.saddle_cell, strict=True):
        edges.append((float(h), int(min(rank[a], rank[b])), int(max(rank[a], rank[b])), int(c)))
    set_of = {basin: {basin} for basin in range(rank.size)}
    taken = []
    for height, low, high, cell in sorted(edges):
        if set_of[low] is set_of[high]:
            continue
        taken.append((low, high, height, cell))
        joined = set_of[low] | set_of[high]
        set_of.update(dict.fromkeys(joined, joined))
    return taken


def joins_of(graph, rank, floor):
    found = joins.find_joins(rank, floor, graph, graph.outlet_elev, graph.outlet_cell)
    return list(zip(*(part.tolist() for part in found[:4]), strict=True)), found.goes_to


@pytest.mark.parametrize(
    "elev",
    [
        suburb(60, 45, 1),
        bumps(31, 44, 2),
        bumps(40, 70, 3, step_m=2.0, gap_share=0.03),  # hundreds of saddles of one height
        bumps(23, 17, 4, step_m=0.5) - np.float32(2),
    ],
)
def test_the_same_as_kruskal(elev):
    graph = build_basin_graph(elev, True)
    rng = np.random.default_rng(5)
    n = graph.outlet_elev.size
    rank = np.concatenate(([0], 1 + rng.permutation(n - 1))).astype(np.int32)
    found, _ = joins_of(graph, rank, np.full(n, -9.0, np.float32))
    assert found == plain_joins(graph, rank)
    assert len(found) == n - 1


def test_of_a_pair_listed_more_than_once_at_one_height_the_first_cell_counts():
    graph = build_basin_graph(bumps(31, 44, 2, step_m=0.5), True)
    rng = np.random.default_rng(3)
    order = rng.permutation(4 * graph.basin_a.size)
    listed = {name: np.tile(getattr(graph, name), 4)[order] for name in ("basin_a", "basin_b", "saddle_elev")}
    cells = np.concatenate([graph.saddle_cell + more for more in (20_000, 0, 50_000, 10_000)]).astype(np.int32)[order]
    rank = np.arange(graph.outlet_elev.size, dtype=np.int32)
    found, _ = joins_of(graph._replace(**listed, saddle_cell=cells), rank, np.full(rank.size, -9.0, np.float32))
    assert found == plain_joins(graph, rank)


def test_more_joins_of_one_height_than_are_sorted_by_counting():
    graph = build_basin_graph(bumps(40, 70, 3, step_m=2.0, gap_share=0.03), True)
    rank = np.arange(graph.outlet_elev.size, dtype=np.int32)
    _, n_of_height = np.unique([join[2] for join in plain_joins(graph, rank)], return_counts=True)
    assert n_of_height.max() > joins._SHORT


def test_where_level_basins_lead():
    # Basins 1 to 3 of a level step at 5 m above a pit at 3 m, basin 4, that drains over 6 m.
    saddles = np.array([[1, 2, 5.0], [2, 3, 5.0], [3, 4, 5.0]])
    graph = build_basin_graph(np.zeros((3, 3), np.float32), True)._replace(
        basin_a=saddles[:, 0].astype(np.int32),
        basin_b=saddles[:, 1].astype(np.int32),
        saddle_elev=saddles[:, 2].astype(np.float32),
        saddle_cell=np.array([10, 20, 30], np.int32),
        outlet_elev=np.array([np.inf, np.inf, np.inf, np.inf, 6.0], np.float32),
        outlet_cell=np.array([-1, -1, -1, -1, 40], np.int32),
    )
    floor = np.array([np.inf, 5, 5, 5, 3], np.float32)
    found, goes_to = joins_of(graph, np.arange(5, dtype=np.int32), floor)
    assert found == [(1, 2, 5.0, 10), (2, 3, 5.0, 20), (3, 4, 5.0, 30), (0, 4, 6.0, 40)]
    assert goes_to.tolist() == [-1, 2, 3, 4, -1]
