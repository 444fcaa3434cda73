"""The tree of low spots within low spots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.grid import Grid
from screening.models.arrays import F32, F64, I32, I64, Bool, freeze

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class DepressionHierarchy:
    """Which low spot holds water first, where it runs over, and what it then joins.

    Nodes are numbered from 1, leaves first, each before the node it joins to; 0 is where water leaves.

    Parameters
    ----------
    grid
        Of `leaf`.
    leaf
        Leaf whose catchment each cell lies in, 0 = water leaves, -1 = no data, int32.
    table
        One row a node: `node`, `parent`, `child_a`, `child_b` (-1 = leaf), `spills_to` (a leaf), `pit_cell`,
        `spill_cell` (flat indices), `spill_elev_m`, `depth_max_m`, `area_m2`, `volume_m3`, `catchment_area_m2`.
    cell, first, last
        Covered cells as flat indices, int64: those of node `i` are `cell[first[i]:last[i]]`.
    cell_elev_m
        Elevation of those cells, float32 [m].
    """

    grid: Grid
    leaf: I32
    table: pd.DataFrame
    cell: I64
    first: I64
    last: I64
    cell_elev_m: F32

    def __post_init__(self) -> None:
        freeze(self.leaf, self.cell, self.first, self.last, self.cell_elev_m)

    @property
    def is_covered(self) -> Bool:
        """Cells that outermost nodes cover when full, bool, shape of the grid."""
        import numpy as np

        covered = np.zeros(self.leaf.size, bool)
        covered[self.cell] = True
        return covered.reshape(self.leaf.shape)

    def elevations_of(self, node: int) -> F64:
        """Elevations of the cells that a node covers when full, ascending, float64 [m]."""
        import numpy as np

        return np.sort(self.cell_elev_m[self._rows_of(node)]).astype(np.float64)

    def cells_of(self, node: int) -> I64:
        """Flat indices of the cells that a node covers when full, int64."""
        return self.cell[self._rows_of(node)]

    def _rows_of(self, node: int) -> I64:
        import numpy as np

        first, last = int(self.first[node]), int(self.last[node])
        is_below = self.cell_elev_m[first:last] < self.table["spill_elev_m"].iloc[node - 1]
        return np.flatnonzero(is_below) + first
