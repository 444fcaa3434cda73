"""The ground that drains across each lot: measured always, outlined when asked for."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import pandas as pd

from screening.flow.dispersive import context_area_of
from screening.grid import polygonize_cells
from screening.models import I64, Block, FlowField
from screening.schema.columns import CATCHMENT_COLUMNS, declared

if TYPE_CHECKING:
    import geopandas as gpd


def measure_catchments(flow: FlowField, block: Block) -> pd.DataFrame:
    """Measure the ground that drains across each lot, with the lot itself.

    Returns
    -------
    `columns.CATCHMENT_COLUMNS` without shapes, one row a lot in the order of `block.lots`.
    """
    from screening.kernels.accumulate import zone_upstream_total

    starts, cells = lot_cells(block)
    area = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), starts, cells)
    is_cut = flow.edge_sides.ravel()[cells] != 0
    cut = [bool(is_cut[first:last].any()) for first, last in itertools.pairwise(starts.tolist())]
    columns = {"contributing_area_m2": area, "context_area_m2": context_area_of(flow, starts, cells)}
    return pd.DataFrame({"lot_id": list(block.lots["lot_id"]), **columns, "edge_contaminated": cut})


def lot_cells(block: Block) -> tuple[I64, I64]:
    """List the cells of each lot: those of lot `i` are `cells[starts[i]:starts[i + 1]]`, flat indices."""
    from screening.kernels.zones import ragged_from_labels

    return ragged_from_labels(block.lot_index, len(block.lots))


def trace_catchments(flow: FlowField, block: Block, *, with_outlines: bool = True) -> gpd.GeoDataFrame:
    """Outline the ground in the window that drains across each lot, with the lot itself; areas count all of it.

    Returns
    -------
    `columns.CATCHMENT_COLUMNS` and polygons, None if not asked for, one row a lot in the order of `block.lots`.
    """
    from screening.kernels.accumulate import zone_upstream_cells

    grid, outlines = flow.grid, []
    if not with_outlines:
        nothing = [None] * len(block.lots)
        return declared(measure_catchments(flow, block), CATCHMENT_COLUMNS, geometry=nothing, crs=grid.crs)
    starts, cells = lot_cells(block)
    for first, last in itertools.pairwise(starts.tolist()):
        own = cells[first:last]
        upstream = zone_upstream_cells(flow.receiver, grid.n_rows, grid.n_cols, own, flow.link_cell)
        upstream = upstream[flow.receiver[upstream] >= 0]
        outlines.append(polygonize_cells(grid, upstream))
    return declared(measure_catchments(flow, block), CATCHMENT_COLUMNS, geometry=outlines, crs=grid.crs)
