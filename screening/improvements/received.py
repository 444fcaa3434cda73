"""How much of a storm's runoff comes to lots, structures and outlets, of any result on a window."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screening.flow.dispersive import accumulate_weight
from screening.models import F64, I64, BlockResult, Concentration
from screening.storm.concentration import concentrate
from screening.storm.peaks import peaks_of_zones, peaks_onto_lots

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, eq=False)
class StormWater:
    """The runoff of a result's storm over its window, each part of it found once."""

    result: BlockResult

    @cached_property
    def own_m3(self) -> F64:
        """Storm runoff of each cell, with what comes in from beyond the window, float64 (n_cells,) [m3]."""
        storm, flow = self.result.storm, self.result.flow
        volume: F64 = storm.runoff_m3.ravel().copy()
        volume[flow.receiver < 0] = 0.0
        volume[flow.inflow.cell] += flow.inflow.runoff_m3
        return volume

    @cached_property
    def through_m3(self) -> F64:
        """Storm runoff that drains through each cell, nothing held back, float64 (n_cells,) [m3]."""
        from screening.kernels.accumulate import accumulate

        through: F64 = accumulate(self.result.flow.receiver, self.result.flow.order, self.own_m3)
        return through

    @cached_property
    def spread_m3(self) -> F64:
        """The same where it spreads over lower cells, float64 (n_cells,) [m3]."""
        flow = self.result.flow
        return accumulate_weight(flow, self.own_m3.reshape(flow.grid.shape), method=flow.dispersive_method).ravel()

    @cached_property
    def concentration(self) -> Concentration:
        """How the water above each cell gathers."""
        result = self.result
        return concentrate(result.surface, result.flow, result.storm, criteria=result.criteria)

    def taken_m3(self, cells: I64) -> float:
        """Runoff that comes to some cells, counted once [m3]."""
        from screening.kernels.accumulate import zone_upstream_total

        if not cells.size:
            return 0.0
        zone = np.array([0, cells.size], np.int64)
        return float(zone_upstream_total(self.result.flow.receiver, self.through_m3, zone, cells)[0])

    def peak_l_s(self, cells: I64) -> float:
        """Peak flow that comes to some cells as if at one place [l/s]; NaN = not assessed."""
        if not cells.size:
            return float("nan")
        peak = peaks_of_zones(
            np.array([0, cells.size], np.int64),
            cells,
            flow=self.result.flow,
            storm=self.result.storm,
            concentration=self.concentration,
            criteria=self.result.criteria,
        )
        return 1000.0 * float(peak.peak_m3_s[0])

    def leaving_m3(self) -> F64:
        """Runoff that leaves the window at each cell over its edge, nothing held back, float64 (n_cells,) [m3]."""
        leaves = self.result.flow.receiver == np.arange(self.result.flow.receiver.size)
        leaves[self.result.surface.conduits.sink_cell] = False
        at_edge: F64 = np.where(leaves, self.through_m3, 0.0)
        return at_edge

    def taken_off_m3(self) -> float:
        """Runoff that is taken off the ground, nothing held back [m3]."""
        return float(self.through_m3[self.result.surface.conduits.sink_cell].sum())


def received_by_lots(water: StormWater, lots: gpd.GeoDataFrame) -> pd.DataFrame:
    """Measure what reaches each lot from outside.

    Parameters
    ----------
    water
        Of a window.
    lots
        `lot_id` and polygons.

    Returns
    -------
    `run_on_m3`, `peak_l_s`, `is_cut` (by the edge of the window), in the order of the lots.
    """
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.zones import ragged_from_labels

    result, n_lots = water.result, len(lots)
    flow = result.flow
    block = dataclasses.replace(result.block, lots=lots)
    label = block.lot_index
    starts, cells = ragged_from_labels(label, n_lots)
    total = zone_upstream_total(flow.receiver, water.through_m3, starts, cells)
    # What comes in from beyond the window at a lot's own cells is no runoff of the lot.
    inside = water.own_m3.copy()
    inside[flow.inflow.cell] -= flow.inflow.runoff_m3
    own = np.bincount(label.ravel(), weights=inside, minlength=n_lots + 1)[1:]
    peaks = peaks_onto_lots(block, flow, result.storm, water.concentration, criteria=result.criteria)
    arrives = ~np.isnan(peaks.time_of_concentration_h)
    is_cut = flow.edge_sides.ravel()[cells] != 0
    return pd.DataFrame(
        {
            "run_on_m3": np.maximum(total - own, 0.0),
            "peak_l_s": np.where(arrives, peaks.peak_m3_s * 1000.0, 0.0),
            "is_cut": [bool(is_cut[starts[i] : starts[i + 1]].any()) for i in range(n_lots)],
        }
    )


def received_at_walls(water: StormWater) -> pd.DataFrame:
    """Measure what meets the ground beside each structure of the window, its own roof left out.

    Returns
    -------
    `arriving_m3` and `depth_m` (deepest storm water beside it), in the order of `block.structures`.
    """
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.zones import ragged_from_labels, ring_of_labels

    result = water.result
    index, flow = result.surface.structure_index, result.flow
    n_structures = len(result.block.structures)
    ring_start, ring = ring_of_labels(index, n_structures)
    roof_start, roof = ragged_from_labels(index, n_structures)
    beside = [ring[ring_start[i] : ring_start[i + 1]] for i in range(n_structures)]
    under = [roof[roof_start[i] : roof_start[i + 1]] for i in range(n_structures)]
    zones = [np.concatenate(pair).astype(np.int64) for pair in zip(beside, under, strict=True)]
    starts = np.concatenate(([0], np.cumsum([zone.size for zone in zones], dtype=np.int64)))
    total = zone_upstream_total(
        flow.receiver, water.through_m3, starts, np.concatenate([*zones, np.empty(0, np.int64)])
    )
    depth = result.ponding.water_depth_m.ravel()
    return pd.DataFrame(
        {
            "arriving_m3": [
                max(float(all_of_it) - float(water.own_m3[own].sum()), 0.0)
                for all_of_it, own in zip(total, under, strict=True)
            ],
            "depth_m": [float(depth[cells].max(initial=0.0)) for cells in beside],
        }
    )
