"""Land cover, as a raster of classes or as polygons with a column of covers, by cell of a window."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import InputError
from screening.grid import Bounds, Grid, rasterize
from screening.inputs.raster.cover_classes import SUBJECT, CoverReading, code_of, no_cover, unknown_notes
from screening.inputs.raster.cover_raster import describe_cover_raster, load_cover_raster
from screening.inputs.vector.geometries import listed
from screening.inputs.vector.ids import find_column, named_column, text_of
from screening.inputs.vector.layers import open_layer, read_layer, split_layer
from screening.models import U8, Note, SiteRequest, note
from screening.schema.codes.notes import NoteCode, NoteKind
from screening.schema.cover_words import cover_of_text

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
_RASTER_ENDINGS = (".tif", ".tiff", ".vrt", ".img", ".asc", ".jp2", ".bil", ".grd")


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
        return load_cover_raster(Path(spec), grid, classes=request.land_cover_classes)
    frame, notes, reading = read_cover_polygons(request, crs=grid.crs, bounds=grid.bounds)
    codes = [code_of(reading.covers.get(value)) for value in frame["value"]]
    # Code 0 cannot be burned: one more than the code is, and taken off again.
    burned = rasterize(grid, list(frame.geometry), [code + 1 for code in codes])
    bare = float((burned == 0).mean())
    if bare > 0:
        notes = (*notes, note(NoteKind.MISSING, SUBJECT, NoteCode.COVER_MISSING, share_frac=bare))
    return np.maximum(burned - 1, 0).astype(np.uint8), (*notes, *unknown_notes(reading))


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

    layer = open_layer(str(request.land_cover), subject=SUBJECT)
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
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject=SUBJECT)
    values = [text_of(value) for value in frame[column].tolist()]
    known = {value: cover for value in dict.fromkeys(values) if (cover := cover_of_text(value))}
    reading = CoverReading(known, tuple(value for value in dict.fromkeys(values) if value not in known))
    if values and not known:
        raise no_cover(layer.title, f"{column} with {listed(reading.unknown)}", "--land-cover-field")
    ready = gpd.GeoDataFrame({"value": np.array(values, dtype=object)}, geometry=frame.geometry.to_numpy(), crs=crs)
    return ready, notes, reading


def describe_land_cover(request: SiteRequest, grid: Grid | None) -> tuple[dict[str, str], list[Note]]:
    """Say what a land cover input is: facts by label, and notes."""
    spec = str(request.land_cover)
    if is_raster(spec):
        return describe_cover_raster(Path(spec), request.land_cover_classes)
    crs = grid.crs if grid is not None else open_layer(spec, subject=SUBJECT).crs_text
    frame, notes, reading = read_cover_polygons(request, crs=crs, bounds=None)
    counts = frame["value"].value_counts()
    facts = {
        "kind": "polygons",
        "features": f"{len(frame):,}",
        "covers": "; ".join(f"{value} = {cover} ({counts[value]})" for value, cover in reading.covers.items()),
    }
    found = [*notes, *unknown_notes(reading)]
    if grid is not None:
        import shapely

        on_raster = int(shapely.intersects(frame.geometry.to_numpy(), shapely.box(*grid.bounds)).sum())
        facts["on the elevation raster"] = f"{on_raster:,} of {len(frame):,}"
        if not on_raster:
            found.append(note(NoteKind.CAUTION, SUBJECT, NoteCode.NOT_ON_RASTER))
    return facts, found
