"""The depression hierarchy as water meets it: what each node holds of its own, and where it overflows to."""

from typing import NamedTuple

import numpy as np

from screening.kernels.compiling import F64, I32, I64, U8, Mask, compiled

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
    # Children come before their parents: their sums are whole.
    for node in range(1, child_a.size):
        if child_a[node] >= 0:
            for i in range(total.shape[1]):
                total[node, i] += total[child_a[node], i] + total[child_b[node], i]


@compiled
def _find_tops(parent: I32, top: I32) -> None:
    """Outermost node over each."""
    top[0] = 0
    # From the last node down: parents come after their children, so the parent's answer is there.
    for node in range(parent.size - 1, 0, -1):
        top[node] = node if parent[node] == 0 else top[parent[node]]


@compiled
def _find_above(parent: I32, spills_to: I32, top: I32, state: U8) -> None:
    """Set outermost nodes to `_IN` whose water, overflow from one to the next, meets one that is."""
    # All outermost nodes before `first` are known, and so is all that their water meets.
    for first in range(1, parent.size):
        if parent[first] != 0 or state[first] != 0:
            continue
        node = first
        # All from `first` to before `node` were unknown. Water never runs in a circle, and node 0, where it leaves, is
        # known.
        while state[node] == 0:
            state[node] = _ON_THE_WAY
            node = top[spills_to[node]] if spills_to[node] > 0 else 0
        answer = _IN if state[node] == _IN else _OUT
        node = first
        # The same nodes once more, with the answer they share.
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
    # `n_into` counts the outermost nodes that spill into each.
    for node in range(1, n):
        if parent[node] == 0 and spills_to[node] > 0:
            n_into[top[spills_to[node]]] += 1
    rank = np.zeros(n, np.int32)
    waiting = np.empty(n, np.int32)
    n_ranked = 0
    # Ranks 1 to `n_ranked` are given; what all ranked nodes spill into waits for the others that spill there.
    for first in range(1, n):
        if parent[first] != 0 or rank[first] != 0 or n_into[first] != 0:
            continue
        waiting[0] = first
        n_waiting = 1
        # The nodes that wait have all that spill into them ranked. A node waits once: room for all suffices.
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
    # Counting sort by the rank of the outermost node: `start` has the number of nodes of each rank one place on,
    start = np.zeros(n_ranked + 2, np.int64)
    for node in range(1, n):
        start[rank[top[node]] + 1] += 1
    # then the place where each rank begins,
    for i in range(1, start.size):
        start[i] += start[i - 1]
    # then, node by node, the next free place of each rank: numbers rise within a rank.
    for node in range(1, n):
        place = rank[top[node]]
        nodes[start[place]] = node
        start[place] += 1
