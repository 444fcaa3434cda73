"""The depression hierarchy: which low spot holds water first, where it runs over, and what it then joins.

Built from the graph of basins and passes that the fill floods (Barnes, Callaghan & Wickert 2020).
"""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, SERIAL_CELLS, compiled, striped
from screening.kernels.fill import BasinGraph

OCEAN = 0
PARTS = 2
"""Parts that large grids are summed in, whatever the threads, so that sums never depend on them."""


class HierarchyArrays(NamedTuple):
    """Nodes 1..n; node 0 is the ocean, where water leaves. Leaves come first, a node before its parent."""

    leaf: I32
    """Leaf whose catchment each cell lies in, 0 = ocean, -1 = no data; (n_rows, n_cols)."""
    n_leaves: int
    parent: I32
    """Node that this one and its sibling join to; 0 where it spills into the ocean."""
    child_a: I32
    child_b: I32
    """Nodes that joined to this one, -1 for a leaf."""
    pit_cell: I64
    spill_cell: I64
    """Flat index of the higher cell of the pass, or of the outlet."""
    spill_elev: F32
    spills_to: I32
    """Leaf on the other side of the pass, 0 = ocean."""
    n_cells: I64
    """Cells of the catchment below the spill elevation."""
    volume: F64
    """[cell m] below the spill elevation."""
    depth_max: F32
    catchment_cells: I64
    """Cells that drain into the node."""


def build_hierarchy(elev: F32, graph: BasinGraph) -> HierarchyArrays:
    """Merge basins along their passes, from the lowest pass up.

    A basin without depth, such as a level part of a slope, makes no node: its water falls into the leaf beyond its
    lowest pass. Passes of one height are taken in the order of their pits, so the tree does not depend on where the
    window lies. Where no data walls basins in altogether, their lowest pits are outlets.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    graph : BasinGraph
        Of the same elevation.

    Returns
    -------
    HierarchyArrays

    References
    ----------
    Barnes, Callaghan & Wickert 2020, doi 10.5194/esurf-8-431-2020.
    """
    label, outlet_elev, outlet_cell = graph.label, graph.outlet_elev, graph.outlet_cell
    n_basins = outlet_elev.size - 1
    floor = np.full(n_basins + 1, np.inf, np.float32)
    pit = np.full(n_basins + 1, -1, np.int64)
    _find_pits(elev.ravel(), label.ravel(), floor, pit)
    if graph.floor_elev.size:
        outlet_elev, outlet_cell = outlet_elev.copy(), outlet_cell.copy()
        _open_enclosed(pit, floor, graph.basin_a, graph.basin_b, outlet_elev, outlet_cell)
    low, high, height, cell = _edges(pit, graph, outlet_elev, outlet_cell)
    leaf_of = np.full(n_basins + 1, -1, np.int32)
    room = 2 * n_basins + 1
    parent, child_a, child_b = np.zeros(room, np.int32), np.full(room, -1, np.int32), np.full(room, -1, np.int32)
    spill_cell, spill_elev = np.full(room, -1, np.int64), np.full(room, np.nan, np.float32)
    beyond = np.zeros(room, np.int32)
    node_pit = np.full(room, -1, np.int32)
    # Basins are numbered as they are met; leaves by their pits, which keeps their order in any window.
    by_pit = np.argsort(pit[1:]).astype(np.int64) + 1
    n_leaves, n_nodes = _merge(
        low, high, height, cell, floor, pit, by_pit,
        leaf_of, parent, child_a, child_b, spill_cell, spill_elev, beyond, node_pit,
    )  # fmt: skip
    keep = slice(0, n_nodes + 1)
    leaf = np.empty(label.shape, np.int32)
    spills_to = np.where(beyond > 0, leaf_of[beyond], OCEAN).astype(np.int32)
    top = np.zeros(n_nodes + 1, np.float32)
    _tops(parent[keep], spill_elev, top)
    shape = (PARTS if elev.size >= SERIAL_CELLS else 1, n_nodes + 1)
    parts = np.zeros(shape, np.int32), np.zeros(shape, np.int32), np.zeros(shape, np.float64)
    _add_cells(elev.ravel(), label.ravel(), leaf_of, parent, spill_elev, top, leaf.ravel(), *parts)
    catchment, n_cells = (part.sum(axis=0, dtype=np.int64) for part in parts[:2])
    below_top = parts[2].sum(axis=0)
    depth, volume = np.zeros(n_nodes + 1, np.float32), np.zeros(n_nodes + 1, np.float64)
    _add_children(
        child_a, child_b, spill_elev, top, floor, node_pit, catchment, n_cells, below_top, depth, volume
    )
    pit_cell = np.where(node_pit[keep] >= 0, pit[node_pit[keep]], -1)
    return HierarchyArrays(
        leaf, int(n_leaves), parent[keep], child_a[keep], child_b[keep], pit_cell, spill_cell[keep],
        spill_elev[keep], spills_to[keep], n_cells, volume, depth, catchment,
    )  # fmt: skip


