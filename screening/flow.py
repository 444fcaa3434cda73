"""Where water goes: directions, contributing areas, flow paths, and what the window edge may hide."""

from __future__ import annotations

import dataclasses
import itertools
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.basins import find_basins, pipes_of
from screening.columns import CATCHMENT_COLUMNS, FLOW_PATH_COLUMNS, declared
from screening.criteria import Criteria
from screening.grid import draw_path, polygonize_cells, rasterize
from screening.models import (
    EAST_SIDE,
    GAP_SIDE,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    U8,
    WEST_SIDE,
    Block,
    DepressionHierarchy,
    FlowField,
    Inflow,
    Note,
    Storm,
    Surface,
    WindowView,
)
from screening.spreading import accumulate_spread, accumulate_weight, context_area_at, context_area_of

if TYPE_CHECKING:
    import geopandas as gpd

    from screening.kernels.fill import BasinGraph
    from screening.kernels.jumps import Jumps


RETURN_SIDE = 32
"""Bit for water that left the window and came back, where it is missing from a contributing area."""


def route_flow(
    surface: Surface, basins: BasinGraph | None = None, *, criteria: Criteria, with_dispersive: bool = True
) -> FlowField:
    """Route water over a surface.

    Parameters
    ----------
    surface
        With walls raised, swales cut, and its pipes and downspouts.
    basins
        Result of `basins.find_basins` for the same surface; found here if not given.
    criteria
        `nodata_drains`, `dispersive_method`, `multiflow_exponent`.
    with_dispersive
        False leaves the areas of the dispersive method unknown, for a look that does not need them.

    Returns
    -------
    Exact fill, steepest-descent directions with flats resolved, contributing areas by steepest descent (which
    partition the ground) and by the dispersive method (which spreads on planes). Where a pipe or a downspout takes
    the water of a cell it takes all of it, by either method.

    References
    ----------
    Barnes, Lehman & Mulla 2014, doi 10.1016/j.cageo.2013.04.024 (exact fill); for the dispersive methods see
    `criteria.Criteria`.
    """
    from screening.kernels.accumulate import accumulate, carry_downstream
    from screening.kernels.d8 import directions_through, lead_down, receivers
    from screening.kernels.fill import fill_basins
    from screening.kernels.order import downstream_order

    grid, conduits = surface.grid, surface.conduits
    graph = find_basins(surface, criteria=criteria) if basins is None else basins
    filled = fill_basins(surface.routed_elev_m, graph)
    directions, piped = directions_through(filled, criteria.nodata_drains, pipes_of(surface), conduits.sink_cell)
    jumps = lead_down(filled, directions, piped, conduits.roof_cell, conduits.roof_target)
    receiver = receivers(directions, jumps)
    order = downstream_order(receiver, jumps)
    cell_area = np.where(np.isnan(filled), 0.0, grid.cell_area_m2)
    upstream = accumulate(receiver, order, cell_area.ravel()).reshape(grid.shape)
    method, exponent = criteria.dispersive_method, criteria.multiflow_exponent
    if with_dispersive:
        dispersive = accumulate_spread(
            filled, directions, cell_area, jumps, method=method, exponent=exponent, cell_m=grid.cell_m
        )
    else:
        dispersive = np.broadcast_to(np.nan, grid.shape)
    return FlowField(
        grid,
        filled,
        directions,
        receiver,
        order,
        upstream,
        dispersive,
        carry_downstream(receiver, order, _seeds(surface, filled)).reshape(grid.shape),
        dispersive_method=method,
        multiflow_exponent=exponent,
        nodata_drains=criteria.nodata_drains,
        jump_cell=jumps.cell,
        jump_target=jumps.target,
        notes=(*_note_dry_pipes(surface, filled), *_note_roofs(surface, jumps)),
    )


