"""Features of a vector layer as pyogrio reads them: what it warns of becomes notes, what it cannot read is refused."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from screening.errors import InputError
from screening.grid import Bounds
from screening.inputs.datum import datum_taken
from screening.models import Note, note
from screening.projections import transformer_between
from screening.schema.codes.notes import NoteCode, NoteKind

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from screening.inputs.vector.layers import Layer

_FID_MAX = 2**31 - 1
"""Feature number up to which features can be read one by one; higher ones, and those below 0, are not sure to be."""


def feature_table(layer: Layer, columns: list[str]) -> pd.DataFrame:
    """Read columns of every feature by feature number, in the order of the file, without geometries."""
    with _noted(layer.subject, []):
        table: pd.DataFrame = _read(layer, columns=columns, read_geometry=False)
    return table.sort_index()


def _read(layer: Layer, **asked: Any) -> Any:
    """Read with pyogrio, by feature number; text that is not in UTF-8, as a layer may falsely say, as Latin-1.

    A shape that cannot be built becomes none, with a warning.
    """
    import pyogrio
    from pyogrio.errors import DataSourceError, FeatureError, GeometryError

    options = {"columns": list(layer.fields), **asked, "layer": layer.name, "fid_as_index": True, "on_invalid": "warn"}
    fids = asked.get("fids")
    try:
        if fids and not 0 <= min(fids) <= max(fids) <= _FID_MAX:
            return _read(layer, **{**asked, "fids": None}).loc[fids]
        try:
            return pyogrio.read_dataframe(layer.path, **options)
        except UnicodeDecodeError:
            warnings.warn("text is not in UTF-8: read as Latin-1, so names may be misspelt", UserWarning, stacklevel=2)
            return pyogrio.read_dataframe(layer.path, **options, encoding="latin-1")
        except TypeError:
            if fids is None:
                raise
            # Columns of lists are read for all features alone.
            return _read(layer, **{**asked, "fids": None}).loc[fids]
    except (DataSourceError, FeatureError, GeometryError, ValueError) as problem:
        raise InputError(
            f"The {layer.title} cannot be read", got=str(problem), mend="check that the file is whole"
        ) from problem


def read_features(
    layer: Layer, *, crs: str, bounds: Bounds | None, fids: list[int] | None
) -> tuple[gpd.GeoDataFrame, list[Note]]:
    """Read features and bring them to a CRS, in the order of the file: a spatial index may hand out another.

    Parameters
    ----------
    layer
        From `layers.open_layer`.
    crs
        CRS to bring them to.
    bounds
        Only features that may meet it, in that CRS; None = all.
    fids
        Only features of these numbers.

    Raises
    ------
    InputError
        The features cannot be read, or have no place in that CRS.
    """
    from pyproj.exceptions import ProjError

    notes = _reprojection_notes(layer, crs)
    bbox = None if bounds is None or fids is not None else _bounds_in(layer, crs, bounds)
    with _noted(layer.subject, notes):
        frame = _read(layer, bbox=bbox, fids=fids).sort_index()
    try:
        return frame.to_crs(crs), notes
    except ProjError as problem:
        raise InputError(
            f"The {layer.title} cannot be brought to metres",
            got=f"{layer.crs.name}: {problem}",
            expected="a CRS with a known relation to places",
            mend="reproject it to longitude and latitude first",
        ) from problem


def _reprojection_notes(layer: Layer, crs: str) -> list[Note]:
    if layer.crs == crs:
        return []
    notes = [note(NoteKind.CONVERTED, layer.subject, NoteCode.REPROJECTED, crs=layer.crs.name)]
    taken = datum_taken(layer.crs_text, crs, subject=layer.title)
    if taken is not None:
        source, target = taken
        notes.append(note(NoteKind.CAUTION, layer.subject, NoteCode.DATUM_TAKEN, source=source, target=target))
    return notes


def _bounds_in(layer: Layer, crs: str, bounds: Bounds) -> Bounds | None:
    """Bring bounds to the CRS of a layer, a little wider; None where they have no image there."""
    from pyproj.exceptions import ProjError

    transformer = transformer_between(crs, layer.crs)
    try:
        west, south, east, north = transformer.transform_bounds(*bounds, densify_pts=21)
    except ProjError:
        return None
    if not all(math.isfinite(value) for value in (west, south, east, north)):
        return None
    if layer.crs.is_geographic and max(abs(west), abs(east)) > 179.0:
        # There bounds may come back as those of one side alone, and shapes that cross lie on both.
        west, east = -180.0, 180.0
    wider = 0.01 * max(east - west, north - south)
    return west - wider, south - wider, east + wider, north + wider


@contextmanager
def _noted(subject: str, notes: list[Note]) -> Iterator[None]:
    """Turn what the reader warns of into notes."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        yield
    for text in dict.fromkeys(str(warning.message) for warning in caught):
        notes.append(note(NoteKind.CAUTION, subject, NoteCode.READER_WARNED, message=text))
