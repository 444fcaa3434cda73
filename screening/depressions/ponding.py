"""What a storm leaves standing: runoff fills low spots, overflows, and joins."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screening.depressions.spill_basins import SpillBasins
from screening.models import F32, F64, DepressionHierarchy, FlowField, Inflow, LowSpots, Ponding, Storm

if TYPE_CHECKING:
    from screening.kernels.spill_merge import Pools


def pond_storm(
    flow: FlowField,
    hierarchy: DepressionHierarchy,
    basins: SpillBasins,
    low_spots: LowSpots,
    storm: Storm,
    *,
    inflow: Inflow,
) -> Ponding:
    """Let a storm's runoff fill the low spots, overflow, and merge.

    Every low spot of the hierarchy takes part, however small. Each takes the runoff of its own ground; what it cannot
    hold goes to the low spot beside it and, when both are full, they fill on as one; water in one that is not full
    stands in one level pool. Enclosed courtyards hold nothing: what drains them cannot be seen.

    Parameters
    ----------
    flow, hierarchy, basins, low_spots, storm
        Of the same window.
    inflow
        What comes from beyond the window in this storm.

    Returns
    -------
    Standing water, and the balance.

    References
    ----------
    Barnes, Callaghan & Wickert 2021, doi 10.5194/esurf-9-105-2021.
    """
    from screening.kernels.runoff import sum_by_label
    from screening.kernels.spill_merge import pour

    cell_area = basins.cell_area_m2
    local = sum_by_label(basins.leaf, storm.runoff_mm.ravel(), basins.n_leaves + 1) * (cell_area / 1000.0)
    np.add.at(local, basins.leaf[inflow.cell], inflow.runoff_m3)
    pools = pour(basins.tree, local)
    depth, level = _standing_water(basins, pools, flow)
    known = float(np.count_nonzero(~np.isnan(storm.curve_number))) * cell_area
    known += float(inflow.area_m2.sum())
    rain, total = known * storm.rain.depth_mm / 1000.0, float(local.sum())
    return Ponding(
        grid=flow.grid,
        table=_by_low_spot(low_spots, hierarchy, basins, pools, level, local),
        water_depth_m=depth,
        rain_m3=rain,
        abstracted_m3=rain - total,
        runoff_m3=total,
        ponded_m3=float(pools.own.sum()),
        left_window_m3=float(pools.overflow[0]),
    )


def _standing_water(basins: SpillBasins, pools: Pools, flow: FlowField) -> tuple[F32, F64]:
    """Depth raster, and the level of the water over each node (NaN = dry)."""
    from screening.kernels.pools import level_pools
    from screening.kernels.spill_merge import pool_of_nodes

    tree = basins.tree
    pool = pool_of_nodes(tree.parent, pools)
    tops = 1 + np.flatnonzero(pool[1:] == np.arange(1, pool.size))
    # A pool's parts are full: it holds what they do and its own.
    volume = (basins.capacity_m3[tops] - tree.own_capacity[tops] + pools.own[tops]) / basins.cell_area_m2
    level, depth_of = level_pools(
        elev_of=basins.ground_m,
        first=basins.first,
        last=basins.last,
        spill_elev=basins.spill_elev_m,
        pools=tops,
        volume=volume,
        is_full=pools.is_full[tops],
    )
    level_of = np.full(pool.size, np.nan)
    level_of[tops] = level
    depth = np.zeros(flow.receiver.size, np.float32)
    depth[basins.cell] = depth_of
    return depth.reshape(flow.grid.shape), level_of[pool]


def _by_low_spot(
    low_spots: LowSpots, hierarchy: DepressionHierarchy, basins: SpillBasins, pools: Pools, level: F64, local: F64
) -> pd.DataFrame:
    """What the storm does to each reported low spot."""
    from screening.kernels.spill_tree import sum_over_parts

    node = low_spots.node
    shed = sum_over_parts(basins.child_a, basins.child_b, local[:, np.newaxis])[node, 0]
    held = sum_over_parts(basins.child_a, basins.child_b, pools.own[:, np.newaxis])[node, 0]
    is_outermost = basins.tree.parent[node] == 0
    overflow = np.where(is_outermost, pools.overflow[node], np.nan)
    pit_elev = low_spots.found["pit_elev_m"].to_numpy(float)
    pit = hierarchy.table["pit_cell"].to_numpy(np.int64)[node - 1]
    stands = level[hierarchy.leaf.ravel()[pit]]
    return pd.DataFrame(
        {
            "low_spot_id": low_spots.found["low_spot_id"],
            "inflow_m3": np.where(is_outermost, held + pools.overflow[node], shed),
            "ponded_m3": held,
            "overflow_m3": overflow,
            "storm_depth_m": np.nan_to_num(np.maximum(stands - pit_elev, 0.0)),
            "storm_level_m": stands,
        }
    )
