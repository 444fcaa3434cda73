"""Where water goes: directions, contributing areas, flow paths, and what the window edge may hide."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from screening.flow.basins import find_basins, pipes_of
from screening.flow.dispersive import accumulate_weight
from screening.grid import rasterize
from screening.models import (
    EAST_SIDE,
    GAP_SIDE,
    I32,
    NORTH_SIDE,
    SOUTH_SIDE,
    U8,
    WEST_SIDE,
    Block,
    DepressionHierarchy,
    FlowField,
    Inflow,
    Note,
    Surface,
    WindowView,
)
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from screening.kernels.conduit_links import ConduitLinks
    from screening.kernels.fill import BasinGraph


RETURN_SIDE = 32
"""Bit for water that left the window and came back, where it is missing from a contributing area."""


def route_flow(surface: Surface, basins: BasinGraph | None = None, *, criteria: Criteria) -> FlowField:
    """Route water over a surface.

    Parameters
    ----------
    surface
        With walls raised, swales cut, and its pipes and downspouts.
    basins
        Result of `basins.find_basins` for the same surface; found here if not given.
    criteria
        `nodata_drains`, `dispersive_method`, `multiflow_exponent`.

    Returns
    -------
    Exact fill, steepest-descent directions with flats resolved, and contributing areas by steepest descent, which
    partition the ground. Where a pipe or a downspout takes the water of a cell it takes all of it.

    References
    ----------
    Barnes, Lehman & Mulla 2014, doi 10.1016/j.cageo.2013.04.024 (exact fill).
    """
    from screening.kernels.accumulate import accumulate, carry_downstream
    from screening.kernels.d8 import directions_through, lead_down, receivers
    from screening.kernels.fill import fill_basins
    from screening.kernels.order import downstream_order

    grid, conduits = surface.grid, surface.conduits
    graph = find_basins(surface, criteria=criteria) if basins is None else basins
    filled = fill_basins(surface.routed_elev_m, graph)
    directions, piped = directions_through(
        filled, criteria.terrain.nodata_drains, pipes_of(surface), conduits.sink_cell
    )
    links = lead_down(filled, directions, piped, conduits.roof_cell, conduits.roof_target)
    receiver = receivers(directions, links)
    order = downstream_order(receiver, links)
    cell_area = np.where(np.isnan(filled), 0.0, grid.cell_area_m2)
    upstream = accumulate(receiver, order, cell_area.ravel()).reshape(grid.shape)
    return FlowField(
        grid=grid,
        filled_elev_m=filled,
        flow_dir_d8=directions,
        receiver=receiver,
        order=order,
        contributing_area_m2=upstream,
        edge_sides=carry_downstream(receiver, order, _seeds(surface, filled)).reshape(grid.shape),
        dispersive_method=criteria.flow.dispersive_method,
        multiflow_exponent=criteria.flow.multiflow_exponent,
        nodata_drains=criteria.terrain.nodata_drains,
        link_cell=links.cell,
        link_target=links.target,
        notes=(*_note_dry_pipes(surface, filled), *_note_roofs(surface, links)),
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
    sides[(missing > criteria.flow.context_return_max_frac * contributing).ravel()] |= RETURN_SIDE
    return dataclasses.replace(
        flow,
        contributing_area_m2=contributing,
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


def _note_roofs(surface: Surface, links: ConduitLinks) -> list[Note]:
    """Say how much roof keeps its way although it has a downspout."""
    roof = surface.conduits.roof_cell
    area = float((~np.isin(roof, links.cell)).sum()) * surface.grid.cell_area_m2
    if not area:
        return []
    text = (
        f"{area:.0f} m² of roof have a downspout where water would rise to the roof before it runs off, "
        "as in an enclosed courtyard: "
        "they drain to the ground beside the nearest wall instead; if the courtyard has a drain, give it as a culvert"
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


def view_window(
    surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy, low_spot: I32, block: Block
) -> WindowView:
    """Look at the lots, with what belongs to them and the low spots that lie on them in part.

    A driveway's apron and a wall on the lot line reach beyond the lot; so does the ground beside that wall.
    `low_spot` numbers the cells of low spots, 0 elsewhere: int32, shape of the grid. What a storm leaves in a low spot
    on the lots depends on all low spots that could overflow into it, and on the ground that falls into those.

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
    return WindowView(
        open_sides=bits & ~GAP_SIDE,
        level_m=flow.filled_elev_m[seen],
        area_m2=flow.contributing_area_m2[seen],
        above=above,
    )
