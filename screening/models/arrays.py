"""Array types, and how arrays are kept from changing."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
U8 = NDArray[np.uint8]
U32 = NDArray[np.uint32]
Bool = NDArray[np.bool_]

NORTH_SIDE, EAST_SIDE, SOUTH_SIDE, WEST_SIDE = 1, 2, 4, 8
"""Bits that name the sides of a window."""
GAP_SIDE = 16
"""Bit for water that may arrive from ground without elevation inside the window."""


def freeze(*arrays: NDArray[Any]) -> None:
    """Set arrays read-only, so that a value that holds them cannot change under its reader."""
    for array in arrays:
        array.setflags(write=False)
