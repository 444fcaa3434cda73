"""Reading pixels of a raster window: no data, scale, offset and unit decided once."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import InputError
from screening.models import F32, Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

MAX_CELLS = 60_000_000
"""Most cells that one window may have."""
_UNTAGGED = (-9999.0, -99999.0, -999999.0, -32767.0, -32768.0)
_TOO_LARGE_M = 1e6
"""Beyond any ground in any unit: the highest stands under 9000 m, or 900,000 cm."""


@dataclass(frozen=True, kw_only=True)
class CellReader:
    """How the pixels of band 1 become elevations [m].

    Parameters
    ----------
    n_rows, n_cols, n_bands, dtype, nodata
        As the file declares them; `nodata` None = no tag.
    scale, offset
        Elevation = (pixel x scale + offset) x factor.
    factor_m
        Metres per vertical unit.
    """

    n_rows: int
    n_cols: int
    n_bands: int
    dtype: str
    nodata: float | None
    scale: float
    offset: float
    factor_m: float

    @classmethod
    def of(cls, raster: Any, *, factor_m: float, subject: str = "elevation raster") -> CellReader:
        """Read the declarations of an open raster.

        Raises
        ------
        InputError
            The pixels are complex numbers, or the scale or offset of the file makes no elevation of them.
        """
        dtype = raster.dtypes[0]
        if dtype.startswith("complex"):
            raise InputError(
                f"Band 1 of the {subject} holds complex numbers",
                got=dtype,
                expected="whole or real numbers",
                mend="give a raster of elevations",
            )
        scale, offset = float(raster.scales[0]), float(raster.offsets[0])
        if scale == 0.0 or not (math.isfinite(scale) and math.isfinite(offset)):
            raise InputError(
                f"The scale or offset of the {subject} cannot be used",
                got=f"scale {scale:g}, offset {offset:g}",
                expected="numbers that make elevations of what is stored, the scale not 0",
                mend="correct these tags of band 1, for example with `gdal_edit.py -scale 1 -offset 0 FILE`",
            )
        return cls(
            n_rows=raster.height,
            n_cols=raster.width,
            n_bands=raster.count,
            dtype=dtype,
            nodata=raster.nodatavals[0],
            scale=scale,
            offset=offset,
            factor_m=factor_m,
        )


@contextmanager
def open_raster(path: Path) -> Iterator[Any]:
    """Open a raster with rasterio, reporting the vertical part of its CRS.

    Raises
    ------
    InputError
        The file is not there, or is not a raster that GDAL reads.
    """
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    if not str(path).startswith("/vsi") and not path.exists():
        raise InputError("The elevation raster is not there", got=str(path), mend="correct the path")
    with rasterio.Env(GTIFF_REPORT_COMPD_CS="YES"), warnings.catch_warnings():
        # A raster without a position is refused by name in open_elevation.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            raster = rasterio.open(path)
        except RasterioError as problem:
            raise InputError(
                "The elevation raster cannot be opened",
                got=f"{path.name}: {problem}",
                expected="a raster that GDAL reads, such as GeoTIFF, VRT or ASCII grid",
                mend="check the file",
            ) from problem
        with raster:
            yield raster


def read_cells(
    path: Path,
    cells: CellReader,
    *,
    row: int,
    col: int,
    shape: tuple[int, int],
    out_shape: tuple[int, int] | None = None,
) -> tuple[F32, tuple[Note, ...]]:
    """Read a window of band 1 as elevations.

    Parameters
    ----------
    path, cells
        The raster and its declarations.
    row, col, shape
        The window in the file's own rows and columns.
    out_shape
        Read decimated to this shape, from overviews where there are any.

    Returns
    -------
    Elevation, float32 [m], NaN = no data; notes on what was taken as no data.

    Raises
    ------
    InputError
        The pixels cannot be read.
    """
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

    window = Window(col, row, shape[1], shape[0])
    with open_raster(path) as raster:
        try:
            pixels = raster.read(1, window=window, out_shape=out_shape)
            masked = raster.read_masks(1, window=window, out_shape=out_shape) == 0
        except RasterioError as problem:
            raise InputError(
                f"Pixels of {path.name} cannot be read", got=str(problem), mend="check that the file is whole"
            ) from problem
    largest = (_TOO_LARGE_M / cells.factor_m + abs(cells.offset)) / abs(cells.scale)
    empty, notes = _empty_pixels(pixels, masked, largest)
    if pixels.dtype == np.float32 and (cells.scale, cells.offset, cells.factor_m) == (1.0, 0.0, 1.0):
        elev_m = pixels
    else:
        with np.errstate(over="ignore", invalid="ignore"):
            metres = (pixels.astype(np.float64) * cells.scale + cells.offset) * cells.factor_m
            elev_m = metres.astype(np.float32)
    elev_m[empty] = np.nan
    return elev_m, notes


def _empty_pixels(
    pixels: NDArray[Any], masked: NDArray[np.bool_], largest: float
) -> tuple[NDArray[np.bool_], tuple[Note, ...]]:
    """Find pixels without elevation: masked or tagged, not finite, or a customary mark that is not tagged."""
    empty = masked.copy()
    notes = []
    if np.issubdtype(pixels.dtype, np.floating):
        infinite = np.isinf(pixels) & ~empty
        if infinite.any():
            notes.append(note(NoteKind.REPAIRED, NoteSubject.ELEVATION, NoteCode.INFINITE_EMPTY))
        empty |= ~np.isfinite(pixels)
        with np.errstate(invalid="ignore"):
            huge = (np.abs(pixels) > largest) & ~empty
        if huge.any():
            stored = float(pixels[huge][0])
            notes.append(note(NoteKind.ASSUMED, NoteSubject.ELEVATION, NoteCode.HUGE_EMPTY, stored=stored))
        empty |= huge
    for mark in _UNTAGGED:
        marked = (pixels == mark) & ~empty
        if marked.any():
            notes.append(note(NoteKind.ASSUMED, NoteSubject.ELEVATION, NoteCode.MARK_EMPTY, stored=mark))
            empty |= marked
    return empty, tuple(notes)
