"""Windows of an elevation raster in metres: the cells that a window touches, and no more."""

from __future__ import annotations

import math

import numpy as np

from screening.errors import InputError
from screening.grid import Bounds, Grid
from screening.inputs.raster.cells import MAX_CELLS, read_cells
from screening.inputs.raster.elevation import ElevationSource
from screening.inputs.raster.heights import check_heights
from screening.inputs.raster.metre_crs import crs_name
from screening.inputs.raster.resampling import resample
from screening.models import EAST_SIDE, F32, NORTH_SIDE, SOUTH_SIDE, WEST_SIDE, Note

_SNAP = 1e-6


def read_elevation(source: ElevationSource, bounds: Bounds) -> tuple[Grid, F32, int, tuple[Note, ...]]:
    """Read the cells that a window touches, and no more.

    Parameters
    ----------
    source
        From `open_elevation`.
    bounds
        West, south, east, north [m] in the CRS of the grid.

    Returns
    -------
    Grid of the window; elevation, float32 [m], NaN = no data; bits of the sides where the raster ends; notes.

    Raises
    ------
    InputError
        The window lies outside the raster, is too large to hold, or holds elevations that no ground has.
    """
    grid, (row, col) = window_grid(source, bounds)
    if source.is_resampled:
        elev_m, notes = resample(
            source.path, source.cells, grid, source_crs=source.source_crs, transform=source.transform
        )
    else:
        first = source.grid.n_rows - row - grid.n_rows if source.is_south_up else row
        elev_m, notes = read_cells(source.path, source.cells, row=first, col=col, shape=grid.shape)
        if source.is_south_up:
            elev_m = np.ascontiguousarray(elev_m[::-1])
    whole = source.grid
    sides = (
        (NORTH_SIDE if row == 0 else 0)
        | (WEST_SIDE if col == 0 else 0)
        | (SOUTH_SIDE if row + grid.n_rows == whole.n_rows else 0)
        | (EAST_SIDE if col + grid.n_cols == whole.n_cols else 0)
    )
    check_heights(elev_m, name=source.path.name, unit=source.vertical_unit, cell_m=grid.cell_m)
    return grid, elev_m, sides, notes


def window_grid(source: ElevationSource, bounds: Bounds) -> tuple[Grid, tuple[int, int]]:
    """Snap bounds outwards to the cells of the raster, cut at its extent.

    Returns
    -------
    Grid of the window, and the row and column of its first cell in the whole grid.

    Raises
    ------
    InputError
        Nothing of the window lies on the raster, or it has more than `MAX_CELLS`.
    """
    whole, (west, south, east, north) = source.grid, bounds
    col = max(math.floor((west - whole.west_m) / whole.cell_m + _SNAP), 0)
    row = max(math.floor((whole.north_m - north) / whole.cell_m + _SNAP), 0)
    col_end = min(math.ceil((east - whole.west_m) / whole.cell_m - _SNAP), whole.n_cols)
    row_end = min(math.ceil((whole.north_m - south) / whole.cell_m - _SNAP), whole.n_rows)
    if col_end <= col or row_end <= row:
        raise InputError(
            f"The window lies outside the elevation raster {source.path.name}",
            got=_bounds_text(bounds),
            expected="within " + _bounds_text(whole.bounds) + f" in {crs_name(whole.crs)}",
            mend="give a raster that covers the lots, or lots that lie on the raster",
        )
    n_rows, n_cols = row_end - row, col_end - col
    if n_rows * n_cols > MAX_CELLS:
        raise InputError(
            "The window has too many cells to hold in memory",
            got=f"{n_rows:,} x {n_cols:,} cells",
            expected=f"at most {MAX_CELLS:,} cells",
            mend="screen fewer lots at a time, lower window_limit_m, or give a coarser raster",
        )
    west_m, north_m = _corner(whole, row, col, is_lattice=source.is_resampled)
    return Grid(crs=whole.crs, west_m=west_m, north_m=north_m, cell_m=whole.cell_m, n_rows=n_rows, n_cols=n_cols), (
        row,
        col,
    )


def _bounds_text(bounds: Bounds) -> str:
    return "west {:,.1f}, south {:,.1f}, east {:,.1f}, north {:,.1f} m".format(*bounds)


def _corner(whole: Grid, row: int, col: int, *, is_lattice: bool) -> tuple[float, float]:
    """Corner of a cell; on a lattice it is a whole number of cells from 0, whatever the window."""
    if not is_lattice:
        return whole.west_m + col * whole.cell_m, whole.north_m - row * whole.cell_m
    i, j = round(whole.west_m / whole.cell_m), round(whole.north_m / whole.cell_m)
    return (i + col) * whole.cell_m, (j - row) * whole.cell_m
