"""The elevation raster: what it is without reading it, and windows of it in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import InputError
from screening.grid import Bounds, Grid
from screening.inputs.raster.cells import MAX_CELLS, CellReader, open_raster, read_cells
from screening.inputs.raster.heights import check_heights
from screening.inputs.raster.metre_crs import (
    MetreCrs,
    bring_onto,
    check_scale,
    choose_metre_crs,
    crs_name,
    horizontal_crs,
    vertical_unit_of,
)
from screening.inputs.raster.resampling import Coefficients, apply_affine, lattice_of, resample
from screening.inputs.raster.vertical import choose_vertical_unit
from screening.models import EAST_SIDE, F32, NORTH_SIDE, SOUTH_SIDE, WEST_SIDE, Note
from screening.units import VERTICAL_UNITS_M

if TYPE_CHECKING:
    from pyproj import CRS

_SNAP = 1e-6
_DRIFT_CELLS = 0.05
_COARSE_CELL_M = 3.5
_LEAST_CELLS = 3
_COARSE_STEP_M = 0.05


@dataclass(frozen=True, kw_only=True)
class ElevationSource:
    """An elevation raster: where it is and how its cells become the metre grid.

    Parameters
    ----------
    path
        Of the raster.
    source_crs
        Horizontal CRS of the file.
    grid
        Extent of the whole raster in the metre grid that windows are cut from.
    is_resampled
        Cells are interpolated onto the grid; if not, they are the raster's own.
    is_south_up
        Rows run from south to north in the file.
    cells
        How pixels are read and become elevations [m].
    transform
        The six affine coefficients of the file.
    vertical_unit
        Word of `units.VERTICAL_UNITS_M`.
    notes
        What was assumed or converted.
    """

    path: Path
    source_crs: str
    grid: Grid
    is_resampled: bool
    is_south_up: bool
    cells: CellReader
    transform: Coefficients
    vertical_unit: str
    notes: tuple[Note, ...] = ()


def open_elevation(
    path: Path | str,
    *,
    vertical_unit: str | None = None,
    onto: str | None = None,
    subject: str = "elevation raster",
    unit_option: str = "--vertical-unit",
) -> ElevationSource:
    """Find out how a raster becomes metres on a north-up square grid, without reading its pixels.

    Parameters
    ----------
    path
        Any raster that GDAL reads.
    vertical_unit
        `m`, `ft`, `us-ft` or `cm`; wins over what the file says.
    onto
        Metre CRS of a finer raster that this one lies around; None = the raster's own, or the nearest to it.
    subject, unit_option
        What the raster and the option for its vertical unit are called in messages.

    Raises
    ------
    InputError
        The file cannot be opened, has no CRS or no position, or its vertical unit is not known.
    """
    from pyproj import CRS

    path = Path(path)
    subject = f"{subject} {path.name}"
    with open_raster(path) as raster:
        if raster.crs is None:
            raise InputError(
                f"The {subject} has no coordinate reference system",
                expected="a CRS in the file or in a .prj beside it",
                mend="assign the CRS it is in, for example with `rio edit-info --crs EPSG:CODE FILE`",
            )
        if raster.transform.is_identity:
            raise InputError(
                f"The {subject} has no position",
                expected="a geotransform in the file or in a world file beside it",
                mend="ask for the georeferenced raster, or add its world file",
            )
        whole_crs = CRS.from_wkt(raster.crs.to_wkt(version="WKT2_2019"))
        tag = raster.units[0] or ""
        unit, unit_notes = choose_vertical_unit(
            option=vertical_unit,
            band_tag=tag,
            crs_unit=vertical_unit_of(whole_crs),
            subject=f"the {subject}",
            option_name=unit_option,
        )
        cells = CellReader.of(raster, factor_m=VERTICAL_UNITS_M[unit], subject=subject)
        transform: Coefficients = tuple(raster.transform)[:6]
    _check_cells(transform, cells, subject)
    crs = horizontal_crs(whole_crs)
    centre = apply_affine(transform, cells.n_cols / 2, cells.n_rows / 2)
    metre = choose_metre_crs(crs, centre_x=centre[0], centre_y=centre[1], subject=f"The {subject}")
    if onto is not None:
        metre = bring_onto(metre, onto)
    if not metre.unit_m:
        ends = [(0, 0), (cells.n_cols, 0), (0, cells.n_rows), (cells.n_cols, cells.n_rows)]
        corners = [apply_affine(transform, *end) for end in ends]
        check_scale(crs, metre.crs, corners, subject=f"The {subject}")
    grid, is_resampled = _grid_of(crs, metre, transform, cells)
    notes = (*unit_notes, *_source_notes(metre, grid, cells, unit, is_resampled))
    if onto is None and grid.cell_m > _COARSE_CELL_M:
        text = f"cells of {grid.cell_m:.3g} m are wider than a driveway: what is narrower cannot be seen"
        notes = (*notes, Note("caution", "elevation", text))
    return ElevationSource(
        path=path,
        source_crs=crs.to_wkt(),
        grid=grid,
        is_resampled=is_resampled,
        is_south_up=transform[4] > 0,
        cells=cells,
        transform=transform,
        vertical_unit=unit,
        notes=notes,
    )


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


def _check_cells(transform: Coefficients, cells: CellReader, subject: str) -> None:
    """Refuse cells without a size, and too few of them to have neighbours."""
    a, b, _, d, e, _ = transform
    if not (all(map(math.isfinite, transform)) and a * e - b * d != 0):
        raise InputError(
            f"The {subject} has cells of no size",
            got=f"{math.hypot(a, d):g} x {math.hypot(b, e):g}",
            expected="a geotransform with a width and a height of its cells",
            mend="ask for the raster again, or correct its geotransform",
        )
    if min(cells.n_rows, cells.n_cols) < _LEAST_CELLS:
        raise InputError(
            f"The {subject} is too small to show which way ground falls",
            got=f"{cells.n_rows} rows x {cells.n_cols} columns",
            expected=f"at least {_LEAST_CELLS} x {_LEAST_CELLS} cells",
            mend="give a raster that reaches around the lots",
        )


def _bounds_text(bounds: Bounds) -> str:
    return "west {:,.1f}, south {:,.1f}, east {:,.1f}, north {:,.1f} m".format(*bounds)


def _corner(whole: Grid, row: int, col: int, *, is_lattice: bool) -> tuple[float, float]:
    """Corner of a cell; on a lattice it is a whole number of cells from 0, whatever the window."""
    if not is_lattice:
        return whole.west_m + col * whole.cell_m, whole.north_m - row * whole.cell_m
    i, j = round(whole.west_m / whole.cell_m), round(whole.north_m / whole.cell_m)
    return (i + col) * whole.cell_m, (j - row) * whole.cell_m


def _grid_of(crs: CRS, metre: MetreCrs, transform: Coefficients, cells: CellReader) -> tuple[Grid, bool]:
    a, b, c, d, e, f = transform
    largest = max(cells.n_rows, cells.n_cols)
    is_square = a > 0 and e != 0 and max(abs(b), abs(d), abs(a - abs(e))) * largest < _DRIFT_CELLS * a
    if metre.unit_m and is_square:
        north = f if e < 0 else f + e * cells.n_rows
        to_m = metre.unit_m
        grid = Grid(
            crs=metre.crs,
            west_m=c * to_m,
            north_m=north * to_m,
            cell_m=a * to_m,
            n_rows=cells.n_rows,
            n_cols=cells.n_cols,
        )
        return grid, False
    return lattice_of(crs, metre.crs, transform, cells), True


def _source_notes(metre: MetreCrs, grid: Grid, cells: CellReader, unit: str, is_resampled: bool) -> list[Note]:
    notes = []
    if metre.why:
        notes.append(Note("converted", "elevation", metre.why))
    if is_resampled:
        why = "" if metre.why else "; its cells are not square and north-up"
        text = f"resampled bilinearly to square north-up cells of {grid.cell_m:g} m{why}"
        notes.append(Note("converted", "elevation", text))
    if unit != "m":
        text = f"elevations in {unit} multiplied by {VERTICAL_UNITS_M[unit]:.9g} to metres"
        notes.append(Note("converted", "elevation", text))
    if cells.n_bands > 1:
        notes.append(Note("assumed", "elevation", f"band 1 of {cells.n_bands} is the elevation"))
    if (cells.scale, cells.offset) != (1.0, 0.0):
        text = f"stored numbers scaled by {cells.scale:g} with offset {cells.offset:g}, as the file states"
        notes.append(Note("converted", "elevation", text))
    step_m = abs(cells.scale) * cells.factor_m if np.issubdtype(np.dtype(cells.dtype), np.integer) else 0.0
    if step_m > _COARSE_STEP_M:
        text = f"whole numbers: elevations come in steps of {step_m:.3g} m, and what is lower cannot be seen"
        notes.append(Note("caution", "elevation", text))
    return notes