def add_inflow(flow: FlowField, inflow: Inflow, surface: Surface, *, criteria: Criteria) -> FlowField:
    """Add to a flow field what comes in from beyond the window.

    Parameters
    ----------
    flow, inflow, surface
        From `route_flow` and `inflow.find_inflow`, on the same window.
    criteria
        `context_return_max_frac`.

    Returns
    -------
    The same flow with larger areas downstream of where water comes in; `edge_sides` keeps the bits of what is still
    unseen, and marks with `RETURN_SIDE` what misses too much water that left and came back.
    """
    from screening.kernels.accumulate import carry_downstream

    if not inflow.supplied_cell.size:
        return dataclasses.replace(flow, inflow=inflow)
    weight, returned = np.zeros(flow.grid.shape), np.zeros(flow.grid.shape)
    weight.ravel()[inflow.cell], returned.ravel()[inflow.cell] = inflow.area_m2, inflow.returned_m2
    context = accumulate_weight(flow, weight, method="d8")
    contributing = flow.contributing_area_m2 + context
    sides = carry_downstream(flow.receiver, flow.order, _seeds(surface, flow.filled_elev_m, inflow))
    missing = accumulate_weight(flow, returned, method="d8")
    sides[(missing > criteria.context_return_max_frac * contributing).ravel()] |= RETURN_SIDE
    return dataclasses.replace(
        flow,
        contributing_area_m2=contributing,
        dispersive_area_m2=flow.dispersive_area_m2 + accumulate_weight(flow, weight, method=flow.dispersive_method),
        edge_sides=sides.reshape(flow.grid.shape),
        context_area_m2=context,
        inflow=inflow,
    )


def _seeds(surface: Surface, filled: NDArray[np.float32], inflow: Inflow | None = None) -> U8:
    """Bits of where unseen water may enter each cell over ground or through pipes, flat."""
    unseen = _unseen_sides(filled).ravel()
    np.bitwise_or.at(unseen, surface.cut_gap_cell, surface.cut_gap_sides)
    if inflow is not None:
        unseen[inflow.supplied_cell] = 0
    np.bitwise_or.at(unseen, surface.conduits.fed_cell, surface.conduits.fed_sides)
    return unseen


def _note_dry_pipes(surface: Surface, filled: NDArray[np.float32]) -> list[Note]:
    """Say which pipes no water can enter: it runs off over the ground before it stands as high as their invert."""
    conduits, notes = surface.conduits, []
    highest = np.fmax(filled.ravel()[conduits.inlet], filled.ravel()[conduits.outlet])
    for pipe in np.flatnonzero(highest < conduits.crest_m).tolist():
        text = (
            f"no water enters {conduits.name[pipe]}: it would have to stand at {conduits.crest_m[pipe]:.2f} m, and "
            f"runs off over the ground from {highest[pipe]:.2f} m on; check the inverts, their unit and their datum, "
            "and where its ends are drawn"
        )
        notes.append(Note("caution", "drains", text))
    return notes


def _note_roofs(surface: Surface, jumps: Jumps) -> list[Note]:
    """Say how much roof keeps its way although it has a downspout."""
    roof = surface.conduits.roof_cell
    area = float((~np.isin(roof, jumps.cell)).sum()) * surface.grid.cell_area_m2
    if not area:
        return []
    text = (
        f"{area:.0f} m² of roof have a downspout where water would rise to the roof before it runs off, as in a court: "
        "they drain to the ground beside the nearest wall instead; if the court has a drain, give it as a culvert"
    )
    return [Note("caution", "downspouts", text)]


def _unseen_sides(filled: NDArray[np.float32]) -> U8:
    """Bits of where unseen water may enter each cell: the window's sides, and gaps in the elevation."""
    from scipy import ndimage

    bits = np.zeros(filled.shape, np.uint8)
    unknown = np.isnan(filled)
    if unknown.any():
        bits[ndimage.binary_dilation(unknown, np.ones((3, 3), bool))] = GAP_SIDE
    bits[0] |= NORTH_SIDE
    bits[-1] |= SOUTH_SIDE
    bits[:, 0] |= WEST_SIDE
    bits[:, -1] |= EAST_SIDE
    return bits


