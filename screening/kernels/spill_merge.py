"""Fill, spill, merge: water poured into the low spots of a hierarchy, and the levels at which it stands.

A node holds what its parts hold and, once they are full, water of its own above them. Water that reaches a full node
goes on to its sibling while that is not full, and then to the node that both join to; out of an outermost node it
goes to the leaf that node spills to. Where it ends does not depend on the order in which it is poured.
"""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F64, I32, I64, U8, Mask, compiled, striped

PARTS = 2
"""Parts that many rains are poured in, every second one in each, whatever the threads, so that sums never depend on
them. Few, because the first rains of each cost most: they fall on ground where little is full."""

_IN, _OUT, _ON_THE_WAY = 1, 2, 3
"""What is known of an outermost node; 0 where nothing is yet."""


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
    nodes: I32
    """All nodes, those of an outermost one together and by number, before those of the one that it spills to."""
    leaves: I32
    """The leaves among them, in that order."""


class Pools(NamedTuple):
    """Water in a spill tree. Elements 1..n are nodes, (n + 1,) each."""

    own: F64
    """Water above the full parts of each node [m3]."""
    overflow: F64
    """What overflows out of each outermost node [m3]; element 0 is what leaves by way of low spots or none."""
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
    nodes = np.empty(parent.size - 1, np.int32)
    _order_nodes(parent, spills_to, nodes)
    return SpillTree(parent, sibling, spills_to, np.maximum(own, 0.0), nodes, nodes[nodes <= n_leaves])


def nodes_above(parent: I32, spills_to: I32, leaves: I64) -> Mask:
    """Find the outermost nodes over some leaves, and all that could overflow into them.

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
    state = np.zeros(parent.size, np.uint8)
    state[top[leaves]] = _IN
    state[0] = _OUT
    _find_above(parent, spills_to, top, state)
    chosen: Mask = state[top] == _IN
    return chosen


def pour(tree: SpillTree, inflow: F64) -> Pools:
    """Pour water into the leaves, and let it overflow and join.

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
    own, overflow = np.zeros(tree.parent.size), np.zeros(tree.parent.size)
    onward = np.arange(tree.parent.size, dtype=np.int32)
    _pour_all(
        parent=tree.parent,
        sibling=tree.sibling,
        spills_to=tree.spills_to,
        room=tree.own_capacity,
        leaves=tree.leaves,
        inflow=inflow,
        own=own,
        onward=onward,
    )
    is_full = onward != np.arange(tree.parent.size)
    _run_over(
        parent=tree.parent,
        spills_to=tree.spills_to,
        nodes=tree.nodes,
        inflow=inflow,
        own=own,
        is_full=is_full,
        overflow=overflow,
    )
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
    # Nodes that pass water to each other are set side by side: most of the time goes into reaching them.
    place = np.zeros(tree.parent.size, np.int32)
    place[tree.nodes] = np.arange(1, tree.parent.size)
    by_place = np.concatenate((np.zeros(1, np.int32), tree.nodes))
    parent, sibling, spills_to = (place[part[by_place]] for part in (tree.parent, tree.sibling, tree.spills_to))
    noted = np.zeros((runoff_m.shape[0], nodes.size))
    _pour_rains(
        area=area[tree.leaves],
        parent=parent,
        sibling=sibling,
        spills_to=spills_to,
        room=tree.own_capacity[by_place],
        leaves=place[tree.leaves],
        runoff_m=runoff_m,
        nodes=place[nodes],
        noted=noted,
    )
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


@compiled
def _sum_parts(child_a: I32, child_b: I32, total: F64) -> None:
    for node in range(1, child_a.size):
        if child_a[node] >= 0:
            for i in range(total.shape[1]):
                total[node, i] += total[child_a[node], i] + total[child_b[node], i]


@compiled
def _find_tops(parent: I32, top: I32) -> None:
    """Outermost node over each."""
    top[0] = 0
    for node in range(parent.size - 1, 0, -1):
        top[node] = node if parent[node] == 0 else top[parent[node]]


@compiled
def _find_above(parent: I32, spills_to: I32, top: I32, state: U8) -> None:
    """Set outermost nodes to `_IN` whose water, overflow from one to the next, meets one that is."""
    for first in range(1, parent.size):
        if parent[first] != 0 or state[first] != 0:
            continue
        node = first
        while state[node] == 0:
            state[node] = _ON_THE_WAY
            node = top[spills_to[node]] if spills_to[node] > 0 else 0
        answer = _IN if state[node] == _IN else _OUT
        node = first
        while state[node] == _ON_THE_WAY:
            state[node] = answer
            node = top[spills_to[node]] if spills_to[node] > 0 else 0


@compiled
def _order_nodes(parent: I32, spills_to: I32, nodes: I32) -> None:
    """Outermost nodes before those they spill to, then the nodes of each together, by number."""
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
    for node in range(1, n):
        start[rank[top[node]] + 1] += 1
    for i in range(1, start.size):
        start[i] += start[i - 1]
    for node in range(1, n):
        place = rank[top[node]]
        nodes[start[place]] = node
        start[place] += 1


