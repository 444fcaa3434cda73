"""The depression hierarchy: which low spot holds water first, where it overflows, and what it then joins.

Built from the graph of basins and passes that the fill floods (Barnes, Callaghan & Wickert 2020).
"""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, SERIAL_CELLS, compiled, striped
from screening.kernels.fill import BasinGraph
from screening.kernels.joins import OCEAN, find_joins, find_root, index_of_rank, rank_by_height

PARTS = 2
"""Parts that large grids are summed in, whatever the threads, so that sums never depend on them."""

AT_ONCE = 1024
"""Cells that are led up the tree together."""


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
    """Merge basins along their passes, from the lowest saddle up.

    A basin without depth, such as a level part of a slope, makes no node: its water falls into the leaf beyond its
    lowest saddle. Passes of one height are taken in the order of their pits, so the tree does not depend on where the
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
    n_parts = PARTS if elev.size >= SERIAL_CELLS else 1
    floor, pit = _find_pits(elev, label, outlet_elev.size, n_parts)
    if graph.floor_elev.size:
        outlet_elev, outlet_cell = outlet_elev.copy(), outlet_cell.copy()
        _open_enclosed(pit, floor, graph.basin_a, graph.basin_b, outlet_elev, outlet_cell)
    # Basins are numbered as they are met; from here on by their pits, which keeps their order in any window.
    by_pit = np.argsort(pit)
    rank = np.empty(by_pit.size, np.int32)
    rank[by_pit] = np.arange(by_pit.size, dtype=np.int32)
    floor, pit = floor[by_pit], pit[by_pit]
    joins = find_joins(rank, floor, graph, outlet_elev, outlet_cell)
    leaf_of, n_leaves = _number_leaves(joins.goes_to)
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
    top = outermost_elev(parent[keep], spill_elev)
    links = np.zeros((n_nodes + 1, 4), np.int32)
    _link_upwards(parent[keep], spill_elev, links)
    leaf = np.empty(label.shape, np.int32)
    shape = (n_parts, n_nodes + 1)
    parts = np.zeros(shape, np.int32), np.zeros(shape, np.int32), np.zeros(shape, np.float64)
    _add_cells(elev.ravel(), label.ravel(), leaf_of[rank], links, top, leaf.ravel(), *parts)
    catchment, n_cells = (part.sum(axis=0, dtype=np.int64) for part in parts[:2])
    below_top = parts[2].sum(axis=0)
    depth, volume = np.zeros(n_nodes + 1, np.float32), np.zeros(n_nodes + 1, np.float64)
    _add_children(
        child_a=child_a,
        child_b=child_b,
        spill_elev=spill_elev,
        top=top,
        floor=floor,
        node_pit=node_pit,
        catchment=catchment,
        n_cells=n_cells,
        below_top=below_top,
        depth=depth,
        volume=volume,
    )
    return HierarchyArrays(
        leaf=leaf,
        n_leaves=n_leaves,
        parent=parent[keep],
        child_a=child_a[keep],
        child_b=child_b[keep],
        pit_cell=pit[node_pit[keep]],
        spill_cell=spill_cell[keep],
        spill_elev=spill_elev[keep],
        spills_to=spills_to[keep],
        n_cells=n_cells,
        volume=volume,
        depth_max=depth,
        catchment_cells=catchment,
    )


def _find_pits(elev: F32, label: I32, n_labels: int, n_parts: int) -> tuple[F32, I64]:
    """Lowest elevation of each basin, and the first cell in raster order that has it; +inf and -1 for the ocean."""
    lowest = np.full((n_parts, n_labels), np.iinfo(np.int64).max)
    _rank_lowest(elev.ravel(), label.ravel(), lowest)
    floor, pit = np.full(n_labels, np.inf, np.float32), np.full(n_labels, -1, np.int64)
    pit[1:] = index_of_rank(lowest.min(axis=0)[1:])
    floor[1:] = elev.ravel()[pit[1:]]
    return floor, pit


@striped
def _rank_lowest(elev_of: F32, label_of: I32, lowest: I64) -> None:
    n_parts = lowest.shape[0]
    for part in prange(n_parts):
        for cell in range(label_of.size * part // n_parts, label_of.size * (part + 1) // n_parts):
            # No data goes to the ocean; adding 0 makes one of -0 and 0. There is no branch to mistake.
            rank = rank_by_height(elev_of[cell] + np.float32(0), cell)
            lowest[part, label_of[cell]] = min(lowest[part, label_of[cell]], rank)


@compiled
def _open_enclosed(pit: I64, floor: F32, basin_a: I32, basin_b: I32, outlet_elev: F32, outlet_cell: I32) -> None:
    """Let the lowest pits of a group without outlet drain; all that tie do, so mirroring changes nothing."""
    n = pit.size
    member_of = np.arange(n).astype(np.int32)
    for i in range(basin_a.size):
        member_of[find_root(member_of, np.int64(basin_a[i]))] = find_root(member_of, np.int64(basin_b[i]))
    lowest = np.full(n, np.float32(np.inf), np.float32)
    for basin in range(1, n):
        group = find_root(member_of, basin)
        lowest[group] = np.float32(-np.inf) if outlet_cell[basin] >= 0 else min(lowest[group], floor[basin])
    for basin in range(1, n):
        if floor[basin] == lowest[find_root(member_of, basin)]:
            outlet_elev[basin] = floor[basin]
            outlet_cell[basin] = pit[basin]


def _number_leaves(goes_to: I32) -> tuple[I32, int]:
    """Leaf that the water of each basin ends in, 0 for the ocean, and how many there are."""
    is_leaf = goes_to < 0
    is_leaf[OCEAN] = False
    leaf_of = np.cumsum(is_leaf, dtype=np.int32)
    n_leaves = int(leaf_of[-1])
    leaf_of[~is_leaf] = -1
    leaf_of[OCEAN] = OCEAN
    _follow(goes_to, leaf_of)
    return leaf_of, n_leaves


@compiled
def _follow(goes_to: I32, leaf_of: I32) -> None:
    for basin in range(1, leaf_of.size):
        end = np.int64(basin)
        while leaf_of[end] < 0:
            end = np.int64(goes_to[end])
        leaf = leaf_of[end]
        here = np.int64(basin)
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
    for basin in range(1, leaf_of.size):
        if goes_to[basin] < 0:
            node_pit[leaf_of[basin]] = basin
    set_of = np.arange(n_leaves + 1).astype(np.int32)
    node_of = np.arange(n_leaves + 1).astype(np.int32)
    n_nodes = n_leaves
    for i in range(low.size):
        leaf_a = np.int64(leaf_of[low[i]])
        leaf_b = np.int64(leaf_of[high[i]])
        root_a = find_root(set_of, leaf_a)
        root_b = find_root(set_of, leaf_b)
        if root_a == root_b:
            continue
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
            set_of[max(root_a, root_b)] = 0
            continue
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


def outermost_elev(parent: I32, spill_elev: F32) -> F32:
    """Spill elevation of the outermost node above each, -inf for the ocean; (n_nodes + 1,) float32 [m]."""
    top = np.empty(parent.size, np.float32)
    _tops(parent, spill_elev, top)
    return top


@compiled
def _tops(parent: I32, spill_elev: F32, top: F32) -> None:
    top[OCEAN] = -np.inf
    for node in range(parent.size - 1, 0, -1):
        top[node] = spill_elev[node] if parent[node] == OCEAN else top[parent[node]]


@compiled
def _link_upwards(parent: I32, spill_elev: F32, links: I32) -> None:
    """Write spill elevation, spill elevation of the link (both as bits), parent and link of each node.

    A link leads to a node further up, so far that climbing by links and parents takes a number of steps that grows
    with the logarithm of the depth: large low spots in rough ground are thousands of nodes deep. What a step needs
    lies side by side.

    References
    ----------
    Myers (1983), doi:10.1016/0020-0190(83)90106-0 (links of the skew binary kind).
    """
    heights = links.view(np.float32)
    depth = np.zeros(parent.size, np.int32)
    for node in range(parent.size - 1, 0, -1):
        up = np.int64(parent[node])
        link = np.int64(node)
        if up != OCEAN:
            depth[node] = depth[up] + 1
            near = np.int64(links[up, 3])
            far = np.int64(links[near, 3])
            link = far if depth[up] - depth[near] == depth[near] - depth[far] else up
        heights[node, 0] = spill_elev[node]
        heights[node, 1] = spill_elev[link]
        links[node, 2] = up
        links[node, 3] = link


@striped
def _add_cells(
    elev_of: F32,
    label_of: I32,
    leaf_of: I32,
    links: I32,
    top: F32,
    leaf: I32,
    catchment: I32,
    n_cells: I32,
    below_top: F64,
) -> None:
    """Write the leaf of each cell; count it in its catchment, and at the first node that covers it, by parts."""
    n_parts = catchment.shape[0]
    for part in prange(n_parts):
        stop = label_of.size * (part + 1) // n_parts
        nodes = np.empty(AT_ONCE, np.int32)
        elevs = np.empty(AT_ONCE, np.float32)
        tops = np.empty(AT_ONCE, np.float32)
        climbing = np.empty(AT_ONCE, np.int32)
        # Neighbours mostly share their basin: what is known of it is looked up once a run.
        basin = np.int32(-1)
        run_leaf = np.int32(-1)
        run_top = np.float32(-np.inf)
        run = 0
        for block in range(label_of.size * part // n_parts, stop, AT_ONCE):
            n = 0
            for cell in range(block, min(stop, block + AT_ONCE)):
                if label_of[cell] != basin:
                    if run_leaf > 0:
                        catchment[part, run_leaf] += run
                    run = 0
                    basin = label_of[cell]
                    run_leaf = leaf_of[basin] if basin > 0 else np.int32(-1)
                    run_top = top[run_leaf] if run_leaf > 0 else np.float32(-np.inf)
                leaf[cell] = run_leaf
                run += 1
                nodes[n] = run_leaf
                elevs[n] = elev_of[cell]
                tops[n] = run_top
                # the next cell is written over this one unless it is covered; at no data the comparison is false
                n += elev_of[cell] < run_top
            _climb(nodes, elevs, climbing, n, links)
            for k in range(n):
                n_cells[part, nodes[k]] += 1
                below_top[part, nodes[k]] += np.float64(tops[k]) - np.float64(elevs[k])
        if run_leaf > 0:
            catchment[part, run_leaf] += run


@compiled
def _climb(nodes: I32, elevs: F32, climbing: I32, n: int, links: I32) -> None:
    """Lead cells from their leaves to the first nodes that spill above them, each a step in turn.

    Cell by cell, each step would wait for the one before, and where the climb ends cannot be foreseen.
    """
    heights = links.view(np.float32)
    for k in range(n):
        climbing[k] = k
    while n > 0:
        n_on = 0
        for place in range(n):
            k = climbing[place]
            node = nodes[k]
            is_below = heights[node, 0] <= elevs[k]
            up = links[node, 2 + (heights[node, 1] <= elevs[k])]
            nodes[k] = node + (up - node) * np.int32(is_below)
            climbing[n_on] = k
            n_on += is_below
        n = n_on


@compiled
def _add_children(
    child_a: I32,
    child_b: I32,
    spill_elev: F32,
    top: F32,
    floor: F32,
    node_pit: I32,
    catchment: I64,
    n_cells: I64,
    below_top: F64,
    depth: F32,
    volume: F64,
) -> None:
    for node in range(1, catchment.size):
        if child_a[node] >= 0:
            for child in (child_a[node], child_b[node]):
                catchment[node] += catchment[child]
                n_cells[node] += n_cells[child]
                below_top[node] += below_top[child]
        volume[node] = below_top[node] - n_cells[node] * (np.float64(top[node]) - np.float64(spill_elev[node]))
        depth[node] = spill_elev[node] - floor[node_pit[node]]
