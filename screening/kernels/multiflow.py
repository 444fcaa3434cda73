"""Dispersive multiple flow: each cell shares its water among all lower neighbours.

On flats, where nothing is lower, the one D8 receiver takes all.
"""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, U8, compiled, strip_rows, striped
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, await_links, landings, target_of
from screening.kernels.d8 import NODATA
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
    for ready, sources in landings(links, left, LISTED):
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


def zone_inflow(filled: F32, codes: U8, accumulated: F64, zone: I32, n_zones: int, law: ShareLaw) -> F64:
    """Sum the flow that crosses into each zone from neighbours of another label.

    The sum is gross: water that leaves a zone and comes back is counted each time it enters. Conduit links
    are not counted.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
    accumulated : (n_rows, n_cols) float64
        Result of `accumulate_multiflow` with the same law.
    zone : (n_rows, n_cols) int32
        1..n_zones, 0 = no zone.
    n_zones : int
    law : ShareLaw

    Returns
    -------
    (n_zones,) float64
        Unit of `accumulated`; element 0 is zone 1.
    """
    lower = lower_neighbours(filled, codes).ravel()
    inflow: F64 = _zone_inflow(
        elev_of=filled.ravel(),
        lower_of=lower,
        accumulated=accumulated.ravel(),
        zone_of=zone.ravel(),
        n_zones=n_zones,
        law=law,
        n_cols=filled.shape[1],
    )
    return inflow


def reach_fraction(
    filled: F32, codes: U8, order: I64, target: U8, pen: I32, law: ShareLaw, links: ConduitLinks = NO_LINKS
) -> F64:
    """Fraction of the water of each cell that meets a target cell before it leaves the pen it starts in.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
    order : (n_valid,) int64
        Result of `multiflow_order`.
    target : (n_rows, n_cols) uint8
        Non-zero at target cells.
    pen : (n_rows, n_cols) int32
        Label of the pen; a step or a conduit link to a cell of another label leaves it.
    law : ShareLaw
    links : ConduitLinks
        As `order` was made with.

    Returns
    -------
    (n_rows, n_cols) float64 [0-1]
        1 at target cells, 0 at no data.
    """
    lower = lower_neighbours(filled, codes).ravel()
    fraction: F64 = _reach(
        elev_of=filled.ravel(),
        lower_of=lower,
        order=order,
        is_target=target.ravel(),
        pen_of=pen.ravel(),
        law=law,
        link_cell=links.cell,
        link_target=links.target,
        n_cols=filled.shape[1],
    )
    return fraction.reshape(filled.shape)


@striped
def _accumulate_in_strips(filled: F32, lower: U8, n_donors: U8, total: F64, strips: I64, law: ShareLaw) -> None:
    """Walk down each strip from every cell without donors; `total` holds the weights at first."""
    n_cols = filled.shape[1]
    elev_of = filled.reshape(-1)
    lower_of = lower.reshape(-1)
    left = n_donors.reshape(-1)
    total_of = total.reshape(-1)
    for strip in prange(strips.size - 1):
        start = strips[strip] * n_cols
        stop = strips[strip + 1] * n_cols
        stack = np.empty(stop - start, np.int32)
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
    for seam in strips[1:-1]:
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
    """Pass water down from `source` as far as the donors are all counted, and not out of the strip."""
    offsets = flat_offsets(n_cols)
    pull = np.empty(8, np.float32)
    left[source] = LISTED
    stack[0] = source
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        cell = int(stack[n_stack])
        receivers = lower_of[cell]
        if receivers == 0:
            continue
        if _leads_out(cell, receivers, offsets, start, stop):
            left[cell] = _WAITS_AT_SEAM
            continue
        per_pull = total[cell] / weigh(elev_of, receivers, cell, offsets, law, pull)
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
    if cell + offsets[0] >= start and cell + offsets[7] < stop:
        return False
    n_out = 0
    for k in range(8):
        if receivers >> k & 1 and not start <= cell + offsets[k] < stop:
            n_out += 1
    return n_out > 0


@compiled
def _zone_inflow(
    elev_of: F32, lower_of: U8, accumulated: F64, zone_of: I32, n_zones: int, law: ShareLaw, n_cols: int
) -> F64:
    offsets = flat_offsets(n_cols)
    pull = np.empty(8, np.float32)
    inflow = np.zeros(n_zones, np.float64)
    for cell in range(elev_of.size):
        crosses = False
        receivers = lower_of[cell]
        for k in range(8):
            if receivers >> k & 1:
                entered = zone_of[cell + offsets[k]]
                crosses = crosses or (entered > 0 and entered != zone_of[cell])
        if crosses:
            per_pull = accumulated[cell] / weigh(elev_of, receivers, cell, offsets, law, pull)
            for k in range(8):
                if receivers >> k & 1:
                    entered = zone_of[cell + offsets[k]]
                    if entered > 0 and entered != zone_of[cell]:
                        inflow[entered - 1] += per_pull * pull[k]
    return inflow


@compiled
def _reach(
    elev_of: F32,
    lower_of: U8,
    order: I64,
    is_target: U8,
    pen_of: I32,
    law: ShareLaw,
    link_cell: I64,
    link_target: I64,
    n_cols: int,
) -> F64:
    offsets = flat_offsets(n_cols)
    pull = np.empty(8, np.float32)
    fraction = np.zeros(elev_of.size, np.float64)
    for cell in order[::-1]:
        if is_target[cell] != 0:
            fraction[cell] = 1.0
            continue
        if lower_of[cell] == 0:
            far = target_of(link_cell, link_target, cell)
            if far >= 0 and pen_of[far] == pen_of[cell]:
                fraction[cell] = fraction[far]
            continue
        reached = 0.0
        total = weigh(elev_of, lower_of[cell], cell, offsets, law, pull)
        for k in range(8):
            if lower_of[cell] >> k & 1:
                near = cell + offsets[k]
                if pen_of[near] == pen_of[cell]:
                    reached += pull[k] * fraction[near]
        # all shares reaching can sum to a rounding more than the whole
        fraction[cell] = min(reached / total, 1.0)
    return fraction
