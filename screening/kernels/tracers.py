"""Tracers of water that walk down a small piece of ground until they cross an outline.

Places are in cells from the north-west corner: x to the east, y to the south; the centre of row `r`, column `c` lies at
(c + 0.5, r + 0.5). Between four centres the ground is bilinear.
"""

import numpy as np

from screening.kernels.compiling import F64, I32, I64, U8, compiled
from screening.kernels.neighbours import COL_STEP, ROW_STEP

NEVER_ENTERED = 0
CROSSED = 1
ENDED_INSIDE = 2
DRAINED = 3

ON_PATCH = 1
AT_WALL = 2
AT_DRAIN = 3

# Of a cell, the first step tried.
_STEP = 0.25
# [m]: less is rounding, not fall.
_LEAST_DROP = 1e-9
_FREE_STEPS = 600  # then cell by cell, which must end
# Of a step: beyond the outline, so that it is not crossed again from the same side.
_BEHIND = 1e-6
_POND_SLOTS = 4


@compiled
def walk_tracers(
    elev: F64, receiver: I32, code: U8, pond: I32, edges: F64, x: F64, y: F64, is_inside: U8
) -> tuple[F64, F64, U8, I32]:
    """Walk each tracer down the steepest descent until it leaves the outline, or has no way into it.

    Where the ground between four centres does not fall (flats, pits that were filled, gutters narrower than a
    cell) a tracer goes to the centre of the cell that its cell drains to.

    Parameters
    ----------
    elev : (n_rows, n_cols) float64 [m]
        Filled; NaN where a tracer cannot go.
    receiver : (n_rows, n_cols) int32
        Flat index of the cell that each cell drains to, itself at outlets, -1 = no data.
    code : (n_rows, n_cols) uint8
        ON_PATCH where the outline covers some of the cell, AT_WALL in structures, AT_DRAIN where water goes under
        the ground, else 0.
    pond : (n_rows, n_cols) int32
        Number of the low spot, 0 = none.
    edges : (n_edges, 5) float64
        Ends of the straight edges of the outline (x, y, x, y) in cells, and how far along the outline each begins.
    x, y : (n,) float64
        Where the tracers begin.
    is_inside : (n,) uint8
        Whether that lies inside the outline.

    Returns
    -------
    leaves_at, enters_at : (n,) float64
        Place along the outline, in cells; NaN where it is not crossed.
    fate : (n,) uint8
        NEVER_ENTERED, CROSSED, ENDED_INSIDE or DRAINED.
    ponds : (n, 4) int32
        Low spots that it came through inside the outline, in their order; 0 = no more.
    """
    n = x.size
    leaves_at = np.full(n, np.nan)
    enters_at = np.full(n, np.nan)
    fate = np.zeros(n, np.uint8)
    ponds = np.zeros((n, _POND_SLOTS), np.int32)
    # Tracers are independent; those before this one have ended.
    for tracer in range(n):
        fate[tracer] = _walk(
            elev=elev,
            receiver=receiver,
            code=code,
            pond=pond,
            edges=edges,
            x=x[tracer],
            y=y[tracer],
            inside=is_inside[tracer] != 0,
            tracer=tracer,
            leaves_at=leaves_at,
            enters_at=enters_at,
            ponds=ponds,
        )
    return leaves_at, enters_at, fate, ponds


@compiled
def _walk(
    elev: F64,
    receiver: I32,
    code: U8,
    pond: I32,
    edges: F64,
    x: float,
    y: float,
    inside: bool,
    tracer: int,
    leaves_at: F64,
    enters_at: F64,
    ponds: I32,
) -> int:
    n_rows, n_cols = elev.shape
    # The tracer stands at (x, y), `inside` says on which side of the outline. Cell by cell each step goes to a
    # receiver: no more than all cells.
    for step in range(_FREE_STEPS + n_rows * n_cols):
        row = int(np.floor(y))
        col = int(np.floor(x))
        if row < 0 or col < 0 or row >= n_rows or col >= n_cols:
            return ENDED_INSIDE if inside else NEVER_ENTERED
        if not inside and code[row, col] != ON_PATCH:
            return NEVER_ENTERED
        if inside:
            if code[row, col] == AT_DRAIN:
                return DRAINED
            if pond[row, col] > 0:
                _note_pond(ponds, tracer, pond[row, col])
        # No step by itself: on ground that does not fall it goes to the centre of the next cell.
        to_x, to_y = x, y
        if step < _FREE_STEPS:
            to_x, to_y = _downhill(elev, x, y)
        is_last = False
        if to_x == x and to_y == y:
            to_x, to_y, is_last = _by_cell(receiver, code, elev, row, col)
        at, along = _crossing(edges, x, y, to_x, to_y)
        # The outline comes before the end of the step.
        if at <= 1.0:
            if inside:
                leaves_at[tracer] = along
                return CROSSED
            enters_at[tracer] = along
            inside = True
            x += (at + _BEHIND) * (to_x - x)
            y += (at + _BEHIND) * (to_y - y)
            continue
        if is_last:
            return ENDED_INSIDE if inside else NEVER_ENTERED
        x, y = to_x, to_y
    return ENDED_INSIDE if inside else NEVER_ENTERED


@compiled
def _note_pond(ponds: I32, tracer: int, number: int) -> None:
    # The slots before this one hold other ponds; what finds no slot is not noted.
    for slot in range(_POND_SLOTS):
        if ponds[tracer, slot] == number:
            return
        if ponds[tracer, slot] == 0:
            ponds[tracer, slot] = number
            return


