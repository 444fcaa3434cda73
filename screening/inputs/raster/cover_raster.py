"""Land cover as a raster of classes, by cell of a window."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import InputError
from screening.grid import Grid
from screening.inputs.raster.cover_classes import (
    SUBJECT,
    code_of,
    no_cover,
    read_classes,
    reading_of,
    unknown_notes,
)
from screening.inputs.vector.geometries import listed
from screening.models import U8, Note, note
from screening.schema.codes.notes import NoteCode, NoteKind
from screening.schema.cover_words import NLCD_CLASSES

_ROWS_AT_ONCE = 256
_LOOK_CELLS = 1000
_SNAP = 1e-6


def load_cover_raster(path: Path, grid: Grid, *, classes: Path | None) -> tuple[U8, tuple[Note, ...]]:
    """Take the class of the pixel that holds each cell's centre, whatever the window."""
    table = read_classes(classes) if classes else NLCD_CLASSES
    values, is_empty = _pixels_at(path, grid)
    reading = reading_of(np.unique(values[~is_empty]), table)
    if not reading.covers and not is_empty.all():
        raise no_cover(f"{SUBJECT} raster {path.name}", f"classes {listed(reading.unknown)}", "--land-cover-classes")
    own_code = {int(value): code_of(cover) for value, cover in reading.covers.items()}
    found, place = np.unique(values, return_inverse=True)
    codes = np.array([own_code.get(int(value), 0) for value in found], np.uint8)[place.reshape(grid.shape)]
    codes[is_empty] = 0
    notes = []
    if classes is None:
        notes.append(note(NoteKind.ASSUMED, SUBJECT, NoteCode.COVER_BY_NLCD))
    if is_empty.any():
        notes.append(note(NoteKind.MISSING, SUBJECT, NoteCode.COVER_MISSING, share_frac=is_empty.mean()))
    return codes, (*notes, *unknown_notes(reading))


def describe_cover_raster(path: Path, classes: Path | None) -> tuple[dict[str, str], list[Note]]:
    """Say what a raster of classes is: facts by label, and notes."""
    table = read_classes(classes) if classes else NLCD_CLASSES
    with _open_classes(path) as raster:
        look = (min(raster.height, _LOOK_CELLS), min(raster.width, _LOOK_CELLS))
        pixels, masked = raster.read(1, out_shape=look), raster.read_masks(1, out_shape=look) == 0
        facts = {
            "kind": "raster of classes",
            "size": f"{raster.height:,} rows x {raster.width:,} columns",
            "CRS": raster.crs.to_string(),
            "classes by": str(classes) if classes else "National Land Cover Database",
        }
    values, counts = np.unique(pixels[~masked], return_counts=True)
    reading = reading_of(values, table)
    if not reading.covers:
        raise no_cover(f"{SUBJECT} raster {path.name}", f"classes {listed(reading.unknown)}", "--land-cover-classes")
    share = dict(zip([str(value) for value in values.tolist()], (counts / counts.sum()).tolist(), strict=True))
    facts["covers"] = "; ".join(f"{value} = {cover} ({share[value]:.1%})" for value, cover in reading.covers.items())
    return facts, unknown_notes(reading)


def _pixels_at(path: Path, grid: Grid) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Class at each cell's centre, and where there is none."""
    from pyproj import CRS, Transformer

    with _open_classes(path) as raster:
        crs = CRS.from_wkt(raster.crs.to_wkt())
        is_same = crs == CRS.from_user_input(grid.crs)
        to_raster = None if is_same else Transformer.from_crs(grid.crs, crs, always_xy=True)
        values, is_empty = np.zeros(grid.shape, np.int64), np.ones(grid.shape, bool)
        x = grid.west_m + (np.arange(grid.n_cols) + 0.5) * grid.cell_m
        for start in range(0, grid.n_rows, _ROWS_AT_ONCE):
            stop = min(start + _ROWS_AT_ONCE, grid.n_rows)
            y = grid.north_m - (np.arange(start, stop) + 0.5) * grid.cell_m
            at_x, at_y = np.meshgrid(x, y)
            if to_raster is not None:
                at_x, at_y = to_raster.transform(at_x, at_y)
            values[start:stop], is_empty[start:stop] = _nearest(raster, at_x, at_y)
    return values, is_empty


def _nearest(raster: Any, x: NDArray[Any], y: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    from rasterio.windows import Window

    a, b, c, d, e, f = tuple(~raster.transform)[:6]
    # A centre on the edge of two pixels must not fall to either with the window's rounding.
    col, row = (
        np.floor(np.nan_to_num(place + _SNAP, nan=-1.0, posinf=-1.0, neginf=-1.0)).astype(np.int64)
        for place in (a * x + b * y + c, d * x + e * y + f)
    )
    inside = (row >= 0) & (col >= 0) & (row < raster.height) & (col < raster.width)
    values, is_empty = np.zeros(x.shape, np.int64), ~inside
    if inside.any():
        row0, col0 = int(row[inside].min()), int(col[inside].min())
        window = Window(col0, row0, int(col[inside].max()) - col0 + 1, int(row[inside].max()) - row0 + 1)
        pixels = raster.read(1, window=window).astype(np.int64)
        masked = raster.read_masks(1, window=window) == 0
        values[inside] = pixels[row[inside] - row0, col[inside] - col0]
        is_empty[inside] = masked[row[inside] - row0, col[inside] - col0]
    return values, is_empty


@contextmanager
def _open_classes(path: Path) -> Iterator[Any]:
    import rasterio
    from rasterio.errors import RasterioError

    if not str(path).startswith("/vsi") and not path.exists():
        raise InputError(f"The {SUBJECT} raster is not there", got=str(path), mend="correct the path")
    try:
        raster = rasterio.open(path)
    except RasterioError as problem:
        raise InputError(
            f"The {SUBJECT} raster cannot be opened", got=f"{path.name}: {problem}", mend="check the file"
        ) from problem
    with raster:
        if raster.crs is None:
            raise InputError(
                f"The {SUBJECT} raster {path.name} has no coordinate reference system",
                expected="a CRS in the file",
                mend="assign the CRS it is in, for example with `rio edit-info --crs EPSG:CODE FILE`",
            )
        if not np.issubdtype(np.dtype(raster.dtypes[0]), np.integer):
            raise InputError(
                f"The {SUBJECT} raster {path.name} holds no classes",
                got=raster.dtypes[0],
                expected="whole numbers",
                mend="give the raster of classes, not of shares or colours",
            )
        yield raster
