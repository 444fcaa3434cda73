"""Eight-direction flow: the one module that knows direction codes.

Codes: 0 to 7 the neighbour that receives (order of `neighbours`), OUTLET, NODATA.
"""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, U8, compiled, strip_rows, striped
from screening.kernels.conduit_links import NO_CELLS, NO_LINKS, NO_PIPES, ConduitLinks, Pipes, collect_links
from screening.kernels.neighbours import COL_STEP, NO_STEP, ROW_STEP, flat_offsets, steepest_steps

FLAT = NO_STEP
OUTLET = 9
NODATA = 255
_SEED = 16  # added to the code of a flat cell beside its outlet until all such cells are found
_SIDES_FIRST = (1, 3, 4, 6, 0, 2, 5, 7)
_POWER_OF_TWO = np.zeros(256, np.uint8)
_POWER_OF_TWO[:8] = (32, 64, 128, 16, 1, 8, 4, 2)
_POWER_OF_TWO[NODATA] = 255


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
        Filled with the same pipes as passes (`fill.with_pipes`) and sinks as outlets (`fill.with_sinks`).
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
    runs = np.fmax(level_in, level_out) >= pipes.crest
    falls, rises = runs & (level_in > level_out), runs & (level_in < level_out)
    # A sink takes what a pipe brings to it, and gives nothing to a pipe.
    falls &= ~np.isin(pipes.inlet, sinks)
    rises &= ~np.isin(pipes.outlet, sinks)
    is_level = runs & (level_in == level_out)
    source = np.concatenate((pipes.inlet[falls], pipes.outlet[rises]))
    target = np.concatenate((pipes.outlet[falls], pipes.inlet[rises]))
    lowest_first = np.lexsort((target, filled_of[target]))
    level_pipes = Pipes(*(part[is_level] for part in pipes))
    codes, taken = _directions(filled, nodata_drains, np.concatenate((source, sinks)), level_pipes)
    return codes, collect_links(
        np.concatenate((source[lowest_first], level_pipes.inlet[taken == 1], level_pipes.outlet[taken == 2])),
        np.concatenate((target[lowest_first], level_pipes.outlet[taken == 1], level_pipes.inlet[taken == 2])),
    )


