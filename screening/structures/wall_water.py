"""Water at walls: how deep it stands beside them when low spots are full and after a storm, and where it gathers."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd

from screening.models import F64, I64, Block, Bool, LowSpots, Ponding, Surface
from screening.structures.walls import Walls


def full_depth_m(low_spots: LowSpots, cells: I64) -> F64:
    """Depth of the water at cells when all low spots are full, float64 [m]; 0 in enclosed courtyards."""
    return low_spots.depth_m.ravel()[cells].astype(np.float64)


def storm_depth_m(low_spots: LowSpots, ponding: Ponding, cells: I64) -> F64:
    """Depth of the water at cells that the storm leaves, float64 [m]; 0 in enclosed courtyards."""
    return np.where(in_courtyard(low_spots, cells), 0.0, ponding.water_depth_m.ravel()[cells].astype(np.float64))


def in_courtyard(low_spots: LowSpots, cells: I64) -> Bool:
    """Whether cells lie in enclosed courtyards."""
    enclosed: Bool = low_spots.is_courtyard[low_spots.label.ravel()[cells]]
    return enclosed


def gathering_places(walls: Walls, surface: Surface, low_spots: LowSpots) -> I64:
    """Lowest ground beside the same walls in the same low spot, by cell of `walls.zone_cells`; else the cell itself."""
    label = low_spots.label.ravel()[walls.zone_cells]
    ground_m = surface.routed_elev_m.ravel()[walls.zone_cells]
    place = np.arange(walls.zone_cells.size)
    wet = np.flatnonzero((walls.side >= 0) & (label > 0))
    order = wet[np.lexsort((ground_m[wet], label[wet], walls.zone[wet]))]
    pair = np.column_stack((walls.zone[order], label[order]))
    is_first = np.ones(order.size, bool)
    is_first[1:] = (np.diff(pair, axis=0) != 0).any(axis=1)
    place[order] = order[np.flatnonzero(is_first)[np.cumsum(is_first) - 1]]
    return place


def storm_depth_of_sides(walls: Walls, low_spots: LowSpots, ponding: Ponding) -> F64:
    """Measure the deepest water that a storm leaves at each side, float64 (n_sides,) [m]; NaN = no ground beside it."""
    start, cells = walls.cells_by_side()
    depth = storm_depth_m(low_spots, ponding, cells)
    sides = itertools.pairwise(start.tolist())
    return np.array([depth[first:end].max() if end > first else np.nan for first, end in sides], np.float64)


def storm_depth_of_structures(walls: Walls, depth_of_sides_m: F64) -> F64:
    """The deepest of the sides of each structure, float64 (n_structures,) [m]; NaN = no ground beside it."""
    deepest = np.full(walls.structure.size, np.nan)
    np.fmax.at(deepest, walls.structure_of_side, depth_of_sides_m)
    return deepest


def storm_depths(block: Block, walls: Walls, low_spots: LowSpots, ponding: Ponding) -> pd.DataFrame:
    """Measure the water that a storm leaves at the walls of each structure, as `assess_exposure` does beside all else.

    Parameters
    ----------
    block, walls, low_spots, ponding
        Of the same window.

    Returns
    -------
    `structure_id` and `pond_depth_storm_m`, in the order of `assess_exposure`.
    """
    depth = storm_depth_of_structures(walls, storm_depth_of_sides(walls, low_spots, ponding))
    ids = block.structures["structure_id"].to_numpy(object)[walls.structure]
    return pd.DataFrame({"structure_id": ids, "pond_depth_storm_m": depth})