def trace_flow_paths(flow: FlowField, storm: Storm, block: Block, *, criteria: Criteria) -> gpd.GeoDataFrame:
    """Draw the paths where water gathers, as reaches between confluences.

    Parameters
    ----------
    flow, storm, block
        Of the same window.
    criteria
        `flow_path_min_area_m2`: where a path begins; `window_margin_m`: how far from the lots paths are drawn, and
        from there all the way down.

    Returns
    -------
    `columns.FLOW_PATH_COLUMNS` and lines from upstream to downstream, straight where a pipe leads; area and runoff are
    those of the lower end.
    """
    import shapely

    grid = flow.grid
    runoff_m3 = runoff_through(flow, storm)
    reaches = _reaches(flow.receiver, flow.order, flow.contributing_area_m2.ravel() >= criteria.flow_path_min_area_m2)
    lines, lower = [], []
    for cells in reaches:
        # The last cell belongs to the next reach (or is the outlet): the reach's own lower end is the one before.
        lower.append(cells[-2] if len(cells) > 1 else cells[-1])
        lines.append(draw_path(grid, np.asarray(cells, np.int64)))
    at = np.asarray(lower, np.int64)
    table = {
        "flow_path_id": [f"FP-{number}" for number in range(1, len(lines) + 1)],
        "contributing_area_m2": flow.contributing_area_m2.ravel()[at] if len(at) else [],
        "context_area_m2": context_area_at(flow, at),
        "runoff_m3": runoff_m3[at] if len(at) else [],
        "edge_contaminated": flow.edge_sides.ravel()[at] != 0 if len(at) else [],
    }
    frame = declared(table, FLOW_PATH_COLUMNS, geometry=lines, crs=grid.crs)
    near = shapely.box(*block.lots.total_bounds).buffer(criteria.window_margin_m, join_style="mitre")
    return frame[_with_all_below(frame.intersects(near).to_numpy(bool), reaches)].reset_index(drop=True)


def _with_all_below(is_kept: NDArray[np.bool_], reaches: list[list[int]]) -> NDArray[np.bool_]:
    """Keep the reaches below those that are kept: a path that ends in the open leaves a reader asking."""
    starting_at = {cells[0]: number for number, cells in enumerate(reaches)}
    kept = is_kept.copy()
    for number in np.flatnonzero(is_kept).tolist():
        below = starting_at.get(reaches[number][-1])
        while below is not None and not kept[below]:
            kept[below] = True
            below = starting_at.get(reaches[below][-1])
    return kept


def runoff_through(flow: FlowField, storm: Storm) -> NDArray[np.float64]:
    """Add up the storm runoff that drains through each cell, inflow from beyond with it, nothing held back.

    Returns
    -------
    float64 (n_cells,) [m3].
    """
    from screening.kernels.accumulate import accumulate

    volume = np.nan_to_num(storm.runoff_mm.astype(np.float64)) * (flow.grid.cell_area_m2 / 1000.0)
    volume.ravel()[flow.inflow.cell] += flow.inflow.runoff_m3
    through: NDArray[np.float64] = accumulate(flow.receiver, flow.order, volume.ravel())
    return through


def _reaches(receiver: NDArray[Any], order: NDArray[Any], is_path: NDArray[np.bool_]) -> list[list[int]]:
    """Cut the paths at confluences; each reach ends with the first cell of the next one, or at its outlet."""
    path_cells = order[is_path[order]]
    to = receiver[path_cells]
    flows_on = to != path_cells
    n_in = np.bincount(to[flows_on], minlength=receiver.size)
    starts = path_cells[n_in[path_cells] != 1]
    reaches = []
    for start in starts.tolist():
        cells = [start]
        here = start
        while True:
            there = int(receiver[here])
            if there == here:
                break
            cells.append(there)
            if n_in[there] != 1:
                break
            here = there
        if len(cells) > 1:
            reaches.append(cells)
    return reaches


