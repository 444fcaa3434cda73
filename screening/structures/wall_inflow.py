"""Water that arrives at walls: by side, and where paths meet them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.models import F64, I64, FlowField, freeze
from screening.structures.walls import Walls

_LOOK_BACK_M = 5.0
"""How far up a path its direction is taken, so that a single cell's step does not turn it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class InflowPoints:
    """What first meets each cell beside a wall.

    Parameters
    ----------
    area_m2, runoff_m3
        By cell of `Walls.zone_cells`, float64: ground, and its storm runoff, whose water meets the walls there first;
        the structure's own roof is left out, and cells of the footprint have none.
    gathers_at
        As given to `find_inflow_points`.
    next_cell, last
        See `kernels.inflow_cells.next_zone_cells`.
    """

    area_m2: F64
    runoff_m3: F64
    gathers_at: I64
    next_cell: I64
    last: I64

    def __post_init__(self) -> None:
        freeze(self.area_m2, self.runoff_m3, self.gathers_at, self.next_cell, self.last)


def find_inflow_points(
    flow: FlowField, walls: Walls, *, gathers_at: I64, runoff_through_m3: F64, own_runoff_m3: F64
) -> InflowPoints:
    """Find what first meets each cell beside the walls.

    Water that comes to a wall over the roof of a structure that touches it arrives where it comes down. Water that
    meets a wall in a low spot arrives where that is deepest beside the wall: the way through level water says nothing.

    Parameters
    ----------
    flow, walls
        Of the same window.
    gathers_at
        Place in `Walls.zone_cells` where the water that meets each cell of it gathers, int64.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    own_runoff_m3
        Storm runoff of each cell alone, float64 (n_cells,) [m3].
    """
    from screening.kernels.inflow_cells import next_zone_cells

    place, last = next_zone_cells(flow.receiver, walls.zone_start, walls.zone_cells)
    is_roof = walls.side < 0
    has_data = flow.receiver[walls.zone_cells] >= 0
    parts = []
    for through, own in (
        (flow.contributing_area_m2.ravel(), np.full(flow.receiver.size, flow.grid.cell_area_m2)),
        (runoff_through_m3, own_runoff_m3),
    ):
        first = _first_inflow_cells(through[walls.zone_cells], place)
        roof_part = np.where(is_roof & has_data, first - own[walls.zone_cells], 0.0)
        first[is_roof] = 0.0
        came_down = _bring_down(first, roof_part, is_roof, place)
        parts.append(np.bincount(gathers_at, weights=came_down, minlength=came_down.size).astype(np.float64))
    return InflowPoints(area_m2=parts[0], runoff_m3=parts[1], gathers_at=gathers_at, next_cell=place, last=last)


def _first_inflow_cells(through: F64, place: I64) -> F64:
    """What drains through each cell of a zone, less what had met the zone before."""
    again = place >= 0
    return np.asarray(through - np.bincount(place[again], weights=through[again], minlength=through.size), np.float64)


def _bring_down(first: F64, on_roof: F64, is_roof: Any, place: I64) -> F64:
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


def find_inflow_cells(
    flow: FlowField, walls: Walls, inflow_points: InflowPoints, *, runoff_through_m3: F64, min_area_m2: float
) -> list[dict[str, Any]]:
    """Find where gathered water first touches the ground beside a wall.

    Parameters
    ----------
    flow, walls, inflow points
        Of the same window.
    runoff_through_m3
        As in `find_inflow_points`.
    min_area_m2
        Ground that must drain along one path to be listed [m2].

    Returns
    -------
    `zone_place` (cell in `Walls.zone_cells`), `contributing_area_m2`, `runoff_m3` and `from_bearing_deg` (0 = from
    the north, clockwise), the largest path first within each structure.
    """
    found: list[dict[str, Any]] = []
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
                {
                    "zone_place": place,
                    "contributing_area_m2": sum(path[0] for path in paths),
                    "runoff_m3": sum(path[1] for path in paths),
                    "from_bearing_deg": _bearing_up(flow, int(walls.zone_cells[place]), largest[2]),
                }
            )
        found.extend(sorted(rows, key=lambda row: (-row["contributing_area_m2"], row["zone_place"])))
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
