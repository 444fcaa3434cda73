"""Water that comes over a driveway to walls: where it enters, what a line across it takes, what bypasses it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.flow.dispersive import accumulate_spread
from screening.models import F32, F64, I64, U8, Bool, FlowField, freeze

if TYPE_CHECKING:
    from screening.kernels.conduit_links import ConduitLinks


@dataclass(frozen=True, kw_only=True, eq=False)
class DrivewayWater:
    """A part of the window around a driveway and its lot, and the water that comes onto the driveway in it.

    Parameters
    ----------
    top, left, n_window_cols
        Where the part begins, and columns of the window.
    flow
        Of the window.
    filled_elev_m
        Of the part, float32 [m].
    flow_dir_d8
        Of the part; cells off the lot and the driveway are outlets, so that water that leaves them is gone.
    wall
        Ground beside walls, where water has arrived, bool.
    entering
        Amounts that first come onto each cell of the driveway, float64 (n_amounts, n_rows, n_cols).
    """

    top: int
    left: int
    n_window_cols: int
    flow: FlowField
    filled_elev_m: F32
    flow_dir_d8: U8
    wall: Bool
    entering: F64

    def __post_init__(self) -> None:
        freeze(self.filled_elev_m, self.flow_dir_d8, self.wall, self.entering)


def gather_water(flow: FlowField, amounts: F64, *, driveway: I64, pen: I64, wall: I64) -> DrivewayWater:
    """Follow water onto a driveway.

    What drains onto the lot comes to its edge by steepest descent, as contributing areas do, each cell's water once;
    on the lot and the driveway it spreads by the flow's dispersive method. Water that leaves them is followed no
    further.

    Parameters
    ----------
    flow
        Where water goes.
    amounts
        What each cell gives, float64 (n_amounts, n_cells), such as runoff.
    driveway, pen, wall
        Cells of the driveway, of the driveway and its lot, and of the ground beside walls there: flat indices,
        ascending, int64.
    """
    n_cols = flow.grid.n_cols
    row, col = np.divmod(pen, n_cols)
    top, left = max(int(row.min()) - 1, 0), max(int(col.min()) - 1, 0)
    shape = min(int(row.max()) + 2, flow.grid.n_rows) - top, min(int(col.max()) + 2, n_cols) - left
    part = slice(top, top + shape[0]), slice(left, left + shape[1])

    def mask(cells: I64) -> Bool:
        found = np.zeros(shape, bool)
        at_row, at_col = np.divmod(cells, n_cols)
        found[at_row - top, at_col - left] = True
        return found

    from screening.kernels.direction_codes import NODATA, OUTLET

    codes = flow.flow_dir_d8[part].copy()
    codes[~mask(pen) & (codes != NODATA)] = OUTLET
    at_pen = _onto_pen(flow, amounts, pen)
    local = np.zeros((len(amounts), *shape))
    local[:, row - top, col - left] = at_pen
    filled = flow.filled_elev_m[part].copy()
    bare = DrivewayWater(
        top=top,
        left=left,
        n_window_cols=n_cols,
        flow=flow,
        filled_elev_m=filled,
        flow_dir_d8=codes,
        wall=mask(wall),
        entering=local,
    )
    is_driveway = mask(driveway)
    entering = np.stack([np.where(is_driveway, _spread(bare, one, is_driveway), 0.0) for one in local])
    return DrivewayWater(
        top=top,
        left=left,
        n_window_cols=n_cols,
        flow=flow,
        filled_elev_m=filled,
        flow_dir_d8=codes,
        wall=bare.wall,
        entering=entering,
    )


def _onto_pen(flow: FlowField, amounts: F64, pen: I64) -> F64:
    """What first comes onto each cell of a pen by steepest descent, its own included."""
    from screening.kernels.accumulate import accumulate, zone_upstream_cells

    grid, receiver = flow.grid, flow.receiver
    known = pen[receiver[pen] >= 0]
    above = zone_upstream_cells(receiver, grid.n_rows, grid.n_cols, known, flow.link_cell)
    above = above[receiver[above] >= 0]
    is_pen = np.zeros(above.size, bool)
    is_pen[np.searchsorted(above, known)] = True
    place = np.searchsorted(above, np.where(is_pen, above, receiver[above]))
    is_above = np.zeros(receiver.size, bool)
    is_above[above] = True
    order = np.searchsorted(above, flow.order[is_above[flow.order]])
    found = np.zeros((len(amounts), pen.size))
    for number, amount in enumerate(amounts):
        total = accumulate(place.astype(np.int32), order.astype(np.int32), amount[above])
        found[number, receiver[pen] >= 0] = total[is_pen]
    return found


def _spread(water: DrivewayWater, amount: F64, sink: Bool) -> F64:
    """Let an amount spread until it meets a sink or leaves."""
    from screening.kernels.direction_codes import NODATA, OUTLET

    codes = water.flow_dir_d8.copy()
    codes[sink & (codes != NODATA)] = OUTLET
    return accumulate_spread(
        water.filled_elev_m,
        codes,
        amount,
        _links(water, sink),
        method=water.flow.dispersive_method,
        exponent=water.flow.multiflow_exponent,
        cell_m=water.flow.grid.cell_m,
    )


def _links(water: DrivewayWater, sink: Bool) -> ConduitLinks:
    """ConduitLinks from one cell of the part to another; what a conduit link leads out of it is gone."""
    from screening.kernels.conduit_links import collect_links

    shape = water.filled_elev_m.shape
    ends = []
    is_within = np.ones(water.flow.link_cell.size, bool)
    for cells in (water.flow.link_cell, water.flow.link_target):
        row, col = np.divmod(cells, water.n_window_cols)
        row, col = row - water.top, col - water.left
        is_within &= (row >= 0) & (row < shape[0]) & (col >= 0) & (col < shape[1])
        ends.append(row * shape[1] + col)
    cell, target = (end[is_within] for end in ends)
    is_free = ~sink.ravel()[cell]
    return collect_links(cell[is_free], target[is_free])


def arrives_at_walls(water: DrivewayWater, *, amounts: slice = slice(None)) -> F64:
    """Add up what comes over the driveway to walls, float64 (n_amounts,)."""
    return np.array([_spread(water, one, water.wall)[water.wall].sum() for one in water.entering[amounts]])


def at_walls(water: DrivewayWater) -> tuple[I64, F64]:
    """Say where the first amount comes to walls: cells as flat indices of the window, and what comes to each."""
    row, col = np.nonzero(water.wall)
    amount = _spread(water, water.entering[0], water.wall)[row, col]
    return (row + water.top) * water.n_window_cols + col + water.left, amount


def intercept(water: DrivewayWater, line: I64, *, amounts: slice = slice(None)) -> tuple[F64, F64]:
    """Find what the cells of a line take, and what still comes to walls.

    Parameters
    ----------
    water
        Of the driveway.
    line
        Cells of the line, flat indices of the window: what comes to them is taken, beside a wall too.
    amounts
        Which amounts.

    Returns
    -------
    What comes to the line, float64 (n_amounts, n_line_cells), and what bypasses it, float64 (n_amounts,). What leaks
    past and the part of the former that would have come to walls add up to `arrives_at_walls`, to rounding.
    """
    row, col = np.divmod(line, water.n_window_cols)
    row, col = row - water.top, col - water.left
    is_line = np.zeros(water.wall.shape, bool)
    is_line[row, col] = True
    is_past = water.wall & ~is_line
    taken, past = [], []
    for one in water.entering[amounts]:
        total = _spread(water, one, water.wall | is_line)
        taken.append(total[row, col])
        past.append(total[is_past].sum())
    return np.array(taken).reshape(-1, line.size), np.array(past)
