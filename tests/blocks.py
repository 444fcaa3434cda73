"""Small blocks made by hand for the stage tests."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from screening.grid import Grid
from screening.models import Block

CRS = "EPSG:26917"
WEST, NORTH = 500_000.0, 4_400_000.0

_COLUMNS: dict[str, tuple[str, ...]] = {
    "lots": ("lot_id",),
    "structures": ("structure_id", "lot_id", "kind"),
    "driveways": ("driveway_id", "lot_id", "kind"),
    "roads": (),
    "soils": ("mukey", "hsg", "ksat_mm_h", "water_depth_m", "restrictive_depth_m"),
    "drains": ("drain_id", "kind", "invert_up_m", "invert_down_m", "depth_m"),
    "wells": (),
    "septic": (),
    "barriers": ("barrier_id", "kind", "height_m"),
    "downspouts": ("downspout_id", "structure_id"),
    "doors": ("door_id", "kind", "structure_id", "sill_elev_m"),
    "wetlands": (),
    "utilities": (),
    "trees": (),
}


def box(row0: float, col0: float, row1: float, col1: float, *, cell_m: float = 1.0) -> shapely.Polygon:
    """A rectangle in rows and columns, row0/col0 included and row1/col1 not."""
    return shapely.box(WEST + col0 * cell_m, NORTH - row1 * cell_m, WEST + col1 * cell_m, NORTH - row0 * cell_m)


def line(cells: Sequence[tuple[int, int]], *, cell_m: float = 1.0) -> shapely.LineString:
    """A line through cell centres given as (row, col)."""
    return shapely.LineString([(WEST + (col + 0.5) * cell_m, NORTH - (row + 0.5) * cell_m) for row, col in cells])


def make_block(elev_m: Any, *, cell_m: float = 1.0, data_sides: int = 0, **layers: list[tuple[Any, ...]]) -> Block:
    """Make a block; each layer is a list of rows whose last item is the geometry. Without lots: the whole grid."""
    elev = np.ascontiguousarray(elev_m, np.float32)
    grid = Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=cell_m, n_rows=elev.shape[0], n_cols=elev.shape[1])
    layers = {"lots": [("lot", box(0, 0, *elev.shape, cell_m=cell_m))], **layers}
    frames = {}
    for name, columns in _COLUMNS.items():
        rows = layers.get(name, [])
        if name == "soils":
            # What is known of a soil beside its group may be left out.
            rows = [(*row[:-1], *(float("nan"),) * (len(columns) + 1 - len(row)), row[-1]) for row in rows]
        data = {column: [row[index] for row in rows] for index, column in enumerate(columns)}
        frames[name] = gpd.GeoDataFrame(data, geometry=[row[-1] for row in rows], crs=CRS)
    return Block(grid=grid, elev_m=elev, **frames, data_sides=data_sides, given=frozenset(layers))
