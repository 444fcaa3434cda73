"""Cells, volume, depth and catchment of each node of a depression hierarchy."""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, compiled, striped
from screening.kernels.joins import OCEAN
from screening.kernels.merges import Merges

PARTS = 2
"""Parts that large grids are summed in, whatever the threads, so that sums never depend on them."""

AT_ONCE = 1024
"""Cells that are led up the tree together."""


class NodeMeasures(NamedTuple):
    """Cells of a grid and nodes of its hierarchy, each measured with its parts; (n_nodes + 1,) but for `leaf`."""

    leaf: I32
    """Leaf whose catchment each cell lies in, 0 = ocean, -1 = no data; (n_rows, n_cols)."""
    n_cells: I64
    """Cells of the catchment below the spill elevation."""
    volume: F64
    """[cell m] below the spill elevation."""
    depth_max: F32
    """[m]."""
    catchment_cells: I64
    """Cells that drain into the node."""


def measure_nodes(elev: F32, label: I32, leaf_of: I32, merges: Merges, floor: F32, n_parts: int) -> NodeMeasures:
    """Measure the nodes of a depression hierarchy.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    label : (n_rows, n_cols) int32
        Basins 1..n, 0 at no data.
    leaf_of : (n_basins + 1,) int32
        Leaf that the water of each of them ends in, 0 for the ocean.
    merges : Merges
    floor : (n_basins + 1,) float32 [m]
        Elevation of the pits, by pit.
    n_parts : int
        Parts of the grid that are summed side by side.

    Returns
    -------
    NodeMeasures
    """
    n = merges.parent.size
    top = outermost_elev(merges.parent, merges.spill_elev)
    skip_links = np.zeros((n, 4), np.int32)
    _link_upwards(merges.parent, merges.spill_elev, skip_links)
    leaf = np.empty(label.shape, np.int32)
    # int32 holds the cells of a part: a grid has fewer than 2**31.
    parts = np.zeros((n_parts, n), np.int32), np.zeros((n_parts, n), np.int32), np.zeros((n_parts, n), np.float64)
    _add_cells(
        elev_of=elev.ravel(),
        label_of=label.ravel(),
        leaf_of=leaf_of,
        skip_links=skip_links,
        top=top,
        leaf=leaf.ravel(),
        catchment=parts[0],
        n_cells=parts[1],
        below_top=parts[2],
    )
    catchment, n_cells = (part.sum(axis=0, dtype=np.int64) for part in parts[:2])
    below_top = parts[2].sum(axis=0)
    depth, volume = np.zeros(n, np.float32), np.zeros(n, np.float64)
    _add_children(
        child_a=merges.child_a,
        child_b=merges.child_b,
        spill_elev=merges.spill_elev,
        top=top,
        floor=floor,
        node_pit=merges.pit,
        catchment=catchment,
        n_cells=n_cells,
        below_top=below_top,
        depth=depth,
        volume=volume,
    )
    return NodeMeasures(leaf, n_cells, volume, depth, catchment)


def outermost_elev(parent: I32, spill_elev: F32) -> F32:
    """Spill elevation of the outermost node above each.

    Parameters
    ----------
    parent : (n_nodes + 1,) int32
    spill_elev : (n_nodes + 1,) float32 [m]

    Returns
    -------
    (n_nodes + 1,) float32 [m]
        -inf for the ocean, which covers nothing.
    """
    top = np.empty(parent.size, np.float32)
    _tops(parent, spill_elev, top)
    return top


@compiled
def _tops(parent: I32, spill_elev: F32, top: F32) -> None:
    top[OCEAN] = -np.inf
    # From the last node down: parents come after their children, so the parent's answer is there.
    for node in range(parent.size - 1, 0, -1):
        top[node] = spill_elev[node] if parent[node] == OCEAN else top[parent[node]]


