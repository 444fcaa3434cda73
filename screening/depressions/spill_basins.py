"""The low spots as water fills them: the hierarchy as arrays, and the leaf that the water of each cell comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.models import F32, F64, I32, I64, Bool, DepressionHierarchy, FlowField, Surface, freeze

if TYPE_CHECKING:
    from screening.kernels.spill_tree import SpillTree


@dataclass(frozen=True, kw_only=True, eq=False)
class SpillBasins:
    """The hierarchy as arrays by node (element 0 = out), with enclosed courtyards made level: the same in any storm.

    Parameters
    ----------
    tree
        As water goes through it.
    child_a, child_b
        Parts of each node, -1 = leaf, int32.
    spill_elev_m, capacity_m3
        Level at which each overflows, float32 [m], and what it holds then, float64 [m3].
    leaf
        Leaf that the water of each cell comes to first, flat, int32; 0 = none.
    cell, ground_m, first, last
        Covered cells and their ground [m]: those of node `i` are `cell[first[i]:last[i]]`.
    cell_area_m2
        Area of a cell.
    """

    tree: SpillTree
    child_a: I32
    child_b: I32
    spill_elev_m: F32
    capacity_m3: F64
    leaf: I32
    cell: I64
    ground_m: F32
    first: I64
    last: I64
    cell_area_m2: float

    def __post_init__(self) -> None:
        freeze(self.child_a, self.child_b, self.spill_elev_m, self.capacity_m3, self.leaf, self.ground_m)

    @property
    def n_leaves(self) -> int:
        """Leaves of the tree."""
        return self.tree.leaves.size


def build_spill_basins(surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy) -> SpillBasins:
    """Take the hierarchy as arrays, and level the ground of enclosed courtyards at where they would overflow.

    Parameters
    ----------
    surface, flow, hierarchy
        Of the same window.
    """
    from screening.kernels.spill_tree import build_spill_tree

    table = hierarchy.table

    def column(name: str, at_zero: float, dtype: type) -> NDArray[Any]:
        return np.concatenate(([at_zero], table[name].to_numpy())).astype(dtype)

    parent, spill_elev = column("parent", 0, np.int32), column("spill_elev_m", np.nan, np.float32)
    child_a, child_b = column("child_a", -1, np.int32), column("child_b", -1, np.int32)
    capacity, cell_elev_m = column("volume_m3", 0.0, np.float64), hierarchy.cell_elev_m
    spill_cell = table["spill_cell"].to_numpy(np.int64)
    is_courtyard = np.concatenate(([False], surface.structure_index.ravel()[spill_cell] > 0))
    if is_courtyard.any():
        cell_elev_m = cell_elev_m.copy()
        capacity = _level_courtyards(hierarchy, parent, spill_elev, is_courtyard, cell_elev_m, capacity)
    return SpillBasins(
        tree=build_spill_tree(parent, child_a, child_b, column("spills_to", 0, np.int32), capacity),
        child_a=child_a,
        child_b=child_b,
        spill_elev_m=spill_elev,
        capacity_m3=capacity,
        leaf=_first_leaf(surface, flow, hierarchy),
        cell=hierarchy.cell,
        ground_m=cell_elev_m,
        first=hierarchy.first,
        last=hierarchy.last,
        cell_area_m2=flow.grid.cell_area_m2,
    )


def _first_leaf(surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy) -> I32:
    """Leaf that the water of each cell comes to first, flat; 0 = none.

    Water that is led elsewhere before it comes to its low spot goes by the way it is led. What leads it must lie in the
    ground of that low spot: on the filled ground water may run past one that is not full yet, and be led from there.
    """
    from screening.kernels.accumulate import nearest_label_downstream

    leaf = np.maximum(hierarchy.leaf, np.int32(0)).ravel()
    leads = np.concatenate((flow.link_cell, surface.conduits.sink_cell))
    if leads.size == 0:
        return leaf
    is_wet = (flow.filled_elev_m > surface.routed_elev_m).ravel()
    met = np.where(is_wet, np.int32(leads.size + 1), np.int32(0))
    met[leads] = np.arange(1, leads.size + 1)
    way = nearest_label_downstream(flow.receiver, flow.order, met) - 1
    way[way >= leads.size] = -1
    way[(way >= 0) & (leaf[leads[way]] != leaf)] = -1
    # Where a conduit link ends another may begin: each is followed until none does.
    end = np.concatenate((flow.link_target, np.full(leads.size - flow.link_cell.size, -1)))
    onward = np.where(end >= 0, way[end], -1)
    while (onward >= 0).any():
        goes_on = onward >= 0
        end[goes_on] = end[onward[goes_on]]
        onward = np.where(end >= 0, way[end], -1)
    led = np.where(end >= 0, leaf[end], np.int32(0))  # what a sink takes is off the ground
    return np.where(way >= 0, led[way], leaf).astype(np.int32)


def _level_courtyards(
    hierarchy: DepressionHierarchy, parent: I32, spill_elev: F32, is_courtyard: Bool, cell_elev_m: F32, capacity: F64
) -> F64:
    """Raise the ground of courtyards, in place, and take what they hold off themselves and all around them."""
    lost = np.zeros(capacity.size)
    for node in np.flatnonzero(is_courtyard).tolist():
        around = _all_around(parent, node)
        if is_courtyard[around].any():
            continue  # level with the courtyard it lies in
        rows = slice(int(hierarchy.first[node]), int(hierarchy.last[node]))
        cell_elev_m[rows] = np.maximum(cell_elev_m[rows], spill_elev[node])
        lost[[node, *around]] += capacity[node]
    inside = is_courtyard.copy()
    while True:
        wider = inside | inside[parent]
        if (wider == inside).all():
            break
        inside = wider
    left: F64 = np.where(inside, 0.0, capacity - lost)
    return left


def _all_around(parent: I32, node: int) -> list[int]:
    around = []
    while parent[node] != 0:
        node = int(parent[node])
        around.append(node)
    return around
