"""Nodes that water runs over between: which could reach some leaves."""

import numpy as np
import pytest

from screening.kernels.spill_merge import nodes_above


def forest(seed, n_leaves=12, n_joins=6):
    """Leaves that join in pairs, trees whose water runs over into a leaf of another or leaves: (parent, spills_to)."""
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
        # Water runs over into trees of a lower rank only, so that it never runs in a circle.
        lower = [leaf for other in rank[:place] for leaf in leaves_of[other]]
        if lower and rng.random() < 0.7:
            spills_to[root] = rng.choice(lower)
    return parent, spills_to


def root_of(parent, node):
    while parent[node] != 0:
        node = parent[node]
    return node


def reaches(parent, spills_to, node, wanted):
    """Whether the water of a node, run over from tree to tree, comes by one of the wanted trees."""
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