@compiled
def _link_upwards(parent: I32, spill_elev: F32, skip_links: I32) -> None:
    """Write spill elevation, spill elevation of the skip link (both as bits), parent and skip link of each node.

    A skip link leads to a node further up, so far that climbing by skip links and parents takes a number of steps
    that grows with the logarithm of the depth: large low spots in rough ground are thousands of nodes deep. What a
    step needs lies side by side.

    References
    ----------
    Myers (1983), doi:10.1016/0020-0190(83)90106-0 (links of the skew binary kind).
    """
    # The same bytes, read as elevations.
    heights = skip_links.view(np.float32)
    depth = np.zeros(parent.size, np.int32)
    # From the last node down: all nodes above this one have their depth and their links.
    for node in range(parent.size - 1, 0, -1):
        up = np.int64(parent[node])
        # An outermost node links to itself; no climb comes further, for only cells below its spill elevation are led
        # up.
        skip = np.int64(node)
        if up != OCEAN:
            depth[node] = depth[up] + 1
            near = np.int64(skip_links[up, 3])
            far = np.int64(skip_links[near, 3])
            # Where the two skips above are of one length, one as long as both and a step more; else to the parent.
            skip = far if depth[up] - depth[near] == depth[near] - depth[far] else up
        heights[node, 0] = spill_elev[node]
        heights[node, 1] = spill_elev[skip]
        skip_links[node, 2] = up
        skip_links[node, 3] = skip


@striped
def _add_cells(
    elev_of: F32,
    label_of: I32,
    leaf_of: I32,
    skip_links: I32,
    top: F32,
    leaf: I32,
    catchment: I32,
    n_cells: I32,
    below_top: F64,
) -> None:
    """Write the leaf of each cell; count it in its catchment, and at the first node that covers it, by parts."""
    n_parts = catchment.shape[0]
    # Each part has its own row of the sums, and its own cells.
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
        # Cells before `block` are counted; the run of the basin under way still waits in `run`.
        for block in range(label_of.size * part // n_parts, stop, AT_ONCE):
            n = 0
            # `[:n]` are the covered cells of this block so far; no more than its cells, so the room suffices.
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
            _climb(nodes, elevs, climbing, n, skip_links)
            # `nodes[k]` is the innermost node that covers cell k; those around it get it by their children.
            for k in range(n):
                n_cells[part, nodes[k]] += 1
                below_top[part, nodes[k]] += np.float64(tops[k]) - np.float64(elevs[k])
        # The last run has no change of basin after it.
        if run_leaf > 0:
            catchment[part, run_leaf] += run


@compiled
def _climb(nodes: I32, elevs: F32, climbing: I32, n: int, skip_links: I32) -> None:
    """Lead cells from their leaves to the first nodes that spill above them, each a step in turn.

    Cell by cell, each step would wait for the one before, and where the climb ends cannot be foreseen.
    """
    heights = skip_links.view(np.float32)
    # All cells climb at first.
    for k in range(n):
        climbing[k] = k
    # `climbing[:n]` are the cells that may have further to go; each has come up over nodes that do not cover its cell.
    while n > 0:
        n_on = 0
        # `climbing[:n_on]` go on; `n_on <= place`, so nothing unread is written over.
        for place in range(n):
            k = climbing[place]
            node = nodes[k]
            # Spill elevations never fall on the way up: if the skip link's is too low, so are all that it skips. No
            # branch to mistake.
            is_below = heights[node, 0] <= elevs[k]
            up = skip_links[node, 2 + (heights[node, 1] <= elevs[k])]
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
    # Children come before their parents: their sums are whole.
    for node in range(1, catchment.size):
        if child_a[node] >= 0:
            # Each of the two children once.
            for child in (child_a[node], child_b[node]):
                catchment[node] += catchment[child]
                n_cells[node] += n_cells[child]
                below_top[node] += below_top[child]
        # Depths were summed below the outermost node's level: down to this node's, once for each cell.
        volume[node] = below_top[node] - n_cells[node] * (np.float64(top[node]) - np.float64(spill_elev[node]))
        depth[node] = spill_elev[node] - floor[node_pit[node]]
