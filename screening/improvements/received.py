"""How much of a storm's runoff comes to lots, structures and ways out, of any result on a window."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screening.models import F64, I64, BlockResult, Concentration
from screening.storm.peaks import concentrate, peaks_of_zones, peaks_onto_lots

if TYPE_CHECKING:
    import geopandas as gpd


def own_runoff_m3(result: BlockResult) -> F64:
    """Storm runoff of each cell, with what comes in from beyond the window, float64 (n_cells,) [m3]."""
    storm, flow = result.storm, result.flow
    volume: F64 = storm.runoff_m3.ravel().copy()
    volume[flow.receiver < 0] = 0.0
    volume[flow.inflow.cell] += flow.inflow.runoff_m3
    return volume


def runoff_along_m3(result: BlockResult) -> F64:
    """Storm runoff that drains through each cell, nothing held back, float64 (n_cells,) [m3]."""
    from screening.kernels.accumulate import accumulate

    through: F64 = accumulate(result.flow.receiver, result.flow.order, own_runoff_m3(result))
    return through


def concentration_of(result: BlockResult) -> Concentration:
    """How the water above each cell gathers."""
    return concentrate(result.surface, result.flow, result.storm, criteria=result.criteria)


def received_by_lots(result: BlockResult, lots: gpd.GeoDataFrame, through_m3: F64) -> pd.DataFrame:
    """Measure what reaches each lot from outside: `run_on_m3`, `peak_l_s`, `is_cut` (by the edge of the window)."""
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.zones import ragged_from_labels

    flow, n_lots = result.flow, len(lots)
    block = dataclasses.replace(result.block, lots=lots)
    label = block.lot_index
    starts, cells = ragged_from_labels(label, n_lots)
    total = zone_upstream_total(flow.receiver, through_m3, starts, cells)
    # What comes in from beyond the window at a lot's own cells is no runoff of the lot.
    inside = own_runoff_m3(result)
    inside[flow.inflow.cell] -= flow.inflow.runoff_m3
    own = np.bincount(label.ravel(), weights=inside, minlength=n_lots + 1)[1:]
    peaks = peaks_onto_lots(block, flow, result.storm, concentration_of(result), criteria=result.criteria)
    arrives = ~np.isnan(peaks.time_of_concentration_h)
    is_cut = flow.edge_sides.ravel()[cells] != 0
    return pd.DataFrame(
        {
            "run_on_m3": np.maximum(total - own, 0.0),
            "peak_l_s": np.where(arrives, peaks.peak_m3_s * 1000.0, 0.0),
            "is_cut": [bool(is_cut[starts[i] : starts[i + 1]].any()) for i in range(n_lots)],
        }
    )


def received_at_walls(result: BlockResult, through_m3: F64) -> pd.DataFrame:
    """Measure what meets the ground beside each structure of the window, its own roof left out.

    Returns
    -------
    `arriving_m3` and `depth_m` (deepest storm water beside it), in the order of `block.structures`.
    """
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.zones import ragged_from_labels, ring_of_labels

    index, flow = result.surface.structure_index, result.flow
    n_structures = len(result.block.structures)
    ring_start, ring = ring_of_labels(index, n_structures)
    roof_start, roof = ragged_from_labels(index, n_structures)
    depth, own = result.ponding.water_depth_m.ravel(), own_runoff_m3(result)
    arriving, deepest = np.zeros(n_structures), np.zeros(n_structures)
    for number in range(n_structures):
        beside = ring[ring_start[number] : ring_start[number + 1]]
        under = roof[roof_start[number] : roof_start[number + 1]]
        both = np.concatenate((beside, under)).astype(np.int64)
        total = zone_upstream_total(flow.receiver, through_m3, np.array([0, both.size], np.int64), both)
        arriving[number] = max(float(total[0]) - float(own[under].sum()), 0.0)
        deepest[number] = float(depth[beside].max(initial=0.0))
    return pd.DataFrame({"arriving_m3": arriving, "depth_m": deepest})


def left_at_m3(result: BlockResult, through_m3: F64) -> F64:
    """Runoff that leaves the window at each cell over its edge, nothing held back, float64 (n_cells,) [m3]."""
    leaves = result.flow.receiver == np.arange(result.flow.receiver.size)
    leaves[result.surface.conduits.sink_cell] = False
    at_edge: F64 = np.where(leaves, through_m3, 0.0)
    return at_edge


def taken_m3(result: BlockResult, cells: I64, through_m3: F64) -> float:
    """Runoff that comes to some cells, counted once [m3]."""
    from screening.kernels.accumulate import zone_upstream_total

    zone = np.array([0, cells.size], np.int64)
    return float(zone_upstream_total(result.flow.receiver, through_m3, zone, cells)[0])


def peak_at_l_s(result: BlockResult, cells: I64) -> float:
    """Peak flow that comes to some cells as if at one place [l/s]; NaN = not assessed."""
    if not cells.size:
        return float("nan")
    peak = peaks_of_zones(
        np.array([0, cells.size], np.int64),
        cells,
        flow=result.flow,
        storm=result.storm,
        concentration=concentration_of(result),
        criteria=result.criteria,
    )
    return 1000.0 * float(peak.peak_m3_s[0])
