"""Levels that cannot be those of the ground they belong to: another unit or datum than their column says."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from screening.grid import Grid
from screening.inputs.vector.geometries import listed
from screening.models import F32, Note, note
from screening.schema.codes.notes import NoteCode, NoteKind

if TYPE_CHECKING:
    import geopandas as gpd

FARTHEST_M = 10.0
"""Farthest that a sill or an invert lies above or below the ground at its place: common practice. Feet taken for
metres, or another datum, put them farther off almost everywhere."""
_LEVELS = (
    ("doors", "door_id", "sill_elev_m", 0),
    ("drains", "drain_id", "invert_up_m", 0),
    ("drains", "drain_id", "invert_down_m", -1),
)


def drop_strange_levels(layers: Mapping[str, gpd.GeoDataFrame], grid: Grid, elev_m: F32) -> tuple[Note, ...]:
    """Take levels farther than `FARTHEST_M` from the ground as not given.

    Parameters
    ----------
    layers
        `doors` and `drains` of a window; their levels are changed in place.
    grid, elev_m
        The window, and its ground, float32 (n_rows, n_cols) [m].

    Returns
    -------
    Notes that name what was dropped. Where the ground is not known, or a line ends beyond the window, levels stay.
    """
    notes = []
    for name, id_column, column, position in _LEVELS:
        frame = layers[name]
        above_m = frame[column].to_numpy(np.float64) - _ground_at_end(frame, grid, elev_m, position)
        with np.errstate(invalid="ignore"):
            is_strange = np.abs(above_m) > FARTHEST_M
        if not is_strange.any():
            continue
        pairs = zip(frame[id_column][is_strange], above_m[is_strange], strict=True)
        which = listed(f"{one} by {offset:+,.1f} m" for one, offset in pairs)
        frame.loc[is_strange, column] = np.nan
        notes.append(note(NoteKind.CAUTION, name, NoteCode.LEVELS_STRANGE, column=column, which=which))
    return tuple(notes)


def _ground_at_end(frame: gpd.GeoDataFrame, grid: Grid, elev_m: F32, position: int) -> NDArray[np.float64]:
    """Ground [m] under a point, or the first (0) or last (-1) point of a line; NaN where it is not known."""
    import shapely

    shapes = frame.geometry.to_numpy()
    is_line = shapely.get_type_id(shapes) == shapely.GeometryType.LINESTRING
    ends = np.where(is_line, shapely.get_point(shapes, position), shapes)
    row = np.floor((grid.north_m - shapely.get_y(ends)) / grid.cell_m)
    col = np.floor((shapely.get_x(ends) - grid.west_m) / grid.cell_m)
    inside = (row >= 0) & (col >= 0) & (row < grid.n_rows) & (col < grid.n_cols)
    out = np.full(len(frame), np.nan)
    out[inside] = elev_m[row[inside].astype(np.int64), col[inside].astype(np.int64)]
    return out
