"""Eight-direction flow: where each cell drains to, as direction codes and as receivers."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, U8, striped
from screening.kernels.conduit_links import NO_CELLS, NO_LINKS, NO_PIPES, ConduitLinks, Pipes, collect_links
from screening.kernels.direction_codes import FLAT, NODATA, OUTLET
from screening.kernels.flats import drain_flats
from screening.kernels.neighbours import COL_STEP, ROW_STEP, flat_offsets, steepest_steps


def flow_directions(filled: F32, nodata_drains: bool) -> U8:
    """Direction of steepest descent, with flats drained the shortest way to their outlets.

    Ties go to the first neighbour in the fixed order, so directions do not depend on where the window lies.
    A pit that was left unfilled becomes an outlet (the first cell of its flat in raster order).

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
        Filled elevation, NaN = no data.
    nodata_drains : bool
        Whether cells that touch no data, with nothing lower around them, are outlets.

    Returns
    -------
    (n_rows, n_cols) uint8
        0 to 7 a neighbour, OUTLET, NODATA.

    References
    ----------
    O'Callaghan and Mark (1984), doi:10.1016/S0734-189X(84)80011-0.
    """
    codes, _ = _directions(filled, nodata_drains, NO_LINKS.cell, NO_PIPES)
    return codes


def directions_through(
    filled: F32, nodata_drains: bool, pipes: Pipes, sinks: I64 = NO_CELLS
) -> tuple[U8, ConduitLinks]:
    """Directions where pipes take the water that reaches their ends.

    A pipe carries water from the end with the higher filled level, if that level reaches its crest; of several from
    one cell the one that comes out lowest. Where both ends lie under water of one level, it carries water from the
    end whose water has no other outlet.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
        Filled with the same pipes as saddles (`fill.with_pipes`) and sinks as outlets (`fill.with_sinks`).
    nodata_drains : bool
    pipes : Pipes
    sinks : (n,) int64
        Flat indices of cells where water is taken off the ground; a pipe from one of them takes nothing.

    Returns
    -------
    codes : (n_rows, n_cols) uint8
        As `flow_directions`; OUTLET where a pipe takes the water, or a sink does.
    links : ConduitLinks
        From the end of a pipe to its other end. No conduit link leads back up, so that receivers form no cycle.
    """
    filled_of = filled.ravel()
    sinks = sinks[~np.isnan(filled_of[sinks])]
    level_in, level_out = filled_of[pipes.inlet], filled_of[pipes.outlet]
    # Comparisons with NaN are false: a pipe that ends on no data carries nothing.
    runs = np.fmax(level_in, level_out) >= pipes.crest
    falls, rises = runs & (level_in > level_out), runs & (level_in < level_out)
    # A sink takes what a pipe brings to it, and gives nothing to a pipe.
    falls &= ~np.isin(pipes.inlet, sinks)
    rises &= ~np.isin(pipes.outlet, sinks)
    is_level = runs & (level_in == level_out)
    source = np.concatenate((pipes.inlet[falls], pipes.outlet[rises]))
    target = np.concatenate((pipes.outlet[falls], pipes.inlet[rises]))
    # `collect_links` keeps the first link of a cell: the one that comes out lowest.
    lowest_first = np.lexsort((target, filled_of[target]))
    level_pipes = Pipes(*(part[is_level] for part in pipes))
    codes, taken = _directions(filled, nodata_drains, np.concatenate((source, sinks)), level_pipes)
    return codes, collect_links(
        np.concatenate((source[lowest_first], level_pipes.inlet[taken == 1], level_pipes.outlet[taken == 2])),
        np.concatenate((target[lowest_first], level_pipes.outlet[taken == 1], level_pipes.inlet[taken == 2])),
    )


def lead_down(filled: F32, codes: U8, links: ConduitLinks, cell: I64, target: I64) -> ConduitLinks:
    """Lead the water of more cells to given ones, where those lie strictly lower; the others keep their direction.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
        Changed: OUTLET where a cell now has a conduit link.
    links : ConduitLinks
        Those that there are.
    cell, target : (n,) int64

    Returns
    -------
    ConduitLinks
        All of them. Lower ground cannot drain back, so that receivers form no cycle.
    """
    # Strictly: between cells of one level the water could come back.
    is_lower = filled.ravel()[target] < filled.ravel()[cell]
    codes.reshape(-1)[cell[is_lower]] = OUTLET
    return collect_links(np.concatenate((links.cell, cell[is_lower])), np.concatenate((links.target, target[is_lower])))


def _directions(filled: F32, nodata_drains: bool, sinks: I64, level_pipes: Pipes) -> tuple[U8, U8]:
    """Codes; and for each pipe between waters of one level 1 where its inlet takes water, 2 where its outlet does."""
    codes = np.empty(filled.shape, np.uint8)
    _descend(filled, codes)
    # numpy's `min` is NaN if any cell is; grids without gaps skip a sweep.
    if np.isnan(filled.min()):
        _mark_nodata(filled, codes, bool(nodata_drains))
    # Before flats are drained, so that a flat drains to the sinks on it.
    codes.reshape(-1)[sinks] = OUTLET
    return codes, drain_flats(filled, codes, level_pipes)


def receivers(codes: U8, links: ConduitLinks = NO_LINKS) -> I32:
    """Flat index of the cell that each cell drains to.

    Parameters
    ----------
    codes : (n_rows, n_cols) uint8
    links : ConduitLinks
        Cells whose receiver is no neighbour.

    Returns
    -------
    (n_rows * n_cols,) int32
        The cell itself at outlets, -1 at no data.
    """
    receiver = np.empty(codes.size, np.int32)
    _receivers(codes, receiver)
    receiver[links.cell] = links.target
    return receiver


@striped
def _descend(filled: F32, codes: U8) -> None:
    n_rows, n_cols = filled.shape
    # Rows are independent: each writes its own codes.
    for row in prange(n_rows):
        steepest_steps(filled, row, codes[row])
        # Edge cells only: whole first and last rows, else the first and the last column. `max` is for a grid one column
        # wide.
        step = 1 if row == 0 or row == n_rows - 1 else max(1, n_cols - 1)
        for col in range(0, n_cols, step):
            # Nothing lower at the edge: water leaves the window.
            if codes[row, col] == FLAT:
                codes[row, col] = OUTLET


@striped
def _mark_nodata(filled: F32, codes: U8, nodata_drains: bool) -> None:
    n_rows, n_cols = filled.shape
    # Rows are independent: neighbours are read in `filled`, which nobody writes.
    for row in prange(n_rows):
        for col in range(n_cols):
            if np.isnan(filled[row, col]):
                codes[row, col] = NODATA
            elif nodata_drains and codes[row, col] == FLAT:
                for k in range(8):  # a flat cell is never on the window edge
                    if np.isnan(filled[row + ROW_STEP[k], col + COL_STEP[k]]):
                        codes[row, col] = OUTLET


@striped
def _receivers(codes: U8, receiver: I32) -> None:
    n_rows, n_cols = codes.shape
    offsets = flat_offsets(n_cols)
    # Rows are independent. A code's step in flat index never leaves the grid.
    for row in prange(n_rows):
        for col in range(n_cols):
            cell = row * n_cols + col
            code = codes[row, col]
            if code < 8:
                receiver[cell] = cell + offsets[code]
            else:
                receiver[cell] = cell if code == OUTLET else -1


_COUNTED, _WAITS_AT_SEAM = 255, 254
