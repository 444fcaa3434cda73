"""Order of cells along the flow."""

import numpy as np

from screening.kernels.compiling import I32, U8, compiled
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, await_links, landings

_LISTED = 255  # in place of the number of donors left to wait for: eight at most, and one for all conduit links


def downstream_order(receiver: I32, links: ConduitLinks = NO_LINKS) -> I32:
    """List the cells with data so that every cell comes before the one it drains to.

    Parameters
    ----------
    receiver : (n_cells,) int32
        Flat index of the receiving cell, the cell itself at outlets, -1 at no data.
    links : ConduitLinks
        The cells whose receiver is no neighbour.

    Returns
    -------
    (n_valid,) int32
    """
    # Walks go by neighbours; a cell with a conduit link ends them, as an outlet would.
    beside = receiver
    if links.cell.size:
        beside = receiver.copy()
        beside[links.cell] = links.cell
    left = np.zeros(receiver.size, np.uint8)
    order = np.empty(_count_donors(beside, left), np.int32)
    await_links(left, links)
    n = _list(beside, left, order, 0, 0, receiver.size)
    # `order[:n]` is right as far as it goes: each cell in it comes after all its donors.
    for _, sources in landings(links, left, _LISTED):
        for source in sources.tolist():
            n = _list(beside, left, order, n, source, source + 1)
    return order


@compiled
def _count_donors(receiver: I32, n_donors: U8) -> int:
    """Count the donors of each cell, and return how many cells have data."""
    n_valid = 0
    # The donors before `cell` are counted, eight at most each.
    for cell in range(receiver.size):
        if receiver[cell] >= 0:
            n_valid += 1
            if receiver[cell] != cell:
                n_donors[receiver[cell]] += 1
    return n_valid


@compiled
def _list(receiver: I32, left: U8, order: I32, n: int, start: int, stop: int) -> int:
    """Walk down from each of the cells `start` to `stop` that waits for none, as far as all donors are listed."""
    # All cells before `source` that waited for nothing are listed, with what they led to.
    for source in range(start, stop):
        if receiver[source] < 0:
            continue
        cell = int(source)
        # All donors of `cell` are listed. What is listed bears a mark, so it is never taken twice.
        while left[cell] == 0:
            left[cell] = _LISTED
            order[n] = cell
            n += 1
            if receiver[cell] == cell:
                break
            cell = int(receiver[cell])
            left[cell] -= 1
    return n
