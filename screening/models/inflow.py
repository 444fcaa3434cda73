"""Coarser ground around the window, and the water that it sends in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from screening.grid import Grid
from screening.models.arrays import F32, F64, I64, Bool, freeze
from screening.models.notes import Note


@dataclass(frozen=True, eq=False)
class ContextElevation:
    """Coarser elevation that reaches beyond the window, in the window's CRS.

    Parameters
    ----------
    grid
        Its own grid; its cells need not line up with the window's.
    elev_m
        float32 [m], NaN = no data.
    name
        Of the file, for notes.
    """

    grid: Grid
    elev_m: F32
    name: str

    def __post_init__(self) -> None:
        freeze(self.elev_m)


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossings:
    """Where the flow of coarser ground crosses the window's outline.

    Places lie midway between a coarse cell and the one it drains to; one row a cell that sends water in, or out. A cell
    that straddles the outline and drains further in sends in its part outside.

    Parameters
    ----------
    x_m, y_m
        Where water comes in, float64 [m].
    area_m2
        Ground beyond the window that drains to each place, float64 [m2].
    returned_m2, is_cut
        As in `Inflow`.
    out_x_m, out_y_m
        Where water leaves, float64 [m].
    is_within
        Coarse cells that count as within the window, bool, shape of the coarse grid.
    """

    x_m: F64
    y_m: F64
    area_m2: F64
    returned_m2: F64
    is_cut: Bool
    out_x_m: F64
    out_y_m: F64
    is_within: Bool

    def __post_init__(self) -> None:
        freeze(self.x_m, self.y_m, self.area_m2, self.returned_m2, self.is_cut)
        freeze(self.out_x_m, self.out_y_m, self.is_within)


@dataclass(frozen=True, eq=False)
class Inflow:
    """Water from ground beyond the window, at the cells of its edge that take it.

    Parameters
    ----------
    cell
        Flat indices of those cells, ascending, each once, int64.
    area_m2
        Ground beyond the window that drains to each, float64 [m2].
    runoff_m3
        What that ground sheds in the storm, float64 [m3]; NaN where no storm is known yet.
    returned_m2
        Ground whose water leaves the window and comes back at each, which `area_m2` does not hold, float64 [m2].
    is_cut
        The ground beyond is itself cut there, by the edge of the coarser elevation or a gap in it: a lower bound.
    supplied_cell
        Flat indices of edge cells to which nothing unseen drains any more, int64.
    curve_number
        Of all ground beyond; NaN where there is none.
    cell_m
        Cell size of the coarser elevation [m]; NaN where there is none.
    notes
        What was given, from where, and what is still missing.
    """

    cell: I64 = field(default_factory=lambda: np.empty(0, np.int64))
    area_m2: F64 = field(default_factory=lambda: np.empty(0, np.float64))
    runoff_m3: F64 = field(default_factory=lambda: np.empty(0, np.float64))
    returned_m2: F64 = field(default_factory=lambda: np.empty(0, np.float64))
    is_cut: Bool = field(default_factory=lambda: np.empty(0, np.bool_))
    supplied_cell: I64 = field(default_factory=lambda: np.empty(0, np.int64))
    curve_number: float = float("nan")
    cell_m: float = float("nan")
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.cell, self.area_m2, self.runoff_m3, self.returned_m2, self.is_cut, self.supplied_cell)
