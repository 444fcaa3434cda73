"""Land cover, as a raster of classes or as polygons with a column of covers, by cell of a window."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import InputError
from screening.grid import Bounds, Grid, rasterize
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column, named_column, text_of
from screening.inputs.vector.layers import open_layer, read_layer, split_layer
from screening.models import U8, Note, SiteRequest
from screening.schema.covers import CODE_OF, LAWN, NLCD_CLASSES, cover_of_text

if TYPE_CHECKING:
    import geopandas as gpd

COVER_NAMES = (
    "cover",
    "land_cover",
    "landcover",
    "cover_name",
    "lulc",
    "land_use",
    "landuse",
    "nlcd",
    "class_name",
    "class",
    "gridcode",
    "description",
    "kind",
    "type",
)
"""Usual names of the column of covers."""
_SUBJECT = "land cover"
_RASTER_ENDINGS = (".tif", ".tiff", ".vrt", ".img", ".asc", ".jp2", ".bil", ".grd")
_ROWS_AT_ONCE = 256
_LOOK_CELLS = 1000
_SNAP = 1e-6
_EXPECTED = (
    "cover words such as lawn, woods, pasture, gravel, paved or water, or classes of the National Land Cover Database"
)


@dataclass(frozen=True)
class CoverReading:
    """How the values of a layer were read.

    Parameters
    ----------
    covers
        Cover by value as text; `lawn` = open space in the condition of the criteria.
    unknown
        Values that are no cover: ground there is taken as a lawn.
    """

    covers: dict[str, str]
    unknown: tuple[str, ...]


def is_raster(spec: str) -> bool:
    """Whether a land cover input is a raster, by the ending of its name."""
    return split_layer(spec)[0].suffix.lower() in _RASTER_ENDINGS


def load_land_cover(request: SiteRequest, grid: Grid) -> tuple[U8, tuple[Note, ...]]:
    """Read the land cover of a window.

    Parameters
    ----------
    request
        `land_cover`, and where it needs them `land_cover_field` or `land_cover_classes`.
    grid
        The window.

    Returns
    -------
    Position in `covers.COVERS` + 1, 0 = not said or a lawn, uint8; notes.

    Raises
    ------
    InputError
        The input cannot be read, or no value in the window is a cover.
    """
    spec = str(request.land_cover)
    if is_raster(spec):
        return _load_raster(Path(spec), grid, classes=request.land_cover_classes)
    frame, notes, reading = read_cover_polygons(request, crs=grid.crs, bounds=grid.bounds)
    codes = [_code(reading.covers.get(value)) for value in frame["value"]]
    # Code 0 cannot be burned: one more than the code is, and taken off again.
    burned = rasterize(grid, list(frame.geometry), [code + 1 for code in codes])
    bare = float((burned == 0).mean())
    if bare > 0:
        text = f"{bare:.0%} of the window has no land cover: it is taken as lawn"
        notes = (*notes, Note("missing", _SUBJECT, text))
    return np.maximum(burned - 1, 0).astype(np.uint8), (*notes, *_unknown_notes(reading))


def read_cover_polygons(
    request: SiteRequest, *, crs: str, bounds: Bounds | None
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...], CoverReading]:
    """Read cover polygons: `value` as text, polygons; notes; how the values were read.

    Raises
    ------
    InputError
        The layer cannot be read, has no column of covers, or none of its values is a cover.
    """
    import geopandas as gpd

    layer = open_layer(str(request.land_cover), subject=_SUBJECT)
    field = request.land_cover_field
    column = (
        named_column(layer, field, option="--land-cover-field") if field else find_column(layer.fields, COVER_NAMES)
    )
    if not column:
        raise InputError(
            f"The {layer.title} has no column of covers that is known",
            got=listed(layer.fields) or "no columns",
            expected=f"one of {listed(COVER_NAMES)}",
            mend="name it with --land-cover-field",
        )
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject=_SUBJECT)
    values = [text_of(value) for value in frame[column].tolist()]
    known = {value: cover for value in dict.fromkeys(values) if (cover := cover_of_text(value))}
    reading = CoverReading(known, tuple(value for value in dict.fromkeys(values) if value not in known))
    if values and not known:
        raise _no_cover(layer.title, f"{column} with {listed(reading.unknown)}", "--land-cover-field")
    ready = gpd.GeoDataFrame({"value": np.array(values, dtype=object)}, geometry=frame.geometry.to_numpy(), crs=crs)
    return ready, notes, reading


def describe_land_cover(request: SiteRequest, grid: Grid | None) -> tuple[dict[str, str], list[str]]:
    """Say what a land cover input is: facts by label, and defects."""
    spec = str(request.land_cover)
    if is_raster(spec):
        return _describe_raster(Path(spec), request.land_cover_classes)
    crs = grid.crs if grid is not None else open_layer(spec, subject=_SUBJECT).crs_text
    frame, notes, reading = read_cover_polygons(request, crs=crs, bounds=None)
    counts = frame["value"].value_counts()
    facts = {
        "kind": "polygons",
        "features": f"{len(frame):,}",
        "covers": "; ".join(f"{value} = {cover} ({counts[value]})" for value, cover in reading.covers.items()),
    }
    defects = [note.text for note in (*notes, *_unknown_notes(reading)) if note.kind != "converted"]
    if grid is not None:
        import shapely

        on_raster = int(shapely.intersects(frame.geometry.to_numpy(), shapely.box(*grid.bounds)).sum())
        facts["on the elevation raster"] = f"{on_raster:,} of {len(frame):,}"
        if not on_raster:
            defects.append("nothing of it lies on the elevation raster")
    return facts, defects


def read_classes(path: Path) -> dict[int, str]:
    """Read a table `class,cover` that gives the classes of a raster their covers.

    Raises
    ------
    InputError
        It is not there, has not these columns, or holds a word that is no cover.
    """
    if not path.is_file():
        raise InputError("The table of land cover classes is not there", got=str(path), mend="correct the path")
    classes = {}
    with path.open(newline="", encoding="utf-8-sig", errors="replace") as file:
        for row in csv.DictReader(file):
            number, words = (row.get("class") or "").strip(), (row.get("cover") or "").strip()
            cover = cover_of_text(words)
            if not number.lstrip("-").isdigit() or cover is None:
                raise InputError(
                    f"A row of the table of land cover classes {path.name} cannot be read",
                    got=", ".join(str(part) for part in row.values()),
                    expected="columns class (a whole number) and cover, such as 7,woods or 3,pasture fair",
                    mend="correct the row; covers are " + listed([LAWN, *CODE_OF]),
                )
            classes[int(number)] = cover
    if not classes:
        raise InputError(
            f"The table of land cover classes {path.name} is empty",
            expected="columns class and cover",
            mend="write a row for each class of the raster",
        )
    return classes


def _load_raster(path: Path, grid: Grid, *, classes: Path | None) -> tuple[U8, tuple[Note, ...]]:
    """Take the class of the pixel that holds each cell's centre, whatever the window."""
    table = read_classes(classes) if classes else NLCD_CLASSES
    values, is_empty = _pixels_at(path, grid)
    reading = _reading_of(np.unique(values[~is_empty]), table)
    if not reading.covers and not is_empty.all():
        raise _no_cover(f"{_SUBJECT} raster {path.name}", f"classes {listed(reading.unknown)}", "--land-cover-classes")
    code_of = {int(value): _code(cover) for value, cover in reading.covers.items()}
    found, place = np.unique(values, return_inverse=True)
    codes = np.array([code_of.get(int(value), 0) for value in found], np.uint8)[place.reshape(grid.shape)]
    codes[is_empty] = 0
    notes = []
    if classes is None:
        text = "classes of the raster are read as those of the National Land Cover Database"
        notes.append(Note("assumed", _SUBJECT, text))
    if is_empty.any():
        text = f"{is_empty.mean():.0%} of the window has no land cover: it is taken as lawn"
        notes.append(Note("missing", _SUBJECT, text))
    return codes, (*notes, *_unknown_notes(reading))


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
        raise InputError(f"The {_SUBJECT} raster is not there", got=str(path), mend="correct the path")
    try:
        raster = rasterio.open(path)
    except RasterioError as problem:
        raise InputError(
            f"The {_SUBJECT} raster cannot be opened", got=f"{path.name}: {problem}", mend="check the file"
        ) from problem
    with raster:
        if raster.crs is None:
            raise InputError(
                f"The {_SUBJECT} raster {path.name} has no coordinate reference system",
                expected="a CRS in the file",
                mend="assign the CRS it is in, for example with `rio edit-info --crs EPSG:CODE FILE`",
            )
        if not np.issubdtype(np.dtype(raster.dtypes[0]), np.integer):
            raise InputError(
                f"The {_SUBJECT} raster {path.name} holds no classes",
                got=raster.dtypes[0],
                expected="whole numbers",
                mend="give the raster of classes, not of shares or colours",
            )
        yield raster


