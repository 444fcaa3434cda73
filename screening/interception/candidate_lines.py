"""Lines across a driveway: straight, from edge to edge, at steps of a cell, in every direction that may serve."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.grid import Grid, cells_along
from screening.models import F32, I64, freeze
from screening.schema.codes.interception import LinePlace, LineRun
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_SAME_DEG = 5.0
"""Directions nearer than this are one: over the width of a driveway the lines part by less than a cell."""
_LEVEL_SLOPE = 1e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class CandidateLine:
    """A line across a driveway.

    Parameters
    ----------
    line
        From edge to edge [m].
    cells
        Cells of the driveway that take its water, flat indices, ascending: no flow leaks through.
    place, runs
        See `columns.INTERCEPTION_COLUMNS`.
    """

    line: BaseGeometry
    cells: I64
    place: LinePlace
    runs: LineRun

    def __post_init__(self) -> None:
        freeze(self.cells)


def search_lines(
    shape: BaseGeometry, cells: I64, grid: Grid, elev_m: F32, *, wall: BaseGeometry, criteria: Criteria
) -> list[CandidateLine]:
    """Lay lines across a driveway at steps of a cell.

    They run across its long axis, along the contour of the plane that fits its ground best, and along the wall that
    takes most of its water; of directions within 5 degrees of one another the first counts.

    Parameters
    ----------
    shape
        The driveway without what stands on it [m].
    cells
        Its cells, flat indices, ascending.
    grid, elev_m
        Ground [m].
    wall
        The wall, as lines [m].
    criteria
        `interception_end_m`.

    Returns
    -------
    Lines no shorter than a cell, each set of cells once.
    """
    seen: set[bytes] = set()
    found = []
    for runs, across in _directions(shape, cells, grid, elev_m, wall):
        for line, place in _lay_lines(shape, across, wall, grid.cell_m, criteria):
            along = cells_along(grid, line, closed=True)
            own = np.intersect1d(along[:, 0] * grid.n_cols + along[:, 1], cells)
            if own.size and own.tobytes() not in seen:
                seen.add(own.tobytes())
                found.append(CandidateLine(line=line, cells=own, place=place, runs=runs))
    return found


def _directions(
    shape: BaseGeometry, cells: I64, grid: Grid, elev_m: F32, wall: BaseGeometry
) -> Iterator[tuple[LineRun, tuple[float, float]]]:
    """What lines run along, and the unit vector at right angles to them, in order."""
    import shapely

    kept: list[tuple[float, float]] = []
    least = np.cos(np.radians(_SAME_DEG))
    for runs, vector in (
        (LineRun.ACROSS, _long_axis(shape)),
        (LineRun.CONTOUR, _fall(cells, grid, elev_m)),
        (LineRun.WALL, _normal_of(max(_segments(wall), key=lambda piece: float(shapely.length(piece))))),
    ):
        length = float(np.hypot(*vector))
        if length == 0.0:
            continue
        unit = vector[0] / length, vector[1] / length
        if all(abs(unit[0] * other[0] + unit[1] * other[1]) < least for other in kept):
            kept.append(unit)
            yield runs, unit


def _long_axis(shape: BaseGeometry) -> tuple[float, float]:
    import shapely

    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))
    sides = np.diff(corners[:3], axis=0)
    if sides.shape[0] < 2:
        return 0.0, 0.0
    longer = sides[int(np.hypot(*sides[1]) > np.hypot(*sides[0]))]
    return float(longer[0]), float(longer[1])


def _fall(cells: I64, grid: Grid, elev_m: F32) -> tuple[float, float]:
    """Gradient of the plane through the ground of the driveway; none where it is level."""
    ground_m = elev_m.ravel()[cells].astype(np.float64)
    row, col = np.divmod(cells[~np.isnan(ground_m)], grid.n_cols)
    ground_m = ground_m[~np.isnan(ground_m)]
    if ground_m.size < 3:
        return 0.0, 0.0
    terms = np.column_stack((col * grid.cell_m, -row * grid.cell_m)).astype(np.float64)
    slope, _, rank, _ = np.linalg.lstsq(terms - terms.mean(axis=0), ground_m - ground_m.mean(), rcond=None)
    if rank < 2 or np.hypot(*slope) < _LEVEL_SLOPE:
        return 0.0, 0.0
    return float(slope[0]), float(slope[1])


def _segments(wall: BaseGeometry) -> list[BaseGeometry]:
    import shapely

    pieces = [shapely.get_coordinates(part) for part in shapely.get_parts(wall)]
    return [shapely.LineString(piece[at : at + 2]) for piece in pieces for at in range(len(piece) - 1)]


def _normal_of(segment: BaseGeometry) -> tuple[float, float]:
    import shapely

    start, end = shapely.get_coordinates(segment)
    return float(start[1] - end[1]), float(end[0] - start[0])


def _lay_lines(
    shape: BaseGeometry, across: tuple[float, float], wall: BaseGeometry, cell_m: float, criteria: Criteria
) -> Iterator[tuple[BaseGeometry, LinePlace]]:
    """Lines at right angles to a direction, from the end toward the wall, with their places."""
    import shapely

    corner = shapely.get_coordinates(shape)
    base, normal = corner.mean(axis=0), np.array(across)
    middle = shapely.get_coordinates(shapely.centroid(shape))[0]
    if (shapely.get_coordinates(shapely.centroid(wall))[0] - middle) @ normal > 0.0:
        normal = -normal
    along = np.array([-normal[1], normal[0]])
    offset = (corner - base) @ normal
    reach = float(np.abs((corner - base) @ along).max()) + cell_m
    extent = float(offset.max() - offset.min())
    # Numbers a rounding past a whole count of cells must not make one line more.
    n_lines = max(int(np.ceil(round(extent / cell_m, 6))), 1)
    shapely.prepare(shape)
    for number in range(n_lines):
        from_end = min((number + 0.5) * cell_m, extent)
        at = base + normal * (float(offset.min()) + from_end)
        chord = shapely.LineString((at - along * reach, at + along * reach))
        place = LinePlace.MID_SLOPE
        if extent - from_end <= criteria.interception.interception_end_m:
            place = LinePlace.STREET_SIDE
        if from_end <= criteria.interception.interception_end_m:
            place = LinePlace.GARAGE_FRONT
        for piece in shapely.get_parts(shape.intersection(chord)):
            if piece.geom_type == "LineString" and piece.length > cell_m - 1e-6:
                yield piece, place
