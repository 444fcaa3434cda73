"""The ground as water meets it, and where water goes on it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.grid import Grid
from screening.models.arrays import F32, F64, I32, I64, U8, Bool, freeze
from screening.models.conduits import Conduits
from screening.models.inflow import Inflow
from screening.models.notes import Note

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """The ground as water meets it.

    Parameters
    ----------
    grid
        Of all arrays here.
    elev_m
        Ground with small gaps interpolated, float32 [m]; NaN = no data.
    routed_elev_m
        Ground with barriers and structures raised and swales cut, float32 [m].
    structure_index
        Row of `Block.structures` + 1 where a structure stands, else 0, int32.
    is_interpolated
        Cells that were gaps.
    changes
        What was raised and cut: see `columns.SURFACE_CHANGE_COLUMNS`.
    conduits
        Pipes and downspouts.
    cut_gap_cell, cut_gap_sides
        Cells beside a small gap that the window cuts, int64, and bits of the sides on which it goes on, uint8.
    notes
        What was done and where.
    """

    grid: Grid
    elev_m: F32
    routed_elev_m: F32
    structure_index: I32
    is_interpolated: Bool
    changes: gpd.GeoDataFrame
    conduits: Conduits = field(default_factory=Conduits)
    cut_gap_cell: I64 = field(default_factory=lambda: np.empty(0, np.int64))
    cut_gap_sides: U8 = field(default_factory=lambda: np.empty(0, np.uint8))
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.elev_m, self.routed_elev_m, self.structure_index, self.is_interpolated)
        freeze(self.cut_gap_cell, self.cut_gap_sides)

    @cached_property
    def slope_pct(self) -> F64:
        """Slope of `elev_m` by Horn's method, float64 (n_rows, n_cols) [%], NaN = not known; read-only."""
        from screening.kernels.slope import horn_slope_pct

        slope = horn_slope_pct(self.elev_m, self.grid.cell_m)
        freeze(slope)
        return slope


@dataclass(frozen=True, kw_only=True, eq=False)
class FlowField:
    """Where water goes from each cell.

    Parameters
    ----------
    filled_elev_m
        Exact fill of `Surface.routed_elev_m`, float32 [m].
    flow_dir_d8
        Direction codes of `kernels.d8`, uint8: where a cell has a conduit link, that of an outlet.
    receiver
        Flat index of the cell that each cell drains to (itself at outlets, -1 without data), int32/int64; no
        neighbour where a cell has a conduit link.
    order
        Flat indices of the cells with data, each before its receiver.
    contributing_area_m2
        Ground draining through each cell along D8, with itself and with `context_area_m2`, float64 [m2].
    edge_sides
        Bits of the window sides from which unseen water may reach the cell, uint8.
    dispersive_method, multiflow_exponent, nodata_drains
        The criteria it was routed by; areas by the dispersive method: `flow.dispersive.dispersive_area_m2`.
    link_cell, link_target
        Cells all of whose water goes to one that is no neighbour, through a pipe or a downspout, and those
        receivers: flat indices, ascending by cell, int64.
    notes
        What of the surface could not be routed as it asks.
    context_area_m2
        Part of `contributing_area_m2` that lies beyond the window, float64 [m2]; None = nothing comes from there.
    inflow
        What comes from beyond the window; `flow.add_inflow` adds it to the areas.
    """

    grid: Grid
    filled_elev_m: F32
    flow_dir_d8: U8
    receiver: NDArray[Any]
    order: NDArray[Any]
    contributing_area_m2: F64
    edge_sides: U8
    dispersive_method: str = "freeman"
    multiflow_exponent: float = 1.1
    nodata_drains: bool = True
    link_cell: I64 = field(default_factory=lambda: np.empty(0, np.int64))
    link_target: I64 = field(default_factory=lambda: np.empty(0, np.int64))
    notes: tuple[Note, ...] = ()
    context_area_m2: F64 | None = None
    inflow: Inflow = field(default_factory=Inflow)

    def __post_init__(self) -> None:
        freeze(self.filled_elev_m, self.flow_dir_d8, self.receiver, self.order)
        freeze(self.contributing_area_m2, self.edge_sides)
        freeze(self.link_cell, self.link_target)


@dataclass(frozen=True, kw_only=True, eq=False)
class WindowView:
    """What a window shows of its lots, and what it may hide.

    Parameters
    ----------
    open_sides
        Bits of the sides from which unseen water may reach a lot, or a low spot on it.
    level_m, area_m2
        Filled level and contributing area of the cells of the lots and of the low spots on them, in the order of
        the grid: float32 [m] and float64 [m2].
    above
        Spill elevation [m] and catchment [m2] of the low spots on the lots and of all that could overflow into them,
        float64 (n, 2), in order.
    """

    open_sides: int
    level_m: F32
    area_m2: F64
    above: F64

    def __post_init__(self) -> None:
        freeze(self.level_m, self.area_m2, self.above)
