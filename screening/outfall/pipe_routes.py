"""Pipes that run by gravity: the route, the fall it has and needs, what it crosses, how deep it lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import Grid, draw_path
from screening.models import F32, F64, I64, Bool, freeze
from screening.schema.codes.outfall import Reach, RouteReason
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_SAME_M = 1e-5
_REACH = {
    RouteReason.GROUND_UNKNOWN: Reach.NOT_ASSESSED,
    RouteReason.FALLS_ENOUGH: Reach.REACHABLE,
    RouteReason.STORAGE_DEEPER: Reach.REACHABLE,
}
"""What follows from a reason; from any other, that the zone is not reached."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Terrain:
    """What a pipe on a lot meets: ground [m] on a grid, the cells of the lot without structures as ascending flat
    indices, the lot, and the structures near it.
    """

    grid: Grid
    elev_m: F32
    open_cells: I64
    lot: BaseGeometry
    structures: Any

    def __post_init__(self) -> None:
        freeze(self.open_cells)


@dataclass(frozen=True, kw_only=True, eq=False)
class GravityPipe:
    """A pipe from a collection point to a zone, as shallow as cover and least slope allow.

    Parameters
    ----------
    line
        LineString [m].
    length_m, ground_fall_m
        Along it, and ground at its start less ground at its end.
    fall_needed_m
        Least slope times length.
    extra_depth_m
        How much deeper than under its least cover it ends.
    cover_max_m
        Most ground over it.
    n_structures, n_lot_lines
        That it crosses.
    reach, reason
        Whether it reaches the zone, and why.
    """

    line: BaseGeometry
    length_m: float
    ground_fall_m: float
    fall_needed_m: float
    extra_depth_m: float
    cover_max_m: float
    n_structures: int
    n_lot_lines: int
    reach: Reach
    reason: RouteReason

    @property
    def pipe_slope_pct(self) -> float:
        """Mean slope of the pipe."""
        return (self.ground_fall_m + self.extra_depth_m) / self.length_m * 100.0


def lay_pipe(start: int, zone: I64, terrain: Terrain, *, criteria: Criteria, start_below_m: float = 0.0) -> GravityPipe:
    """Lay a pipe by gravity from a cell to a zone.

    It goes straight to the nearest cell of the zone, around structures and within the lot where that is blocked.
    Where it does not fall enough, the cell of the zone that is best for it by ground and distance is tried.

    Parameters
    ----------
    start
        Flat index of the cell where water is caught.
    zone
        Flat indices of the cells of the zone; two or more.
    terrain
        Of the lot.
    criteria
        `outlet_pipe_slope_min_pct`, `storage_cover_m`, `storage_extra_depth_max_m`.
    start_below_m
        How much deeper than under its least cover it begins [m], as where it drains a channel.

    Returns
    -------
    The first of these pipes that reaches the zone, or else the first.
    """
    targets = zone[zone != start]
    distance = _distances_m(terrain.grid, start, targets)
    slope = criteria.hydraulics.outlet_pipe_slope_min_pct / 100.0
    needs = terrain.elev_m.ravel()[targets] + slope * distance
    nearest, best = int(targets[distance.argmin()]), int(targets[np.nan_to_num(needs, nan=np.inf).argmin()])
    first = _grade(_route(start, nearest, targets, terrain), terrain, criteria, start_below_m)
    if first.reach is Reach.REACHABLE or best == nearest:
        return first
    second = _grade(_route(start, best, np.array([best], np.int64), terrain), terrain, criteria, start_below_m)
    return second if second.reach is Reach.REACHABLE else first


def _distances_m(grid: Grid, start: int, cells: I64) -> F64:
    row, col = np.divmod(cells, grid.n_cols)
    at_row, at_col = divmod(start, grid.n_cols)
    return np.asarray(np.hypot(row - at_row, col - at_col) * grid.cell_m, np.float64)


