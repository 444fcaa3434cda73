"""Runoff depth by curve number."""

import numpy as np

from screening.kernels.compiling import F64


def curve_number_runoff(rain_mm: F64, curve_number: F64, ratio: float) -> F64:
    """Runoff depth [mm] of rain [mm] on ground of a curve number: TR-55 (1986) eq. 2-1 to 2-4.

    Parameters
    ----------
    rain_mm, curve_number
        float64, broadcast against each other.
    ratio
        Initial abstraction as a share of the potential retention S = 25.4 (1000/CN - 10) mm.

    Returns
    -------
    float64 [mm]; 0 below the initial abstraction.
    """
    retention = (1000.0 / curve_number - 10.0) * 25.4
    excess = np.maximum(rain_mm - ratio * retention, 0.0)
    # Where nothing runs off the quotient may be 0/0: no rain on ground that keeps nothing.
    total = excess + retention
    runoff: F64 = np.divide(excess**2, total, out=np.zeros_like(total), where=total > 0)
    return runoff
