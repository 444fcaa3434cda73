"""Where water stands: low spots, and what a storm leaves in them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from screening.grid import Grid
from screening.models.arrays import F32, F64, I32, I64, Bool, freeze
from screening.models.hierarchy import NestedZones

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


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
