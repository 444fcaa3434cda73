"""The frozen values that pass between inputs, stages and reports.

Arrays inside are read-only. Tables are (Geo)DataFrames whose columns are declared in `screening.columns`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from screening.criteria import Criteria
from screening.grid import Bounds, Grid, check_same_grid

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
U8 = NDArray[np.uint8]
U16 = NDArray[np.uint16]
Bool = NDArray[np.bool_]

NoteKind = Literal["assumed", "converted", "repaired", "missing", "caution"]
Outcome = Literal["passed", "failed", "not assessed"]

NORTH_SIDE, EAST_SIDE, SOUTH_SIDE, WEST_SIDE = 1, 2, 4, 8
"""Bits that name the sides of a window."""


def freeze(*arrays: NDArray[Any]) -> None:
    """Set arrays read-only, so that a value that holds them cannot change under its reader."""
    for array in arrays:
        array.setflags(write=False)


@dataclass(frozen=True)
class Note:
    """Something assumed, converted, repaired or missing that a reader of the result must know."""

    kind: NoteKind
    subject: str
    text: str


@dataclass(frozen=True)
class LatLon:
    """A place in WGS 84 degrees."""

    lat: float
    lon: float


@dataclass(frozen=True, kw_only=True)
class SiteRequest:
    """Which files and which lots a screening is asked for.

    A vector path may name a layer of a file that has several as `PATH::LAYER`.

    Parameters
    ----------
    elevation
        Any raster that GDAL reads.
    lots, structures, driveways, roads, soils, drains, wells, septic
        Vector layers in any format that pyogrio reads; only `elevation` must be there.
    lot_ids
        Lots to screen; with none and no `at`, every lot of the layer.
    at, radius_m
        The lot that holds this place; without a lots layer, a circle of this radius around it.
    lot_id_field, soil_group_field
        Column of the lot ids or hydrologic groups where its name is not one of the usual ones.
    vertical_unit
        `m`, `ft`, `us-ft` or `cm`, where the raster does not say.
    """

    elevation: Path
    lots: str | None = None
    lot_ids: tuple[str, ...] = ()
    at: LatLon | None = None
    radius_m: float = 60.0
    structures: str | None = None
    driveways: str | None = None
    roads: str | None = None
    soils: str | None = None
    drains: str | None = None
    wells: str | None = None
    septic: str | None = None
    lot_id_field: str | None = None
    soil_group_field: str | None = None
    vertical_unit: str | None = None


@dataclass(frozen=True, eq=False)
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
    roads, septic
        Polygons.
    soils
        `mukey`, `hsg` (A, B, C, D, A/D, B/D, C/D, unknown), polygons.
    drains
        `drain_id`, `invert_up_m`, `invert_down_m` (NaN = not given), lines from up to down.
    wells
        Points.
    data_sides
        Bits of the window sides beyond which the elevation raster has nothing more.
    notes
        All that was assumed, converted, repaired or missing.
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
    data_sides: int = 0
    given: frozenset[str] = frozenset()
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.elev_m)


@dataclass(frozen=True)
class RainfallTable:
    """Rain depths by duration and return period, as read from a point precipitation table.

    Parameters
    ----------
    durations_h
        Ascending [h].
    return_periods_yr
        Ascending [yr].
    depth_mm
        Rows by duration, columns by return period [mm].
    source
        What the file says of itself.
    """

    durations_h: tuple[float, ...]
    return_periods_yr: tuple[float, ...]
    depth_mm: tuple[tuple[float, ...], ...]
    source: str


@dataclass(frozen=True)
class Rain:
    """The rain of one storm: a depth [mm], what it is called, where it comes from, whether anyone asked for it."""

    depth_mm: float
    label: str
    source: str
    is_assumed: bool = False


@dataclass(frozen=True, eq=False)
class Surface:
    """The ground as water meets it.

    Parameters
    ----------
    grid
        Of all arrays here.
    elev_m
        Ground with small gaps interpolated, float32 [m]; NaN = no data.
    routed_elev_m
        Ground with structures raised as walls and drains opened, float32 [m].
    structure_index
        Row of `Block.structures` + 1 where a structure stands, else 0, int32.
    is_interpolated
        Cells that were gaps.
    notes
        What was done and where.
    """

    grid: Grid
    elev_m: F32
    routed_elev_m: F32
    structure_index: I32
    is_interpolated: Bool
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.elev_m, self.routed_elev_m, self.structure_index, self.is_interpolated)


@dataclass(frozen=True, eq=False)
class FlowField:
    """Where water goes from each cell.

    Parameters
    ----------
    filled_elev_m
        Exact fill of `Surface.routed_elev_m`, float32 [m].
    flow_dir_d8
        Direction codes of `kernels.d8`, uint8.
    receiver
        Flat index of the cell that each cell drains to (itself at outlets, -1 without data), int32/int64.
    order
        Flat indices of the cells with data, each before its receiver.
    contributing_area_m2
        Ground draining through each cell along D8, with itself, float64 [m2].
    dispersive_area_m2
        The same, spread over all lower neighbours, float64 [m2].
    edge_sides
        Bits of the window sides from which unseen water may reach the cell, uint8.
    """

    grid: Grid
    filled_elev_m: F32
    flow_dir_d8: U8
    receiver: NDArray[Any]
    order: NDArray[Any]
    contributing_area_m2: F64
    dispersive_area_m2: F64
    edge_sides: U8

    def __post_init__(self) -> None:
        freeze(self.filled_elev_m, self.flow_dir_d8, self.receiver, self.order)
        freeze(self.contributing_area_m2, self.dispersive_area_m2, self.edge_sides)


@dataclass(frozen=True, eq=False)
class Depressions:
    """Low spots that hold water before it runs on, the outermost where they are nested.

    Parameters
    ----------
    label
        Row of `table` + 1 in each cell of a depression, else 0, int32.
    depth_m
        Depth when full, float32 [m], 0 outside and in enclosed ones.
    level_m
        Level at which each runs over, float64 [m], enclosed ones with theirs, by row of `table`.
    spill_cell
        Flat index of the first cell below its level that the water of each reaches when it runs over, int64, by
        row of `table`; the outlet where there is none.
    table
        One row a depression, polygons of the full water: see `columns.LOW_SPOT_COLUMNS`; what a storm does to
        them is NaN until `ponding.add_storm` fills it in.
    """

    grid: Grid
    label: I32
    depth_m: F32
    level_m: F64
    spill_cell: I64
    table: gpd.GeoDataFrame

    def __post_init__(self) -> None:
        freeze(self.label, self.depth_m, self.level_m, self.spill_cell)


@dataclass(frozen=True, eq=False)
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
    """

    grid: Grid
    rain: Rain
    curve_number: F32
    runoff_mm: F32
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        freeze(self.curve_number, self.runoff_mm)