def _edges(pit: I64, graph: BasinGraph, outlet_elev: F32, outlet_cell: I32) -> tuple[I32, I32, F32, I32]:
    """Passes and outlets, from the lowest up; those of one height by the raster order of their pits."""
    n = graph.basin_a.size + int(np.count_nonzero(outlet_cell >= 0))
    low, high, cell = (np.empty(n, np.int32) for _ in range(3))
    height, key = np.empty(n, np.float32), np.empty(n, np.int64)
    _list_edges(pit, graph.basin_a, graph.basin_b, graph.pass_elev, graph.pass_cell, outlet_elev, outlet_cell,
                low, high, height, cell)  # fmt: skip
    _sort_keys(height.view(np.int32), low, pit, key)
    order = np.argsort(key)
    ties = np.flatnonzero(np.diff(key[order]) == 0)
    if ties.size:
        # The few that still tie go by the second pit and the cell.
        in_run = np.zeros(order.size, bool)
        in_run[ties] = in_run[ties + 1] = True
        spots = np.flatnonzero(in_run)
        tied = order[spots]
        order[spots] = tied[np.lexsort((cell[tied], pit[high[tied]], key[tied]))]
    return low[order], high[order], height[order], cell[order]


@compiled
def _list_edges(
    pit: I64, basin_a: I32, basin_b: I32, pass_elev: F32, pass_cell: I32, outlet_elev: F32, outlet_cell: I32,
    low: I32, high: I32, height: F32, cell: I32,
) -> None:  # fmt: skip
    """Write outlets, from the ocean, then passes, from the basin whose pit comes first."""
    n = 0
    for basin in range(1, outlet_cell.size):
        if outlet_cell[basin] >= 0:
            low[n] = 0
            high[n] = basin
            height[n] = outlet_elev[basin]
            cell[n] = outlet_cell[basin]
            n += 1
    for i in range(basin_a.size):
        is_ordered = pit[basin_a[i]] < pit[basin_b[i]]
        low[n] = basin_a[i] if is_ordered else basin_b[i]
        high[n] = basin_b[i] if is_ordered else basin_a[i]
        height[n] = pass_elev[i]
        cell[n] = pass_cell[i]
        n += 1


@compiled
def _sort_keys(bits: I32, low: I32, pit: I64, key: I64) -> None:
    """Height and first pit as one number; the ocean's pit is -1, so outlets come before passes of their height."""
    for i in range(key.size):
        height = np.int64(bits[i]) if bits[i] >= 0 else np.int64(bits[i] ^ 0x7FFFFFFF)
        key[i] = height << 32 | (pit[low[i]] + 1)


@compiled
def _find_pits(elev_of: F32, label_of: I32, floor: F32, pit: I64) -> None:
    """Lowest elevation of each basin, and the first cell in raster order that has it."""
    for cell in range(label_of.size):
        basin = label_of[cell]
        if basin > 0 and elev_of[cell] < floor[basin]:
            floor[basin] = elev_of[cell]
            pit[basin] = cell


