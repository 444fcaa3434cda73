"""Doors and other openings in walls: ground, water and freeboard at each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import Grid
from screening.models import F64, I64, Block, Depressions, FlowField, Ponding, Storm, Surface
from screening.schema.columns import DOOR_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.structures.walls import Walls

if TYPE_CHECKING:
    import geopandas as gpd


def assess_doors(
    block: Block,
    surface: Surface,
    walls: Walls,
    flow: FlowField,
    depressions: Depressions,
    storm: Storm,
    ponding: Ponding,
    *,
    runoff_through_m3: F64,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Assess the doors, garage doors, window wells and vents that were given.

    Each belongs to the structure it names, or to the nearest within `door_reach_m`; the ground beside it is the cell
    beside that structure's wall that is nearest to it.

    Parameters
    ----------
    block, surface, walls, flow, depressions, storm, ponding
        Of the same window.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    criteria
        `door_reach_m`, `door_front_m`.

    Returns
    -------
    `columns.DOOR_COLUMNS` and points: doors of structures on a chosen lot, and doors near no structure on such a lot.
    """
    own_runoff = storm.runoff_m3.ravel()
    rows, points = [], []
    for door in block.doors.to_dict("records"):
        point = door["geometry"]
        number = _structure_of(door, block, walls, criteria.structures.door_reach_m)
        lot_id = block.structures["lot_id"].iloc[walls.structure[number]] if number >= 0 else _lot_at(block, point)
        if not lot_id:
            continue
        row: dict[str, Any] = {"door_id": door["door_id"], "kind": door["kind"], "lot_id": lot_id}
        row |= {"sill_elev_m": door["sill_elev_m"], "structure_id": "", "side": "", "edge_contaminated": False}
        ring = walls.ring_of(number) if number >= 0 else np.empty(0, np.int64)
        if number >= 0:
            row["structure_id"] = block.structures["structure_id"].iloc[walls.structure[number]]
        if ring.size:
            distance = _distance_m(flow.grid, ring, point)
            cell = int(ring[distance.argmin()])
            row |= _water_at(cell, door["sill_elev_m"], surface, depressions, ponding)
            row |= _arriving(
                ring=ring,
                distance_m=distance,
                number=number,
                walls=walls,
                flow=flow,
                runoff_through_m3=runoff_through_m3,
                own_runoff_m3=own_runoff,
                criteria=criteria,
            )
            row["side"] = _side_of(walls, number, cell)
        rows.append(row)
        points.append(point)
    return declared(rows, DOOR_COLUMNS, geometry=points, crs=block.grid.crs)


def _structure_of(door: dict[str, Any], block: Block, walls: Walls, reach_m: float) -> int:
    """Place in `walls.structure` of the structure a door belongs to, -1 if it is none on a chosen lot."""
    ids = block.structures["structure_id"]
    if door["structure_id"]:
        rows = np.flatnonzero((ids == door["structure_id"]).to_numpy(bool))
    else:
        distance = block.structures.geometry.distance(door["geometry"]).to_numpy(float)
        rows = np.array([distance.argmin()]) if distance.size and distance.min() <= reach_m else np.empty(0, np.int64)
    place = np.flatnonzero(walls.structure == rows[0]) if rows.size else rows
    return int(place[0]) if place.size else -1


def _lot_at(block: Block, point: Any) -> str:
    """Chosen lot on which a door stands that belongs to no structure."""
    inside = block.lots.geometry.covers(point).to_numpy(bool)
    return str(block.lots["lot_id"].iloc[int(inside.argmax())]) if inside.any() else ""


def _distance_m(grid: Grid, cells: I64, point: Any) -> F64:
    row, col = np.divmod(cells, grid.n_cols)
    x, y = grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m
    # Rounded, so that of cells equally near the first is taken whatever the size of the coordinates.
    return np.asarray(np.round(np.hypot(x - point.x, y - point.y), 6), np.float64)


def _side_of(walls: Walls, number: int, cell: int) -> str:
    part = slice(walls.zone_start[number], walls.zone_start[number + 1])
    return walls.sides[int(walls.side[part][walls.zone_cells[part] == cell][0])].name


def _water_at(
    cell: int, sill_elev_m: float, surface: Surface, depressions: Depressions, ponding: Ponding
) -> dict[str, float]:
    """Ground at a cell, and the water on it when low spots are full and after the storm."""
    ground = float(surface.routed_elev_m.ravel()[cell])
    label = int(depressions.label.ravel()[cell])
    if label and bool(depressions.table["is_enclosed"].iloc[label - 1]):
        full = storm = np.nan
    else:
        full = float(depressions.depth_m.ravel()[cell])
        storm = float(ponding.water_depth_m.ravel()[cell])
    return {
        "ground_elev_m": ground,
        "pond_depth_full_m": full,
        "pond_depth_storm_m": storm,
        "sill_above_ground_m": sill_elev_m - ground,
        "freeboard_full_m": sill_elev_m - ground - full,
        "freeboard_storm_m": sill_elev_m - ground - storm,
    }


def _arriving(
    ring: I64,
    distance_m: F64,
    number: int,
    walls: Walls,
    flow: FlowField,
    runoff_through_m3: F64,
    own_runoff_m3: F64,
    criteria: Criteria,
) -> dict[str, Any]:
    """What drains through the ground in front of a door, less what its own roof sheds there."""
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.inflow_cells import next_zone_cells

    part = slice(walls.zone_start[number], walls.zone_start[number + 1])
    roof = walls.zone_cells[part][walls.side[part] < 0]
    front = ring[distance_m <= max(criteria.structures.door_front_m, float(distance_m.min()))]
    zone = np.concatenate((front, roof))
    to, _ = next_zone_cells(flow.receiver, np.array([0, zone.size], np.int64), zone)
    at = to[front.size :]
    while (at >= front.size).any():
        at = np.where(at >= front.size, to[at], at)
    sheds_here = roof[at >= 0]
    only = np.array([0, front.size], np.int64)
    area, runoff = (
        float(zone_upstream_total(flow.receiver, through, only, front)[0])
        for through in (flow.contributing_area_m2.ravel(), runoff_through_m3)
    )
    return {
        "contributing_area_m2": area - sheds_here.size * flow.grid.cell_area_m2,
        "wall_inflow_m3": max(runoff - float(own_runoff_m3[sheds_here].sum()), 0.0),
        "edge_contaminated": bool((flow.edge_sides.ravel()[front] != 0).any()),
    }