def _route(start: int, end: int, targets: I64, terrain: Terrain) -> BaseGeometry:
    """A straight line where it is clear, else a route around, else the straight line."""
    straight: BaseGeometry = draw_path(terrain.grid, np.array([start, end]))
    if terrain.lot.covers(straight) and not terrain.structures.intersects(straight).any():
        return straight
    around = _route_around(start, targets, terrain)
    return straight if around is None else around


def _route_around(start: int, targets: I64, terrain: Terrain) -> BaseGeometry | None:
    """The shortest route over open cells of the lot in eight directions; None where there is none."""
    walk = walk_over(start, terrain.open_cells, terrain.grid)
    found = np.minimum(np.searchsorted(walk.cells, targets), walk.cells.size - 1)
    ends = targets[walk.cells[found] == targets]
    distance = walk.distances_m(ends)
    if ends.size == 0 or not np.isfinite(distance).any():
        return None
    return walk.line_to(int(ends[distance.argmin()]))


@dataclass(frozen=True, kw_only=True, eq=False)
class Walk:
    """Shortest routes over some cells in eight directions, from one of them to each other.

    Parameters
    ----------
    grid
        Where they lie.
    cells
        Flat indices, ascending, the start among them.
    top, left, n_cols
        Of the part of the grid that holds them.
    distance_cells, before
        By cell of the part: distance from the start in cells, inf where there is no route, and the cell before it.
    """

    grid: Grid
    cells: I64
    top: int
    left: int
    n_cols: int
    distance_cells: F64
    before: Any

    def _local(self, cells: I64) -> I64:
        row, col = np.divmod(cells, self.grid.n_cols)
        return np.asarray((row - self.top) * self.n_cols + col - self.left, np.int64)

    def distances_m(self, cells: I64) -> F64:
        """Length of the route to each of some of the cells [m], inf where there is none."""
        return np.asarray(self.distance_cells[self._local(cells)] * self.grid.cell_m, np.float64)

    def line_to(self, cell: int) -> BaseGeometry:
        """The route to a cell, through cell centres."""
        path = [int(self._local(np.array([cell]))[0])]
        while self.before[path[-1]] >= 0:
            path.append(int(self.before[path[-1]]))
        row, col = np.divmod(np.array(path[::-1]), self.n_cols)
        line: BaseGeometry = draw_path(self.grid, (row + self.top) * self.grid.n_cols + col + self.left)
        return line


