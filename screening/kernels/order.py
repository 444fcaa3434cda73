"""Order of cells along the flow."""

import numpy as np

from screening.kernels.compiling import I32, U8, compiled


def downstream_order(receiver: I32) -> I32:
    """List the cells with data so that every cell comes before the one it drains to.

    Parameters
    ----------
    receiver : (n_cells,) int32
        Flat index of the receiving cell, the cell itself at outlets, -1 at no data.

    Returns
    -------
    (n_valid,) int32
    """
    n_donors = np.zeros(receiver.size, np.uint8)
    order = np.empty(_count_donors(receiver, n_donors), np.int32)
    _list(receiver, n_donors, order)
    return order


@compiled
def _count_donors(receiver: I32, n_donors: U8) -> int:
    """Count the donors of each cell, and return how many cells have data."""
    n_valid = 0
    for cell in range(receiver.size):
        if receiver[cell] >= 0:
            n_valid += 1
            if receiver[cell] != cell:
                n_donors[receiver[cell]] += 1
    return n_valid


@compiled
def _list(receiver: I32, left: U8, order: I32) -> None:
    n = 0
    for source in range(receiver.size):
        if receiver[source] < 0:
            continue
        cell = int(source)
        while left[cell] == 0:
            left[cell] = 255  # listed; a cell has eight donors at most
            order[n] = cell
            n += 1
            if receiver[cell] == cell:
                break
            cell = int(receiver[cell])
            left[cell] -= 1
