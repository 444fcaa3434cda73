"""Fill, spill, merge: water poured into the low spots of a hierarchy, and the levels at which it stands.

A node holds what its parts hold and, once they are full, water of its own above them. Water that reaches a full node
goes on to its sibling while that is not full, and then to the node that both join to; out of an outermost node it
goes to the leaf that node spills to. Where it ends does not depend on the order in which it is poured.
"""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, Mask, compiled, striped

PARTS = 4
"""Parts that many rains are poured in, whatever the threads, so that sums never depend on them."""


class SpillTree(NamedTuple):
    """The hierarchy as water meets it. Elements 1..n are nodes; element 0 is where water leaves."""

    parent: I32
    """Node that this one joins to, 0 for an outermost one."""
    sibling: I32
    """The other node that joins to the same parent, 0 for an outermost one."""
    spills_to: I32
    """Leaf beyond the spill cell, 0 = water leaves."""
    own_capacity: F64
    """What the node holds above its full parts [m3]."""
    leaves: I32
    """All leaves, those of an outermost node together, before those that it spills to."""


class Pools(NamedTuple):
    """Water in a spill tree. Elements 1..n are nodes, (n + 1,) each."""

    own: F64
    """Water above the full parts of each node [m3]."""
    overflow: F64
    """What runs over out of each outermost node [m3]; element 0 is what leaves by way of low spots or none."""
    is_full: Mask


def build_spill_tree(parent: I32, child_a: I32, child_b: I32, spills_to: I32, capacity: F64) -> SpillTree:
    """Prepare a hierarchy for pouring.

    Parameters
    ----------
    parent, child_a, child_b, spills_to : (n_nodes + 1,) int32
        As in `HierarchyArrays`.
    capacity : (n_nodes + 1,) float64
        What each node holds when full, its parts included [m3].

    Returns
    -------
    SpillTree
    """
    own = capacity.copy()
    is_inner = child_a >= 0
    own[is_inner] -= capacity[child_a[is_inner]] + capacity[child_b[is_inner]]
    own[0] = 0.0
    sibling = np.zeros(parent.size, np.int32)
    sibling[child_a[is_inner]] = child_b[is_inner]
    sibling[child_b[is_inner]] = child_a[is_inner]
    n_leaves = int(np.count_nonzero(~is_inner)) - 1
    leaves = np.empty(n_leaves, np.int32)
    _order_leaves(parent, spills_to, leaves)
    return SpillTree(parent, sibling, spills_to, np.maximum(own, 0.0), leaves)


def nodes_above(parent: I32, spills_to: I32, leaves: I64) -> Mask:
    """Find the outermost nodes over some leaves, and all that could run over into them.

    Parameters
    ----------
    parent, spills_to : (n_nodes + 1,) int32
    leaves : (k,) int64

    Returns
    -------
    (n_nodes + 1,) bool
        Element 0 is False; of a chosen outermost node its parts are chosen too.
    """
    top = np.empty(parent.size, np.int32)
    _find_tops(parent, top)
    is_above = np.zeros(parent.size, np.bool_)
    is_above[top[leaves]] = True
    is_above[0] = False
    into = top[np.maximum(spills_to, 0)]
    while True:
        wider = is_above | (is_above[into] & (parent == 0))
        wider[0] = False
        if (wider == is_above).all():
            chosen: Mask = is_above[top]
            return chosen
        is_above = wider


def pour(tree: SpillTree, inflow: F64) -> Pools:
    """Pour water into the leaves, and let it run over and join.

    Parameters
    ----------
    tree : SpillTree
    inflow : (n_leaves + 1,) float64
        Water by leaf [m3]; element 0 leaves at once.

    Returns
    -------
    Pools
        Inflow = own + what left, to rounding.

    References
    ----------
    Barnes, Callaghan & Wickert 2021, doi 10.5194/esurf-9-105-2021.
    """
    n = tree.parent.size
    own, overflow, is_full = np.zeros(n), np.zeros(n), np.zeros(n, np.bool_)
    onward = np.empty(n, np.int32)
    _pour(tree.parent, tree.sibling, tree.spills_to, tree.own_capacity, tree.leaves, inflow.copy(),
          own, overflow, is_full, onward)  # fmt: skip
    return Pools(own, overflow, is_full)


