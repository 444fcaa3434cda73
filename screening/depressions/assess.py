"""Low spots as readers see them: what drains to them, what the storm does to them, and where they overflow to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from screening.depressions.threshold_rainfall import ThresholdRains, rain_returns
from screening.depressions.touched import lots_touched, structures_touched
from screening.flow.dispersive import context_area_of
from screening.grid import draw_path, polygonize_cells
from screening.models import F64, I64, Block, Depressions, FlowField, LowSpots, Ponding, Storm, Surface
from screening.schema.codes.depressions import SpillsTo
from screening.schema.columns import LOW_SPOT_COLUMNS, OVERFLOW_PATH_COLUMNS, before_verdicts, declared

if TYPE_CHECKING:
    import geopandas as gpd

BY_STORM = ("inflow_m3", "ponded_m3", "overflow_m3", "storm_depth_m")
"""Columns that another storm changes; enclosed courtyards have none of them."""


def assess_depressions(
    block: Block,
    surface: Surface,
    flow: FlowField,
    low_spots: LowSpots,
    *,
    storm: Storm,
    ponding: Ponding,
    thresholds: ThresholdRains,
    with_outlines: bool = True,
) -> Depressions:
    """Say of each low spot what drains to it, what the storm does to it, and where it overflows to.

    Parameters
    ----------
    block, surface, flow, low_spots
        Of the same window.
    storm, ponding, thresholds
        The storm, what it leaves standing, and the rains that fill each.
    with_outlines
        Draw the polygons of the full water and the overflow, and follow it; without them the table has no shapes, and
        nothing is said of where water spills to.

    Returns
    -------
    By row of `low_spots.found`, without the columns that follow from verdicts.
    """
    from screening.kernels.accumulate import zone_upstream_total

    found, zones = low_spots.found, low_spots.zones
    row = zones.innermost + 1
    is_open = ~found["is_enclosed"].to_numpy(bool)
    returns = rain_returns(storm.rain, np.where(is_open, thresholds.of_low_spots_mm, np.nan))
    spills_to, spill_path = [""] * len(found), [""] * len(found)
    if with_outlines:
        spills_to, spill_path = _where_they_spill(low_spots, surface, flow, block)
    table = found.assign(
        lot_id=lots_touched(row, zones.cells, block, len(found), zones.around),
        structure_ids=structures_touched(row, zones.cells, surface, block, len(found), zones.around),
        contributing_area_m2=zone_upstream_total(
            flow.receiver, flow.contributing_area_m2.ravel(), zones.first, zones.cells, zones.last
        ),
        context_area_m2=context_area_of(flow, zones.first, zones.cells, zones.last),
        edge_contaminated=zones.largest(flow.edge_sides.ravel()[zones.cells]) > 0,
        threshold_rainfall_mm=returns.rain_mm,
        threshold_return_yr=returns.return_period_yr,
        threshold_return_code=[code.value for code in returns.code],
        threshold_return_bound_yr=returns.bound_yr,
        spills_to=spills_to,
        spill_path=spill_path,
        **storm_columns(low_spots, ponding),
    )
    outlines = [
        polygonize_cells(surface.grid, zones.cells_of(number)) if with_outlines else None
        for number in range(len(found))
    ]
    return Depressions(
        low_spots=low_spots,
        table=declared(table, before_verdicts(LOW_SPOT_COLUMNS), geometry=outlines, crs=surface.grid.crs),
        overflow_paths=_overflow_paths(flow, low_spots, ponding, spills_to if with_outlines else None),
    )


def storm_columns(low_spots: LowSpots, ponding: Ponding) -> dict[str, F64]:
    """What a storm does to each low spot: float64 by the names of `BY_STORM`; NaN in enclosed courtyards."""
    is_open = ~low_spots.found["is_enclosed"].to_numpy(bool)
    return {name: np.where(is_open, ponding.table[name].to_numpy(float), np.nan) for name in BY_STORM}


def _where_they_spill(
    low_spots: LowSpots, surface: Surface, flow: FlowField, block: Block
) -> tuple[list[str], list[str]]:
    """Name what each low spot overflows to, and what that water crosses or touches on its way."""
    from screening.kernels.flow_paths import path_to_label

    names, part_of = low_spots.found["low_spot_id"].tolist(), low_spots.found["part_of"].tolist()
    labels, below = low_spots.label.ravel(), low_spots.spill_cell
    paths: list[I64] = []
    spills_to = []
    beside: dict[str, list[str]] = {}
    for name, around in zip(names, part_of, strict=True):
        beside.setdefault(around, []).append(name)
    for row, around in enumerate(part_of):
        if around:
            spills_to.append(", ".join(part for part in beside[around] if part != names[row]))
            paths.append(np.empty(0, np.int64))
            continue
        path = path_to_label(flow.receiver, int(below[row]), labels, passing=row + 1)
        met = int(labels[path[-1]]) if path.size else 0
        is_met = met not in (0, row + 1)
        spills_to.append(names[met - 1] if is_met else SpillsTo.OUT_OF_WINDOW.value)
        paths.append(path[:-1] if is_met else path)
    way = np.repeat(np.arange(1, len(names) + 1), [path.size for path in paths])
    cells = np.concatenate([np.empty(0, np.int64), *paths])
    lots = lots_touched(way, cells, block, len(names))
    structures = structures_touched(way, cells, surface, block, len(names))
    crossed = [", ".join(filter(None, pair)) for pair in zip(lots, structures, strict=True)]
    return spills_to, crossed


def _overflow_paths(
    flow: FlowField, low_spots: LowSpots, ponding: Ponding, spills_to: list[str] | None
) -> gpd.GeoDataFrame:
    """Draw where the water of the outermost low spots overflows, down to the next one; none where nobody asks."""
    from screening.kernels.flow_paths import path_to_label

    if spills_to is None:
        return declared([], OVERFLOW_PATH_COLUMNS, geometry=[], crs=flow.grid.crs)
    label = low_spots.label.ravel()
    over = ponding.table["overflow_m3"].to_numpy(float)
    rows, lines = [], []
    for row in np.flatnonzero((over > 0) & ~low_spots.found["is_enclosed"].to_numpy(bool)).tolist():
        path = path_to_label(flow.receiver, int(low_spots.spill_cell[row]), label)
        if path.size > 1:  # else it leaves where it overflows
            rows.append(row)
            lines.append(draw_path(flow.grid, path))
    data = {
        "low_spot_id": low_spots.found["low_spot_id"].to_numpy()[rows],
        "overflow_m3": over[rows],
        "spills_to": [spills_to[row] for row in rows],
    }
    return declared(data, OVERFLOW_PATH_COLUMNS, geometry=lines, crs=flow.grid.crs)