def _describe_raster(path: Path, classes: Path | None) -> tuple[dict[str, str], list[str]]:
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
    reading = _reading_of(values, table)
    if not reading.covers:
        raise _no_cover(f"{_SUBJECT} raster {path.name}", f"classes {listed(reading.unknown)}", "--land-cover-classes")
    share = dict(zip([str(value) for value in values.tolist()], (counts / counts.sum()).tolist(), strict=True))
    facts["covers"] = "; ".join(f"{value} = {cover} ({share[value]:.1%})" for value, cover in reading.covers.items())
    return facts, [note.text for note in _unknown_notes(reading)]


def _reading_of(values: NDArray[Any], table: dict[int, str]) -> CoverReading:
    numbers = [int(value) for value in values.tolist()]
    known = {str(number): table[number] for number in numbers if number in table}
    return CoverReading(known, tuple(str(number) for number in numbers if number not in table))


def _code(cover: str | None) -> int:
    return 0 if cover is None or cover == LAWN else CODE_OF[cover]


def _unknown_notes(reading: CoverReading) -> list[Note]:
    if not reading.unknown:
        return []
    text = f"values that are no cover are taken as lawn: {listed([value or 'empty' for value in reading.unknown])}"
    return [Note("assumed", _SUBJECT, text)]


def _no_cover(title: str, got: str, option: str) -> InputError:
    return InputError(
        f"No value of the {title} is a cover",
        got=got,
        expected=_EXPECTED,
        mend=f"give the right column or table with {option}",
    )
