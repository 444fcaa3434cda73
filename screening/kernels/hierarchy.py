"""The depression hierarchy: which low spot holds water first, where it overflows, and what it then joins.

Built from the graph of basins and saddles that the fill floods (Barnes, Callaghan & Wickert 2020).
"""

from typing import NamedTuple

import numpy as np

from screening.kernels.compiling import F32, F64, I32, I64, SERIAL_CELLS
from screening.kernels.fill import BasinGraph
from screening.kernels.joins import find_joins
from screening.kernels.merges import merge_leaves, number_leaves
from screening.kernels.node_measures import PARTS, measure_nodes
from screening.kernels.pits import find_pits, open_enclosed


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
    """Flat index of the higher cell of the saddle, or of the outlet."""
    spill_elev: F32
    spills_to: I32
    """Leaf on the other side of the saddle, 0 = ocean."""
    n_cells: I64
    """Cells of the catchment below the spill elevation."""
    volume: F64
    """[cell m] below the spill elevation."""
    depth_max: F32
    catchment_cells: I64
    """Cells that drain into the node."""


def build_hierarchy(elev: F32, graph: BasinGraph) -> HierarchyArrays:
    """Merge basins along their saddles, from the lowest up.

    A basin without depth, such as a level part of a slope, makes no node: its water falls into the leaf beyond its
    lowest saddle. Saddles of one height are taken in the order of their pits, so the tree does not depend on where the
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
    Barnes, Callaghan & Wickert (2020), doi:10.5194/esurf-8-431-2020.
    """
    label, outlet_elev, outlet_cell = graph.label, graph.outlet_elev, graph.outlet_cell
    n_parts = PARTS if elev.size >= SERIAL_CELLS else 1
    floor, pit = find_pits(elev, label, outlet_elev.size, n_parts)
    if graph.floor_elev.size:
        outlet_elev, outlet_cell = outlet_elev.copy(), outlet_cell.copy()
        open_enclosed(pit, floor, graph.basin_a, graph.basin_b, outlet_elev, outlet_cell)
    # Basins are numbered as they are met; from here on by their pits, which keeps their order in any window.
    by_pit = np.argsort(pit)
    rank = np.empty(by_pit.size, np.int32)
    rank[by_pit] = np.arange(by_pit.size, dtype=np.int32)
    floor, pit = floor[by_pit], pit[by_pit]
    joins = find_joins(rank, floor, graph, outlet_elev, outlet_cell)
    leaf_of, n_leaves = number_leaves(joins.goes_to)
    merges = merge_leaves(joins, floor, leaf_of, n_leaves)
    measures = measure_nodes(elev, label, leaf_of[rank], merges, floor, n_parts)
    return HierarchyArrays(
        leaf=measures.leaf,
        n_leaves=n_leaves,
        parent=merges.parent,
        child_a=merges.child_a,
        child_b=merges.child_b,
        pit_cell=pit[merges.pit],
        spill_cell=merges.spill_cell,
        spill_elev=merges.spill_elev,
        spills_to=merges.spills_to,
        n_cells=measures.n_cells,
        volume=measures.volume,
        depth_max=measures.depth_max,
        catchment_cells=measures.catchment_cells,
    )