@compiled
def _open_enclosed(pit: I64, floor: F32, basin_a: I32, basin_b: I32, outlet_elev: F32, outlet_cell: I32) -> None:
    """Let the lowest pits of a group without outlet drain; all that tie do, so mirroring changes nothing."""
    n = pit.size
    member_of = np.arange(n).astype(np.int32)
    for i in range(basin_a.size):
        member_of[_root(member_of, np.int64(basin_a[i]))] = _root(member_of, np.int64(basin_b[i]))
    lowest = np.full(n, np.float32(np.inf), np.float32)
    for basin in range(1, n):
        group = _root(member_of, basin)
        lowest[group] = np.float32(-np.inf) if outlet_cell[basin] >= 0 else min(lowest[group], floor[basin])
    for basin in range(1, n):
        if floor[basin] == lowest[_root(member_of, basin)]:
            outlet_elev[basin] = floor[basin]
            outlet_cell[basin] = pit[basin]


@compiled
def _root(member_of: I32, member: int) -> int:
    while member_of[member] != member:
        member_of[member] = member_of[member_of[member]]
        member = int(member_of[member])
    return member


@compiled
def _merge(
    low: I32, high: I32, height: F32, cell: I32, floor: F32, pit: I64, by_pit: I64,
    leaf_of: I32, parent: I32, child_a: I32, child_b: I32, spill_cell: I64, spill_elev: F32, beyond: I32, node_pit: I32,
) -> tuple[int, int]:  # fmt: skip
    """Walk the passes from the lowest up; sets of basins are numbered by one of them, the ocean's set by 0.

    The first pass of a basin to another set is where its water goes first, so it says whether the basin is a leaf:
    leaves are numbered in a first walk, nodes that join them in a second.
    """
    n = leaf_of.size
    goes_to = np.full(n, -1, np.int32)
    _first_passes(low, high, height, floor, goes_to)
    n_leaves = 0
    leaf_of[0] = 0
    for basin in by_pit:
        if goes_to[basin] < 0:
            n_leaves += 1
            leaf_of[basin] = n_leaves
            node_pit[n_leaves] = basin
    for basin in range(1, n):
        _follow(goes_to, leaf_of, basin)
    member_of = np.arange(n_leaves + 1).astype(np.int32)
    node_of = np.arange(n_leaves + 1).astype(np.int32)
    n_nodes = n_leaves
    for i in range(low.size):
        leaf_a = np.int64(leaf_of[low[i]])
        leaf_b = np.int64(leaf_of[high[i]])
        root_a = _root(member_of, leaf_a)
        root_b = _root(member_of, leaf_b)
        if root_a == root_b:
            continue
        if root_a == 0 or root_b == 0:
            node = node_of[root_b] if root_a == 0 else node_of[root_a]
            _spill(node, height[i], cell[i], low[i] if root_a == 0 else high[i], spill_elev, spill_cell, beyond)
            member_of[max(root_a, root_b)] = 0
            continue
        n_nodes += 1
        node_a = node_of[root_a]
        node_b = node_of[root_b]
        _spill(node_a, height[i], cell[i], high[i], spill_elev, spill_cell, beyond)
        _spill(node_b, height[i], cell[i], low[i], spill_elev, spill_cell, beyond)
        parent[node_a] = n_nodes
        parent[node_b] = n_nodes
        child_a[n_nodes] = min(node_a, node_b)
        child_b[n_nodes] = max(node_a, node_b)
        pit_a = node_pit[node_a]
        pit_b = node_pit[node_b]
        is_a = floor[pit_a] < floor[pit_b] or (floor[pit_a] == floor[pit_b] and pit[pit_a] < pit[pit_b])
        node_pit[n_nodes] = pit_a if is_a else pit_b
        member_of[root_b] = root_a
        node_of[root_a] = n_nodes
    return n_leaves, n_nodes


@compiled
def _spill(node: int, height: float, cell: int, into: int, spill_elev: F32, spill_cell: I64, beyond: I32) -> None:
    spill_elev[node] = height
    spill_cell[node] = cell
    beyond[node] = into


