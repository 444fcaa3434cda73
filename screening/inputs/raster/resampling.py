"""Resampling a raster onto a lattice of square metre cells that is the same whatever window is read."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import InputError
from screening.grid import Grid
from screening.inputs.raster.cells import MAX_CELLS, CellReader, read_cells
from screening.models import F32, Note

if TYPE_CHECKING:
    from pyproj import CRS

Coefficients = tuple[float, float, float, float, float, float]
"""Affine a, b, c, d, e, f from (column, row) to (x, y)."""
_ROWS_AT_ONCE = 256


def apply_affine(transform: Coefficients, col: Any, row: Any) -> tuple[Any, Any]:
    """Bring (column, row) to (x, y), for numbers or arrays."""
    a, b, c, d, e, f = transform
    return col * a + row * b + c, col * d + row * e + f


def lattice_of(crs: CRS, metre_crs: str, transform: Coefficients, cells: CellReader) -> Grid:
    """Lay a lattice of cells, counted from 0 of the CRS, over the outline of a raster."""
    from pyproj import Transformer

    to_metre = Transformer.from_crs(crs, metre_crs, always_xy=True)
    mid_col, mid_row = cells.n_cols / 2, cells.n_rows / 2
    ends = [
        (mid_col - 0.5, mid_row),
        (mid_col + 0.5, mid_row),
        (mid_col, mid_row - 0.5),
        (mid_col, mid_row + 0.5),
    ]
    points = [to_metre.transform(*apply_affine(transform, *end)) for end in ends]
    cell_m = float(f"{min(math.dist(*points[:2]), math.dist(*points[2:])):.2g}")
    along = np.linspace(0.0, 1.0, 41)
    zero, one = np.zeros_like(along), np.ones_like(along)
    col = np.concatenate([along, along, zero, one]) * cells.n_cols
    row = np.concatenate([zero, one, along, along]) * cells.n_rows
    x, y = to_metre.transform(*apply_affine(transform, col, row))
    west, east = math.floor(np.min(x) / cell_m), math.ceil(np.max(x) / cell_m)
    south, north = math.floor(np.min(y) / cell_m), math.ceil(np.max(y) / cell_m)
    return Grid(
        crs=metre_crs,
        west_m=west * cell_m,
        north_m=north * cell_m,
        cell_m=cell_m,
        n_rows=north - south,
        n_cols=east - west,
    )


def _inverted(transform: Coefficients) -> Coefficients:
    a, b, c, d, e, f = transform
    size = a * e - b * d
    return e / size, -b / size, (b * f - c * e) / size, -d / size, a / size, (c * d - a * f) / size


def resample(
    path: Path, cells: CellReader, grid: Grid, *, source_crs: str, transform: Coefficients
) -> tuple[F32, tuple[Note, ...]]:
    """Interpolate bilinearly at the cell centres; each cell depends on its place alone, not on the window.

    Parameters
    ----------
    path, cells
        The raster and its declarations.
    grid
        Window of the lattice.
    source_crs, transform
        CRS and affine of the file.

    Returns
    -------
    Elevation, float32 [m], NaN where the nearest pixel is empty; notes.
    """
    from pyproj import CRS, Transformer

    to_source = Transformer.from_crs(grid.crs, CRS.from_wkt(source_crs), always_xy=True)
    inverse = _inverted(transform)
    west, north = round(grid.west_m / grid.cell_m), round(grid.north_m / grid.cell_m)
    x = (west + np.arange(grid.n_cols) + 0.5) * grid.cell_m
    elev_m = np.full(grid.shape, np.nan, dtype=np.float32)
    notes: dict[Note, None] = {}
    for start in range(0, grid.n_rows, _ROWS_AT_ONCE):
        stop = min(start + _ROWS_AT_ONCE, grid.n_rows)
        y = (north - np.arange(start, stop) - 0.5) * grid.cell_m
        at_x, at_y = to_source.transform(*(part.ravel() for part in np.meshgrid(x, y)))
        col, row = apply_affine(inverse, at_x, at_y)
        strip, strip_notes = _bilinear(path, cells, row - 0.5, col - 0.5)
        elev_m[start:stop] = strip.reshape(stop - start, grid.n_cols)
        notes.update(dict.fromkeys(strip_notes))
    return elev_m, tuple(notes)


def _bilinear(
    path: Path, cells: CellReader, row: NDArray[np.float64], col: NDArray[np.float64]
) -> tuple[F32, tuple[Note, ...]]:
    """Interpolate at fractional pixel positions; where the nearest pixel is empty there is no data."""
    out = np.full(row.shape, np.nan, dtype=np.float32)
    with np.errstate(invalid="ignore"):
        inside = (row > -0.5) & (col > -0.5) & (row < cells.n_rows - 0.5) & (col < cells.n_cols - 0.5)
    if not inside.any():
        return out, ()
    row, col = row[inside], col[inside]
    top, left = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
    row0, col0 = max(int(top.min()), 0), max(int(left.min()), 0)
    n_rows = min(int(top.max()) + 2, cells.n_rows) - row0
    n_cols = min(int(left.max()) + 2, cells.n_cols) - col0
    if n_rows * n_cols > MAX_CELLS:
        raise InputError(
            "The window touches too many pixels to hold in memory",
            got=f"{n_rows:,} x {n_cols:,} pixels",
            expected=f"at most {MAX_CELLS:,}",
            mend="screen fewer lots at a time, or give a coarser raster",
        )
    pixels, notes = read_cells(path, cells, row=row0, col=col0, shape=(n_rows, n_cols))

    def at(rows: NDArray[Any], cols: NDArray[Any]) -> NDArray[Any]:
        found = pixels[np.clip(rows - row0, 0, n_rows - 1), np.clip(cols - col0, 0, n_cols - 1)]
        return np.asarray(found, dtype=np.float64)

    total, weight = np.zeros(row.shape), np.zeros(row.shape)
    for down, across in ((0, 0), (0, 1), (1, 0), (1, 1)):
        share = np.abs(1 - down - (row - top)) * np.abs(1 - across - (col - left))
        value = at(top + down, left + across)
        known = np.isfinite(value)
        total += np.where(known, value * share, 0.0)
        weight += np.where(known, share, 0.0)
    nearest = at(np.floor(row + 0.5).astype(np.int64), np.floor(col + 0.5).astype(np.int64))
    known = np.isfinite(nearest) & (weight > 0)
    out[inside] = np.where(known, total / np.where(known, weight, 1.0), np.nan)
    return out, notes
