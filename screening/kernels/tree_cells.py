"""The cells that the nodes of a depression hierarchy cover, so that those of every node stand together."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, SERIAL_CELLS, compiled, striped
from screening.kernels.hierarchy import HierarchyArrays
from screening.kernels.joins import rank_by_height
from screening.kernels.node_measures import PARTS, outermost_elev

_CELL = 0xFFFFFFFF  # bits of the cell in a rank
_SHORT = 32  # up to this many are sorted by insertion


def cells_by_leaf(elev: F32, arrays: HierarchyArrays) -> tuple[I64, I64, I64]:
    """List the cells that the outermost nodes cover so that those of every node stand together.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    arrays : HierarchyArrays

    Returns
    -------
    cells : (n_covered,) int64
        Flat indices, by leaf in the order of the tree, then by elevation.
    first, last : (n_nodes + 1,) int64
        Cells of node `i` are `cells[first[i]:last[i]]`.
    """
    elev_of, leaf_of = elev.ravel(), arrays.leaf.ravel()
    top = outermost_elev(arrays.parent, arrays.spill_elev)
    counts = np.zeros((PARTS if elev.size >= SERIAL_CELLS else 1, top.size), np.int32)
    _count_covered(elev_of, leaf_of, top, counts)
    first, last = np.zeros(top.size, np.int64), counts.sum(axis=0, dtype=np.int64)
    _lay_out(arrays.parent, arrays.child_a, arrays.child_b, first, last)
    place = first + np.cumsum(counts, axis=0, dtype=np.int64) - counts
    cells = np.empty(last.max(initial=0), np.int64)
    _list_covered(elev_of, leaf_of, top, place, cells)
    _sort_leaves(cells, first[: arrays.n_leaves + 1], last)
    return cells, first, last


def cells_by_zone(
    leaf: I32, elev_of: F32, first: I64, last: I64, parent: I32, spill_elev: F32, nodes: I64
) -> tuple[I64, I64, I64, I64, I64]:
    """Put the cells that some nodes cover in an order in which those of each stand together, each cell once.

    Parameters
    ----------
    leaf : (n_covered,) int32
        Of the covered cells, in the order of `cells_by_leaf`; so `elev_of` [m].
    elev_of : (n_covered,) float32 [m]
    first, last : (n_nodes + 1,) int64
        As from `cells_by_leaf`.
    parent : (n_nodes + 1,) int32
    spill_elev : (n_nodes + 1,) float32 [m]
    nodes : (k,) int64
        The zones, each once, in any order; one may lie within another.

    Returns
    -------
    place : (n,) int64
        Place of each cell of the zones among the covered ones.
    zone : (n,) int64
        The innermost zone of each.
    zone_first, zone_last : (k,) int64
        Cells of zone `i` are `[zone_first[i]:zone_last[i]]` of `place`.
    around : (k,) int64
        The zone next around each, -1 where there is none.
    """
    # each zone comes before those within it, which come before what lies beside it
    in_order = np.lexsort((-last[nodes], first[nodes]))
    rank = np.empty(nodes.size, np.int64)
    rank[in_order] = np.arange(nodes.size)
    innermost, rank_around = np.empty(elev_of.size, np.int32), np.empty(nodes.size, np.int64)
    _find_innermost(
        leaf=leaf,
        elev_of=elev_of,
        parent=parent,
        spill_elev=spill_elev,
        nodes=nodes[in_order],
        innermost=innermost,
        around=rank_around,
    )
    counts = np.bincount(innermost + 1, minlength=nodes.size + 1)
    starts = np.concatenate(([0], np.cumsum(counts[1:]))).astype(np.int64)
    place = np.argsort(innermost, kind="stable")[counts[0] :]
    beyond = np.searchsorted(first[nodes[in_order]], last[nodes], side="left")
    zone = np.repeat(in_order, counts[1:])
    around = np.concatenate((in_order, [-1]))[rank_around[rank]]
    return place, zone, starts[rank], starts[beyond], around


@compiled
def _find_innermost(
    leaf: I32, elev_of: F32, parent: I32, spill_elev: F32, nodes: I64, innermost: I32, around: I64
) -> None:
    """Rank of the innermost node that covers each cell, and of that around each node, -1 where there is none."""
    # a node comes after those within it
    rank_at = np.full(parent.size, -1, np.int32)
    # Zones know themselves first.
    for rank in range(nodes.size):
        rank_at[nodes[rank]] = rank
    # From the last node down: other nodes take the zone of their parent, which is settled.
    for node in range(parent.size - 1, 0, -1):
        if rank_at[node] < 0 and parent[node] > 0:
            rank_at[node] = rank_at[parent[node]]
    # Each zone by itself.
    for rank in range(nodes.size):
        outer = parent[nodes[rank]]
        around[rank] = rank_at[outer] if outer > 0 else -1
    # Each cell by itself.
    for place in range(leaf.size):
        found = np.int64(rank_at[leaf[place]])
        # No zone within `found` covers the cell: spill elevations never fall on the way up.
        while found >= 0 and not elev_of[place] < spill_elev[nodes[found]]:
            found = around[found]
        innermost[place] = found


@striped
def _count_covered(elev_of: F32, leaf_of: I32, top: F32, counts: I32) -> None:
    n_parts = counts.shape[0]
    # Each part has its own row of the counts.
    for part in prange(n_parts):
        for cell in range(leaf_of.size * part // n_parts, leaf_of.size * (part + 1) // n_parts):
            # the ocean's top is -inf
            if leaf_of[cell] > 0 and elev_of[cell] < top[leaf_of[cell]]:
                counts[part, leaf_of[cell]] += 1


@compiled
def _lay_out(parent: I32, child_a: I32, child_b: I32, first: I64, last: I64) -> None:
    """Ranges of the nodes: each outermost one after the other, in each the first child before the second.

    `last` comes with the number of cells of each leaf.
    """
    n = parent.size
    # Children come before their parents: `last` has the sizes of both.
    for node in range(1, n):
        if child_a[node] >= 0:
            last[node] = last[child_a[node]] + last[child_b[node]]
    n_laid = 0
    # `n_laid` cells belong to the outermost nodes before this one.
    for node in range(1, n):
        if parent[node] == 0:
            first[node] = n_laid
            n_laid += last[node]
            last[node] = n_laid
    # From the last node down: the range of this node is settled; its children share it, and have sizes only.
    for node in range(n - 1, 0, -1):
        if child_a[node] >= 0:
            # Before `last` of the first child is written over: it is still a size.
            middle = first[node] + last[child_a[node]]
            first[child_a[node]] = first[node]
            last[child_a[node]] = middle
            first[child_b[node]] = middle
            last[child_b[node]] = last[node]


@striped
def _list_covered(elev_of: F32, leaf_of: I32, top: F32, place: I64, ranks: I64) -> None:
    n_parts = place.shape[0]
    # `place` of a part begins where the part before it ends in each leaf: no two parts write one place.
    for part in prange(n_parts):
        # `place[part, leaf]` is the next free place for a cell of the leaf.
        for cell in range(leaf_of.size * part // n_parts, leaf_of.size * (part + 1) // n_parts):
            leaf = leaf_of[cell]
            if leaf > 0 and elev_of[cell] < top[leaf]:
                # adding 0 makes one of -0 and 0
                ranks[place[part, leaf]] = rank_by_height(elev_of[cell] + np.float32(0), cell)
                place[part, leaf] += 1


@striped
def _sort_leaves(ranks: I64, first: I64, last: I64) -> None:
    """Sort the ranks of each leaf, and leave the cells of them."""
    # Leaves are independent: each has its own stretch.
    for leaf in prange(first.size):
        start = first[leaf]
        stop = last[leaf]
        if stop - start > _SHORT:
            ranks[start:stop].sort()
        else:
            # The ranks from `start` to before k are in order.
            for k in range(start + 1, stop):
                rank = ranks[k]
                place = k
                # All ranks moved so far are larger than the one to insert.
                while place > start and ranks[place - 1] > rank:
                    ranks[place] = ranks[place - 1]
                    place -= 1
                ranks[place] = rank
        # In order: only the cells are wanted from here on.
        for k in range(start, stop):
            ranks[k] &= _CELL