def walk_over(start: int, cells: I64, grid: Grid) -> Walk:
    """Find the shortest routes from a cell over others.

    Parameters
    ----------
    start, cells
        Flat indices, the cells ascending; the start need not be one of them.
    grid
        Where they lie.
    """
    from scipy.sparse.csgraph import dijkstra

    place = int(np.searchsorted(cells, start))
    is_there = place < cells.size and cells[place] == start
    cells = cells if is_there else np.insert(cells, place, start)
    row, col = np.divmod(cells, grid.n_cols)
    top, left, n_cols = int(row.min()), int(col.min()), int(col.max() - col.min()) + 1
    part = np.zeros((int(row.max()) - top + 1, n_cols), bool)
    part[row - top, col - left] = True
    at = (start // grid.n_cols - top) * n_cols + start % grid.n_cols - left
    distance, before = dijkstra(_neighbours(part), directed=False, indices=at, return_predecessors=True)
    return Walk(grid=grid, cells=cells, top=top, left=left, n_cols=n_cols, distance_cells=distance, before=before)


def _neighbours(is_open: Bool) -> Any:
    """Distances in cells between open cells; a diagonal step needs both cells beside it open too."""
    from scipy.sparse import coo_array

    number = np.arange(is_open.size).reshape(is_open.shape)
    both_h, both_v = is_open[:, :-1] & is_open[:, 1:], is_open[:-1] & is_open[1:]
    square = both_h[:-1] & both_h[1:]
    pairs = [
        (number[:, :-1][both_h], number[:, 1:][both_h], 1.0),
        (number[:-1][both_v], number[1:][both_v], 1.0),
        (number[:-1, :-1][square], number[1:, 1:][square], 2.0**0.5),
        (number[:-1, 1:][square], number[1:, :-1][square], 2.0**0.5),
    ]
    weights = np.concatenate([np.full(one.size, step) for one, _, step in pairs])
    # Older scipy walks graphs of 32-bit places only; a lot has far fewer cells.
    ends = [np.concatenate([pair[side] for pair in pairs]).astype(np.int32) for side in (0, 1)]
    return coo_array((weights, tuple(ends)), shape=(is_open.size, is_open.size)).tocsr()


def profile_along(line: BaseGeometry, grid: Grid, elev_m: F32) -> tuple[F64, F64]:
    """Take the ground along a line at half-cell steps, even between cell centres: exact on a plane.

    Returns
    -------
    Distance from the start and ground [m], float64; NaN where a cell beside has no elevation.
    """
    import shapely

    length = line.length
    along = np.linspace(0.0, length, max(int(np.ceil(2.0 * length / grid.cell_m)), 1) + 1)
    xy = shapely.get_coordinates(shapely.line_interpolate_point([line], along))
    ground_m = np.zeros(along.size)
    # Noise of the division must not reach for a neighbour that has no part in the value.
    row = np.clip(np.round((grid.north_m - xy[:, 1]) / grid.cell_m - 0.5, 6), 0.0, grid.n_rows - 1.0)
    col = np.clip(np.round((xy[:, 0] - grid.west_m) / grid.cell_m - 0.5, 6), 0.0, grid.n_cols - 1.0)
    top, left = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
    for down, right in ((0, 0), (0, 1), (1, 0), (1, 1)):
        share = np.abs(1.0 - down - (row - top)) * np.abs(1.0 - right - (col - left))
        at = np.minimum(top + down, grid.n_rows - 1), np.minimum(left + right, grid.n_cols - 1)
        ground_m += np.where(share > 0.0, share * elev_m[at], 0.0)
    return along.astype(np.float64), ground_m


def _grade(line: BaseGeometry, terrain: Terrain, criteria: Criteria, start_below_m: float) -> GravityPipe:
    """Let the pipe fall from under its least cover, no less than its least slope, no nearer the ground than that."""
    along, ground_m = profile_along(line, terrain.grid, terrain.elev_m)
    slope = criteria.hydraulics.outlet_pipe_slope_min_pct / 100.0
    # The highest line that falls by `slope` and stays below the ground, before cover is taken off both.
    at_most = ground_m + slope * along
    at_most[0] -= start_below_m
    highest = np.minimum.accumulate(at_most) - slope * along
    extra = float(ground_m[-1] - highest[-1])
    n_structures = int(terrain.structures.intersects(line).sum())
    n_lot_lines = _n_crossings(line, terrain.lot)
    fall, needed = float(ground_m[0] - ground_m[-1]), slope * float(along[-1])
    if np.isnan(ground_m).any():
        reason = RouteReason.GROUND_UNKNOWN
    elif n_structures:
        reason = RouteReason.CROSSES_STRUCTURE
    elif n_lot_lines:
        reason = RouteReason.LEAVES_LOT
    elif extra <= criteria.storage.storage_extra_depth_max_m + _SAME_M:
        reason = RouteReason.FALLS_ENOUGH if extra <= _SAME_M else RouteReason.STORAGE_DEEPER
    else:
        reason = RouteReason.UPHILL if fall < 0.0 else RouteReason.TOO_LITTLE_FALL
    cover = float(np.max(ground_m - highest)) + criteria.storage.storage_cover_m
    return GravityPipe(
        line=line,
        length_m=float(along[-1]),
        ground_fall_m=fall,
        fall_needed_m=needed,
        extra_depth_m=extra,
        cover_max_m=cover,
        n_structures=n_structures,
        n_lot_lines=n_lot_lines,
        reach=_REACH.get(reason, Reach.NOT_REACHABLE),
        reason=reason,
    )


def _n_crossings(line: BaseGeometry, lot: BaseGeometry) -> int:
    import shapely

    if lot.covers(line):
        return 0
    return len([part for part in shapely.get_parts(line.intersection(lot.boundary)) if not part.is_empty])
