"""Places that a question may be asked about, as cells of a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias, Union

import numpy as np

from screening.errors import InputError
from screening.grid import I64, Grid, cells_along, rasterize

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One cell of a grid, row 0 in the north and column 0 in the west."""

    row: int
    col: int


Place: TypeAlias = Union["BaseGeometry", Cell]
"""A point, line or polygon (or several of a kind) in the grid's CRS, or a cell.

A line stands for all cells that it crosses, so that no flow leaks through it between two corners; a polygon for the
cells whose centre it holds, or, where it holds none, for all that it touches.
"""


def cells_in(grid: Grid, where: Place) -> I64:
    """List the cells of a place.

    Parameters
    ----------
    grid
        Where the place lies.
    where
        See `Place`.

    Returns
    -------
    int64 (n,), n > 0, flat indices; a cell may be listed more than once.

    Raises
    ------
    InputError
        The place is of no known kind, empty, invalid, or not wholly inside the window.
    """
    if isinstance(where, Cell):
        if not (0 <= where.row < grid.n_rows and 0 <= where.col < grid.n_cols):
            raise InputError(
                "The cell lies outside the window",
                got=str(where),
                expected=f"{grid.n_rows} rows, {grid.n_cols} columns",
            )
        return np.array([where.row * grid.n_cols + where.col], np.int64)
    _check_geometry(grid, where)
    if where.geom_type.endswith("Polygon"):
        return _cells_of_polygon(grid, where)
    row, col = _cells_of_points(grid, where).T if where.geom_type.endswith("Point") else _cells_of_lines(grid, where).T
    return np.asarray(row * grid.n_cols + col, np.int64)


def _check_geometry(grid: Grid, where: BaseGeometry) -> None:
    import shapely

    kind = getattr(where, "geom_type", type(where).__name__)
    if kind.removeprefix("Multi") not in ("Point", "LineString", "LinearRing", "Polygon"):
        raise InputError("The place is of no known kind", got=kind, expected="a point, line, polygon or places.Cell")
    if where.is_empty or not where.is_valid:
        reason = "no geometry at all" if where.is_empty else shapely.is_valid_reason(where)
        raise InputError("The place cannot be used", got=reason, mend="give a valid geometry")
    if not shapely.box(*grid.bounds).covers(where):
        raise InputError(
            "The place does not lie inside the window",
            got="west, south, east, north " + ", ".join(f"{value:.6g}" for value in where.bounds),
            expected="within " + ", ".join(f"{value:.10g}" for value in grid.bounds) + f" in {grid.crs}",
            mend="give it in the window's CRS, or cut it to the window",
        )


def _cells_of_polygon(grid: Grid, polygon: BaseGeometry) -> I64:
    mask = rasterize(grid, [polygon], [1])
    if not mask.any():
        mask = rasterize(grid, [polygon], [1], all_touched=True)
    return np.flatnonzero(mask).astype(np.int64)


def _cells_of_lines(grid: Grid, lines: BaseGeometry) -> I64:
    import shapely

    return np.concatenate([cells_along(grid, line, closed=True) for line in shapely.get_parts(lines)])


def _cells_of_points(grid: Grid, points: BaseGeometry) -> I64:
    import shapely

    xy = shapely.get_coordinates(points)
    place = np.column_stack((grid.north_m - xy[:, 1], xy[:, 0] - grid.west_m)) / grid.cell_m
    # The window's south and east edges belong to its last cells.
    return np.minimum(np.floor(place), np.subtract(grid.shape, 1)).astype(np.int64)
