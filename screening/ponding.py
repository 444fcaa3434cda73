"""What a storm leaves standing: runoff fills low spots, runs over, and fills the next ones."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.criteria import Criteria
from screening.models import F32, F64, I64, Depressions, FlowField, Ponding, Storm, Surface

RAIN_CAP_MM = 1000.0
"""Largest rain that is tried for filling a low spot; a low spot that holds out shows this value."""

_RAIN_STEPS = 400


def pond_storm(
    surface: Surface, flow: FlowField, depressions: Depressions, storm: Storm, *, criteria: Criteria
) -> Ponding:
    """Let a storm's runoff fill the low spots from the top of the window down.

    Each low spot takes the runoff of its own ground and what runs over from those above it; what it cannot hold
    runs on from its spill cell to the next. Water in a low spot that is not full stands in one level pool. Low
    spots too small to report, and walled courts, hold nothing.

    Parameters
    ----------
    surface, flow, depressions, storm
        Of the same window.
    criteria
        `initial_abstraction_ratio`.

    Returns
    -------
    The balance by low spot and in all: runoff = ponded + left the window.
    """
    from screening.kernels.accumulate import nearest_label_downstream

    cell_area = flow.grid.cell_area_m2
    n_spots = len(depressions.table)
    first_spot = nearest_label_downstream(flow.receiver, flow.order, depressions.label.ravel())
    next_spot = first_spot[depressions.spill_cell] if n_spots else np.zeros(0, np.int64)
    # Water that runs over goes to strictly lower ground: from the highest low spot down, nothing comes too late.
    sequence = np.argsort(-depressions.level_m, kind="stable")
    capacity = np.nan_to_num(depressions.table["volume_m3"].to_numpy(float))
    runoff = np.nan_to_num(storm.runoff_mm.astype(np.float64)).ravel() * (cell_area / 1000.0)
    local: F64 = np.bincount(first_spot, weights=runoff, minlength=n_spots + 1)[1:, np.newaxis].astype(np.float64)
    inflow, ponded = _cascade(local, capacity, sequence, next_spot)
    spill_rain = _spill_rain(storm, first_spot, capacity, sequence, next_spot, cell_area, criteria)
    depth, level = _standing_water(surface, depressions, ponded[:, 0])
    pit = depressions.table["pit_elev_m"].to_numpy(float)
    table = pd.DataFrame(
        {
            "low_spot_id": depressions.table["low_spot_id"],
            "spill_rain_mm": spill_rain,
            "inflow_m3": inflow[:, 0],
            "ponded_m3": ponded[:, 0],
            "overflow_m3": inflow[:, 0] - ponded[:, 0],
            "storm_depth_m": np.maximum(level - pit, 0.0),
            "storm_level_m": level,
        }
    )
    total, held = float(runoff.sum()), float(ponded.sum())
    return Ponding(flow.grid, table, depth, total, held, _left_window(local, inflow, ponded, next_spot, total))


def add_storm(depressions: Depressions, ponding: Ponding) -> Depressions:
    """Fill in what the storm does to each low spot."""
    is_open = ~depressions.table["is_enclosed"].to_numpy(bool)
    columns = {
        name: np.where(is_open, ponding.table[name].to_numpy(float), np.nan)
        for name in ("spill_rain_mm", "inflow_m3", "ponded_m3", "storm_depth_m")
    }
    return dataclasses.replace(depressions, table=depressions.table.assign(**columns))


def _cascade(local: F64, capacity: F64, sequence: I64, next_spot: NDArray[np.integer]) -> tuple[F64, F64]:
    """Pass overflow down; columns are separate storms."""
    inflow = local.copy()
    ponded = np.zeros_like(inflow)
    for spot in sequence.tolist():
        ponded[spot] = np.minimum(inflow[spot], capacity[spot])
        below = int(next_spot[spot])
        if below > 0:
            inflow[below - 1] += inflow[spot] - ponded[spot]
    return inflow, ponded


def _left_window(local: F64, inflow: F64, ponded: F64, next_spot: NDArray[np.integer], total: float) -> float:
    """Runoff that met no low spot, and overflow that meets no further one."""
    last = np.asarray(next_spot) == 0
    return float(total - local.sum() + (inflow - ponded)[last].sum())


def _spill_rain(
    storm: Storm,
    first_spot: NDArray[np.integer],
    capacity: F64,
    sequence: I64,
    next_spot: NDArray[np.integer],
    cell_area_m2: float,
    criteria: Criteria,
) -> F64:
    """Smallest rain that fills each low spot, by running the cascade for many rains at once."""
    from screening.kernels.runoff import curve_number_runoff

    n_spots = capacity.size
    drains = (first_spot > 0) & ~np.isnan(storm.curve_number.ravel())
    numbers, which = np.unique(storm.curve_number.ravel()[drains], return_inverse=True)
    key = (first_spot[drains].astype(np.int64) - 1) * max(numbers.size, 1) + which
    area = np.bincount(key, minlength=n_spots * numbers.size).reshape(n_spots, numbers.size) * cell_area_m2
    rain = np.geomspace(1.0, RAIN_CAP_MM, _RAIN_STEPS)
    depth = curve_number_runoff(rain, numbers.astype(np.float64)[:, np.newaxis], criteria.initial_abstraction_ratio)
    inflow, _ = _cascade(area @ depth / 1000.0, capacity, sequence, next_spot)
    filled_by = np.full(n_spots, RAIN_CAP_MM)
    for spot in range(n_spots):
        if capacity[spot] <= inflow[spot, -1]:
            # Inflow never falls as rain grows; where it is flat at zero the interpolation takes the last such rain.
            filled_by[spot] = np.interp(capacity[spot], inflow[spot], rain)
    return filled_by


def _standing_water(surface: Surface, depressions: Depressions, ponded_m3: F64) -> tuple[F32, F64]:
    """Depth raster and level of each pool, from the exact volume-level relation of its cells."""
    from screening.kernels.depressions import level_for_volume
    from screening.kernels.zones import ragged_from_labels

    n_spots = ponded_m3.size
    ground = surface.routed_elev_m.ravel()
    depth = np.zeros(ground.size, np.float32)
    starts, cells = ragged_from_labels(depressions.label, n_spots)
    level = np.full(n_spots, np.nan)
    for spot in range(n_spots):
        own = cells[starts[spot] : starts[spot + 1]]
        elev = ground[own].astype(np.float64)
        level[spot] = level_for_volume(np.sort(elev), own.size, ponded_m3[spot] / surface.grid.cell_area_m2)
        depth[own] = np.maximum(level[spot] - elev, 0.0)
    return depth.reshape(surface.grid.shape), level
