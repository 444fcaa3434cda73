"""The window: its elevation, the lots it serves, and the layers that fall in it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from screening.grid import Grid, rasterize
from screening.models.arrays import F32, I32, U8, freeze
from screening.models.conduits import Intake
from screening.models.inflow import ContextElevation
from screening.models.notes import Note

if TYPE_CHECKING:
    import geopandas as gpd


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

    @cached_property
    def lot_index(self) -> I32:
        """Row of `lots` + 1 in each cell whose centre lies on a lot, else 0: int32, shape of the grid, read-only."""
        index = rasterize(self.grid, list(self.lots.geometry), range(1, len(self.lots) + 1))
        freeze(index)
        return index

    @cached_property
    def own_driveways(self) -> gpd.GeoDataFrame:
        """Driveways on chosen lots, with a plain range index."""
        return self.driveways[self.driveways["lot_id"] != ""].reset_index(drop=True)

    @cached_property
    def own_driveway_index(self) -> I32:
        """Row of `own_driveways` + 1 in each cell, else 0: as `lot_index`."""
        own = self.own_driveways
        index = rasterize(self.grid, list(own.geometry), range(1, len(own) + 1))
        freeze(index)
        return index

    def with_elevation(self, elev_m: F32) -> Block:
        """Give the same block on other elevation; what is known of its lots and driveways stays known."""
        other = dataclasses.replace(self, elev_m=elev_m)
        for name in ("lot_index", "own_driveways", "own_driveway_index"):
            # A cached property lives in the instance's dictionary; the outlines that these come from are the same.
            other.__dict__[name] = getattr(self, name)
        return other
