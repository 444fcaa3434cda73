"""Basins that hold water as leaves of a tree, joined to nodes from the lowest saddle up."""

from typing import NamedTuple

import numpy as np

from screening.kernels.compiling import F32, I32, I64, compiled
from screening.kernels.joins import OCEAN, Joins, find_root


class Merges(NamedTuple):
    """Nodes 0..n of a depression hierarchy, (n + 1,) each; leaves come first, a node before its parent."""

    parent: I32
    """Node that this one and its sibling join to; 0 where it spills into the ocean."""
    child_a: I32
    child_b: I32
    """Nodes that joined to this one, child_a < child_b; -1 for a leaf."""
    spill_cell: I64
    """Flat index of the higher cell of the saddle, or of the outlet."""
    spill_elev: F32
    """[m]."""
    spills_to: I32
    """Leaf on the other side of the saddle, 0 = ocean."""
    pit: I32
    """Basin, by pit, whose pit is the lowest of the node."""


def merge_leaves(joins: Joins, floor: F32, leaf_of: I32, n_leaves: int) -> Merges:
    """Join the leaves of a hierarchy to nodes, from the lowest saddle up.

    Parameters
    ----------
    joins : Joins
    floor : (n_basins + 1,) float32 [m]
        Elevation of the pits, by pit; +inf for the ocean.
    leaf_of : (n_basins + 1,) int32
        As from `number_leaves`; so `n_leaves`.
    n_leaves : int

    Returns
    -------
    Merges

    References
    ----------
    Barnes, Callaghan & Wickert (2020), doi:10.5194/esurf-8-431-2020.
    """
    # Each join of two nodes makes one of them: n leaves make n - 1 more at most.
    room = 2 * n_leaves + 1
    parent, child_a, child_b = np.zeros(room, np.int32), np.full(room, -1, np.int32), np.full(room, -1, np.int32)
    spill_cell, spill_elev = np.full(room, -1, np.int64), np.full(room, np.nan, np.float32)
    spills_to, node_pit = np.zeros(room, np.int32), np.zeros(room, np.int32)
    n_nodes = _merge(
        low=joins.low,
        high=joins.high,
        height=joins.height,
        cell=joins.cell,
        floor=floor,
        goes_to=joins.goes_to,
        leaf_of=leaf_of,
        n_leaves=n_leaves,
        parent=parent,
        child_a=child_a,
        child_b=child_b,
        spill_cell=spill_cell,
        spill_elev=spill_elev,
        spills_to=spills_to,
        node_pit=node_pit,
    )
    keep = slice(0, n_nodes + 1)
    return Merges(
        parent=parent[keep],
        child_a=child_a[keep],
        child_b=child_b[keep],
        spill_cell=spill_cell[keep],
        spill_elev=spill_elev[keep],
        spills_to=spills_to[keep],
        pit=node_pit[keep],
    )


def number_leaves(goes_to: I32) -> tuple[I32, int]:
    """Number the basins that hold water, and lead the others to theirs.

    Parameters
    ----------
    goes_to : (n_basins + 1,) int32
        Basin that the water of one without depth goes to, -1 for basins that hold water; element 0 is the ocean.

    Returns
    -------
    leaf_of : (n_basins + 1,) int32
        Leaf that the water of each basin ends in, 1.. in the order of the basins, 0 for the ocean.
    n_leaves : int
    """
    is_leaf = goes_to < 0
    is_leaf[OCEAN] = False
    # Numbers by the order of the basins, so of their pits.
    leaf_of = np.cumsum(is_leaf, dtype=np.int32)
    n_leaves = int(leaf_of[-1])
    leaf_of[~is_leaf] = -1
    leaf_of[OCEAN] = OCEAN
    _follow(goes_to, leaf_of)
    return leaf_of, n_leaves


@compiled
def _follow(goes_to: I32, leaf_of: I32) -> None:
    # The basins before this one know their leaf.
    for basin in range(1, leaf_of.size):
        end = np.int64(basin)
        # `end` takes the water of `basin`; water never comes back, so the path ends at a leaf or the ocean.
        while leaf_of[end] < 0:
            end = np.int64(goes_to[end])
        leaf = leaf_of[end]
        here = np.int64(basin)
        # The path again, each basin with its answer: none is followed twice.
        while leaf_of[here] < 0:
            leaf_of[here] = leaf
            here = np.int64(goes_to[here])


@compiled
def _merge(
    low: I32,
    high: I32,
    height: F32,
    cell: I32,
    floor: F32,
    goes_to: I32,
    leaf_of: I32,
    n_leaves: int,
    parent: I32,
    child_a: I32,
    child_b: I32,
    spill_cell: I64,
    spill_elev: F32,
    spills_to: I32,
    node_pit: I32,
) -> int:
    """Join leaves to nodes from the lowest saddle up; sets of leaves are numbered by one of them, the ocean's by 0."""
    # A leaf is a node whose pit is that of the basin that holds its water; a basin that leads on has none.
    for basin in range(1, leaf_of.size):
        if goes_to[basin] < 0:
            node_pit[leaf_of[basin]] = basin
    set_of = np.arange(n_leaves + 1).astype(np.int32)
    node_of = np.arange(n_leaves + 1).astype(np.int32)
    n_nodes = n_leaves
    # All lower joins are taken: `node_of` of a set's root is the node over all of its leaves.
    for i in range(low.size):
        leaf_a = np.int64(leaf_of[low[i]])
        leaf_b = np.int64(leaf_of[high[i]])
        root_a = find_root(set_of, leaf_a)
        root_b = find_root(set_of, leaf_b)
        # Basins without depth share the leaf their water ends in.
        if root_a == root_b:
            continue
        # One side leads to the ocean: the other spills into it for good, and makes no new node.
        if root_a == 0 or root_b == 0:
            node = node_of[max(root_a, root_b)]
            _spill(
                node=node,
                height=height[i],
                cell=cell[i],
                into=leaf_a if root_a == 0 else leaf_b,
                spill_elev=spill_elev,
                spill_cell=spill_cell,
                spills_to=spills_to,
            )
            # 0 stays a root, so that the ocean's set can be told by it.
            set_of[max(root_a, root_b)] = 0
            continue
        # Both sides overflow into each other's leaf, and are one node above this height.
        n_nodes += 1
        node_a = node_of[root_a]
        node_b = node_of[root_b]
        _spill(
            node=node_a,
            height=height[i],
            cell=cell[i],
            into=leaf_b,
            spill_elev=spill_elev,
            spill_cell=spill_cell,
            spills_to=spills_to,
        )
        _spill(
            node=node_b,
            height=height[i],
            cell=cell[i],
            into=leaf_a,
            spill_elev=spill_elev,
            spill_cell=spill_cell,
            spills_to=spills_to,
        )
        parent[node_a] = n_nodes
        parent[node_b] = n_nodes
        child_a[n_nodes] = min(node_a, node_b)
        child_b[n_nodes] = max(node_a, node_b)
        pit_a = node_pit[node_a]
        pit_b = node_pit[node_b]
        # Of equal floors the pit that is first in raster order: basins are numbered by it.
        is_a = floor[pit_a] < floor[pit_b] or (floor[pit_a] == floor[pit_b] and pit_a < pit_b)
        node_pit[n_nodes] = pit_a if is_a else pit_b
        set_of[root_b] = root_a
        node_of[root_a] = n_nodes
    return n_nodes


@compiled
def _spill(node: int, height: float, cell: int, into: int, spill_elev: F32, spill_cell: I64, spills_to: I32) -> None:
    spill_elev[node] = height
    spill_cell[node] = cell
    spills_to[node] = into