@compiled
def _downhill(elev: F64, x: float, y: float) -> tuple[float, float]:
    """The end of a step down the bilinear ground; where it begins if there is none that falls."""
    here, dx, dy = _bilinear(elev, x, y)
    steepness = np.sqrt(dx * dx + dy * dy)
    if not steepness > 0.0:
        return x, y
    length = _STEP
    # The longer steps tried so far do not end lower; three tries, the last a quarter as long as the first.
    for _ in range(3):
        to_x = x - length * dx / steepness
        to_y = y - length * dy / steepness
        there, _, _ = _bilinear(elev, to_x, to_y)
        if there < here - _LEAST_DROP:
            return to_x, to_y
        length *= 0.5
    return x, y


@compiled
def _bilinear(elev: F64, x: float, y: float) -> tuple[float, float, float]:
    """Height and its rise to the east and to the south; NaN beyond the outer centres."""
    n_rows, n_cols = elev.shape
    col = int(np.floor(x - 0.5))
    row = int(np.floor(y - 0.5))
    if row < 0 or col < 0 or row >= n_rows - 1 or col >= n_cols - 1:
        return np.nan, np.nan, np.nan
    u = x - 0.5 - col
    v = y - 0.5 - row
    nw, ne = elev[row, col], elev[row, col + 1]
    sw, se = elev[row + 1, col], elev[row + 1, col + 1]
    north = nw + u * (ne - nw)
    south = sw + u * (se - sw)
    return north + v * (south - north), (1.0 - v) * (ne - nw) + v * (se - sw), south - north


@compiled
def _by_cell(receiver: I32, code: U8, elev: F64, row: int, col: int) -> tuple[float, float, bool]:
    """Centre of the cell that takes the water of a cell: at an outlet the wall, drain or gap beside it, and the end."""
    n_rows, n_cols = receiver.shape
    to = receiver[row, col]
    if to >= 0 and to != row * n_cols + col:
        return to % n_cols + 0.5, to // n_cols + 0.5, False
    best = -1
    # `best` is the neighbour before k that takes the water, sides first.
    for k in range(8):
        near_row = row + ROW_STEP[k]
        near_col = col + COL_STEP[k]
        if 0 <= near_row < n_rows and 0 <= near_col < n_cols:
            is_out = code[near_row, near_col] >= AT_WALL or np.isnan(elev[near_row, near_col])
            is_side = ROW_STEP[k] == 0 or COL_STEP[k] == 0
            # a neighbour by its side before one at a corner
            if is_out and (best < 0 or (is_side and ROW_STEP[best] != 0 and COL_STEP[best] != 0)):
                best = k
    if best < 0:
        return col + 0.5, row + 0.5, True
    return col + COL_STEP[best] + 0.5, row + ROW_STEP[best] + 0.5, True


@compiled
def _crossing(edges: F64, x: float, y: float, to_x: float, to_y: float) -> tuple[float, float]:
    """Share of a step after which it first crosses the outline, 2 where it does not, and place along the outline."""
    first = 2.0
    along = np.nan
    step_x = to_x - x
    step_y = to_y - y
    # `first` and `along` are of the edges before this one; ends count, so no corner is slipped through.
    for number in range(edges.shape[0]):
        edge_x = edges[number, 2] - edges[number, 0]
        edge_y = edges[number, 3] - edges[number, 1]
        cross = step_x * edge_y - step_y * edge_x
        # The step runs along the edge, or is none: the edges next to it say where it crosses.
        if cross == 0.0:
            continue
        from_x = edges[number, 0] - x
        from_y = edges[number, 1] - y
        at = (from_x * edge_y - from_y * edge_x) / cross
        on_edge = (from_x * step_y - from_y * step_x) / cross
        # Not at 0: a tracer on the outline has crossed already.
        if 0.0 < at <= 1.0 and 0.0 <= on_edge <= 1.0 and at < first:
            first = at
            along = edges[number, 4] + on_edge * np.sqrt(edge_x * edge_x + edge_y * edge_y)
    return first, along


@compiled
def pour_into_ponds(amount: F64, ponds: I32, order: I64, capacity: F64) -> tuple[F64, F64]:
    """Hold back what ponds take of the tracers that come through them, each tracer by the same share.

    Parameters
    ----------
    amount : (n,) float64
        Of each tracer.
    ponds : (n, 4) int32
        As from `walk_tracers`.
    order : (n_ponds,) int64
        Numbers of the ponds, 1.., the highest first.
    capacity : (n_ponds + 1,) float64
        By number, in the unit of `amount`.

    Returns
    -------
    gone, held : (n,) float64
        What goes on and what stays; they add up to `amount`.
    """
    gone = amount.copy()
    held = np.zeros(amount.size)
    # `gone` is what is left of each tracer after the ponds higher up.
    for number in order:
        through = 0.0
        # All that comes through the pond is known before any is held, so that no tracer comes first.
        for tracer in range(amount.size):
            # A pond stands in one slot of a tracer at most.
            for slot in range(_POND_SLOTS):
                if ponds[tracer, slot] == number:
                    through += gone[tracer]
        share = 1.0
        if through > capacity[number]:
            share = capacity[number] / through
        # The tracers before this one have left their share.
        for tracer in range(amount.size):
            for slot in range(_POND_SLOTS):
                if ponds[tracer, slot] == number:
                    kept = share * gone[tracer]
                    held[tracer] += kept
                    gone[tracer] -= kept
    return gone, held
