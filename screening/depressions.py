"""Low spots: where water stands before it runs on, how much, and which walls it touches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.columns import LOW_SPOT_COLUMNS, declared
from screening.criteria import Criteria
from screening.grid import polygonize_labels, rasterize
from screening.models import F32, I32, I64, Block, Depressions, FlowField, Surface

if TYPE_CHECKING:
    import geopandas as gpd


def find_depressions(
    surface: Surface, flow: FlowField, block: Block, *, criteria: Criteria, with_outlines: bool = True
) -> Depressions:
    """Find the low spots deep and wide enough to report.

    Nested low spots are reported as the outermost one. A low spot whose only way over leads across a structure
    (a walled court) is kept and marked `is_enclosed`, but its depth and volume are not assessed: what drains it
    cannot be seen in elevation.

    Parameters
    ----------
    surface, flow, block
        Of the same window.
    criteria
        `low_spot_min_depth_m`, `low_spot_min_area_m2`.
    with_outlines
        Draw the polygons of the full water; without them the table has no shapes.

    Returns
    -------
    Low spots numbered from the largest volume down; storm columns are filled by the pipeline.
    """
    from screening.kernels.depressions import label_depressions, measure_depressions

    grid = surface.grid
    label, n_found = label_depressions(surface.routed_elev_m, flow.filled_elev_m)
    measures = measure_depressions(surface.routed_elev_m, flow.filled_elev_m, flow.receiver, label, n_found)
    volume, depth_max, n_cells, pit, spill_cell, level = measures
    is_kept = (depth_max >= criteria.low_spot_min_depth_m) & (
        n_cells * grid.cell_area_m2 >= criteria.low_spot_min_area_m2
    )
    kept = np.flatnonzero(is_kept)
    kept = kept[np.lexsort((pit[kept], -volume[kept]))]
    renumber = np.zeros(n_found + 1, np.int32)
    renumber[kept + 1] = np.arange(1, kept.size + 1)
    label = renumber[label]
    depth = np.where(label > 0, flow.filled_elev_m - surface.routed_elev_m, np.float32(0)).astype(np.float32)
    structure = surface.structure_index.ravel()
    is_enclosed = structure[spill_cell[kept]] > 0 if kept.size else np.zeros(0, bool)
    unknown_if_enclosed = np.where(is_enclosed, np.nan, 1.0)
    table: dict[str, Any] = {
        "low_spot_id": [f"LS-{number}" for number in range(1, kept.size + 1)],
        "lot_id": _lots_touched(label, block, kept.size),
        "structure_ids": _structures_touched(label, surface, block, kept.size),
        "depth_max_m": depth_max[kept] * unknown_if_enclosed,
        "volume_m3": volume[kept] * grid.cell_area_m2 * unknown_if_enclosed,
        "area_m2": n_cells[kept] * grid.cell_area_m2 * unknown_if_enclosed,
        "spill_elev_m": level[kept] * unknown_if_enclosed,
        "pit_elev_m": surface.routed_elev_m.ravel()[pit[kept]],
        "is_enclosed": is_enclosed,
    }
    depth[np.isin(label, np.flatnonzero(is_enclosed) + 1)] = 0
    below = _first_below(flow, spill_cell[kept].astype(np.int64), level[kept])
    outlines = polygonize_labels(grid, label, kept.size) if with_outlines else [None] * kept.size
    frame = _as_frame(table, label, flow, outlines)
    return Depressions(grid, label, depth, level[kept].astype(np.float64), below, frame)


def low_spot_depths(elev_m: F32, *, cell_area_m2: float, criteria: Criteria) -> F32:
    """Measure how deep the low spot is that covers each cell of a surface, its deepest place counting.

    Parameters
    ----------
    elev_m
        float32 [m], NaN = no data.
    cell_area_m2
        Area of a cell [m2].
    criteria
        `low_spot_min_depth_m`, `low_spot_min_area_m2`, `nodata_drains`.

    Returns
    -------
    float32 of the same shape [m], 0 where no low spot is deep and wide enough to report.
    """
    from screening.kernels.depressions import label_depressions
    from screening.kernels.fill import fill_depressions

    filled = fill_depressions(elev_m, criteria.nodata_drains)
    label, n_found = label_depressions(elev_m, filled)
    cells = np.flatnonzero(label)
    spot = label.ravel()[cells]
    depth_max = np.zeros(n_found + 1, np.float32)
    np.maximum.at(depth_max, spot, filled.ravel()[cells] - elev_m.ravel()[cells])
    area = np.bincount(spot, minlength=n_found + 1) * cell_area_m2
    depth_max[(depth_max < criteria.low_spot_min_depth_m) | (area < criteria.low_spot_min_area_m2)] = 0
    depths: F32 = depth_max[label]
    return depths


def _first_below(flow: FlowField, start: I64, level: NDArray[Any]) -> I64:
    """Follow the water that runs over until it is below the level it stood at.

    Low spots of one level may lie in one flat, where the paths from one cross another and back: only strictly
    lower ground says where the water goes next.
    """
    filled = flow.filled_elev_m.ravel()
    cell = start.copy()
    while True:
        receiver = flow.receiver[cell].astype(np.int64)
        moves = (filled[cell] >= level) & (receiver != cell)
        if not moves.any():
            return cell
        cell = np.where(moves, receiver, cell)


def _as_frame(table: dict[str, Any], label: I32, flow: FlowField, outlines: list[Any]) -> gpd.GeoDataFrame:
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.zones import ragged_from_labels

    n_spots = len(table["low_spot_id"])
    starts, cells = ragged_from_labels(label, n_spots)
    area = flow.contributing_area_m2.ravel()
    table["contributing_area_m2"] = zone_upstream_total(flow.receiver, area, starts, cells)
    sides = flow.edge_sides.ravel()
    table["edge_contaminated"] = [bool((sides[cells[starts[n] : starts[n + 1]]] != 0).any()) for n in range(n_spots)]
    for name in ("spill_rain_mm", "inflow_m3", "ponded_m3", "storm_depth_m"):
        table[name] = np.full(n_spots, np.nan)
    return declared(table, LOW_SPOT_COLUMNS, geometry=outlines, crs=flow.grid.crs)


def _lots_touched(label: I32, block: Block, n_spots: int) -> list[str]:
    lot = rasterize(block.grid, list(block.lots.geometry), range(1, len(block.lots) + 1))
    return _name_pairs(label.ravel(), lot.ravel(), block.lots["lot_id"].tolist(), n_spots)


def _structures_touched(label: I32, surface: Surface, block: Block, n_spots: int) -> list[str]:
    from screening.kernels.zones import ring_of_labels

    ids = block.structures["structure_id"].tolist()
    starts, cells = ring_of_labels(surface.structure_index, len(ids))
    structure = np.repeat(np.arange(1, len(ids) + 1), np.diff(starts))
    return _name_pairs(label.ravel()[cells], structure, ids, n_spots)


def _name_pairs(spot: NDArray[Any], other: NDArray[Any], ids: list[str], n_spots: int) -> list[str]:
    """For each low spot, the ids of the others it shares a cell with, joined by commas."""
    both = (spot > 0) & (other > 0)
    pairs = np.unique(np.column_stack((spot[both], other[both])), axis=0)
    touched: list[list[str]] = [[] for _ in range(n_spots)]
    for spot_number, other_number in pairs.tolist():
        touched[spot_number - 1].append(ids[other_number - 1])
    return [", ".join(found) for found in touched]