@compiled
def _pour_all(
    parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, inflow: F64, own: F64, onward: I32
) -> None:
    for leaf in leaves:
        _pour_one(
            parent=parent,
            sibling=sibling,
            spills_to=spills_to,
            room=room,
            start=leaf,
            amount=inflow[leaf],
            own=own,
            onward=onward,
        )


@compiled
def _run_over(parent: I32, spills_to: I32, nodes: I32, inflow: F64, own: F64, is_full: Mask, overflow: F64) -> None:
    """What comes to each outermost node and is not held by it overflows, if it is full."""
    passing = np.zeros(parent.size)
    passing[: inflow.size] = inflow
    for node in nodes:
        left = passing[node] - own[node]
        if parent[node] != 0:
            passing[parent[node]] += left
        elif is_full[node]:
            overflow[node] = max(left, 0.0)
            passing[spills_to[node]] += overflow[node]
    overflow[0] = passing[0]


@striped
def _pour_rains(
    area: F64, parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, runoff_m: F64, nodes: I32, noted: F64
) -> None:
    """Rows of `area` are those of `leaves`, in that order."""
    for part in prange(PARTS):
        _pour_more_and_more(
            area=area,
            parent=parent,
            sibling=sibling,
            spills_to=spills_to,
            room=room,
            leaves=leaves,
            runoff_m=runoff_m[part::PARTS],
            nodes=nodes,
            noted=noted[part::PARTS],
        )


@compiled
def _pour_more_and_more(
    area: F64, parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, runoff_m: F64, nodes: I32, noted: F64
) -> None:
    """A larger rain leaves all that the smaller one does: only what it adds is poured.

    A full node stays full, so its ground drains to the next one from then on, and fewer and fewer are left to pour on.
    """
    n, n_classes = parent.size, area.shape[1]
    own = np.zeros(n)
    onward = np.arange(n).astype(np.int32)
    drains = np.zeros((n, n_classes))
    is_open = np.zeros(n, np.bool_)
    for i in range(leaves.size):
        drains[leaves[i]] = area[i]
        is_open[leaves[i]] = True
    open_nodes = leaves.copy()
    n_open = leaves.size
    added = np.zeros(n_classes)
    for rain in range(runoff_m.shape[0]):
        for k in range(n_classes):
            added[k] = runoff_m[rain, k] - (runoff_m[rain - 1, k] if rain > 0 else 0.0)
        if added.max() > 0.0:
            for i in range(n_open):
                amount = 0.0
                for k in range(n_classes):
                    amount += drains[open_nodes[i], k] * added[k]
                _pour_one(
                    parent=parent,
                    sibling=sibling,
                    spills_to=spills_to,
                    room=room,
                    start=open_nodes[i],
                    amount=amount,
                    own=own,
                    onward=onward,
                )
            n_open = _hand_on(onward, open_nodes, n_open, is_open, drains)
        for i in range(nodes.size):
            noted[rain, i] = own[nodes[i]]


@compiled
def _hand_on(onward: I32, open_nodes: I32, n_open: int, is_open: Mask, drains: F64) -> int:
    """Let the ground of nodes that are full drain to the next that is not; returns how many nodes are left."""
    n_left = 0
    for i in range(n_open):
        node = open_nodes[i]
        into = node if onward[node] == node else _not_full(onward, node)
        if into == 0:
            continue
        if into != node:
            for k in range(drains.shape[1]):
                drains[into, k] += drains[node, k]
            if is_open[into]:
                continue
        # one at most for each that was read, so nothing is written over before it is read
        is_open[into] = True
        open_nodes[n_left] = into
        n_left += 1
    return n_left


@compiled
def _not_full(onward: I32, node: int) -> np.int64:
    """First node on the way of water that is not full, 0 = out; ways through full nodes are shortened."""
    here = np.int64(node)
    while onward[here] != here:
        onward[here] = onward[onward[here]]
        here = np.int64(onward[here])
    return here


@compiled
def _pour_one(
    parent: I32, sibling: I32, spills_to: I32, room: F64, start: int, amount: float, own: F64, onward: I32
) -> None:
    """`onward` leads from a full node to where its water goes next, and from one that is not to itself."""
    node = np.int64(start)
    while amount > 0.0:
        node = _not_full(onward, node)
        if node == 0:
            return
        left = room[node] - own[node]
        if amount < left:
            own[node] += amount
            return
        own[node] = room[node]
        amount -= left
        # The sibling is full if it leads on.
        other = sibling[node]
        onward[node] = parent[node] if other != 0 and onward[other] != other else spills_to[node]


@compiled
def _find_pools(parent: I32, own: F64, is_full: Mask, pool: I32) -> None:
    for node in range(parent.size - 1, 0, -1):
        if parent[node] != 0 and pool[parent[node]] != 0:
            pool[node] = pool[parent[node]]
        elif own[node] > 0.0 or is_full[node]:
            pool[node] = node
