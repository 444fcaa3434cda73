"""Nodes that water overflows between: which could reach some leaves."""

import numpy as np
import pytest

from screening.kernels.spill_merge import own_water_by_rain, pool_of_nodes, pour
from screening.kernels.spill_tree import build_spill_tree, nodes_above, sum_over_parts


def forest(seed, n_leaves=12, n_joins=6):
    """Leaves that join in pairs, trees whose water overflows into a leaf of another or leaves: (parent, spills_to)."""
    rng = np.random.default_rng(seed)
    parent = np.zeros(1 + n_leaves + n_joins, np.int32)
    roots = list(range(1, n_leaves + 1))
    for node in range(n_leaves + 1, parent.size):
        for child in rng.choice(len(roots), 2, replace=False).tolist():
            parent[roots[child]] = node
        roots = [root for root in range(1, node + 1) if parent[root] == 0]
    spills_to = np.zeros(parent.size, np.int32)
    leaves_of = {root: [leaf for leaf in range(1, n_leaves + 1) if root_of(parent, leaf) == root] for root in roots}
    rank = rng.permutation(roots).tolist()
    for place, root in enumerate(rank):
        # Water overflows into trees of a lower rank only, so that it never runs in a circle.
        lower = [leaf for other in rank[:place] for leaf in leaves_of[other]]
        if lower and rng.random() < 0.7:
            spills_to[root] = rng.choice(lower)
    return parent, spills_to


def root_of(parent, node):
    while parent[node] != 0:
        node = parent[node]
    return node


def reaches(parent, spills_to, node, wanted):
    """Whether the water of a node, overflow from tree to tree, comes by one of the wanted trees."""
    root = root_of(parent, node)
    while root != 0:
        if root in wanted:
            return True
        root = root_of(parent, spills_to[root]) if spills_to[root] else 0
    return False


@pytest.mark.parametrize("seed", range(40))
def test_nodes_above_are_those_whose_water_comes_by(seed):
    parent, spills_to = forest(seed)
    rng = np.random.default_rng(seed)
    for n_asked in (0, 1, 3):
        leaves = rng.choice(np.arange(1, 13), n_asked, replace=False).astype(np.int64)
        wanted = {root_of(parent, leaf) for leaf in leaves.tolist()}
        expected = [node > 0 and reaches(parent, spills_to, node, wanted) for node in range(parent.size)]
        assert nodes_above(parent, spills_to, leaves).tolist() == expected


def test_the_way_out_is_above_nothing():
    parent, spills_to = np.zeros(3, np.int32), np.array([0, 0, 1], np.int32)
    assert nodes_above(parent, spills_to, np.array([0], np.int64)).tolist() == [False] * 3
    assert nodes_above(parent, spills_to, np.array([2], np.int64)).tolist() == [False, False, True]
    assert nodes_above(parent, spills_to, np.array([1], np.int64)).tolist() == [False, True, True]


def test_all_of_a_chain_is_above_its_end():
    # Leaves 1 and 2 join in 5, which overflows into leaf 4; leaf 3 overflows into leaf 1.
    parent, spills_to = np.array([0, 5, 5, 0, 0, 0], np.int32), np.array([0, 0, 0, 1, 0, 4], np.int32)
    assert nodes_above(parent, spills_to, np.array([4], np.int64)).tolist() == [False] + [True] * 5
    assert nodes_above(parent, spills_to, np.array([2], np.int64)).tolist() == [False, True, True, True, False, True]
    assert nodes_above(parent, spills_to, np.array([3], np.int64)).tolist() == [False] * 3 + [True] + [False] * 2


def tree_of(parent, spills_to, capacity):
    child_a, child_b = np.full((2, parent.size), -1, np.int32)
    for node in range(1, parent.size):
        around = parent[node]
        if around:
            (child_a if child_a[around] < 0 else child_b)[around] = node
    return build_spill_tree(parent, child_a, child_b, spills_to, capacity)


@pytest.mark.parametrize("seed", range(40))
def test_trees_stand_before_those_they_run_over_into(seed):
    parent, spills_to = forest(seed)
    tree = tree_of(parent, spills_to, np.arange(parent.size, dtype=float))
    place = np.zeros(parent.size, int)
    place[tree.nodes] = np.arange(1, parent.size)
    assert sorted(tree.nodes.tolist()) == list(range(1, parent.size))
    roots = [root_of(parent, node) for node in tree.nodes.tolist()]
    assert [node for node in tree.nodes.tolist() if node <= 12] == tree.leaves.tolist()
    for root in set(roots):
        own = [node for node in tree.nodes.tolist() if root_of(parent, node) == root]
        assert own == sorted(own)
        start = roots.index(root)
        assert roots[start : start + len(own)] == [root] * len(own)
        if spills_to[root]:
            assert place[root] < place[root_of(parent, spills_to[root])]


