"""The tree of low spots within low spots."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from screening.grid import Grid
from screening.models.arrays import F32, F64, I32, I64, U8, Bool, freeze

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True, eq=False)
class DepressionHierarchy:
    """Which low spot holds water first, where it overflows, and what it then joins.

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

        own = self.cell_elev_m[int(self.first[node]) : int(self.last[node])]
        return np.sort(own[own < self.table["spill_elev_m"].iloc[node - 1]]).astype(np.float64)


@dataclass(frozen=True, kw_only=True, eq=False)
class NestedZones:
    """Cells of zones of which some lie within others, each cell once, so that those of each zone stand together.

    Parameters
    ----------
    cells
        Flat indices, int64 (n,).
    innermost
        The innermost zone of each cell, int64 (n,).
    first, last
        Cells of zone `i` are `cells[first[i]:last[i]]`, int64.
    around
        The zone next around each, which comes before it, int64, -1 where there is none.
    """

    cells: I64
    innermost: I64
    first: I64
    last: I64
    around: I64

    def __post_init__(self) -> None:
        freeze(self.cells, self.innermost, self.first, self.last, self.around)

    def cells_of(self, zone: int) -> I64:
        """Flat indices of the cells of a zone, those of the zones within it too, int64."""
        return self.cells[self.first[zone] : self.last[zone]]

    @cached_property
    def outermost(self) -> I64:
        """The outermost zone around each zone, itself where none is, int64."""
        import numpy as np

        found = np.arange(self.around.size)
        for zone in np.flatnonzero(self.around >= 0).tolist():
            found[zone] = found[self.around[zone]]
        return found

    def total(self, by_cell: F64) -> F64:
        """Sum what belongs to the cells of each zone, given in the order of `cells`."""
        import numpy as np

        up_to = np.concatenate(([0.0], np.cumsum(by_cell, dtype=np.float64)))
        total: F64 = up_to[self.last] - up_to[self.first]
        return total

    def largest(self, by_cell: F32 | U8) -> F32:
        """Find the largest of what belongs to the cells of each zone, given in the order of `cells`; 0 at least."""
        import numpy as np

        found = np.zeros(self.around.size, np.float32)
        np.maximum.at(found, self.innermost, by_cell)
        for zone in np.flatnonzero(self.around >= 0)[::-1].tolist():
            found[self.around[zone]] = max(found[self.around[zone]], found[zone])
        return found
