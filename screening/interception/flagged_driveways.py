"""Driveways that shed to walls: the water that comes over each, the wall that takes most, and where a drain may go."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.interception.water import DrivewayWater, at_walls, gather_water
from screening.models import F64, I32, I64, Block, InfiltrationZones, Storm, Surface, TerrainFindings
from screening.outfall.outlet_terrain import Outfalls, Surroundings, outfalls_around
from screening.schema.criteria import Criteria
from screening.storm.concentration import coefficient_areas_m2
from screening.structures.walls import Walls

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, kw_only=True, eq=False)
class FlaggedDriveway:
    """A driveway that sheds to walls.

    Parameters
    ----------
    driveway_id, lot_id
        Of the driveway, and of its lot.
    cells, shape
        Its own cells, flat indices, ascending; its outline without what stands on it [m].
    water
        What comes over it.
    structure_id, wall
        The structure at which most of that arrives, and the wall of it that takes most.
    outfalls
        Where a drain in it may drain to.
    edge_contaminated
        The window does not show all ground that drains to it.
    """

    driveway_id: str
    lot_id: str
    cells: I64
    shape: BaseGeometry
    water: DrivewayWater
    structure_id: str
    wall: BaseGeometry
    outfalls: Outfalls
    edge_contaminated: bool


def amounts_of(block: Block, surface: Surface, terrain: TerrainFindings, storm: Storm) -> F64:
    """Gather what each cell gives in a storm, with what comes in there from beyond the window.

    Returns
    -------
    Runoff [m3], area [m2], runoff coefficient and curve number times area [m2], float64 (4, n_cells).
    """
    cell_m2, beyond = block.grid.cell_area_m2, terrain.flow.inflow
    is_known = terrain.flow.receiver >= 0
    runoff = np.where(is_known, np.nan_to_num(storm.runoff_mm.ravel()), 0.0).astype(np.float64) * cell_m2 / 1000.0
    area = np.where(is_known, cell_m2, 0.0)
    number = np.where(is_known, np.nan_to_num(storm.curve_number.ravel()), 0.0).astype(np.float64) * cell_m2
    runoff[beyond.cell] += np.nan_to_num(beyond.runoff_m3)
    area[beyond.cell] += beyond.area_m2
    number[beyond.cell] += beyond.area_m2 * np.nan_to_num(beyond.curve_number)
    return np.stack([runoff, area, coefficient_areas_m2(surface, terrain.flow, storm), number])


def flagged_driveways(
    block: Block,
    surface: Surface,
    walls: Walls,
    terrain: TerrainFindings,
    zones: InfiltrationZones,
    amounts: F64,
    *,
    criteria: Criteria,
) -> Iterator[FlaggedDriveway]:
    """Give the flagged driveways to whose walls water comes in a storm.

    Parameters
    ----------
    block, surface, walls, terrain, zones
        Of the same window.
    amounts
        What each cell gives: see `amounts_of`.
    criteria
        The `daylight_` thresholds.
    """
    import shapely
    from scipy import ndimage

    from screening.kernels.zones import ragged_from_labels

    table = terrain.driveways.reset_index(drop=True)
    flagged = np.flatnonzero(table["is_flagged"].to_numpy(bool)).tolist()
    if not flagged:
        return
    label = block.own_driveway_index.copy()
    label[surface.structure_index > 0] = 0
    around = Surroundings(block=block, surface=surface, terrain=terrain, zones=zones, criteria=criteria)
    pen = _pens(block, table["lot_id"].tolist(), label.ravel(), around.lot)
    is_wall = surface.structure_index > 0
    beside = (ndimage.binary_dilation(is_wall, np.ones((3, 3), bool)) & ~is_wall).ravel()
    lot_rows = {lot_id: row for row, lot_id in enumerate(block.lots["lot_id"])}
    own_start, own_cells = ragged_from_labels(label, len(table))
    pen_start, pen_cells = ragged_from_labels(pen.reshape(block.grid.shape), len(block.lots))
    for number in flagged:
        own = own_cells[own_start[number] : own_start[number + 1]]
        own = own[terrain.flow.receiver[own] >= 0]
        lot_row = lot_rows[table["lot_id"].iloc[number]]
        in_pen = pen_cells[pen_start[lot_row] : pen_start[lot_row + 1]]
        at_wall = in_pen[beside[in_pen]]
        if not own.size or not at_wall.size:
            continue
        water = gather_water(terrain.flow, amounts, driveway=own, pen=in_pen, wall=at_wall)
        outline = table.geometry.iloc[number]
        standing = block.structures.geometry[block.structures.geometry.intersects(outline)]
        shape = outline.difference(shapely.union_all(list(standing)))
        wall = _main_wall(block, walls, water)
        if wall is None or shape.is_empty:
            continue
        outfalls = outfalls_around(around, lot_row, outline, own=own, walls=at_wall)
        cut = bool((terrain.flow.edge_sides.ravel()[own] != 0).any())
        structure_id, wall_line = wall
        yield FlaggedDriveway(
            driveway_id=table["driveway_id"].iloc[number],
            lot_id=table["lot_id"].iloc[number],
            cells=own,
            shape=shape,
            water=water,
            structure_id=structure_id,
            wall=wall_line,
            outfalls=outfalls,
            edge_contaminated=cut,
        )


def _pens(block: Block, lot_ids: list[str], label: I32, lot: I32) -> I32:
    """Row of the lot + 1 that each cell belongs to, a driveway's cells beyond the lot line to its own."""
    lots = block.lots["lot_id"].tolist()
    of_driveway = np.array([0, *(lots.index(lot_id) + 1 for lot_id in lot_ids)], np.int32)
    return np.where(label > 0, of_driveway[label], lot).astype(np.int32)


def _main_wall(block: Block, walls: Walls, water: DrivewayWater) -> tuple[str, BaseGeometry] | None:
    """Id of the structure at which most water arrives, and its side at which most of that does."""
    cells, amount = at_walls(water)
    is_side = walls.side >= 0
    ring, side = walls.zone_cells[is_side], walls.side[is_side]
    if cells.size == 0 or ring.size == 0 or amount.sum() <= 0.0:
        return None
    place = np.minimum(np.searchsorted(cells, ring), cells.size - 1)
    arriving = np.where(cells[place] == ring, amount[place], 0.0)
    by_side = np.bincount(side, weights=arriving, minlength=len(walls.sides))
    owner = np.array([one.structure for one in walls.sides])
    by_structure = np.bincount(owner, weights=by_side)
    main = int(by_structure.argmax())
    if by_structure[main] <= 0.0:
        return None
    best = int(np.where(owner == main, by_side, -1.0).argmax())
    return str(block.structures["structure_id"].iloc[main]), walls.sides[best].line