def test_a_node_has_the_room_that_its_parts_have_not():
    # Leaves 1 and 2 join in 5, this and leaf 3 in 6; leaf 4 stands alone.
    parent = np.array([0, 5, 5, 6, 0, 6, 0], np.int32)
    tree = tree_of(parent, np.zeros(7, np.int32), np.array([9.0, 0.25, 2.0, 0.5, 0.125, 4.0, 8.0]))
    assert tree.own_capacity.tolist() == [0.0, 0.25, 2.0, 0.5, 0.125, 4.0 - 2.25, 8.0 - 4.5]
    assert tree.sibling.tolist() == [0, 2, 1, 5, 0, 3, 0]
    area = np.array([[0.0, 0], [1, 10], [2, 20], [4, 40], [8, 80], [16, 160]])
    assert sum_over_parts(*children(parent), area).tolist() == [
        [0, 0],
        [1, 10],
        [2, 20],
        [4, 40],
        [8, 80],
        [19, 190],
        [23, 230],
    ]


def children(parent):
    pairs = {around: np.flatnonzero(parent == around).tolist() for around in set(parent.tolist()) - {0}}
    both = [pairs.get(node, [-1, -1]) for node in range(parent.size)]
    return tuple(np.array(both, np.int32).T)


def test_pools_of_nodes():
    # Leaves 1 and 2 join in 5, this and leaf 3 in 6; leaf 4 stands alone.
    parent = np.array([0, 5, 5, 6, 0, 6, 0], np.int32)
    spills_to = np.array([0, 2, 1, 1, 0, 3, 0], np.int32)
    tree = tree_of(parent, spills_to, np.array([0.0, 1.0, 1.0, 1.0, 1.0, 3.0, 9.0]))
    # By leaf: what is poured; by node: what stands over it, and what overflows.
    for water, pool, over in (
        ([0, 0.5, 0, 0, 0], [0, 1, 0, 0, 0, 0, 0], [0] * 7),
        ([0, 1.0, 0.5, 0, 0], [0, 1, 2, 0, 0, 0, 0], [0] * 7),
        ([0, 2.0, 0.5, 0, 0.25], [0, 5, 5, 0, 4, 5, 0], [0] * 7),
        ([0, 2.0, 2.5, 0.5, 1.25], [0, 6, 6, 6, 4, 6, 6], [0.25, 0, 0, 0, 0.25, 0, 0]),
        ([0, 2.0, 2.5, 0.25, 9], [0, 6, 6, 6, 4, 6, 6], [8, 0, 0, 0, 8, 0, 0]),
        ([0, 0, 0, 1.0, 1.0], [0, 0, 0, 3, 4, 0, 0], [0] * 7),
        ([2, 0, 0, 10.0, 0], [0, 6, 6, 6, 0, 6, 6], [3, 0, 0, 0, 0, 0, 1]),
    ):
        poured = pour(tree, np.array(water, float))
        assert pool_of_nodes(parent, poured).tolist() == pool, water
        assert poured.overflow.tolist() == over, water
        assert poured.own.sum() + poured.overflow[0] == pytest.approx(sum(water))


def grown(seed):
    """A forest with rooms, whose nodes overflow into a leaf of the node beside them: (tree, area by leaf, nodes)."""
    parent, spills_to = forest(seed)
    rng = np.random.default_rng(seed)
    room = rng.uniform(0.1, 1.0, parent.size) * (rng.random(parent.size) < 0.8)
    for node in range(1, parent.size):
        if parent[node]:
            room[parent[node]] += room[node]
            beside = next(other for other in np.flatnonzero(parent == parent[node]).tolist() if other != node)
            spills_to[node] = rng.choice([leaf for leaf in range(1, 13) if is_under(parent, leaf, beside)])
    area = rng.uniform(0.0, 1.0, (13, 2))
    area[0] = 0.0
    return tree_of(parent, spills_to, room), area


def is_under(parent, node, around):
    while node not in (0, around):
        node = parent[node]
    return node == around


@pytest.mark.parametrize("seed", range(40))
def test_many_rains_at_once_are_those_rains_one_by_one(seed):
    tree, area = grown(seed)
    rains = np.sort(np.random.default_rng(seed).uniform(0.0, 2.0, (7, 2)), axis=0)
    rains[3] = rains[2]  # a rain twice adds nothing
    nodes = np.arange(1, tree.parent.size)
    found = own_water_by_rain(tree, area, rains, nodes)
    for rain, water in zip(rains, found, strict=True):
        poured = pour(tree, area @ rain)
        np.testing.assert_allclose(water, poured.own[nodes], atol=1e-12)
        assert poured.own.sum() + poured.overflow[0] == pytest.approx((area @ rain).sum())
