"""Geometries made fit for use: there, finite, flat, valid, of one kind, in single parts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from screening.grid import Bounds
from screening.models import Note, note
from screening.schema.codes.notes import NoteCode, NoteKind

if TYPE_CHECKING:
    import geopandas as gpd

Kind = Literal["polygon", "line", "point"]
SLIVER_M2 = 0.5
"""Polygons smaller than this are left out."""
OTHER_KINDS = (NoteCode.OTHER_GEOMETRY, NoteCode.OTHER_PARTS)
"""Codes of the notes that features are of another kind than was asked for."""
_TYPE_IDS: dict[Kind, tuple[int, ...]] = {"point": (0,), "line": (1, 2), "polygon": (3,)}
_TYPE_WORDS: dict[Kind, tuple[str, ...]] = {
    "polygon": ("polygon", "surface", "triangle"),
    "line": ("line", "curve", "circularstring"),
    "point": ("point",),
}
_FIRST_COLLECTION_ID = 4


def kind_of_type(declared: str) -> Kind | Literal[""]:
    """Give the kind of a declared geometry type; empty where a layer may hold several.

    Examples
    --------
    >>> kind_of_type("MultiPolygon Z"), kind_of_type("Unknown")
    ('polygon', '')
    """
    words = declared.lower()
    for kind, signs in _TYPE_WORDS.items():
        if any(sign in words for sign in signs):
            return kind
    return ""


def drop_empty(frame: gpd.GeoDataFrame, *, subject: str) -> tuple[gpd.GeoDataFrame, list[Note]]:
    """Leave out features without a geometry or with coordinates that are not numbers, and drop Z."""
    import shapely

    shapes = frame.geometry.to_numpy()
    is_there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    is_finite = is_there.copy()
    if is_there.any():
        points, owner = shapely.get_coordinates(shapes, return_index=True)
        is_finite[owner[~np.isfinite(points).all(axis=1)]] = False
    notes = _counted(subject, NoteCode.WITHOUT_GEOMETRY, n_features=(~is_there).sum())
    notes += _counted(subject, NoteCode.IMPOSSIBLE_COORDINATES, n_features=(is_there & ~is_finite).sum())
    kept = frame[is_finite]
    return kept.set_geometry(shapely.force_2d(kept.geometry.to_numpy()), crs=frame.crs), notes


def repair_invalid(frame: gpd.GeoDataFrame, *, subject: str) -> tuple[gpd.GeoDataFrame, list[Note]]:
    """Repair invalid geometries and name their features."""
    import shapely

    shapes = frame.geometry.to_numpy()
    is_valid = shapely.is_valid(shapes)
    if is_valid.all():
        return frame, []
    shapes = np.where(is_valid, shapes, shapely.make_valid(shapes))
    numbers = listed(frame.index[~is_valid])
    notes = _counted(subject, NoteCode.GEOMETRIES_REPAIRED, n_features=(~is_valid).sum(), numbers=numbers)
    return frame.set_geometry(shapes, crs=frame.crs), notes


def split_parts(frame: gpd.GeoDataFrame, *, want: Kind, subject: str) -> tuple[gpd.GeoDataFrame, list[Note]]:
    """Split features into single parts of one kind, without slivers.

    Returns
    -------
    One row a part, with `_part` counting the parts of a feature from 1, or 0 where it has one. Notes.
    """
    import shapely

    parts, owner = _single(frame.geometry.to_numpy())
    is_wanted = np.isin(shapely.get_type_id(parts), _TYPE_IDS[want])
    n_other = len(set(owner) - set(owner[is_wanted]))
    notes = _counted(subject, NoteCode.OTHER_GEOMETRY, n_features=n_other)
    if not n_other:
        notes = _counted(subject, NoteCode.OTHER_PARTS, n_parts=(~is_wanted).sum())
    parts, owner = parts[is_wanted], owner[is_wanted]
    is_sliver = np.zeros(len(parts), dtype=bool)
    if want == "polygon":
        is_sliver = shapely.area(parts) < SLIVER_M2
    elif want == "line":
        is_sliver = shapely.length(parts) <= 0.0
    notes += _counted(subject, NoteCode.SLIVERS, n_parts=is_sliver.sum(), least_m2=SLIVER_M2)
    parts, owner = parts[~is_sliver], owner[~is_sliver]
    out = frame.iloc[owner].copy()
    out["_part"] = _part_numbers(owner)
    return out.set_geometry(parts, crs=frame.crs), notes


def join_parts(parts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Join the parts of each feature again: one row a feature."""
    import shapely

    first = parts[parts["_part"] <= 1].copy()
    if len(first) == len(parts):
        return first
    groups = parts.geometry.groupby(level=0, sort=False)
    joined = {fid: group.to_numpy() for fid, group in groups if len(group) > 1}
    shapes = first.geometry.to_numpy().copy()
    for position, fid in enumerate(first.index):
        if fid in joined:
            whole = shapely.multipolygons(joined[fid])
            shapes[position] = whole if shapely.is_valid(whole) else shapely.union_all(joined[fid])
    return first.set_geometry(shapes, crs=parts.crs)


def inflow_cell(frame: gpd.GeoDataFrame, bounds: Bounds) -> gpd.GeoDataFrame:
    """Keep the features that meet a window, whole."""
    import shapely

    return frame[shapely.intersects(frame.geometry.to_numpy(), shapely.box(*bounds))]


def listed(values: Iterable[Any], *, most: int = 8) -> str:
    """List values for a message, and how many more there are."""
    texts = [str(value) for value in values]
    return ", ".join(texts[:most]) + (f" and {len(texts) - most} more" if len(texts) > most else "")


def _single(shapes: NDArray[Any]) -> tuple[NDArray[Any], NDArray[np.int64]]:
    """Take collections apart down to single geometries, with the position each comes from."""
    import shapely

    parts, owner = shapes, np.arange(len(shapes))
    while (shapely.get_type_id(parts) >= _FIRST_COLLECTION_ID).any():
        parts, inner = shapely.get_parts(parts, return_index=True)
        owner = owner[inner]
    return parts, owner


def _part_numbers(owner: NDArray[np.int64]) -> NDArray[np.int64]:
    """Count equal neighbours from 1; 0 for those without an equal neighbour."""
    _, start, n_parts = np.unique(owner, return_index=True, return_counts=True)
    number = np.arange(len(owner)) - np.repeat(start, n_parts) + 1
    return np.where(np.repeat(n_parts, n_parts) > 1, number, 0)


def _counted(subject: str, code: NoteCode, **values: Any) -> list[Note]:
    """One note, or none where its first value, a count, is 0."""
    n_found = next(iter(values.values()))
    return [note(NoteKind.REPAIRED, subject, code, **values)] if n_found else []
