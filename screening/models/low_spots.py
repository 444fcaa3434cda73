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
class LowSpots:
    """Low spots that hold water before it runs on, and those within them: what the ground alone says of them.

    Parameters
    ----------
    label
        Row of `found` + 1 of the outermost low spot in each cell, else 0, int32.
    depth_m
        Depth when full, float32 [m], 0 outside and in enclosed ones.
    level_m
        Level at which each overflows, float64 [m], enclosed ones with theirs, by row of `found`.
    spill_cell
        Flat index of the first cell below its level that the water of each reaches when it overflows, int64, by
        row of `found`; the outlet where there is none.
    node
        Node of the hierarchy, int64, by row of `found`.
    zones
        Cells under the full water of each, by row of `found`.
    found
        One row a low spot, the outermost first: the columns of `columns.LOW_SPOT_COLUMNS` that no storm changes, but
        for where it spills to.
    """

    grid: Grid
    label: I32
    depth_m: F32
    level_m: F64
    spill_cell: I64
    node: I64
    zones: NestedZones
    found: pd.DataFrame

    def __post_init__(self) -> None:
        freeze(self.label, self.depth_m, self.level_m, self.spill_cell, self.node)

    @cached_property
    def is_courtyard(self) -> Bool:
        """Whether the low spot of a number in `label` is enclosed by walls; False for 0, no low spot."""
        return np.concatenate(([False], self.found["is_enclosed"].to_numpy(bool)))


@dataclass(frozen=True, kw_only=True, eq=False)
class Depressions:
    """Low spots, with what the storm does to them.

    Parameters
    ----------
    low_spots
        As the ground has them.
    table
        By row of `low_spots.found`, polygons of the full water: see `columns.LOW_SPOT_COLUMNS`.
    overflow_paths
        Ways of the water that overflows: see `columns.OVERFLOW_PATH_COLUMNS`.
    """

    low_spots: LowSpots
    table: gpd.GeoDataFrame
    overflow_paths: gpd.GeoDataFrame

    @property
    def grid(self) -> Grid:
        """The window."""
        return self.low_spots.grid

    @property
    def label(self) -> I32:
        """As in `LowSpots`."""
        return self.low_spots.label

    @property
    def depth_m(self) -> F32:
        """As in `LowSpots`."""
        return self.low_spots.depth_m

    @property
    def level_m(self) -> F64:
        """As in `LowSpots`."""
        return self.low_spots.level_m

    @property
    def spill_cell(self) -> I64:
        """As in `LowSpots`."""
        return self.low_spots.spill_cell

    @property
    def zones(self) -> NestedZones:
        """As in `LowSpots`."""
        return self.low_spots.zones

    @property
    def is_courtyard(self) -> Bool:
        """As in `LowSpots`."""
        return self.low_spots.is_courtyard


@dataclass(frozen=True, kw_only=True, eq=False)
class Ponding:
    """What the storm leaves standing.

    Parameters
    ----------
    table
        By row of `LowSpots.found`: `low_spot_id`, `inflow_m3`, `ponded_m3`, `overflow_m3`, `storm_depth_m`,
        `storm_level_m` (NaN = dry).
    water_depth_m
        Standing water per cell, however small the low spot, float32 [m].
    rain_m3, abstracted_m3, runoff_m3, ponded_m3, left_window_m3
        The balance: rain = abstracted + runoff, runoff = ponded + left.
    """

    grid: Grid
    table: pd.DataFrame
    water_depth_m: F32
    rain_m3: float
    abstracted_m3: float
    runoff_m3: float
    ponded_m3: float
    left_window_m3: float

    def __post_init__(self) -> None:
        freeze(self.water_depth_m)