@dataclass(frozen=True, eq=False)
class Ponding:
    """What the storm leaves standing.

    Parameters
    ----------
    table
        By depression: `depression_id`, `inflow_m3`, `ponded_m3`, `overflow_m3`, `storm_depth_m`,
        `storm_level_m`, `spill_rain_mm`.
    water_depth_m
        Standing water per cell, float32 [m].
    runoff_m3, ponded_m3, left_window_m3
        The balance: runoff = ponded + left.
    """

    grid: Grid
    table: pd.DataFrame
    water_depth_m: F32
    runoff_m3: float
    ponded_m3: float
    left_window_m3: float

    def __post_init__(self) -> None:
        freeze(self.water_depth_m)


@dataclass(frozen=True, eq=False)
class InfiltrationZones:
    """Ground that may take water.

    Parameters
    ----------
    reasons
        Bits of `infiltration.REASONS` that reject each cell, uint16; 0 = candidate.
    table
        Candidate zones as polygons: see `columns.ZONE_COLUMNS`.
    by_lot
        `lot_id`, `infiltration_area_m2`, `infiltration_status`, `infiltration_why`.
    """

    grid: Grid
    reasons: U16
    table: gpd.GeoDataFrame
    by_lot: pd.DataFrame

    def __post_init__(self) -> None:
        freeze(self.reasons)


@dataclass(frozen=True)
class Verdict:
    """One check of one subject: statistic, operator, threshold, outcome.

    `passed` means `value operator threshold` holds; unknown is `not assessed`, never a pass. `aspect` tells checks
    that look for a problem, whose failures are flags, from those that look for a remedy.
    """

    lot_id: str
    subject_kind: str
    subject_id: str
    check: str
    statistic: str
    value: float | None
    operator: Literal["<=", ">=", "<", "=="]
    threshold: float
    unit: str
    source: str
    outcome: Outcome
    note: str = ""
    aspect: Literal["problem", "remedy"] = "problem"


@dataclass(frozen=True, eq=False)
class BlockResult:
    """All that a screening found in one block; reports read nothing else."""

    block: Block
    criteria: Criteria
    surface: Surface
    flow: FlowField
    depressions: Depressions
    storm: Storm
    ponding: Ponding
    structures: gpd.GeoDataFrame
    driveways: gpd.GeoDataFrame
    zones: InfiltrationZones
    flow_paths: gpd.GeoDataFrame
    catchments: gpd.GeoDataFrame
    verdicts: tuple[Verdict, ...]
    summary: gpd.GeoDataFrame
    notes: tuple[Note, ...] = field(default=())

    def __post_init__(self) -> None:
        for what, part in (
            ("The surface", self.surface),
            ("The flow field", self.flow),
            ("The storm", self.storm),
            ("The depressions", self.depressions),
            ("The ponding", self.ponding),
            ("The zones", self.zones),
        ):
            check_same_grid(self.block.grid, part.grid, what=what)


def merge_notes(*groups: Iterable[Note]) -> tuple[Note, ...]:
    """Join notes, each once, in the order of their first appearance."""
    return tuple(dict.fromkeys(note for group in groups for note in group))


__all__ = [
    "EAST_SIDE",
    "NORTH_SIDE",
    "SOUTH_SIDE",
    "WEST_SIDE",
    "Block",
    "BlockResult",
    "Bounds",
    "Depressions",
    "FlowField",
    "InfiltrationZones",
    "LatLon",
    "Note",
    "NoteKind",
    "Outcome",
    "Ponding",
    "Rain",
    "RainfallTable",
    "SiteRequest",
    "Storm",
    "Surface",
    "Verdict",
    "freeze",
    "merge_notes",
]