def lead_down(filled: F32, codes: U8, links: ConduitLinks, cell: I64, target: I64) -> ConduitLinks:
    """Lead the water of more cells to given ones, where those lie strictly lower; the others keep their way.

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
    is_lower = filled.ravel()[target] < filled.ravel()[cell]
    codes.reshape(-1)[cell[is_lower]] = OUTLET
    return collect_links(np.concatenate((links.cell, cell[is_lower])), np.concatenate((links.target, target[is_lower])))


def _directions(filled: F32, nodata_drains: bool, sinks: I64, level_pipes: Pipes) -> tuple[U8, U8]:
    """Codes; and for each pipe between waters of one level 1 where its inlet takes water, 2 where its outlet does."""
    codes = np.empty(filled.shape, np.uint8)
    _descend(filled, codes)
    if np.isnan(filled.min()):
        _mark_nodata(filled, codes, bool(nodata_drains))
    codes.reshape(-1)[sinks] = OUTLET
    n_seeds = np.zeros(filled.shape[0], np.int64)
    n_flat = np.zeros(filled.shape[0], np.int64)
    _mark_seeds(filled, codes, n_seeds, n_flat)
    first = np.cumsum(n_seeds) - n_seeds
    queue = np.empty(int(n_flat.sum()), np.int32)
    _collect_seeds(codes, first, queue)
    taken = np.zeros(level_pipes.inlet.size, np.uint8)
    _drain_flats(
        elev_of=filled.ravel(),
        code_of=codes.ravel(),
        n_cols=filled.shape[1],
        queue=queue,
        n_queue=int(n_seeds.sum()),
        inlet=level_pipes.inlet,
        outlet=level_pipes.outlet,
        taken=taken,
    )
    return codes, taken


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


def count_upstream(codes: U8) -> I32:
    """Count the cells that drain through each cell, itself included; conduit links are not followed.

    Parameters
    ----------
    codes : (n_rows, n_cols) uint8

    Returns
    -------
    (n_rows, n_cols) int32
        0 at no data.
    """
    n_donors = np.empty(codes.shape, np.uint8)
    _count_donors(codes, n_donors)
    strips = strip_rows(*codes.shape)
    n_upstream = np.empty(codes.shape, np.int32)
    _count_in_strips(codes, n_donors, n_upstream, strips)
    _count_across_seams(codes.ravel(), n_donors.ravel(), n_upstream.ravel(), strips, codes.shape[1])
    return n_upstream


def to_power_of_two(codes: U8) -> U8:
    """Recode for export to powers of two, from east clockwise.

    Parameters
    ----------
    codes : (n_rows, n_cols) uint8

    Returns
    -------
    (n_rows, n_cols) uint8
        1 east, 2 south-east, 4 south, 8 south-west, 16 west, 32 north-west, 64 north, 128 north-east;
        0 at outlets, 255 at no data.
    """
    return _POWER_OF_TWO[codes]


@striped
def _descend(filled: F32, codes: U8) -> None:
    n_rows, n_cols = filled.shape
    for row in prange(n_rows):
        steepest_steps(filled, row, codes[row])
        step = 1 if row == 0 or row == n_rows - 1 else max(1, n_cols - 1)
        for col in range(0, n_cols, step):
            if codes[row, col] == FLAT:
                codes[row, col] = OUTLET


@striped
def _mark_nodata(filled: F32, codes: U8, nodata_drains: bool) -> None:
    n_rows, n_cols = filled.shape
    for row in prange(n_rows):
        for col in range(n_cols):
            if np.isnan(filled[row, col]):
                codes[row, col] = NODATA
            elif nodata_drains and codes[row, col] == FLAT:
                for k in range(8):  # a flat cell is never on the window edge
                    if np.isnan(filled[row + ROW_STEP[k], col + COL_STEP[k]]):
                        codes[row, col] = OUTLET


@striped
def _mark_seeds(filled: F32, codes: U8, n_seeds: I64, n_flat: I64) -> None:
    """Find the flat cells beside an equally high cell that drains.

    Rows run at the same time: a neighbour may turn from FLAT to seed meanwhile; neither counts as draining.
    """
    n_rows, n_cols = filled.shape
    for row in prange(n_rows):
        for col in range(n_cols):
            if codes[row, col] != FLAT:
                continue
            n_flat[row] += 1
            for k in _SIDES_FIRST:
                near = codes[row + ROW_STEP[k], col + COL_STEP[k]]
                same = filled[row + ROW_STEP[k], col + COL_STEP[k]] == filled[row, col]
                if same and near != FLAT and near < _SEED:
                    codes[row, col] = _SEED + k
                    n_seeds[row] += 1
                    break


@striped
def _collect_seeds(codes: U8, first: I64, queue: I32) -> None:
    n_rows, n_cols = codes.shape
    for row in prange(n_rows):
        place = first[row]
        for col in range(n_cols):
            if _SEED <= codes[row, col] < NODATA:
                codes[row, col] -= _SEED
                queue[place] = row * n_cols + col
                place += 1


@compiled
def _drain_flats(
    elev_of: F32, code_of: U8, n_cols: int, queue: I32, n_queue: int, inlet: I64, outlet: I64, taken: U8
) -> None:
    """Spread from the seeds over their flats, in breadth; flats without an outlet drain by a pipe, or get one."""
    offsets = flat_offsets(n_cols)
    read = 0
    unread = 0
    while n_queue < queue.size:
        read, n_queue = _spread(elev_of, code_of, offsets, queue, read, n_queue)
        n_spread = n_queue
        n_queue = _drain_by_pipes(code_of, inlet, outlet, taken, queue, n_queue)
        if n_spread == n_queue < queue.size:
            while code_of[unread] != FLAT:
                unread += 1
            code_of[unread] = OUTLET
            queue[n_queue] = unread
            n_queue += 1


@compiled
def _spread(elev_of: F32, code_of: U8, offsets: I64, queue: I32, read: int, n_queue: int) -> tuple[int, int]:
    while read < n_queue:
        cell = np.int64(queue[read])
        read += 1
        for k in _SIDES_FIRST:
            near = cell + offsets[k]
            if code_of[near] == FLAT and elev_of[near] == elev_of[cell]:
                code_of[near] = 7 - k
                queue[n_queue] = near
                n_queue += 1
    return read, n_queue


@compiled
def _drain_by_pipes(code_of: U8, inlet: I64, outlet: I64, taken: U8, queue: I32, n_queue: int) -> int:
    """Open the end of a pipe that lies in a flat without outlet, where the other end drains."""
    for pipe in range(inlet.size):
        if code_of[inlet[pipe]] == FLAT and code_of[outlet[pipe]] != FLAT:
            taken[pipe] = 1
            source = inlet[pipe]
        elif code_of[outlet[pipe]] == FLAT and code_of[inlet[pipe]] != FLAT:
            taken[pipe] = 2
            source = outlet[pipe]
        else:
            continue
        code_of[source] = OUTLET
        queue[n_queue] = source
        n_queue += 1
    return n_queue


@striped
def _receivers(codes: U8, receiver: I32) -> None:
    n_rows, n_cols = codes.shape
    offsets = flat_offsets(n_cols)
    for row in prange(n_rows):
        for col in range(n_cols):
            cell = row * n_cols + col
            code = codes[row, col]
            if code < 8:
                receiver[cell] = cell + offsets[code]
            else:
                receiver[cell] = cell if code == OUTLET else -1


@striped
def _count_donors(codes: U8, n_donors: U8) -> None:
    n_rows, n_cols = codes.shape
    for row in prange(n_rows):
        if 0 < row < n_rows - 1:
            _count_donors_inside(codes[row - 1], codes[row], codes[row + 1], n_donors[row])
        step = 1 if row == 0 or row == n_rows - 1 else max(1, n_cols - 1)
        for col in range(0, n_cols, step):
            n = 0
            for k in range(8):
                near_row = row + ROW_STEP[k]
                near_col = col + COL_STEP[k]
                inside = 0 <= near_row < n_rows and 0 <= near_col < n_cols
                if inside and codes[near_row, near_col] == 7 - k:
                    n += 1
            n_donors[row, col] = n


@compiled
def _count_donors_inside(north: U8, here: U8, south: U8, n_donors: U8) -> None:
    for col in range(1, here.size - 1):
        n_donors[col] = (
            np.uint8(north[col - 1] == 7)
            + np.uint8(north[col] == 6)
            + np.uint8(north[col + 1] == 5)
            + np.uint8(here[col - 1] == 4)
            + np.uint8(here[col + 1] == 3)
            + np.uint8(south[col - 1] == 2)
            + np.uint8(south[col] == 1)
            + np.uint8(south[col + 1] == 0)
        )


_COUNTED, _WAITS_AT_SEAM = 255, 254


@striped
def _count_in_strips(codes: U8, n_donors: U8, n_upstream: I32, strips: I64) -> None:
    """Walk down from every cell without donors, as far as the other donors have been counted.

    Walks stop where they would leave the strip.
    """
    n_cols = codes.shape[1]
    code_of = codes.reshape(-1)
    left = n_donors.reshape(-1)
    count = n_upstream.reshape(-1)
    offsets = flat_offsets(n_cols)
    for strip in prange(strips.size - 1):
        start = strips[strip] * n_cols
        stop = strips[strip + 1] * n_cols
        for cell in range(start, stop):
            count[cell] = 1 if code_of[cell] != NODATA else 0
        for source in range(start, stop):
            cell = source
            while left[cell] == 0:
                left[cell] = _COUNTED
                if code_of[cell] > 7:
                    break
                target = cell + offsets[code_of[cell]]
                if target < start or target >= stop:
                    left[cell] = _WAITS_AT_SEAM
                    break
                count[target] += count[cell]
                left[target] -= 1
                cell = target


@compiled
def _count_across_seams(code_of: U8, left: U8, count: I32, strips: I64, n_cols: int) -> None:
    offsets = flat_offsets(n_cols)
    for seam in strips[1:-1]:
        for source in range((seam - 1) * n_cols, (seam + 1) * n_cols):
            if left[source] != _WAITS_AT_SEAM:
                continue
            cell = source
            while True:
                left[cell] = _COUNTED
                if code_of[cell] > 7:
                    break
                target = cell + offsets[code_of[cell]]
                count[target] += count[cell]
                left[target] -= 1
                if left[target] != 0:
                    break
                cell = target
