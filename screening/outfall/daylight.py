"""Outfalls for the water of a drain: where a pipe by gravity comes to daylight, or to ground that may take water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import Grid
from screening.models import F32, F64, I64, Bool, freeze
from screening.outfall.pipe_routes import Terrain, lay_pipe, profile_along, walk_over
from screening.schema.codes.outfall import Outfall, Reach
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely import Point
    from shapely.geometry.base import BaseGeometry

_SAME_M = 1e-5
_MOST_TRIED = 60
"""Places to which a straight route is tried, the nearest first, before a route around is looked for."""


@dataclass(frozen=True, kw_only=True, eq=False)
class OutletTerrain:
    """Where a pipe from a lot may run, and where it may end.

    Parameters
    ----------
    grid, elev_m
        Ground [m].
    ends
        Cells where it may let its water out, flat indices, ascending, int64.
    is_street
        Of these, those on a street.
    open_cells
        Cells that it may run under, flat indices, ascending, int64.
    terrain
        Outline of what it may run under, structures left out [m].
    """

    grid: Grid
    elev_m: F32
    ends: I64
    is_street: Bool
    open_cells: I64
    terrain: BaseGeometry

    def __post_init__(self) -> None:
        freeze(self.ends, self.is_street, self.open_cells)


@dataclass(frozen=True, kw_only=True, eq=False)
class DrainOutlet:
    """The outfall of a drain.

    Parameters
    ----------
    kind, zone_id
        Where the water may go, and the zone where it is one. Where there is none, the other values are those of the
        place that comes nearest to it.
    line
        The pipe; None where there is none.
    length_m, start_elev_m, end_elev_m, fall_needed_m
        See there.
    """

    kind: Outfall
    zone_id: str = ""
    line: BaseGeometry | None
    length_m: float
    start_elev_m: float
    end_elev_m: float
    fall_needed_m: float

    @property
    def fall_available_m(self) -> float:
        """Invert at its start less invert at its end."""
        return self.start_elev_m - self.end_elev_m


def find_daylight(
    start: Point, start_cell: int, invert_m: float, terrain: OutletTerrain, *, criteria: Criteria
) -> DrainOutlet:
    """Find the nearest place that is low enough for a pipe to come to daylight.

    The pipe falls by its least slope, goes straight where that is clear, else around over cell centres, and stays
    under the ground until its end.

    Parameters
    ----------
    start, start_cell
        Point where it begins [m], and flat index of the cell from whose centre it goes on where it must go around.
    invert_m
        Its invert there [m].
    terrain
        Where it may run and end.
    criteria
        `outlet_pipe_slope_min_pct`.
    """
    slope = criteria.hydraulics.outlet_pipe_slope_min_pct / 100.0
    ends, elev = terrain.ends, terrain.elev_m.ravel()[terrain.ends].astype(np.float64)
    none = DrainOutlet(
        kind=Outfall.NONE,
        line=None,
        length_m=float("nan"),
        start_elev_m=invert_m,
        end_elev_m=float("nan"),
        fall_needed_m=float("nan"),
    )
    if ends.size == 0 or np.isnan(invert_m):
        return none
    distance = _distances_m(terrain.grid, start, ends)
    spare = invert_m - elev - slope * distance
    best = int(spare.argmax())
    if spare[best] < -_SAME_M:
        length = float(distance[best])
        return DrainOutlet(
            kind=Outfall.NONE,
            line=None,
            length_m=length,
            start_elev_m=invert_m,
            end_elev_m=float(elev[best]),
            fall_needed_m=slope * length,
        )
    low = np.flatnonzero(spare >= -_SAME_M)
    low = low[np.argsort(distance[low], kind="stable")]
    found = _straight(start, invert_m, terrain, low[:_MOST_TRIED], slope)
    found = found or _around(start, start_cell, invert_m, terrain, low, slope)
    if found is None:
        return none
    place, line = found
    length = float(line.length)
    return DrainOutlet(
        kind=Outfall.AT_STREET if terrain.is_street[place] else Outfall.ON_LOT,
        line=line,
        length_m=length,
        start_elev_m=invert_m,
        end_elev_m=float(elev[place]),
        fall_needed_m=slope * length,
    )


def _distances_m(grid: Grid, start: Point, cells: I64) -> F64:
    row, col = np.divmod(cells, grid.n_cols)
    x, y = _x_and_y(grid, row, col)
    return np.asarray(np.hypot(x - start.x, y - start.y), np.float64)


def _x_and_y(grid: Grid, row: Any, col: Any) -> tuple[Any, Any]:
    return grid.west_m + (col + 0.5) * grid.cell_m, grid.north_m - (row + 0.5) * grid.cell_m


def _straight(
    start: Point, invert_m: float, terrain: OutletTerrain, places: I64, slope: float
) -> tuple[int, BaseGeometry] | None:
    """The first place, of those given, that a clear straight route leads to."""
    import shapely

    x, y = _x_and_y(terrain.grid, *np.divmod(terrain.ends[places], terrain.grid.n_cols))
    starts = np.broadcast_to([start.x, start.y], (places.size, 2))
    routes: Any = shapely.linestrings(np.stack((starts, np.column_stack((x, y))), axis=1))
    shapely.prepare(terrain.terrain)
    is_clear = shapely.covers(terrain.terrain, routes) & (shapely.length(routes) > 0.0)
    for place, route in zip(places[is_clear].tolist(), routes[is_clear], strict=True):
        if _stays_under(route, invert_m, terrain, slope):
            return place, route
    return None


def _around(
    start: Point, start_cell: int, invert_m: float, terrain: OutletTerrain, places: I64, slope: float
) -> tuple[int, BaseGeometry] | None:
    """The nearest place over open cells that is low enough at the end of that route."""
    import shapely

    walk = walk_over(start_cell, terrain.open_cells, terrain.grid)
    places = places[np.isin(terrain.ends[places], walk.cells) & (terrain.ends[places] != start_cell)]
    to_cell = float(_distances_m(terrain.grid, start, np.array([start_cell]))[0])
    distance = to_cell + walk.distances_m(terrain.ends[places])
    elev = terrain.elev_m.ravel()[terrain.ends[places]]
    low = np.flatnonzero(invert_m - elev - slope * distance >= -_SAME_M)
    for place in low[np.argsort(distance[low], kind="stable")][:3].tolist():
        over = shapely.get_coordinates(walk.line_to(int(terrain.ends[places[place]])))
        line = shapely.LineString(over if to_cell == 0.0 else np.vstack(([start.x, start.y], over)))
        if _stays_under(line, invert_m, terrain, slope):
            return int(places[place]), line
    return None


def _stays_under(line: BaseGeometry, invert_m: float, terrain: OutletTerrain, slope: float) -> bool:
    """Whether a pipe that falls by a slope, or more where the ground dips, still comes to daylight at the end."""
    along, elev = profile_along(line, terrain.grid, terrain.elev_m)
    at_most = elev + slope * along
    at_most[0] = invert_m
    highest = np.minimum.accumulate(at_most) - slope * along
    return bool(highest[-1] >= elev[-1] - _SAME_M)


def find_zone(
    start: int, invert_m: float, zones: dict[str, I64], terrain: Terrain, *, criteria: Criteria
) -> DrainOutlet | None:
    """Find the nearest infiltration candidate that a pipe from a drain reaches by gravity.

    Parameters
    ----------
    start
        Cell where it begins, flat index.
    invert_m
        Its invert there [m].
    zones
        Cells of each zone of the lot by id.
    terrain
        Of the lot.
    criteria
        `outlet_pipe_slope_min_pct`, `storage_cover_m`, `storage_extra_depth_max_m`.

    Returns
    -------
    None where no zone is reached.
    """
    elev = terrain.elev_m.ravel()
    ground_m = float(elev[start])
    below = max(ground_m - invert_m - criteria.storage.storage_cover_m, 0.0)
    may_fall = criteria.storage.storage_cover_m + criteria.storage.storage_extra_depth_max_m
    reached = []
    for zone_id, cells in zones.items():
        if not _is_low_enough(start, invert_m, cells, terrain, may_fall, criteria):
            continue
        pipe = lay_pipe(start, cells, terrain, criteria=criteria, start_below_m=below)
        if pipe.reach is Reach.REACHABLE:
            reached.append((pipe.length_m, zone_id, pipe))
    if not reached:
        return None
    length, zone_id, pipe = min(reached, key=lambda found: found[0])
    end_m = ground_m - pipe.ground_fall_m - may_fall
    return DrainOutlet(
        kind=Outfall.ZONE,
        zone_id=zone_id,
        line=pipe.line,
        length_m=length,
        start_elev_m=invert_m,
        end_elev_m=end_m,
        fall_needed_m=pipe.fall_needed_m,
    )


def _is_low_enough(
    start: int, invert_m: float, cells: I64, terrain: Terrain, may_fall_m: float, criteria: Criteria
) -> bool:
    """Whether any cell of a zone is, by a straight route: a pipe to it need not be laid where none is."""
    if cells.size < 2 or np.isnan(invert_m):
        return False
    x, y = _x_and_y(terrain.grid, *np.divmod(cells, terrain.grid.n_cols))
    at_x, at_y = _x_and_y(terrain.grid, *divmod(start, terrain.grid.n_cols))
    needed = criteria.hydraulics.outlet_pipe_slope_min_pct / 100.0 * np.hypot(x - at_x, y - at_y)
    spare = invert_m - needed - (terrain.elev_m.ravel()[cells] - may_fall_m)
    return bool((spare >= -_SAME_M).any())
