"""Where overflow of a zone goes over ground, and what it comes to first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from screening.models import I64, Block, Surface, TerrainFindings
from screening.schema.codes.capture import RouteEnd
from screening.structures.walls import Walls

_LOOK = 64
"""Cells of a path whose lots are looked up first; four times as many next, as long as it stays on its lot."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Overflow:
    """The route of overflow from a zone.

    Parameters
    ----------
    path
        Cells, flat indices, from the zone down.
    end, end_id
        What it comes to first, and its id.
    fall_m
        Of the ground along it.
    leaves_lot
        It ends off the lot.
    """

    path: I64
    end: RouteEnd
    end_id: str
    fall_m: float
    leaves_lot: bool


def places_beside(walls: Walls, n_cells: int) -> I64:
    """Give the place in `walls.zone_cells` of each cell beside walls, else -1, int64 (n_cells,)."""
    beside = np.full(n_cells, -1, np.int64)
    at_wall = np.flatnonzero(walls.side >= 0)[::-1]  # where a cell is beside several walls, the first has it
    beside[walls.zone_cells[at_wall]] = at_wall
    return beside


def follow_overflow(
    block: Block, surface: Surface, walls: Walls, terrain: TerrainFindings, *, beside: I64, cells: I64
) -> Overflow:
    """Follow overflow from the lowest ground of a zone to what it comes to first.

    Parameters
    ----------
    block, surface, walls, terrain
        Of the same window.
    beside
        From `places_beside`.
    cells
        Of the zone, flat indices.
    """
    from screening.kernels.flow_paths import downstream_path

    elev_m, label = surface.elev_m.ravel(), terrain.depressions.label.ravel()
    path = downstream_path(terrain.flow.receiver, int(cells[elev_m[cells].argmin()]))
    stops = np.flatnonzero((beside[path] >= 0) | (label[path] > 0))
    end, leaves_lot = _end_of(block, path, int(stops[0]) if stops.size else path.size - 1)
    cell = int(path[end])
    kind, end_id = RouteEnd.WINDOW_EDGE, ""
    if beside[cell] >= 0:
        structure = walls.structure[walls.zone[beside[cell]]]
        kind, end_id = RouteEnd.WALLS, str(block.structures["structure_id"].iloc[structure])
    elif label[cell] > 0:
        kind = RouteEnd.LOW_SPOT
        end_id = str(terrain.depressions.table["low_spot_id"].iloc[int(label[cell]) - 1])
    elif leaves_lot:
        kind = RouteEnd.OFF_LOT
    return Overflow(
        path=path[: end + 1],
        end=kind,
        end_id=end_id,
        fall_m=float(elev_m[path[0]] - elev_m[cell]),
        leaves_lot=leaves_lot,
    )


def _end_of(block: Block, path: I64, last: int) -> tuple[int, bool]:
    """Place on a path where it leaves its first lot, or the last one given; and whether it leaves the lot there."""
    own, done, step = int(_lot_at(block, path[:1])[0]), 0, _LOOK
    while done <= last:
        off = np.flatnonzero(_lot_at(block, path[done : min(done + step, last + 1)]) != own)
        if off.size:
            return done + int(off[0]), True
        done, step = done + step, 4 * step
    return last, False


def _lot_at(block: Block, cells: I64) -> I64:
    """Row of the lot that each cell lies on, the later one where two do; -1 = none."""
    import shapely

    row, col = np.divmod(cells, block.grid.n_cols)
    x = block.grid.west_m + (col + 0.5) * block.grid.cell_m
    y = block.grid.north_m - (row + 0.5) * block.grid.cell_m
    found = np.full(cells.size, -1, np.int64)
    place, lot = block.lots.geometry.sindex.query(shapely.points(x, y), predicate="within")
    np.maximum.at(found, place, lot)
    return found