@compiled
def _first_passes(low: I32, high: I32, height: F32, floor: F32, goes_to: I32) -> None:
    """Where the water of a basin without depth goes; -1 stays for basins that hold water.

    Level basins may lead to each other: sets of them are joined, and leave by the first pass out of the set.
    """
    n = goes_to.size
    member_of = np.arange(n).astype(np.int32)
    left = np.zeros(n, np.bool_)  # the set's water has a way out, or stays
    left[0] = True
    for i in range(low.size):
        basin_a = np.int64(low[i])
        basin_b = np.int64(high[i])
        root_a = _root(member_of, basin_a)
        root_b = _root(member_of, basin_b)
        if root_a == root_b:
            continue
        for _ in range(2):
            # A set of level basins still lies at its floor: a pass at that height lets it out.
            if not left[root_b] and floor[root_b] == height[i] and basin_b > 0:
                _lead(goes_to, root_b, basin_b, basin_a)
                member_of[root_b] = root_a
                break
            basin_a, basin_b = basin_b, basin_a
            root_a, root_b = root_b, root_a
        else:
            left[root_a] = True
            left[root_b] = True


@compiled
def _lead(goes_to: I32, root: int, basin: int, into: int) -> None:
    """Turn the way inside a set round, so that all of it leaves by `basin`, and lead that one on."""
    ahead = np.int64(into)
    while True:
        behind = np.int64(goes_to[basin])
        goes_to[basin] = ahead
        if behind < 0:
            return
        ahead = np.int64(basin)
        basin = int(behind)


@compiled
def _follow(goes_to: I32, leaf_of: I32, basin: int) -> None:
    """Give a basin without depth the leaf that its water ends in."""
    end = np.int64(basin)
    while leaf_of[end] < 0:
        end = np.int64(goes_to[end])
    leaf = leaf_of[end]
    here = np.int64(basin)
    while leaf_of[here] < 0:
        leaf_of[here] = leaf
        here = np.int64(goes_to[here])


@striped
def _add_cells(
    elev_of: F32, label_of: I32, leaf_of: I32, parent: I32, spill_elev: F32, top: F32,
    leaf: I32, catchment: I32, n_cells: I32, below_top: F64,
) -> None:  # fmt: skip
    """Write the leaf of each cell; count it in its catchment, and at the first node that covers it, by parts."""
    n_parts = catchment.shape[0]
    for part in prange(n_parts):
        # Neighbours mostly share their basin: what is known of it is looked up once a run.
        basin = np.int32(-1)
        run_leaf = np.int32(-1)
        run_top = np.float32(-np.inf)
        run = 0
        for cell in range(label_of.size * part // n_parts, label_of.size * (part + 1) // n_parts):
            if label_of[cell] != basin:
                if run_leaf > 0:
                    catchment[part, run_leaf] += run
                run = 0
                basin = label_of[cell]
                run_leaf = leaf_of[basin] if basin > 0 else np.int32(-1)
                run_top = top[run_leaf] if run_leaf > 0 else np.float32(-np.inf)
            leaf[cell] = run_leaf
            run += 1
            # at no data the comparison is false
            if not elev_of[cell] < run_top:
                continue
            node = np.int64(run_leaf)
            while spill_elev[node] <= elev_of[cell]:
                node = np.int64(parent[node])
            n_cells[part, node] += 1
            below_top[part, node] += np.float64(top[node]) - np.float64(elev_of[cell])
        if run_leaf > 0:
            catchment[part, run_leaf] += run


@compiled
def _tops(parent: I32, spill_elev: F32, top: F32) -> None:
    """Spill elevation of the outermost node above each: the common origin of the heights in it."""
    for node in range(parent.size - 1, 0, -1):
        top[node] = spill_elev[node] if parent[node] == 0 else top[parent[node]]


@compiled
def _add_children(
    child_a: I32, child_b: I32, spill_elev: F32, top: F32, floor: F32, node_pit: I32,
    catchment: I64, n_cells: I64, below_top: F64, depth: F32, volume: F64,
) -> None:  # fmt: skip
    for node in range(1, catchment.size):
        if child_a[node] >= 0:
            for child in (child_a[node], child_b[node]):
                catchment[node] += catchment[child]
                n_cells[node] += n_cells[child]
                below_top[node] += below_top[child]
        volume[node] = below_top[node] - n_cells[node] * (np.float64(top[node]) - np.float64(spill_elev[node]))
        depth[node] = spill_elev[node] - floor[node_pit[node]]