def measure_catchments(flow: FlowField, block: Block) -> pd.DataFrame:
    """Measure the ground that drains across each lot, with the lot itself.

    Returns
    -------
    `columns.CATCHMENT_COLUMNS` without shapes, one row a lot in the order of `block.lots`.
    """
    from screening.kernels.accumulate import zone_upstream_total

    starts, cells = _lot_cells(flow, block)
    area = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), starts, cells)
    is_cut = flow.edge_sides.ravel()[cells] != 0
    cut = [bool(is_cut[first:last].any()) for first, last in itertools.pairwise(starts.tolist())]
    columns = {"contributing_area_m2": area, "context_area_m2": context_area_of(flow, starts, cells)}
    return pd.DataFrame({"lot_id": list(block.lots["lot_id"]), **columns, "edge_contaminated": cut})


def _lot_cells(flow: FlowField, block: Block) -> tuple[I64, I64]:
    from screening.kernels.zones import ragged_from_labels

    n_lots = len(block.lots)
    return ragged_from_labels(rasterize(flow.grid, list(block.lots.geometry), range(1, n_lots + 1)), n_lots)


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
    starts, cells = _lot_cells(flow, block)
    for first, last in itertools.pairwise(starts.tolist()):
        own = cells[first:last]
        upstream = zone_upstream_cells(flow.receiver, grid.n_rows, grid.n_cols, own, flow.jump_cell)
        upstream = upstream[flow.receiver[upstream] >= 0]
        outlines.append(polygonize_cells(grid, upstream))
    return declared(measure_catchments(flow, block), CATCHMENT_COLUMNS, geometry=outlines, crs=grid.crs)


def view_window(
    surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy, low_spot: I32, block: Block
) -> WindowView:
    """Look at the lots, with what belongs to them and the low spots that lie on them in part.

    A driveway's apron and a wall on the lot line reach beyond the lot; so does the ground beside that wall.
    `low_spot` numbers the cells of low spots, 0 elsewhere: int32, shape of the grid. What a storm leaves in a low spot
    on the lots depends on all low spots that could run over into it, and on the ground that falls into those.

    Returns
    -------
    The sides whose bits are carried down to them, the level and contributing area of their cells, and the low spots
    above them.
    """
    from screening.kernels.spill_merge import nodes_above

    beside = 1.5 * flow.grid.cell_m  # a cell's diagonal, and no more than the next cell's centre
    owned = (layer[layer["lot_id"] != ""].geometry.buffer(beside) for layer in (block.structures, block.driveways))
    shapes = [*block.lots.geometry, *(shape for layer in owned for shape in layer)]
    own = rasterize(flow.grid, shapes, [1] * len(shapes)) > 0
    is_own_spot = np.zeros(int(low_spot.max(initial=0)) + 1, np.bool_)
    is_own_spot[low_spot[own]] = True
    is_own_spot[0] = False
    seen = own | is_own_spot[low_spot]
    bits = int(np.bitwise_or.reduce(flow.edge_sides[seen], initial=0))
    table = hierarchy.table
    parent, spills_to = (np.concatenate(([0], table[name].to_numpy(np.int32))) for name in ("parent", "spills_to"))
    leaf = np.maximum(hierarchy.leaf, 0)
    wet = np.unique(leaf[seen & hierarchy.is_covered])
    is_above = nodes_above(parent.astype(np.int32), spills_to.astype(np.int32), wet.astype(np.int64))
    unseen = _seeds(surface, flow.filled_elev_m).reshape(flow.grid.shape)
    bits |= int(np.bitwise_or.reduce(unseen[is_above[leaf]], initial=0))
    above = table.loc[is_above[1:], ["spill_elev_m", "catchment_area_m2"]].to_numpy(float)
    above = above[np.lexsort(above.T)]
    return WindowView(bits & ~GAP_SIDE, flow.filled_elev_m[seen], flow.contributing_area_m2[seen], above)
