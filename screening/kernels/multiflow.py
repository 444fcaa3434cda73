"""Dispersive multiple flow: each cell shares its water among all lower neighbours.

On flats, where nothing is lower, the one D8 receiver takes all.
"""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, U8, compiled, strip_rows, striped
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, await_links, landings
from screening.kernels.direction_codes import NODATA
from screening.kernels.neighbours import flat_offsets
from screening.kernels.receiver_sets import LISTED, count_donors, lower_neighbours, order_of_graph
from screening.kernels.shares import ShareLaw, weigh

_WAITS_AT_SEAM = 254  # in place of the number of donors left to wait for


def accumulate_multiflow(filled: F32, codes: U8, weight: F64, law: ShareLaw, links: ConduitLinks = NO_LINKS) -> F64:
    """Sum the weights that flow through each cell, its own included, shared by a law of slope.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
        Filled elevation, NaN = no data.
    codes : (n_rows, n_cols) uint8
        D8 directions on `filled`, for flats and outlets.
    weight : (n_rows, n_cols) float64
    law : ShareLaw
        `freeman` or `qin`.
    links : ConduitLinks
        Cells all of whose water goes to one cell that is no neighbour; `codes` has them as outlets.

    Returns
    -------
    (n_rows, n_cols) float64
        0 at no data. The sum at the outlets, those with a conduit link left out, is the sum of the weights.
    """
    lower = lower_neighbours(filled, codes)
    n_donors = count_donors(lower)
    await_links(n_donors.reshape(-1), links)
    total = np.where(codes == NODATA, 0.0, weight)
    strips = strip_rows(*filled.shape)
    _accumulate_in_strips(filled, lower, n_donors, total, strips, law)
    _accumulate_across_seams(
        elev_of=filled.ravel(),
        lower_of=lower.ravel(),
        left=n_donors.ravel(),
        total=total.ravel(),
        strips=strips,
        law=law,
        n_cols=filled.shape[1],
    )
    left, total_of = n_donors.reshape(-1), total.reshape(-1)
    # `total` is whole for every cell whose donors are all in; the links of a round carry theirs on.
    for ready, sources in landings(links, left, LISTED):
        # Not `+=`: several links may end at one target.
        np.add.at(total_of, links.target[ready], total_of[links.cell[ready]])
        _accumulate_on(
            elev_of=filled.ravel(),
            lower_of=lower.ravel(),
            left=left,
            total=total_of,
            sources=sources,
            law=law,
            n_cols=filled.shape[1],
        )
    return total


def multiflow_order(filled: F32, codes: U8, links: ConduitLinks = NO_LINKS) -> I64:
    """List the cells with data so that every cell comes before all those it shares its water with.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
    links : ConduitLinks

    Returns
    -------
    (n_valid,) int64
    """
    return order_of_graph(lower_neighbours(filled, codes), codes, links).astype(np.int64)


@striped
def _accumulate_in_strips(filled: F32, lower: U8, n_donors: U8, total: F64, strips: I64, law: ShareLaw) -> None:
    """Walk down each strip from every cell without donors; `total` holds the weights at first."""
    n_cols = filled.shape[1]
    elev_of = filled.reshape(-1)
    lower_of = lower.reshape(-1)
    left = n_donors.reshape(-1)
    total_of = total.reshape(-1)
    # A strip reads and writes its own cells alone: `_walk` stops where any receiver lies outside.
    for strip in prange(strips.size - 1):
        start = strips[strip] * n_cols
        stop = strips[strip + 1] * n_cols
        # A cell is on the stack once: room for the strip suffices.
        stack = np.empty(stop - start, np.int32)
        # Cells before `source` without donors have been walked from; those walked are marked, not 0.
        for source in range(start, stop):
            if left[source] == 0:
                _walk(
                    source=source,
                    start=start,
                    stop=stop,
                    elev_of=elev_of,
                    lower_of=lower_of,
                    left=left,
                    total=total_of,
                    stack=stack,
                    law=law,
                    n_cols=n_cols,
                )


@compiled
def _accumulate_across_seams(
    elev_of: F32, lower_of: U8, left: U8, total: F64, strips: I64, law: ShareLaw, n_cols: int
) -> None:
    stack = np.empty(elev_of.size, np.int32)
    # All cells that waited at the seams before this one have shared their water, as far as other donors allowed.
    for seam in strips[1:-1]:
        # Only the rows on both sides of a seam have receivers beyond it.
        for source in range((seam - 1) * n_cols, (seam + 1) * n_cols):
            if left[source] == _WAITS_AT_SEAM:
                _walk(
                    source=source,
                    start=0,
                    stop=elev_of.size,
                    elev_of=elev_of,
                    lower_of=lower_of,
                    left=left,
                    total=total,
                    stack=stack,
                    law=law,
                    n_cols=n_cols,
                )


@compiled
def _accumulate_on(elev_of: F32, lower_of: U8, left: U8, total: F64, sources: I64, law: ShareLaw, n_cols: int) -> None:
    stack = np.empty(elev_of.size, np.int32)
    # Sources before this one have been walked from.
    for source in sources:
        _walk(
            source=source,
            start=0,
            stop=elev_of.size,
            elev_of=elev_of,
            lower_of=lower_of,
            left=left,
            total=total,
            stack=stack,
            law=law,
            n_cols=n_cols,
        )


@compiled
def _walk(
    source: int,
    start: int,
    stop: int,
    elev_of: F32,
    lower_of: U8,
    left: U8,
    total: F64,
    stack: I32,
    law: ShareLaw,
    n_cols: int,
) -> None:
    """Hand water down from `source` as far as the donors are all counted, and not out of the strip."""
    offsets = flat_offsets(n_cols)
    pull = np.empty(8, np.float32)
    left[source] = LISTED
    # A cell is marked when it is put on the stack, so it is there once.
    stack[0] = source
    n_stack = 1
    # The cells on the stack have their whole totals, and have not shared them yet.
    while n_stack > 0:
        n_stack -= 1
        cell = int(stack[n_stack])
        receivers = lower_of[cell]
        # An outlet keeps what it has: that is what leaves, or goes on by a conduit link.
        if receivers == 0:
            continue
        # Nothing of it is shared yet, so that it can be shared at once when the seam is crossed.
        if _leads_out(cell, receivers, offsets, start, stop):
            left[cell] = _WAITS_AT_SEAM
            continue
        per_pull = total[cell] / weigh(elev_of, receivers, cell, offsets, law, pull)
        # The receivers before k have their share. A set has existing neighbours only: no bounds to check.
        for k in range(8):
            if receivers >> k & 1:
                near = cell + offsets[k]
                total[near] += per_pull * pull[k]
                left[near] -= 1
                if left[near] == 0:
                    left[near] = LISTED
                    stack[n_stack] = near
                    n_stack += 1


@compiled
def _leads_out(cell: int, receivers: int, offsets: I64, start: int, stop: int) -> bool:
    """Whether any receiver lies outside the strip; rows inside need no look at the receivers."""
    # The north-west neighbour is the first in flat index, the south-east one the last.
    if cell + offsets[0] >= start and cell + offsets[7] < stop:
        return False
    n_out = 0
    # `n_out` of the neighbours before k receive and lie outside.
    for k in range(8):
        if receivers >> k & 1 and not start <= cell + offsets[k] < stop:
            n_out += 1
    return n_out > 0
