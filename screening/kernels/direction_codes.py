"""Direction codes: 0 to 7 the neighbour that receives (order of `neighbours`), FLAT, OUTLET, NODATA.

Only this module, `d8`, `flats` and `upstream_counts` know more of them than that a code above 7 has no receiver.
"""

import numpy as np

from screening.kernels.compiling import U8
from screening.kernels.neighbours import NO_STEP

FLAT = NO_STEP
"""While directions are looked for: nothing lower around, not yet drained. No finished code."""
OUTLET = 9
NODATA = 255
_POWER_OF_TWO = np.zeros(256, np.uint8)
_POWER_OF_TWO[:8] = (32, 64, 128, 16, 1, 8, 4, 2)
_POWER_OF_TWO[NODATA] = 255


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
