"""Fill, spill, merge: water poured into the low spots of a hierarchy, and the levels at which it stands.

A node holds what its parts hold and, once they are full, water of its own above them. Water that reaches a full node
goes on to its sibling while that is not full, and then to the node that both join to; out of an outermost node it
goes to the leaf that node spills to. Where it ends does not depend on the order in which it is poured.
"""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F64, I32, I64, Mask, compiled, striped
from screening.kernels.spill_tree import SpillTree

PARTS = 2
"""Parts that many rains are poured in, every second one in each, whatever the threads, so that sums never depend on
them. Few, because the first rains of each cost most: they fall on ground where little is full."""


class Pools(NamedTuple):
    """Water in a spill tree. Elements 1..n are nodes, (n + 1,) each."""

    own: F64
    """Water above the full parts of each node [m3]."""
    overflow: F64
    """What overflows out of each outermost node [m3]; element 0 is what leaves by way of low spots or none."""
    is_full: Mask


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
    Barnes, Callaghan & Wickert (2021), doi:10.5194/esurf-9-105-2021.
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
    _overflow(
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
    # Nodes that hand water to each other are set side by side: most of the time goes into reaching them.
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

    Parameters
    ----------
    parent : (n_nodes + 1,) int32
    pools : Pools

    Returns
    -------
    (n_nodes + 1,) int32
        The outermost node whose water stands over this one, 0 where it is dry.
    """
    pool = np.zeros(parent.size, np.int32)
    _find_pools(parent, pools.own, pools.is_full, pool)
    return pool


@compiled
def _pour_all(
    parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, inflow: F64, own: F64, onward: I32
) -> None:
    # All water of the leaves before this one stands where it ends; more never moves it.
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
def _overflow(parent: I32, spills_to: I32, nodes: I32, inflow: F64, own: F64, is_full: Mask, overflow: F64) -> None:
    """What comes to each outermost node and is not held by it overflows, if it is full."""
    coming = np.zeros(parent.size)
    coming[: inflow.size] = inflow
    # `coming` of the node is whole: its children, and all that spill into it, come before it.
    for node in nodes:
        left = coming[node] - own[node]
        if parent[node] != 0:
            # What a part does not hold goes on to the node over it, which counts its own water above.
            coming[parent[node]] += left
        elif is_full[node]:
            # A rounding may leave less than nothing.
            overflow[node] = max(left, 0.0)
            coming[spills_to[node]] += overflow[node]
    overflow[0] = coming[0]


@striped
def _pour_rains(
    area: F64, parent: I32, sibling: I32, spills_to: I32, room: F64, leaves: I32, runoff_m: F64, nodes: I32, noted: F64
) -> None:
    """Rows of `area` are those of `leaves`, in that order."""
    # Parts are independent: each starts on dry ground and has its own rains, from the smallest up.
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
    # Each leaf begins open, with its own ground.
    for i in range(leaves.size):
        drains[leaves[i]] = area[i]
        is_open[leaves[i]] = True
    open_nodes = leaves.copy()
    n_open = leaves.size
    added = np.zeros(n_classes)
    # `own` holds the water of the rain before; every piece of ground drains to an open node, or its water leaves.
    for rain in range(runoff_m.shape[0]):
        for k in range(n_classes):
            added[k] = runoff_m[rain, k] - (runoff_m[rain - 1, k] if rain > 0 else 0.0)
        # A rain may add nothing: the smallest run off nowhere.
        if added.max() > 0.0:
            # What this rain adds on the ground of the open nodes before i is poured. Nodes that fill meanwhile hand
            # theirs on.
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
        # Each element by itself.
        for i in range(nodes.size):
            noted[rain, i] = own[nodes[i]]


@compiled
def _hand_on(onward: I32, open_nodes: I32, n_open: int, is_open: Mask, drains: F64) -> int:
    """Let the ground of nodes that are full drain to the next that is not; returns how many nodes are left."""
    n_left = 0
    # `open_nodes[:n_left]` are open and each stands there once; the ground of full nodes before i is handed on.
    for i in range(n_open):
        node = open_nodes[i]
        into = node if onward[node] == node else _not_full(onward, node)
        # Full, and its water leaves: its ground is of no interest any more.
        if into == 0:
            continue
        if into != node:
            # Class by class: what `node` drained now drains to `into`.
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
    """First node on the way of water that is not full, 0 = out; paths through full nodes are shortened."""
    here = np.int64(node)
    # All nodes from the given one to before `here` are full. Each step halves the path for those that come later.
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
    # `amount` has not found its place; all that did stands as if it had come first.
    while amount > 0.0:
        node = _not_full(onward, node)
        if node == 0:
            return
        left = room[node] - own[node]
        if amount < left:
            own[node] += amount
            return
        # Set, not added up: full is exact.
        own[node] = room[node]
        amount -= left
        # The sibling is full if it leads on.
        other = sibling[node]
        onward[node] = parent[node] if other != 0 and onward[other] != other else spills_to[node]


@compiled
def _find_pools(parent: I32, own: F64, is_full: Mask, pool: I32) -> None:
    # From the last node down: the parent has its answer. A pool over the parent stands over its parts.
    for node in range(parent.size - 1, 0, -1):
        if parent[node] != 0 and pool[parent[node]] != 0:
            pool[node] = pool[parent[node]]
        elif own[node] > 0.0 or is_full[node]:
            pool[node] = node
