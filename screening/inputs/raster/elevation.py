"""The elevation raster: what it is without reading it, and windows of it in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import InputError
from screening.grid import Grid
from screening.inputs.raster.cells import CellReader, open_raster
from screening.inputs.raster.metre_crs import (
    MetreCrs,
    bring_onto,
    check_scale,
    choose_metre_crs,
    horizontal_crs,
    vertical_unit_of,
)
from screening.inputs.raster.resampling import Coefficients, apply_affine, lattice_of
from screening.inputs.raster.vertical import choose_vertical_unit
from screening.models import Note, note
from screening.schema.codes.inputs import VerticalUnit
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
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
        Of the stored numbers, scaled.
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
    vertical_unit: VerticalUnit
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
        notes = (*notes, note(NoteKind.CAUTION, NoteSubject.ELEVATION, NoteCode.CELLS_WIDE, cell_m=grid.cell_m))
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


def _source_notes(metre: MetreCrs, grid: Grid, cells: CellReader, unit: VerticalUnit, is_resampled: bool) -> list[Note]:
    converted = partial(note, NoteKind.CONVERTED, NoteSubject.ELEVATION)
    notes = []
    if metre.change is not None:
        notes.append(metre.change)
    if is_resampled:
        code = NoteCode.CELLS_SQUARED if metre.change is None else NoteCode.CELLS_RESAMPLED
        notes.append(converted(code, cell_m=grid.cell_m))
    if unit is not VerticalUnit.M:
        notes.append(converted(NoteCode.UNIT_CONVERTED, unit=unit, factor_m=VERTICAL_UNITS_M[unit]))
    if cells.n_bands > 1:
        notes.append(note(NoteKind.ASSUMED, NoteSubject.ELEVATION, NoteCode.BAND_ASSUMED, n_bands=cells.n_bands))
    if (cells.scale, cells.offset) != (1.0, 0.0):
        notes.append(converted(NoteCode.NUMBERS_SCALED, scale=cells.scale, offset=cells.offset))
    step_m = abs(cells.scale) * cells.factor_m if np.issubdtype(np.dtype(cells.dtype), np.integer) else 0.0
    if step_m > _COARSE_STEP_M:
        notes.append(note(NoteKind.CAUTION, NoteSubject.ELEVATION, NoteCode.STEPS_COARSE, step_m=step_m))
    return notes
