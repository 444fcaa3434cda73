"""Threshold rainfalls: the smallest rain that fills a low spot or brings water to a wall, and how often it comes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screening.depressions.rain_search import RAIN_CAP_MM, NodeCatchments, rain_that_brings
from screening.depressions.spill_basins import SpillBasins
from screening.models import F64, I64, Inflow, LowSpots, Rain, Storm, Surface, freeze
from screening.schema.codes.depressions import Returns
from screening.schema.criteria import Criteria
from screening.storm.rainfall_tables import return_period_yr

__all__ = ["RAIN_CAP_MM", "RainReturns", "ThresholdRains", "find_threshold_rains", "rain_returns"]

_CLASSES_MAX = 32
"""Curve numbers are told apart up to so many; beyond it they are rounded to whole numbers, as TR-55 has them."""


@dataclass(frozen=True, eq=False)
class ThresholdRains:
    """Smallest rains on dry ground, float64 [mm]; `RAIN_CAP_MM` where none that is tried does.

    Parameters
    ----------
    of_low_spots_mm
        That fill each low spot, by row of `LowSpots.found`.
    of_structures_mm
        That bring water to the wall of each structure, by row of `Block.structures`; inf where no low spot reaches it.
    """

    of_low_spots_mm: F64
    of_structures_mm: F64

    def __post_init__(self) -> None:
        freeze(self.of_low_spots_mm, self.of_structures_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class RainReturns:
    """How often some rains come over the duration of a storm, by place.

    Parameters
    ----------
    rain_mm, return_period_yr
        float64 [mm], [yr]; the period is NaN outside the table, or where none is known.
    code
        Whether it lies in the table.
    bound_yr
        The period, or the end of the table beyond which it lies, float64 [yr]; NaN where none is known.
    """

    rain_mm: F64
    return_period_yr: F64
    code: tuple[Returns, ...]
    bound_yr: F64

    def __post_init__(self) -> None:
        freeze(self.rain_mm, self.return_period_yr, self.bound_yr)


def find_threshold_rains(
    surface: Surface, basins: SpillBasins, low_spots: LowSpots, storm: Storm, *, inflow: Inflow, criteria: Criteria
) -> ThresholdRains:
    """Find the smallest rains, on the storm's ground and dry, that fill low spots and bring water to walls.

    Parameters
    ----------
    surface, basins, low_spots, storm
        Of the same window; of the storm its curve numbers.
    inflow
        Ground beyond the window that sends water in.
    criteria
        `initial_abstraction_ratio`, `low_spot_min_depth_m`: the least water that counts at a wall.
    """
    catchments = _catchments_by_curve_number(basins, storm, inflow, criteria.storm.initial_abstraction_ratio)
    return ThresholdRains(
        _spill_rain(basins, catchments, low_spots.node),
        _rain_at_walls(surface, basins, catchments, criteria.depressions.low_spot_min_depth_m),
    )


def rain_returns(rain: Rain, rain_mm: F64) -> RainReturns:
    """Find how often rain depths return over the duration of a storm, by that storm's table.

    Parameters
    ----------
    rain
        Of the storm.
    rain_mm
        float64 (n,) [mm]; NaN = not known.
    """
    found = [_returns(rain, depth) for depth in rain_mm.tolist()]
    codes, bounds = [code for code, _ in found], np.array([bound for _, bound in found], np.float64)
    is_within = np.array([code is Returns.WITHIN_TABLE for code in codes], np.bool_)
    return RainReturns(
        rain_mm=rain_mm, return_period_yr=np.where(is_within, bounds, np.nan), code=tuple(codes), bound_yr=bounds
    )


def _returns(rain: Rain, depth_mm: float) -> tuple[Returns, float]:
    if rain.table is None or rain.duration_h is None or math.isnan(depth_mm):
        return Returns.NOT_KNOWN, math.nan
    years = return_period_yr(rain.table, depth_mm=depth_mm, duration_h=rain.duration_h)
    if math.isfinite(years):
        return Returns.WITHIN_TABLE, years
    if years < 0:
        return Returns.MORE_OFTEN, rain.table.return_periods_yr[0]
    return Returns.LESS_OFTEN, rain.table.return_periods_yr[-1]


def _catchments_by_curve_number(basins: SpillBasins, storm: Storm, inflow: Inflow, ratio: float) -> NodeCatchments:
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
    return NodeCatchments(basins.tree, classes.astype(np.float64), area, by_node, ratio)


def _spill_rain(basins: SpillBasins, catchments: NodeCatchments, node: I64) -> F64:
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
    rain = rain_that_brings(catchments, node=nodes, own_water_m3=basins.tree.own_capacity[nodes])
    latest = np.zeros(node.size)
    np.maximum.at(latest, np.array(of_row, np.int64), rain)
    return latest


def _rain_at_walls(surface: Surface, basins: SpillBasins, catchments: NodeCatchments, min_depth_m: float) -> F64:
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
    np.minimum.at(soonest, structure, rain_that_brings(catchments, node=node, own_water_m3=wanted))
    return soonest
