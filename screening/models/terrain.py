"""The window and what water does in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.grid import Grid
from screening.models.arrays import F32, F64, I32, I64, U8, Bool, freeze
from screening.models.conduits import Conduits, Intake
from screening.models.ground import GroundCover
from screening.models.hierarchy import NestedZones
from screening.models.inflow import ContextElevation, Inflow
from screening.models.notes import Note
from screening.models.request import Rain

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """A working window of elevation with the lots it serves and the layers that fall in it.

    All layers are in `grid.crs`, valid, single 2-D geometries in metres, with a plain range index.

    Parameters
    ----------
    grid
        The window.
    elev_m
        Ground elevation [m], float32, shape of the grid, NaN = no data.
    lots
        `lot_id` (unique text) and polygons.
    structures, driveways
        `structure_id` or `driveway_id` (unique text), `lot_id` ("" = on no chosen lot), `kind`
        (structures: house, garage, ... or "structure"), polygons.
    roads, septic, wetlands, trees
        Polygons.
    soils
        `mukey`, `hsg` (A, B, C, D, A/D, B/D, C/D, unknown), `ksat_mm_h` (saturated conductivity of the least
        transmissive layer), `water_depth_m` (to the seasonal high water table), `restrictive_depth_m` (to a layer that
        holds water up; these three NaN = not given, inf = there is none), polygons.
    drains
        `drain_id`, `kind` (culvert, pipe, swale, ditch, ...), `invert_up_m`, `invert_down_m`, `depth_m` of a swale
        (NaN = not given), lines from up to down.
    wells
        Points.
    utilities
        Lines.
    barriers
        `barrier_id`, `kind` (curb, wall, berm, ...), `height_m` above the ground (NaN = not given), lines.
    downspouts
        `downspout_id`, `structure_id` ("" = not given), points.
    doors
        `door_id`, `kind` (door, garage, window well, ...), `structure_id` ("" = not given), `sill_elev_m` (NaN = not
        given), points.
    data_sides
        Bits of the window sides beyond which the elevation raster has nothing more.
    context_elevation
        Coarser elevation that reaches beyond the window, if there is one.
    cover
        Land cover as position in `covers.COVERS` + 1, 0 = not said or a lawn, uint8; None = none was given.
    notes
        All that was assumed, converted, repaired or missing.
    intakes
        What takes water along a line, or off a roof, and leads it away.
    """

    grid: Grid
    elev_m: F32
    lots: gpd.GeoDataFrame
    structures: gpd.GeoDataFrame
    driveways: gpd.GeoDataFrame
    roads: gpd.GeoDataFrame
    soils: gpd.GeoDataFrame
    drains: gpd.GeoDataFrame
    wells: gpd.GeoDataFrame
    septic: gpd.GeoDataFrame
    barriers: gpd.GeoDataFrame
    downspouts: gpd.GeoDataFrame
    doors: gpd.GeoDataFrame
    wetlands: gpd.GeoDataFrame
    utilities: gpd.GeoDataFrame
    trees: gpd.GeoDataFrame
    data_sides: int = 0
    given: frozenset[str] = frozenset()
    notes: tuple[Note, ...] = ()
    cover: U8 | None = None
    context_elevation: ContextElevation | None = None
    intakes: tuple[Intake, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.elev_m)
        if self.cover is not None:
            freeze(self.cover)


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
    dispersive_area_m2
        The same, spread over lower neighbours by `dispersive_method`, float64 [m2].
    edge_sides
        Bits of the window sides from which unseen water may reach the cell, uint8.
    dispersive_method, multiflow_exponent, nodata_drains
        The criteria it was routed by.
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
    dispersive_area_m2: F64
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
        freeze(self.contributing_area_m2, self.dispersive_area_m2, self.edge_sides)
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


@dataclass(frozen=True, kw_only=True, eq=False)
class Depressions:
    """Low spots that hold water before it runs on, and those within them.

    Parameters
    ----------
    label
        Row of `table` + 1 of the outermost depression in each cell, else 0, int32.
    depth_m
        Depth when full, float32 [m], 0 outside and in enclosed ones.
    level_m
        Level at which each overflows, float64 [m], enclosed ones with theirs, by row of `table`.
    spill_cell
        Flat index of the first cell below its level that the water of each reaches when it overflows, int64, by
        row of `table`; the outlet where there is none.
    node
        Node of the hierarchy, int64, by row of `table`.
    zones
        Cells under the full water of each, by row of `table`.
    table
        One row a depression, the outermost first, polygons of the full water: see `columns.LOW_SPOT_COLUMNS`; what a
        storm does to them is not assessed until `ponding.add_storm` fills it in.
    """

    grid: Grid
    label: I32
    depth_m: F32
    level_m: F64
    spill_cell: I64
    node: I64
    zones: NestedZones
    table: gpd.GeoDataFrame

    def __post_init__(self) -> None:
        freeze(self.label, self.depth_m, self.level_m, self.spill_cell, self.node)

    @cached_property
    def is_courtyard(self) -> Bool:
        """Whether the low spot of a number in `label` is enclosed by walls; False for 0, no low spot."""
        return np.concatenate(([False], self.table["is_enclosed"].to_numpy(bool)))


@dataclass(frozen=True, kw_only=True, eq=False)
class Storm:
    """A rain, and the runoff it gives on each cell.

    Parameters
    ----------
    rain
        Depth, name and source.
    curve_number
        Per cell, float32; NaN = no data.
    runoff_mm
        Per cell, float32 [mm].
    ground
        The cover and soil group that they follow from.
    """

    grid: Grid
    rain: Rain
    curve_number: F32
    runoff_mm: F32
    ground: GroundCover
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.curve_number, self.runoff_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class Ponding:
    """What the storm leaves standing.

    Parameters
    ----------
    table
        By row of `Depressions.table`: `low_spot_id`, `inflow_m3`, `ponded_m3`, `overflow_m3`, `storm_depth_m`,
        `storm_level_m` (NaN = dry), `threshold_rainfall_mm`, `spills_to`.
    water_depth_m
        Standing water per cell, however small the low spot, float32 [m].
    threshold_rainfall_mm
        Smallest rain that brings water to the wall of each structure, float64 [mm], by row of `Block.structures`;
        `filling.RAIN_CAP_MM` where none that is tried does, inf where no low spot reaches the wall.
    overflow_paths
        Ways of the water that overflows: see `columns.OVERFLOW_PATH_COLUMNS`.
    rain_m3, abstracted_m3, runoff_m3, ponded_m3, left_window_m3
        The balance: rain = abstracted + runoff, runoff = ponded + left.
    """

    grid: Grid
    table: pd.DataFrame
    water_depth_m: F32
    threshold_rainfall_mm: F64
    overflow_paths: gpd.GeoDataFrame
    rain_m3: float
    abstracted_m3: float
    runoff_m3: float
    ponded_m3: float
    left_window_m3: float

    def __post_init__(self) -> None:
        freeze(self.water_depth_m, self.threshold_rainfall_mm)