def own_water_by_rain(tree: SpillTree, area: F64, runoff_m: F64, nodes: I64) -> F64:
    """Pour many rains, each onto dry ground, and note the water of some nodes.

    Parameters
    ----------
    tree : SpillTree
    area : (n_leaves + 1, n_classes) float64
        Ground that drains into each leaf, by class of runoff [m2].
    runoff_m : (n_rains, n_classes) float64
        Runoff depth of each class in each rain [m], from the smallest rain up.
    nodes : (k,) int64

    Returns
    -------
    (n_rains, k) float64
        Water above the full parts of each of the nodes [m3].
    """
    noted = np.zeros((runoff_m.shape[0], nodes.size))
    _pour_rains(area, tree.parent, tree.sibling, tree.spills_to, tree.own_capacity, tree.leaves, runoff_m, nodes, noted)
    return noted


def pool_of_nodes(parent: I32, pools: Pools) -> I32:
    """Find the pool that covers each node.

    Returns
    -------
    (n_nodes + 1,) int32
        The outermost node whose water stands over this one, 0 where it is dry.
    """
    pool = np.zeros(parent.size, np.int32)
    _find_pools(parent, pools.own, pools.is_full, pool)
    return pool


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
    _level(elev_of, first, last, spill_elev, pools, volume, is_full, level, depth)
    return level, depth


def sum_over_parts(child_a: I32, child_b: I32, own: F64) -> F64:
    """Add up what belongs to nodes over each node and its parts.

    Parameters
    ----------
    child_a, child_b : (n_nodes + 1,) int32
    own : (n, k) float64
        Of the first `n` nodes, element 0 with them; the others have nothing of their own.

    Returns
    -------
    (n_nodes + 1, k) float64
    """
    total = np.zeros((child_a.size, own.shape[1]))
    total[: own.shape[0]] = own
    _sum_parts(child_a, child_b, total)
    return total


def volume_below(elev_of: F32, first: I64, last: I64, nodes: I64, level: F64) -> F64:
    """Volume between the ground of nodes and a level in each.

    Parameters
    ----------
    elev_of : (n_cells,) float32 [m]
        As for `level_pools`; so `first`, `last`.
    nodes : (k,) int64
    level : (k,) float64 [m]

    Returns
    -------
    (k,) float64 [cell m]
    """
    volume = np.zeros(nodes.size)
    _volume_below(elev_of, first, last, nodes, level, volume)
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
def _sum_parts(child_a: I32, child_b: I32, total: F64) -> None:
    for node in range(1, child_a.size):
        if child_a[node] >= 0:
            for i in range(total.shape[1]):
                total[node, i] += total[child_a[node], i] + total[child_b[node], i]


@compiled
def _climb_to_level(leaf: I64, level: F64, parent: I32, spill_elev: F32, found: I64) -> None:
    for i in range(leaf.size):
        node = leaf[i]
        while node > 0 and np.float64(spill_elev[node]) < level[i]:
            node = np.int64(parent[node])
        found[i] = max(node, 0)


@striped
def _volume_below(elev_of: F32, first: I64, last: I64, nodes: I64, level: F64, volume: F64) -> None:
    for i in prange(nodes.size):
        total = 0.0
        for place in range(first[nodes[i]], last[nodes[i]]):
            if elev_of[place] < level[i]:
                total += level[i] - np.float64(elev_of[place])
        volume[i] = total


@compiled
def _find_tops(parent: I32, top: I32) -> None:
    """Outermost node over each."""
    top[0] = 0
    for node in range(parent.size - 1, 0, -1):
        top[node] = node if parent[node] == 0 else top[parent[node]]


