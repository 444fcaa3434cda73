"""Laws by which a cell shares its water among its lower neighbours."""

from typing import NamedTuple

import numpy as np

from screening.kernels.compiling import F32, I64, compiled
from screening.kernels.neighbours import DIAGONALS, PER_DISTANCE, SQRT_HALF


class ShareLaw(NamedTuple):
    """How water is shared: in the ratio of width * tan(slope) ** p.

    p = exponent + min(exponent_per_drop * (steepest drop over one cell), exponent_rise).

    Parameters
    ----------
    exponent : float32
        p on level ground.
    exponent_rise : float32
        What p gains at most.
    exponent_per_drop : float32 [1/m]
        What p gains for each metre that the steepest descent falls over one cell.
    diagonal_width : float32
        Width across which water leaves to a diagonal neighbour, over that to a neighbour by side.
    """

    exponent: np.float32
    exponent_rise: np.float32
    exponent_per_drop: np.float32
    diagonal_width: np.float32


def freeman(exponent: float = 1.1) -> ShareLaw:
    """Law of Freeman: one exponent everywhere, no widths.

    Parameters
    ----------
    exponent : float
        Larger is less dispersive.

    Returns
    -------
    ShareLaw

    References
    ----------
    Freeman (1991), doi:10.1016/0098-3004(91)90048-I.
    """
    return ShareLaw(np.float32(exponent), np.float32(0), np.float32(0), np.float32(1))


def qin(cell_m: float) -> ShareLaw:
    """Law of Qin and others: p = 8.9 * min(tan b, 1) + 1.1 by the steepest descent b, so steep ground spreads less.

    Parameters
    ----------
    cell_m : float [m]
        In the unit of the elevation: p depends on the slope itself, not on ratios of slopes.

    Returns
    -------
    ShareLaw

    References
    ----------
    Qin and others (2007), doi:10.1080/13658810601073240: bounds 1.1 and 10 at tan b 0 and 1 from memory; they and
    the widths, 0.5 and 0.354 cells, as the help page of whitebox-workflows' qin_flow_accumulation states them.
    """
    rise = np.float32(8.9)
    return ShareLaw(np.float32(1.1), rise, np.float32(8.9 / cell_m), SQRT_HALF)


@compiled
def weigh(elev_of: F32, receivers: int, cell: int, offsets: I64, law: ShareLaw, pull: F32) -> float:
    """Write the pull of each neighbour, and return their sum: a neighbour's share is its part of that.

    Single precision, for speed: shares are right to 1e-7, and sum to 1 to rounding in double.

    Parameters
    ----------
    elev_of : (n_cells,) float32 [m]
    receivers : int
        Set of the neighbours that receive, bit `k` for neighbour `k`; not empty.
    cell : int
    offsets : (8,) int64
        As from `flat_offsets`.
    law : ShareLaw
    pull : (8,) float32
        Written; 0 for neighbours that do not receive.

    Returns
    -------
    float64
    """
    steepest = np.float32(0)
    # `steepest` is the largest descent among the receivers before k.
    for k in range(8):
        pull[k] = np.float32(0)
        if receivers >> k & 1:
            pull[k] = (elev_of[cell] - elev_of[cell + offsets[k]]) * PER_DISTANCE[k]
            steepest = max(steepest, pull[k])
    power = law.exponent + min(steepest * law.exponent_per_drop, law.exponent_rise)
    total = np.float64(0)
    # `total` is the sum of the pulls before k.
    for k in range(8):
        if receivers >> k & 1:
            # relative to the steepest, so that no exponent makes all of them vanish; a flat has one receiver
            pull[k] = np.float32(1) if pull[k] == steepest else (pull[k] / steepest) ** power
            if DIAGONALS >> k & 1:
                pull[k] *= law.diagonal_width
            total += pull[k]
    return total
