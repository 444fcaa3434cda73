"""Cells and volumes of the nodes of a hierarchy against counting them one by one."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels.fill import build_basin_graph
from screening.kernels.hierarchy import build_hierarchy
from screening.kernels.pools import level_pools, node_at_level, volume_below
from screening.kernels.tree_cells import cells_by_leaf, cells_by_zone
from screening.models import NestedZones
from tests.made_ground import bumps, suburb

CHAIN = np.array([[9, 9, 9, 9, 9, 9, 9, 9, 9], [9, 0, 3, 1, 5, 2, 6, 4, 8], [9, 9, 9, 9, 9, 9, 9, 9, 9]], np.float32)
"""Four pits in a row, each joining all before it, and the last overflowing at 8."""


def covered(elev):
    elev = np.ascontiguousarray(elev, np.float32)
    tree = build_hierarchy(elev, build_basin_graph(elev, True))
    cell, first, last = cells_by_leaf(elev, tree)
    return tree, cell, first, last, elev.ravel()[cell], tree.leaf.ravel()[cell]


def zones_of(elev, nodes):
    tree, cell, first, last, elev_of, leaf = covered(elev)
    place, innermost, zone_first, zone_last, around = cells_by_zone(
        leaf, elev_of, first, last, tree.parent, tree.spill_elev, nodes
    )
    return NestedZones(cells=cell[place], innermost=innermost, first=zone_first, last=zone_last, around=around), (
        tree,
        cell,
        first,
        last,
        elev_of,
    )


def cells_of(node, found):
    tree, cell, first, last, elev_of = found
    own = slice(first[node], last[node])
    return set(cell[own][elev_of[own] < tree.spill_elev[node]].tolist())


terrains = st.builds(
    lambda seed, is_flat: bumps(24, 30, seed, step_m=0.5 if is_flat else 0.0, gap_share=0.03),
    st.integers(0, 10**6),
    st.booleans(),
)


@settings(deadline=None, max_examples=60)
@given(terrains, st.randoms(use_true_random=False))
def test_cells_of_chosen_nodes_stand_together_each_once(elev, random):
    tree, *_ = covered(elev)
    all_nodes = range(1, tree.parent.size)
    # numbers of nodes fall from the outermost in: those around a zone come before it
    nodes = np.array(sorted(random.sample(all_nodes, len(all_nodes) // 2), reverse=True), np.int64)
    zones, found = zones_of(elev, nodes)
    wanted = [cells_of(node, found) for node in nodes.tolist()]
    assert len(set(zones.cells.tolist())) == zones.cells.size == len(set().union(*wanted))
    for zone, cells in enumerate(wanted):
        assert sorted(zones.cells_of(zone).tolist()) == sorted(cells)
    for cell, zone in zip(zones.cells.tolist(), zones.innermost.tolist(), strict=True):
        assert cell in wanted[zone]
        assert all(len(wanted[zone]) <= len(other) for other in wanted if cell in other)
    amount = np.arange(zones.cells.size, dtype=np.float64) % 7
    by_cell = dict(zip(zones.cells.tolist(), amount.tolist(), strict=True))
    assert zones.total(amount).tolist() == [sum(by_cell[cell] for cell in cells) for cells in wanted]
    assert zones.largest(amount.astype(np.float32)).tolist() == [
        max((by_cell[cell] for cell in cells), default=0) for cells in wanted
    ]


def test_a_chain_of_low_spots_lists_its_cells_once():
    tree, *_ = covered(CHAIN)
    nodes = np.arange(tree.parent.size - 1, 0, -1)
    zones, found = zones_of(CHAIN, nodes)
    assert zones.cells.size == 7  # all between the walls below the last sill
    assert sum(len(cells_of(node, found)) for node in nodes.tolist()) == 1 + 1 + 3 + 1 + 5 + 1 + 7
    assert sorted((zones.last - zones.first).tolist()) == [1, 1, 1, 1, 3, 5, 7]
    assert zones.outermost.tolist() == [0] * 7
    assert sorted(zones.around.tolist())[0] == -1
    outer = {int(node): int(tree.parent[node]) for node in nodes}
    around = {int(node): int(nodes[row]) if row >= 0 else 0 for node, row in zip(nodes, zones.around, strict=True)}
    assert around == outer


@pytest.mark.parametrize("node", range(1, 8))
def test_a_node_alone_covers_what_lies_below_its_own_level(node):
    zones, found = zones_of(CHAIN, np.array([node], np.int64))
    assert set(zones.cells.tolist()) == cells_of(node, found)
    assert (zones.first.tolist(), zones.last.tolist(), zones.around.tolist()) == ([0], [zones.cells.size], [-1])


def test_cells_of_one_height_stand_by_place_and_the_least_difference_counts():
    # 0 and -0 are one height; 1e-8 lies above 0, though not in a float32 beside 1.
    elev = np.full((3, 9), 5.0, np.float32)
    elev[1, 1:8] = [2e-8, 0.0, -0.0, 0.0, -0.0, 1e-8, 3e-8]
    _, cells, *_ = covered(elev)
    assert cells.tolist() == [11, 12, 13, 14, 15, 10, 16]


def test_no_zone_has_no_cells():
    zones, _ = zones_of(CHAIN, np.empty(0, np.int64))
    assert zones.cells.size == zones.outermost.size == 0
    assert zones.total(np.empty(0)).size == zones.largest(np.empty(0, np.float32)).size == 0


@settings(deadline=None, max_examples=60)
@given(terrains, st.integers(0, 10**6))
def test_volume_below_a_level_is_that_of_its_cells(elev, seed):
    tree, _, first, last, elev_of, _ = covered(elev)
    nodes = np.arange(1, tree.parent.size)
    lowest = tree.spill_elev[1:].astype(np.float64) - tree.depth_max[1:]
    level = lowest + np.random.default_rng(seed).uniform(-0.1, 1.0, nodes.size) * tree.depth_max[1:]
    found = volume_below(elev_of, first, last, tree.n_leaves, nodes, level)
    wanted = [
        np.maximum(top - elev_of[first[node] : last[node]].astype(np.float64), 0.0).sum()
        for node, top in zip(nodes.tolist(), level.tolist(), strict=True)
    ]
    np.testing.assert_allclose(found, wanted, rtol=1e-12, atol=1e-12)


def test_volume_below_levels_by_hand():
    tree, _, first, last, elev_of, _ = covered(CHAIN)
    outermost = np.flatnonzero(tree.parent == 0)[1:]
    assert outermost.size == 1
    for level, volume in ((0.0, 0.0), (1.0, 1.0), (4.0, 4 + 1 + 3 + 2), (8.0, 8 + 5 + 7 + 3 + 6 + 2 + 4)):
        found = volume_below(elev_of, first, last, tree.n_leaves, outermost, np.array([level]))
        assert found.tolist() == [volume]


@pytest.mark.parametrize("part", [np.s_[:], np.s_[:1]])
def test_volume_at_the_spill_elevation_is_what_the_node_holds(part):
    tree, _, first, last, elev_of, _ = covered(suburb(80, 90, 4))
    nodes = np.arange(1, tree.parent.size)[part]
    found = volume_below(elev_of, first, last, tree.n_leaves, nodes, tree.spill_elev[nodes].astype(np.float64))
    np.testing.assert_allclose(found, tree.volume[nodes], rtol=1e-9)


@settings(deadline=None, max_examples=60)
@given(terrains, st.integers(0, 10**6))
def test_the_level_of_a_pool_holds_its_volume(elev, seed):
    tree, _, first, last, elev_of, _ = covered(elev)
    pools = np.flatnonzero(tree.parent == 0)[1:]
    rng = np.random.default_rng(seed)
    is_full = rng.random(pools.size) < 0.2
    volume = np.where(is_full, tree.volume[pools], tree.volume[pools] * rng.uniform(0.0, 1.0, pools.size))
    level, depth = level_pools(elev_of, first, last, tree.spill_elev, pools, volume, is_full)
    assert (level[is_full] == tree.spill_elev[pools][is_full]).all()
    wanted = np.zeros(elev_of.size)
    for node, height, held in zip(pools.tolist(), level.tolist(), volume.tolist(), strict=True):
        own = slice(first[node], last[node])
        wanted[own] = np.maximum(height - elev_of[own].astype(np.float64), 0.0)
        assert wanted[own].sum() == pytest.approx(held, rel=1e-9, abs=1e-9)
    np.testing.assert_allclose(depth, wanted, rtol=1e-6, atol=1e-7)
    assert ((depth > 0) == (wanted > 0)).all()


def test_the_innermost_node_that_holds_water_up_to_a_level():
    tree, cell, *_, leaf = covered(CHAIN)
    of_pit = {int(place): int(number) for place, number in zip(cell, leaf, strict=True)}
    first_pit = of_pit[10]  # its water overflows at 3, then with more and more others at 5, 6 and 8
    levels = np.array([0.5, 3.0, 3.5, 5.0, 5.5, 6.0, 7.0, 8.0, 8.5])
    found = node_at_level(np.full(levels.size, first_pit), levels, tree.parent, tree.spill_elev)
    spill = [float(tree.spill_elev[node]) if node else 0.0 for node in found.tolist()]
    assert spill == [3.0, 3.0, 5.0, 5.0, 6.0, 6.0, 8.0, 8.0, 0.0]
    assert found[:2].tolist() == [first_pit] * 2
    nowhere = node_at_level(np.array([0, -1]), np.array([1.0, 1.0]), tree.parent, tree.spill_elev)
    assert nowhere.tolist() == [0, 0]
