"""Driveways out of impervious polygons: those that touch a structure or a street and are neither themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import Bounds
from screening.inputs.vector.layers import open_layer, read_layer
from screening.models import Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

if TYPE_CHECKING:
    import geopandas as gpd

TOUCH_M = 1.0
"""How near a polygon must come to a structure or a street to touch it: outlines are drawn apart."""
COVERED_FRAC = 0.5
"""Share of a polygon under structures, streets or known driveways from which it is one of them."""


def driveways_from_impervious(
    spec: str,
    *,
    crs: str,
    bounds: Bounds | None,
    structures: gpd.GeoDataFrame,
    roads: gpd.GeoDataFrame,
    driveways: gpd.GeoDataFrame,
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Take the impervious polygons that are likely driveways, beside the driveways that were given.

    Parameters
    ----------
    spec
        The layer.
    crs, bounds
        As for every layer.
    structures, roads, driveways
        Of the same window.

    Returns
    -------
    Driveways with those added, named `I-1`, `I-2`, ... by their position in the file, and a note of how many were
    taken and left.
    """
    import geopandas as gpd
    import pandas as pd
    import shapely

    layer = open_layer(spec, subject="impervious")
    frame, notes = read_layer(layer, crs=crs, bounds=bounds, want="polygon", subject="impervious")
    shapes = np.asarray(frame.geometry.values, dtype=object)
    known = [np.asarray(layer.geometry.values, dtype=object) for layer in (structures, roads, driveways)]
    touches = np.zeros(len(shapes), bool)
    for near in known[:2]:
        if len(near) and len(shapes):
            touches[np.unique(shapely.STRtree(near).query(shapes, predicate="dwithin", distance=TOUCH_M)[0])] = True
    taken = np.flatnonzero(touches & (_covered_frac(shapes, known) < COVERED_FRAC))
    added = gpd.GeoDataFrame(
        {
            "driveway_id": [f"I-{frame.index[i]}" for i in taken],
            "lot_id": [""] * len(taken),
            "kind": ["driveway"] * len(taken),
        },
        geometry=list(shapes[taken]),
        crs=crs,
    )
    said = note(
        NoteKind.ASSUMED,
        NoteSubject.DRIVEWAYS,
        NoteCode.IMPERVIOUS_TAKEN,
        n_taken=len(taken),
        n_polygons=len(shapes),
        touch_m=TOUCH_M,
        covered_frac=COVERED_FRAC,
    )
    joined = added if driveways.empty else gpd.GeoDataFrame(pd.concat([driveways, added], ignore_index=True), crs=crs)
    return joined, (*notes, said)


def _covered_frac(shapes: Any, known: list[Any]) -> Any:
    """Share of each polygon that what is known covers."""
    import shapely

    others = np.concatenate(known)
    frac = np.zeros(len(shapes))
    if not len(others) or not len(shapes):
        return frac
    tree = shapely.STRtree(others)
    for i, shape in enumerate(shapes.tolist()):
        near = others[tree.query(shape, predicate="intersects")]
        if len(near):
            frac[i] = shape.intersection(shapely.union_all(near)).area / shape.area
    return frac
