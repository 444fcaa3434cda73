"""Where on and around a lot the pipe of a drain may run and end."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import rasterize
from screening.models import I64, Block, Bool, InfiltrationZones, Surface, TerrainFindings
from screening.outfall.daylight import DrainOutlet, OutletTerrain, find_daylight, find_zone
from screening.outfall.laid_channel import LaidChannel
from screening.outfall.pipe_routes import Terrain
from screening.schema.codes.capture import ZoneStatus
from screening.schema.codes.outfall import Outfall
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, kw_only=True, eq=False)
class Surroundings:
    """A window with what decides where pipes may run and end: the same for all its lots.

    Parameters
    ----------
    block, surface, terrain, zones
        Of the same window.
    criteria
        `daylight_wall_distance_m`, `daylight_street_m`, `daylight_verge_m`, `window_margin_m`, and those of pipes.
    """

    block: Block
    surface: Surface
    terrain: TerrainFindings
    zones: InfiltrationZones
    criteria: Criteria

    @cached_property
    def lot(self) -> Any:
        """Row of the lot + 1 by cell, flat, int32; 0 = none."""
        return self.block.lot_index.ravel()

    @cached_property
    def may_end(self) -> Bool:
        """Open ground away from structures and out of low spots, by cell, flat."""
        away = self.criteria.outfall.daylight_wall_distance_m
        near = [shape.buffer(away) for shape in self.block.structures.geometry]
        taken = rasterize(self.block.grid, near, [1] * len(near)).ravel() > 0
        taken |= (self.surface.structure_index.ravel() > 0) | np.isnan(self.surface.elev_m.ravel())
        open_ground: Bool = ~(taken | (self.terrain.depressions.label.ravel() > 0))
        return open_ground

    @cached_property
    def street(self) -> Bool:
        """Pavement of streets, by cell, flat."""
        roads = list(self.block.roads.geometry)
        on_street: Bool = rasterize(self.block.grid, roads, [1] * len(roads)).ravel() > 0
        return on_street

    @cached_property
    def zone_cells(self) -> list[I64]:
        """Cells of each zone, in the order of the table."""
        from screening.kernels.zones import ragged_from_labels

        shapes = list(self.zones.table.geometry)
        label = rasterize(self.block.grid, shapes, range(1, len(shapes) + 1))
        start, cells = ragged_from_labels(label, len(shapes))
        return [cells[one:after] for one, after in itertools.pairwise(start.tolist())]


@dataclass(frozen=True, eq=False)
class Outfalls:
    """What a drain in one driveway may drain to.

    Parameters
    ----------
    daylight
        Ground for pipes to daylight.
    terrain, zones
        Ground of the lot, and cells of its infiltration candidates by id.
    """

    daylight: OutletTerrain
    terrain: Terrain
    zones: dict[str, I64]

    def find(self, laid: LaidChannel, line_cells: I64, *, criteria: Criteria) -> DrainOutlet:
        """Find the outfall of a channel: daylight, else an infiltration candidate, else none."""
        grid = self.terrain.grid
        row, col = np.divmod(line_cells, grid.n_cols)
        x, y = grid.west_m + (col + 0.5) * grid.cell_m, grid.north_m - (row + 0.5) * grid.cell_m
        start = int(line_cells[np.hypot(x - laid.outlet.x, y - laid.outlet.y).argmin()])
        found = find_daylight(laid.outlet, start, laid.invert_m, self.daylight, criteria=criteria)
        if found.kind is not Outfall.NONE:
            return found
        return find_zone(start, laid.invert_m, self.zones, self.terrain, criteria=criteria) or found


def outfalls_around(around: Surroundings, lot_row: int, driveway: BaseGeometry, *, own: I64, walls: I64) -> Outfalls:
    """Say where a drain in a driveway may drain to.

    Its pipe may run under the lot, the driveway, and streets with the ground beside their pavement; it may end on the
    lot, off the driveway, or on a street: on open ground away from structures, in no low spot, whose water does not
    come back to the driveway or to walls on the lot.

    Parameters
    ----------
    around
        The window.
    lot_row, driveway
        Row of the lot in `Block.lots`, and outline of the driveway [m].
    own, walls
        Cells of the driveway, and of the ground beside walls on the lot, flat indices.
    """
    import shapely

    from screening.kernels.accumulate import zone_upstream_cells

    block, surface, criteria, flow = around.block, around.surface, around.criteria, around.terrain.flow
    grid, lot = block.grid, block.lots.geometry.iloc[lot_row]
    standing = block.structures.geometry[block.structures.geometry.intersects(lot)]
    # Only as far as every window shows.
    near = lot.buffer(min(criteria.outfall.daylight_street_m, criteria.site.window_margin_m))
    roads = block.roads.geometry[block.roads.geometry.intersects(near)]
    verge = shapely.union_all([road.buffer(criteria.outfall.daylight_verge_m) for road in roads]).intersection(near)
    outline = shapely.union_all([lot, driveway, verge])
    is_near = rasterize(grid, [near], [1]).ravel() > 0
    is_street = around.street & is_near
    may_end = around.may_end & ((around.lot == lot_row + 1) | is_street)
    comes_back = zone_upstream_cells(flow.receiver, grid.n_rows, grid.n_cols, np.union1d(own, walls), flow.link_cell)
    may_end[comes_back] = False
    may_end[own] = False
    ends = np.flatnonzero(may_end)
    # A hand's breadth wider, so that a pipe along an edge of it counts as on it.
    free = outline.buffer(0.05).difference(shapely.union_all(list(standing)))
    is_open = (rasterize(grid, [free], [1]).ravel() > 0) & (surface.structure_index.ravel() == 0)
    daylight = OutletTerrain(
        grid=grid,
        elev_m=surface.elev_m,
        ends=ends,
        is_street=is_street[ends],
        open_cells=np.flatnonzero(is_open & ~np.isnan(surface.elev_m.ravel())),
        terrain=free,
    )
    on_lot = np.flatnonzero((around.lot == lot_row + 1) & (surface.structure_index.ravel() == 0))
    table = around.zones.table
    is_own = (table["lot_id"] == block.lots["lot_id"].iloc[lot_row]) & (table["status"] == ZoneStatus.CANDIDATE)
    rows = np.flatnonzero(is_own.to_numpy(bool)).tolist()
    cells = {str(table["zone_id"].iloc[row]): around.zone_cells[row] for row in rows}
    return Outfalls(
        daylight, Terrain(grid=grid, elev_m=surface.elev_m, open_cells=on_lot, lot=lot, structures=standing), cells
    )
