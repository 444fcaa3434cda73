"""Doors and other openings in walls: ground, water and freeboard at each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screening.grid import Grid
from screening.models import F64, I64, Block, Storm, Surface, TerrainFindings
from screening.schema.columns import DOOR_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.structures.walls import Walls

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, kw_only=True)
class DoorWater:
    """What is beside a door: names and units as in `columns.DOOR_COLUMNS`; NaN = not assessed."""

    side: str = ""
    ground_elev_m: float = math.nan
    pond_depth_full_m: float = math.nan
    pond_depth_storm_m: float = math.nan
    sill_above_ground_m: float = math.nan
    freeboard_full_m: float = math.nan
    freeboard_storm_m: float = math.nan
    contributing_area_m2: float = math.nan
    wall_inflow_m3: float = math.nan
    edge_contaminated: bool = False


def assess_doors(
    block: Block,
    surface: Surface,
    walls: Walls,
    terrain: TerrainFindings,
    storm: Storm,
    *,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Assess the doors, garage doors, window wells and vents that were given.

    Each belongs to the structure it names, or to the nearest within `door_reach_m`; the ground beside it is the cell
    beside that structure's wall that is nearest to it.

    Parameters
    ----------
    block, surface, walls, terrain, storm
        Of the same window.
    criteria
        `door_reach_m`, `door_front_m`.

    Returns
    -------
    `columns.DOOR_COLUMNS` and points: doors of structures on a chosen lot, and doors near no structure on such a lot.
    """
    doors, names, waters = [], [], []
    for door in block.doors.itertuples(index=False):
        number = _structure_of(door, block, walls, criteria.structures.door_reach_m)
        own = block.structures.iloc[walls.structure[number]] if number >= 0 else None
        lot_id = str(own["lot_id"]) if own is not None else _lot_at(block, door.geometry)
        if lot_id:
            doors.append(door)
            names.append((lot_id, str(own["structure_id"]) if own is not None else ""))
            waters.append(_water_at(door, number, surface, walls, terrain, storm, criteria=criteria))
    table = pd.DataFrame(waters, columns=list(DoorWater.__dataclass_fields__)).assign(
        door_id=[door.door_id for door in doors],
        kind=[door.kind for door in doors],
        lot_id=[lot_id for lot_id, _ in names],
        structure_id=[structure_id for _, structure_id in names],
        sill_elev_m=[door.sill_elev_m for door in doors],
    )
    return declared(table, DOOR_COLUMNS, geometry=[door.geometry for door in doors], crs=block.grid.crs)


def _structure_of(door: Any, block: Block, walls: Walls, reach_m: float) -> int:
    """Place in `walls.structure` of the structure a door belongs to, -1 if it is none on a chosen lot."""
    ids = block.structures["structure_id"]
    if door.structure_id:
        rows = np.flatnonzero((ids == door.structure_id).to_numpy(bool))
    else:
        distance = block.structures.geometry.distance(door.geometry).to_numpy(float)
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
    return walls.sides[int(walls.side[part][walls.zone_cells[part] == cell][0])].name.value


def _water_at(
    door: Any,
    number: int,
    surface: Surface,
    walls: Walls,
    terrain: TerrainFindings,
    storm: Storm,
    *,
    criteria: Criteria,
) -> DoorWater:
    """Ground beside a door, the water on it when low spots are full and after the storm, and what drains there."""
    ring = walls.ring_of(number) if number >= 0 else np.empty(0, np.int64)
    if not ring.size:
        return DoorWater()
    distance = _distance_m(surface.grid, ring, door.geometry)
    cell = int(ring[distance.argmin()])
    elev, sill, depressions = float(surface.routed_elev_m.ravel()[cell]), door.sill_elev_m, terrain.depressions
    full = storm_depth = math.nan
    if not depressions.is_courtyard[depressions.label.ravel()[cell]]:
        full = float(depressions.depth_m.ravel()[cell])
        storm_depth = float(terrain.ponding.water_depth_m.ravel()[cell])
    front = ring[distance <= max(criteria.structures.door_front_m, float(distance.min()))]
    area, runoff = _arriving(front, number, walls, terrain, storm)
    return DoorWater(
        side=_side_of(walls, number, cell),
        ground_elev_m=elev,
        pond_depth_full_m=full,
        pond_depth_storm_m=storm_depth,
        sill_above_ground_m=sill - elev,
        freeboard_full_m=sill - elev - full,
        freeboard_storm_m=sill - elev - storm_depth,
        contributing_area_m2=area,
        wall_inflow_m3=runoff,
        edge_contaminated=bool((terrain.flow.edge_sides.ravel()[front] != 0).any()),
    )


def _arriving(front: I64, number: int, walls: Walls, terrain: TerrainFindings, storm: Storm) -> tuple[float, float]:
    """Ground [m2] and runoff [m3] through the cells in front of a door, less what its own roof sheds there."""
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.inflow_cells import next_zone_cells

    flow, part = terrain.flow, slice(walls.zone_start[number], walls.zone_start[number + 1])
    roof = walls.zone_cells[part][walls.side[part] < 0]
    zone = np.concatenate((front, roof))
    to, _ = next_zone_cells(flow.receiver, np.array([0, zone.size], np.int64), zone)
    at = to[front.size :]
    while (at >= front.size).any():
        at = np.where(at >= front.size, to[at], at)
    sheds_here = roof[at >= 0]
    only = np.array([0, front.size], np.int64)
    area, runoff = (
        float(zone_upstream_total(flow.receiver, through, only, front)[0])
        for through in (flow.contributing_area_m2.ravel(), terrain.runoff_through_m3)
    )
    own_runoff = float(storm.runoff_m3.ravel()[sheds_here].sum())
    return area - sheds_here.size * flow.grid.cell_area_m2, max(runoff - own_runoff, 0.0)
