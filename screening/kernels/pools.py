"""Pools of water in the nodes of a depression hierarchy: levels for volumes, and volumes for levels, exactly."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, Mask, compiled, striped


def level_pools(
    elev_of: F32, first: I64, last: I64, spill_elev: F32, pools: I64, volume: F64, is_full: Mask
) -> tuple[F64, F32]:
    """Find the level of each pool exactly, and the depth of the water over each cell.

    The volume below a level is convex and made of straight pieces, so Newton's steps from the spill elevation down
    end on the exact level after a few.

    Parameters
    ----------
    elev_of : (n_cells,) float32 [m]
        Of the covered cells, in the order of `DepressionHierarchy.cell`.
    first, last : (n_nodes + 1,) int64
        Cells of node `i` are `[first[i]:last[i]]` of them.
    spill_elev : (n_nodes + 1,) float32 [m]
    pools : (k,) int64
        Nodes, no two of them nested.
    volume : (k,) float64
        Water in each [cell m].
    is_full : (k,) bool

    Returns
    -------
    level : (k,) float64 [m]
    depth : (n_cells,) float32 [m]
    """
    level = np.empty(pools.size)
    depth = np.zeros(elev_of.size, np.float32)
    _level(
        elev_of=elev_of,
        first=first,
        last=last,
        spill_elev=spill_elev,
        pools=pools,
        volume=volume,
        is_full=is_full,
        level=level,
        depth=depth,
    )
    return level, depth


def volume_below(elev_of: F32, first: I64, last: I64, n_leaves: int, nodes: I64, level: F64) -> F64:
    """Volume between the ground of nodes and a level in each.

    The cells of a leaf ascend, so that a search in each of a node's leaves tells which lie below: a node of a million
    cells has far fewer leaves.

    Parameters
    ----------
    elev_of : (n_cells,) float32 [m]
        As for `level_pools`, ascending within each leaf; so `first`, `last`.
    n_leaves : int
        Nodes 1 to so many are leaves.
    nodes : (k,) int64
    level : (k,) float64 [m]

    Returns
    -------
    (k,) float64 [cell m]
    """
    leaf = 1 + np.argsort(first[1 : n_leaves + 1], kind="stable")
    leaf = leaf[last[leaf] > first[leaf]]
    above_lowest, volume = np.empty(elev_of.size), np.zeros(nodes.size)
    _sum_within(elev_of, first[leaf], last[leaf], above_lowest)
    first_leaf = np.searchsorted(first[leaf], first[nodes])
    end_leaf = np.searchsorted(first[leaf], last[nodes])
    _volume_below(
        elev_of=elev_of,
        first=first[leaf],
        last=last[leaf],
        above_lowest=above_lowest,
        first_leaf=first_leaf,
        end_leaf=end_leaf,
        level=level,
        volume=volume,
    )
    return volume


def node_at_level(leaf: I64, level: F64, parent: I32, spill_elev: F32) -> I64:
    """Find the innermost node over a leaf that holds water up to a level.

    Parameters
    ----------
    leaf : (k,) int64
    level : (k,) float64 [m]
    parent : (n_nodes + 1,) int32
    spill_elev : (n_nodes + 1,) float32 [m]

    Returns
    -------
    (k,) int64
        Node, 0 where none does.
    """
    node = np.zeros(leaf.size, np.int64)
    _climb_to_level(leaf, level, parent, spill_elev, node)
    return node


@compiled
def _climb_to_level(leaf: I64, level: F64, parent: I32, spill_elev: F32, found: I64) -> None:
    # Each element by itself.
    for i in range(leaf.size):
        node = leaf[i]
        # No node from the leaf up to the one before this holds water up to the level.
        while node > 0 and np.float64(spill_elev[node]) < level[i]:
            node = np.int64(parent[node])
        # The ocean's parent is no node, and -1 is no data: both give 0.
        found[i] = max(node, 0)


@striped
def _sum_within(elev_of: F32, first: I64, last: I64, above_lowest: F64) -> None:
    """Sum up to each cell how far the cells of its leaf lie above the lowest of them."""
    # Leaves are independent: each has its own stretch of cells.
    for leaf in prange(first.size):
        total = 0.0
        # Above the lowest cell, not the datum: small sums keep their digits.
        for place in range(first[leaf], last[leaf]):
            total += np.float64(elev_of[place]) - np.float64(elev_of[first[leaf]])
            above_lowest[place] = total


@striped
def _volume_below(
    elev_of: F32, first: I64, last: I64, above_lowest: F64, first_leaf: I64, end_leaf: I64, level: F64, volume: F64
) -> None:
    # Nodes are independent.
    for i in prange(level.size):
        total = 0.0
        # `total` has the leaves of the node before this one, which stand side by side.
        for leaf in range(first_leaf[i], end_leaf[i]):
            start = first[leaf]
            low, high = start, last[leaf]
            # Cells before `low` lie below the level, those from `high` on do not.
            while low < high:
                middle = (low + high) // 2
                if np.float64(elev_of[middle]) < level[i]:
                    low = middle + 1
                else:
                    high = middle
            # Number of cells times the depth at the lowest, less what the others rise above it.
            if low > start:
                total += (low - start) * (level[i] - np.float64(elev_of[start])) - above_lowest[low - 1]
        volume[i] = total


@striped
def _level(
    elev_of: F32, first: I64, last: I64, spill_elev: F32, pools: I64, volume: F64, is_full: Mask, level: F64, depth: F32
) -> None:
    # Pools are independent: no two are nested, so each has its own cells.
    for i in prange(pools.size):
        node = pools[i]
        height = np.float64(spill_elev[node])
        if not is_full[i]:
            n_wet = -1
            # `height` is the level or above it: the volume is convex, so a step down along its slope never goes too
            # far.
            while True:
                total = 0.0
                n_below = 0
                # `total` and `n_below` are of the cells before this one: volume below `height`, and its slope.
                for place in range(first[node], last[node]):
                    if elev_of[place] < height:
                        total += height - np.float64(elev_of[place])
                        n_below += 1
                # the same cells as before: the step that led here was the last
                if n_below == n_wet or n_below == 0:
                    break
                n_wet = n_below
                height -= (total - volume[i]) / n_below
        level[i] = height
        # What stands dry keeps its 0.
        for place in range(first[node], last[node]):
            if elev_of[place] < height:
                depth[place] = height - np.float64(elev_of[place])
