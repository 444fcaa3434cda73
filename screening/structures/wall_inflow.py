"""Water that arrives at walls: by side, and where paths meet them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from screening.models import F64, I64, Bool, FlowField, freeze
from screening.structures.walls import Walls

_LOOK_BACK_M = 5.0
"""How far up a path its direction is taken, so that a single cell's step does not turn it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class InflowPoints:
    """Where water that meets walls goes next.

    Parameters
    ----------
    gathers_at
        As given to `find_inflow_points`.
    next_cell, last
        See `kernels.inflow_cells.next_zone_cells`.
    """

    gathers_at: I64
    next_cell: I64
    last: I64

    def __post_init__(self) -> None:
        freeze(self.gathers_at, self.next_cell, self.last)


def find_inflow_points(flow: FlowField, walls: Walls, *, gathers_at: I64) -> InflowPoints:
    """Find where water goes that meets walls.

    Parameters
    ----------
    flow, walls
        Of the same window.
    gathers_at
        Place in `Walls.zone_cells` where the water that meets each cell of it gathers, int64. Water that meets a wall
        in a low spot arrives where that is deepest beside the wall: the way through level water says nothing.
    """
    from screening.kernels.inflow_cells import next_zone_cells

    next_cell, last = next_zone_cells(flow.receiver, walls.zone_start, walls.zone_cells)
    return InflowPoints(gathers_at=gathers_at, next_cell=next_cell, last=last)


def first_at_walls(flow: FlowField, walls: Walls, points: InflowPoints, *, through: F64, own: F64) -> F64:
    """Give what first meets each cell beside the walls.

    Water that comes to a wall over the roof of a structure that touches it arrives where it comes down.

    Parameters
    ----------
    flow, walls, points
        Of the same window.
    through, own
        What drains through each cell, and what each adds itself, float64 (n_cells,) each: areas [m2] or runoff [m3].

    Returns
    -------
    By cell of `Walls.zone_cells`, float64: what meets the walls there first; the structure's own roof is left out, and
    cells of the footprint have none.
    """
    is_roof, has_data = walls.side < 0, flow.receiver[walls.zone_cells] >= 0
    first = _first_inflow_cells(through[walls.zone_cells], points.next_cell)
    roof_part = np.where(is_roof & has_data, first - own[walls.zone_cells], 0.0)
    first[is_roof] = 0.0
    came_down = _bring_down(first, roof_part, is_roof, points.next_cell)
    return np.bincount(points.gathers_at, weights=came_down, minlength=came_down.size).astype(np.float64)


def _first_inflow_cells(through: F64, place: I64) -> F64:
    """What drains through each cell of a zone, less what had met the zone before."""
    again = place >= 0
    return np.asarray(through - np.bincount(place[again], weights=through[again], minlength=through.size), np.float64)


def _bring_down(first: F64, on_roof: F64, is_roof: Bool, place: I64) -> F64:
    """Give what comes over a roof to the cell beside the wall that it comes down at."""
    foreign = np.flatnonzero(on_roof > 1e-6)
    at = place[foreign]
    while foreign.size and (is_roof[at] & (at >= 0)).any():
        at = np.where((at >= 0) & is_roof[at], place[at], at)
    np.add.at(first, at[at >= 0], on_roof[foreign[at >= 0]])
    return first


def by_side(walls: Walls, value: F64) -> F64:
    """Add up a value of the cells beside each side."""
    beside = walls.side >= 0
    return np.bincount(walls.side[beside], weights=value[beside], minlength=len(walls.sides)).astype(np.float64)


@dataclass(frozen=True, kw_only=True)
class InflowCell:
    """Gathered water where it first touches the ground beside a wall.

    Parameters
    ----------
    zone_place
        Cell in `Walls.zone_cells`.
    contributing_area_m2, runoff_m3
        Along the paths that meet the wall there.
    from_bearing_deg
        Up the largest of them: 0 = from the north, clockwise.
    """

    zone_place: int
    contributing_area_m2: float
    runoff_m3: float
    from_bearing_deg: float


def find_inflow_cells(
    flow: FlowField, walls: Walls, inflow_points: InflowPoints, *, runoff_through_m3: F64, min_area_m2: float
) -> list[InflowCell]:
    """Find where gathered water first touches the ground beside a wall.

    Parameters
    ----------
    flow, walls, inflow_points
        Of the same window.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    min_area_m2
        Ground that must drain along one path to be listed [m2].

    Returns
    -------
    The largest path first within each structure.
    """
    found: list[InflowCell] = []
    area = flow.contributing_area_m2.ravel()
    for number in range(walls.structure.size):
        zone = slice(int(walls.zone_start[number]), int(walls.zone_start[number + 1]))
        by_place: dict[int, list[tuple[float, float, int]]] = {}
        for place, near, again in _paths_into(flow, walls, inflow_points, zone, min_area_m2):
            first = float(area[near] - area[again].sum())
            if first >= min_area_m2:
                runoff = float(runoff_through_m3[near] - runoff_through_m3[again].sum())
                by_place.setdefault(int(inflow_points.gathers_at[place]), []).append((first, runoff, near))
        rows = []
        for place, paths in by_place.items():
            largest = max(paths)
            rows.append(
                InflowCell(
                    zone_place=place,
                    contributing_area_m2=sum(path[0] for path in paths),
                    runoff_m3=sum(path[1] for path in paths),
                    from_bearing_deg=_bearing_up(flow, int(walls.zone_cells[place]), largest[2]),
                )
            )
        found.extend(sorted(rows, key=lambda row: (-row.contributing_area_m2, row.zone_place)))
    return found


def _paths_into(
    flow: FlowField, walls: Walls, inflow_points: InflowPoints, zone: slice, min_area_m2: float
) -> Iterator[tuple[int, int, I64]]:
    """Places beside a wall, the cells next to them that bring much, and what these had brought to the wall before."""
    own = walls.zone_cells[zone]
    last, next_cell = inflow_points.last[zone], inflow_points.next_cell[zone]
    comes_again = (next_cell >= 0) & (last != own)
    area = flow.contributing_area_m2.ravel()
    for place in np.flatnonzero((walls.side[zone] >= 0) & (area[own] >= min_area_m2)).tolist():
        for near in _upstream_of(flow, int(own[place])):
            if area[near] >= min_area_m2 and not (own == near).any():
                yield zone.start + place, near, own[comes_again & (last == near)]


def _upstream_of(flow: FlowField, cell: int) -> list[int]:
    """Neighbours that drain to a cell."""
    n_rows, n_cols = flow.grid.shape
    row, col = divmod(cell, n_cols)
    rows, cols = range(max(row - 1, 0), min(row + 2, n_rows)), range(max(col - 1, 0), min(col + 2, n_cols))
    near = (r * n_cols + c for r in rows for c in cols)
    return [other for other in near if flow.receiver[other] == cell and other != cell]


def _bearing_up(flow: FlowField, cell: int, first: int) -> float:
    """Bearing from a cell to its path some way up, and out of level water, where it has no direction of its own."""
    area, level = flow.contributing_area_m2.ravel(), flow.filled_elev_m.ravel()
    n_steps = max(round(_LOOK_BACK_M / flow.grid.cell_m), 1)
    here = first
    while n_steps > 1 or level[here] <= level[cell]:
        above = _upstream_of(flow, here)
        if not above:
            break
        here = max(above, key=lambda other: area[other])
        n_steps -= 1
    d_row, d_col = np.subtract(divmod(here, flow.grid.n_cols), divmod(cell, flow.grid.n_cols))
    return float(np.rad2deg(np.arctan2(d_col, -d_row))) % 360.0
