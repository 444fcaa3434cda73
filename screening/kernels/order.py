"""Order of cells along the flow."""

import numpy as np

from screening.kernels.compiling import I32, compiled


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
    order: I32 = _order(receiver)
    return order


@compiled
def _order(receiver: I32) -> I32:
    left = np.zeros(receiver.size, np.uint8)
    n_valid = 0
    for cell in range(receiver.size):
        if receiver[cell] >= 0:
            n_valid += 1
            if receiver[cell] != cell:
                left[receiver[cell]] += 1
    order = np.empty(n_valid, np.int32)
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
    return order