@compiled
def _order_leaves(parent: I32, spills_to: I32, leaves: I32) -> None:
    """Outermost nodes before those they spill to, then the leaves of each together, by number."""
    n = parent.size
    top = np.empty(n, np.int32)
    _find_tops(parent, top)
    n_into = np.zeros(n, np.int32)
    for node in range(1, n):
        if parent[node] == 0 and spills_to[node] > 0:
            n_into[top[spills_to[node]]] += 1
    rank = np.zeros(n, np.int32)
    waiting = np.empty(n, np.int32)
    n_ranked = 0
    for first in range(1, n):
        if parent[first] != 0 or rank[first] != 0 or n_into[first] != 0:
            continue
        waiting[0] = first
        n_waiting = 1
        while n_waiting > 0:
            n_waiting -= 1
            node = waiting[n_waiting]
            n_ranked += 1
            rank[node] = n_ranked
            if spills_to[node] > 0:
                into = top[spills_to[node]]
                n_into[into] -= 1
                if n_into[into] == 0:
                    waiting[n_waiting] = into
                    n_waiting += 1
    start = np.zeros(n_ranked + 2, np.int64)
    for leaf in range(1, leaves.size + 1):
        start[rank[top[leaf]] + 1] += 1
    for i in range(1, start.size):
        start[i] += start[i - 1]
    for leaf in range(1, leaves.size + 1):
        place = rank[top[leaf]]
        leaves[start[place]] = leaf
        start[place] += 1


@compiled
def _pour(
    parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, inflow: F64,
    own: F64, overflow: F64, is_full: Mask, onward: I32,
) -> None:  # fmt: skip
    """`onward` leads from a full node to where its water goes next; ways through full nodes are shortened."""
    for leaf in leaves:
        amount = inflow[leaf]
        if amount <= 0.0:
            continue
        node = np.int64(leaf)
        while True:
            while is_full[node] and parent[node] != 0:
                ahead = np.int64(onward[node])
                if is_full[ahead] and parent[ahead] != 0:
                    onward[node] = onward[ahead]
                node = ahead
            if is_full[node]:
                overflow[node] += amount
                inflow[spills_to[node]] += amount
                break
            left = room[node] - own[node]
            if amount < left:
                own[node] += amount
                break
            own[node] = room[node]
            amount -= left
            is_full[node] = True
            other = sibling[node]
            onward[node] = parent[node] if other == 0 or is_full[other] else spills_to[node]
            if amount <= 0.0:
                break
    overflow[0] = inflow[0]


@striped
def _pour_rains(
    area: F64, parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, runoff_m: F64, nodes: I64, noted: F64
) -> None:
    n = parent.size
    n_leaves, n_classes = area.shape
    n_rains = runoff_m.shape[0]
    for part in prange(PARTS):
        own = np.zeros(n)
        overflow = np.zeros(n)
        is_full = np.zeros(n, np.bool_)
        onward = np.zeros(n, np.int32)
        inflow = np.zeros(n_leaves)
        before = np.zeros(n_classes)
        for rain in range(n_rains * part // PARTS, n_rains * (part + 1) // PARTS):
            # A larger rain leaves all that the smaller one does: only what it adds is poured.
            for leaf in range(n_leaves):
                inflow[leaf] = 0.0
                for i in range(n_classes):
                    inflow[leaf] += area[leaf, i] * (runoff_m[rain, i] - before[i])
            before[:] = runoff_m[rain]
            _pour(parent, sibling, spills_to, room, leaves, inflow, own, overflow, is_full, onward)
            for i in range(nodes.size):
                noted[rain, i] = own[nodes[i]]


@compiled
def _find_pools(parent: I32, own: F64, is_full: Mask, pool: I32) -> None:
    for node in range(parent.size - 1, 0, -1):
        if parent[node] != 0 and pool[parent[node]] != 0:
            pool[node] = pool[parent[node]]
        elif own[node] > 0.0 or is_full[node]:
            pool[node] = node


@striped
def _level(
    elev_of: F32, first: I64, last: I64, spill_elev: F32, pools: I64, volume: F64, is_full: Mask, level: F64, depth: F32
) -> None:
    for i in prange(pools.size):
        node = pools[i]
        height = np.float64(spill_elev[node])
        if not is_full[i]:
            n_wet = -1
            while True:
                total = 0.0
                n_below = 0
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
        for place in range(first[node], last[node]):
            if elev_of[place] < height:
                depth[place] = height - np.float64(elev_of[place])
