"""What a storm leaves standing: runoff fills low spots, overflows, and joins."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.depressions.threshold_rainfall import Ground, rain_that_brings
from screening.grid import draw_path
from screening.models import (
    F32,
    F64,
    I32,
    I64,
    Bool,
    DepressionHierarchy,
    Depressions,
    FlowField,
    Inflow,
    Ponding,
    Storm,
    Surface,
)
from screening.schema.columns import OVERFLOW_PATH_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.storm.rainfall_tables import how_often

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.kernels.spill_merge import Pools
    from screening.kernels.spill_tree import SpillTree

_CLASSES_MAX = 32
"""Curve numbers are told apart up to so many; beyond it they are rounded to whole numbers, as TR-55 has them."""


@dataclasses.dataclass(frozen=True, eq=False)
class _Basins:
    """The hierarchy as arrays by node (element 0 = out), with enclosed courtyards made level.

    `leaf` is the leaf that the water of each cell comes to first, flat; `cell`, `ground_m` are the covered cells.
    """

    tree: SpillTree
    child_a: I32
    child_b: I32
    spill_elev_m: F32
    capacity_m3: F64
    leaf: I32
    cell: I64
    ground_m: F32
    first: I64
    last: I64
    cell_area_m2: float

    @property
    def n_leaves(self) -> int:
        return self.tree.leaves.size


def pond_storm(
    surface: Surface,
    flow: FlowField,
    hierarchy: DepressionHierarchy,
    depressions: Depressions,
    storm: Storm,
    *,
    criteria: Criteria,
    with_rains: bool = True,
) -> Ponding:
    """Let a storm's runoff fill the low spots, overflow, and merge.

    Every low spot of the hierarchy takes part, however small. Each takes the runoff of its own ground; what it cannot
    hold goes to the low spot beside it and, when both are full, they fill on as one; water in one that is not full
    stands in one level pool. Enclosed courtyards hold nothing: what drains them cannot be seen.

    Parameters
    ----------
    surface, flow, hierarchy, depressions, storm
        Of the same window.
    criteria
        `initial_abstraction_ratio`, `low_spot_min_depth_m`: the least water that counts at a wall.
    with_rains
        Find threshold rainfalls, and draw the overflow; else those are not assessed (NaN), and not drawn.

    Returns
    -------
    Standing water, the balance, and which rain fills what.

    References
    ----------
    Barnes, Callaghan & Wickert 2021, doi 10.5194/esurf-9-105-2021.
    """
    from screening.kernels.runoff import sum_by_label
    from screening.kernels.spill_merge import pour

    basins = _basins_of(surface, flow, hierarchy)
    cell_area = basins.cell_area_m2
    local = sum_by_label(basins.leaf, storm.runoff_mm.ravel(), basins.n_leaves + 1) * (cell_area / 1000.0)
    np.add.at(local, basins.leaf[flow.inflow.cell], flow.inflow.runoff_m3)
    pools = pour(basins.tree, local)
    depth, level = _standing_water(basins, pools, flow)
    table = _by_low_spot(depressions, hierarchy, basins, pools, level, local)
    threshold_rains = np.full(int(surface.structure_index.max(initial=0)), np.nan)
    table["threshold_rainfall_mm"] = np.nan
    if with_rains:
        ground = _ground_by_curve_number(basins, storm, flow.inflow, criteria.storm.initial_abstraction_ratio)
        table["threshold_rainfall_mm"] = _spill_rain(basins, ground, depressions.node)
        threshold_rains = _threshold_rainfall(surface, basins, ground, criteria.depressions.low_spot_min_depth_m)
    known = float(np.count_nonzero(~np.isnan(storm.curve_number))) * cell_area
    known += float(flow.inflow.area_m2.sum())
    rain, total = known * storm.rain.depth_mm / 1000.0, float(local.sum())
    return Ponding(
        grid=flow.grid,
        table=table,
        water_depth_m=depth,
        threshold_rainfall_mm=threshold_rains,
        overflow_paths=_overflow_paths(flow, depressions, table if with_rains else table.assign(overflow_m3=0.0)),
        rain_m3=rain,
        abstracted_m3=rain - total,
        runoff_m3=total,
        ponded_m3=float(pools.own.sum()),
        left_window_m3=float(pools.overflow[0]),
    )


def add_storm(depressions: Depressions, ponding: Ponding, storm: Storm) -> Depressions:
    """Fill in what the storm does to each low spot, and how often it fills."""
    is_open = ~depressions.table["is_enclosed"].to_numpy(bool)
    names = ("threshold_rainfall_mm", "inflow_m3", "ponded_m3", "overflow_m3", "storm_depth_m")
    columns: dict[str, Any] = {name: np.where(is_open, ponding.table[name].to_numpy(float), np.nan) for name in names}
    often = [how_often(storm.rain, depth) for depth in columns["threshold_rainfall_mm"].tolist()]
    columns["threshold_return_yr"] = np.array([years for years, _ in often], np.float64)
    columns["threshold_returns"] = pd.Series([words for _, words in often], depressions.table.index, dtype=object)
    return dataclasses.replace(depressions, table=depressions.table.assign(**columns))


def _basins_of(surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy) -> _Basins:
    """Take the hierarchy as arrays, and level the ground of enclosed courtyards at where they would overflow."""
    from screening.kernels.spill_tree import build_spill_tree

    table = hierarchy.table

    def column(name: str, at_zero: float, dtype: type) -> NDArray[Any]:
        return np.concatenate(([at_zero], table[name].to_numpy())).astype(dtype)

    parent, spill_elev = column("parent", 0, np.int32), column("spill_elev_m", np.nan, np.float32)
    child_a, child_b = column("child_a", -1, np.int32), column("child_b", -1, np.int32)
    capacity, ground = column("volume_m3", 0.0, np.float64), hierarchy.cell_elev_m
    spill_cell = table["spill_cell"].to_numpy(np.int64)
    is_courtyard = np.concatenate(([False], surface.structure_index.ravel()[spill_cell] > 0))
    if is_courtyard.any():
        ground = ground.copy()
        capacity = _level_courtyards(hierarchy, parent, spill_elev, is_courtyard, ground, capacity)
    return _Basins(
        tree=build_spill_tree(parent, child_a, child_b, column("spills_to", 0, np.int32), capacity),
        child_a=child_a,
        child_b=child_b,
        spill_elev_m=spill_elev,
        capacity_m3=capacity,
        leaf=_first_leaf(surface, flow, hierarchy),
        cell=hierarchy.cell,
        ground_m=ground,
        first=hierarchy.first,
        last=hierarchy.last,
        cell_area_m2=flow.grid.cell_area_m2,
    )


def _first_leaf(surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy) -> I32:
    """Leaf that the water of each cell comes to first, flat; 0 = none.

    Water that is led elsewhere before it comes to its low spot goes by the way it is led. What leads it must lie in the
    ground of that low spot: on the filled ground water may run past one that is not full yet, and be led from there.
    """
    from screening.kernels.accumulate import nearest_label_downstream

    leaf = np.maximum(hierarchy.leaf, np.int32(0)).ravel()
    leads = np.concatenate((flow.link_cell, surface.conduits.sink_cell))
    if leads.size == 0:
        return leaf
    is_wet = (flow.filled_elev_m > surface.routed_elev_m).ravel()
    met = np.where(is_wet, np.int32(leads.size + 1), np.int32(0))
    met[leads] = np.arange(1, leads.size + 1)
    way = nearest_label_downstream(flow.receiver, flow.order, met) - 1
    way[way >= leads.size] = -1
    way[(way >= 0) & (leaf[leads[way]] != leaf)] = -1
    # Where a conduit link ends another may begin: each is followed until none does.
    end = np.concatenate((flow.link_target, np.full(leads.size - flow.link_cell.size, -1)))
    onward = np.where(end >= 0, way[end], -1)
    while (onward >= 0).any():
        goes_on = onward >= 0
        end[goes_on] = end[onward[goes_on]]
        onward = np.where(end >= 0, way[end], -1)
    led = np.where(end >= 0, leaf[end], np.int32(0))  # what a sink takes is off the ground
    return np.where(way >= 0, led[way], leaf).astype(np.int32)


def _level_courtyards(
    hierarchy: DepressionHierarchy, parent: I32, spill_elev: F32, is_courtyard: Bool, ground: F32, capacity: F64
) -> F64:
    """Raise the ground of courtyards, in place, and take what they hold off themselves and all around them."""
    lost = np.zeros(capacity.size)
    for node in np.flatnonzero(is_courtyard).tolist():
        around = _all_around(parent, node)
        if is_courtyard[around].any():
            continue  # level with the courtyard it lies in
        rows = slice(int(hierarchy.first[node]), int(hierarchy.last[node]))
        ground[rows] = np.maximum(ground[rows], spill_elev[node])
        lost[[node, *around]] += capacity[node]
    inside = is_courtyard.copy()
    while True:
        wider = inside | inside[parent]
        if (wider == inside).all():
            break
        inside = wider
    left: F64 = np.where(inside, 0.0, capacity - lost)
    return left


def _all_around(parent: I32, node: int) -> list[int]:
    around = []
    while parent[node] != 0:
        node = int(parent[node])
        around.append(node)
    return around


def _standing_water(basins: _Basins, pools: Pools, flow: FlowField) -> tuple[F32, F64]:
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


def _ground_by_curve_number(basins: _Basins, storm: Storm, inflow: Inflow, ratio: float) -> Ground:
    from screening.kernels.runoff import area_by_class
    from screening.kernels.spill_tree import sum_over_parts

    number = storm.curve_number.ravel()
    classes = np.sort(pd.unique(number))
    if classes.size > _CLASSES_MAX:
        number = np.round(number)
        classes = np.sort(pd.unique(number))
    classes = classes[~np.isnan(classes)]
    area = area_by_class(basins.leaf, number, classes, basins.n_leaves + 1) * basins.cell_area_m2
    if inflow.cell.size:
        sent = np.bincount(basins.leaf[inflow.cell], weights=inflow.area_m2, minlength=basins.n_leaves + 1)
        area, classes = np.column_stack((area, sent)), np.append(classes, inflow.curve_number)
    by_node = sum_over_parts(basins.child_a, basins.child_b, area)
    return Ground(basins.tree, classes.astype(np.float64), area, by_node, ratio)


def _by_low_spot(
    depressions: Depressions, hierarchy: DepressionHierarchy, basins: _Basins, pools: Pools, level: F64, local: F64
) -> pd.DataFrame:
    """What the storm does to each reported low spot."""
    from screening.kernels.spill_tree import sum_over_parts

    node = depressions.node
    shed = sum_over_parts(basins.child_a, basins.child_b, local[:, np.newaxis])[node, 0]
    held = sum_over_parts(basins.child_a, basins.child_b, pools.own[:, np.newaxis])[node, 0]
    is_outermost = basins.tree.parent[node] == 0
    overflow = np.where(is_outermost, pools.overflow[node], np.nan)
    pit_elev = depressions.table["pit_elev_m"].to_numpy(float)
    pit = hierarchy.table["pit_cell"].to_numpy(np.int64)[node - 1]
    stands = level[hierarchy.leaf.ravel()[pit]]
    return pd.DataFrame(
        {
            "low_spot_id": depressions.table["low_spot_id"],
            "inflow_m3": np.where(is_outermost, held + pools.overflow[node], shed),
            "ponded_m3": held,
            "overflow_m3": overflow,
            "storm_depth_m": np.nan_to_num(np.maximum(stands - pit_elev, 0.0)),
            "storm_level_m": stands,
        }
    )


def _spill_rain(basins: _Basins, ground: Ground, node: I64) -> F64:
    """Smallest rain that fills each node."""
    asked, of_row = [], []
    for row, start in enumerate(node.tolist()):
        waiting = [start]
        while waiting:
            here = waiting.pop()
            # Where three outlets lie at one level, a node holds nothing above its parts: it is full when they are.
            if basins.tree.own_capacity[here] > 0 or basins.child_a[here] < 0:
                asked.append(here)
                of_row.append(row)
            else:
                waiting += [int(basins.child_a[here]), int(basins.child_b[here])]
    nodes = np.array(asked, np.int64)
    rain = rain_that_brings(ground, node=nodes, own_water_m3=basins.tree.own_capacity[nodes])
    latest = np.zeros(node.size)
    np.maximum.at(latest, np.array(of_row, np.int64), rain)
    return latest


def _threshold_rainfall(surface: Surface, basins: _Basins, ground: Ground, min_depth_m: float) -> F64:
    """Smallest rain that brings water of a depth to the wall of each structure."""
    from screening.kernels.pools import node_at_level, volume_below
    from screening.kernels.zones import ring_of_labels

    tree = basins.tree
    n_structures = int(surface.structure_index.max(initial=0))
    starts, ring = ring_of_labels(surface.structure_index, n_structures)
    structure = np.repeat(np.arange(n_structures), np.diff(starts))
    level = surface.routed_elev_m.ravel()[ring].astype(np.float64) + min_depth_m
    node = node_at_level(basins.leaf[ring].astype(np.int64), level, tree.parent, basins.spill_elev_m)
    holds = basins.capacity_m3[node] > 0
    structure, node, level = structure[holds], node[holds], level[holds]
    # The lowest ground at a wall is wet first.
    order = np.lexsort((level, node, structure))
    is_first = np.ones(order.size, bool)
    is_first[1:] = (np.diff(structure[order]) != 0) | (np.diff(node[order]) != 0)
    order = order[is_first]
    structure, node, level = structure[order], node[order], level[order]
    volume = volume_below(basins.ground_m, basins.first, basins.last, basins.n_leaves, node, level)
    volume *= basins.cell_area_m2
    parts = basins.capacity_m3[node] - tree.own_capacity[node]
    wanted = np.clip(volume - parts, np.finfo(float).tiny, tree.own_capacity[node])
    soonest = np.full(n_structures, np.inf)
    np.minimum.at(soonest, structure, rain_that_brings(ground, node=node, own_water_m3=wanted))
    return soonest


def _overflow_paths(flow: FlowField, depressions: Depressions, table: pd.DataFrame) -> gpd.GeoDataFrame:
    """Draw where the water of the outermost low spots overflows, down to the next one."""
    from screening.kernels.flow_paths import path_to_label

    label = depressions.label.ravel()
    over = table["overflow_m3"].to_numpy(float)
    rows, lines = [], []
    for row in np.flatnonzero((over > 0) & ~depressions.table["is_enclosed"].to_numpy(bool)).tolist():
        path = path_to_label(flow.receiver, int(depressions.spill_cell[row]), label)
        if path.size > 1:  # else it leaves where it overflows
            rows.append(row)
            lines.append(draw_path(flow.grid, path))
    data = {
        "low_spot_id": depressions.table["low_spot_id"].to_numpy()[rows],
        "overflow_m3": over[rows],
        "spills_to": depressions.table["spills_to"].to_numpy()[rows],
    }
    return declared(data, OVERFLOW_PATH_COLUMNS, geometry=lines, crs=flow.grid.crs)
