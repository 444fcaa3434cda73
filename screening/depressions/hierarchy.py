"""Low spots within low spots, and how their level follows from the water in them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.errors import InputError
from screening.flow.basins import find_basins
from screening.models import DepressionHierarchy, Surface
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from screening.kernels.fill import BasinGraph


def build_depression_hierarchy(
    surface: Surface, basins: BasinGraph | None = None, *, criteria: Criteria
) -> DepressionHierarchy:
    """Build the hierarchy of all low spots of a surface, however small.

    It comes from the same graph of basins and passes as the fill: the outermost nodes cover what the fill raises.

    Parameters
    ----------
    surface
        With walls raised, swales cut, and its pipes.
    basins
        Result of `basins.find_basins` for the same surface; found here if not given.
    criteria
        `nodata_drains`.

    Returns
    -------
    The hierarchy.

    References
    ----------
    Barnes, Callaghan & Wickert 2020, doi 10.5194/esurf-8-431-2020.
    """
    from screening.kernels.hierarchy import build_hierarchy
    from screening.kernels.tree_cells import cells_by_leaf

    grid, elev = surface.grid, surface.routed_elev_m
    arrays = build_hierarchy(elev, find_basins(surface, criteria=criteria) if basins is None else basins)
    cell, first, last = cells_by_leaf(elev, arrays)
    area = grid.cell_area_m2
    columns: dict[str, NDArray[Any]] = {
        "parent": arrays.parent,
        "child_a": arrays.child_a,
        "child_b": arrays.child_b,
        "spills_to": arrays.spills_to,
        "pit_cell": arrays.pit_cell,
        "spill_cell": arrays.spill_cell,
        "spill_elev_m": arrays.spill_elev,
        "depth_max_m": arrays.depth_max,
        "area_m2": arrays.n_cells * area,
        "volume_m3": arrays.volume * area,
        "catchment_area_m2": arrays.catchment_cells * area,
    }
    table = pd.DataFrame({"node": np.arange(1, arrays.parent.size)} | {name: c[1:] for name, c in columns.items()})
    return DepressionHierarchy(
        grid=grid, leaf=arrays.leaf, table=table, cell=cell, first=first, last=last, cell_elev_m=elev.ravel()[cell]
    )


def volume_at_level(hierarchy: DepressionHierarchy, node: int, level_m: float) -> float:
    """Volume of water that stands in a node up to a level, exactly.

    Parameters
    ----------
    hierarchy, node
        Node from 1.
    level_m
        Up to the spill elevation [m]; below the pit the volume is 0.

    Returns
    -------
    [m3]

    Raises
    ------
    InputError
        There is no such node, or the level lies above its spill elevation.
    """
    elev, spill, _ = _curve_of(hierarchy, node)
    if not level_m <= spill:
        raise InputError(
            "The level lies above the low spot",
            got=f"{level_m:g} m",
            expected=f"at most its spill elevation, {spill:g} m",
        )
    return float(np.maximum(level_m - elev, 0.0).sum()) * hierarchy.grid.cell_area_m2


def level_at_volume(hierarchy: DepressionHierarchy, node: int, volume_m3: float) -> float:
    """Level of a volume of water that stands in a node as one pool, exactly.

    Parameters
    ----------
    hierarchy, node
        Node from 1.
    volume_m3
        From 0 to the node's volume [m3].

    Returns
    -------
    [m]

    Raises
    ------
    InputError
        There is no such node, or it does not hold the volume.
    """
    from screening.kernels.depressions import level_for_volume

    elev, spill, capacity = _curve_of(hierarchy, node)
    if not 0 <= volume_m3 <= capacity * (1 + 1e-12):
        raise InputError(
            "The low spot does not hold the volume", got=f"{volume_m3:g} m3", expected=f"0 to {capacity:g} m3"
        )
    return min(float(level_for_volume(elev, elev.size, volume_m3 / hierarchy.grid.cell_area_m2)), spill)


def _curve_of(
    hierarchy: DepressionHierarchy, node: int
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], float, float]:
    if not 1 <= node <= len(hierarchy.table):
        raise InputError("There is no such node", got=str(node), expected=f"1 to {len(hierarchy.table)}")
    row = hierarchy.table.iloc[node - 1]
    return hierarchy.elevations_of(node), float(row["spill_elev_m"]), float(row["volume_m3"])
