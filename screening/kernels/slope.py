"""Gradient, slope and aspect over the 3 x 3 window."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, compiled, striped
from screening.kernels.neighbours import COL_STEP, ROW_STEP


def horn_gradient(elev: F32 | F64, cell_m: float) -> tuple[F64, F64]:
    """Rate of rise eastward and northward by third-order finite differences.

    A missing neighbour (window edge, no data) is put on the straight line from the opposite one through the
    centre, or on the plane of its two side neighbours, so that a plane keeps its gradient up to the edge.
    Where both neighbours along a row or a column are missing, the ground is taken as level that way.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 or float64 [m]
        Row 0 is north; NaN = no data.
    cell_m : float

    Returns
    -------
    dzdx, dzdy : (n_rows, n_cols) float64 [m/m]
        NaN where there is no data.

    References
    ----------
    Horn (1981), Hill shading and the reflectance map, doi:10.1109/PROC.1981.11918.
    """
    gradient: tuple[F64, F64] = _horn(elev, float(cell_m))
    return gradient


def horn_slope_pct(elev: F32 | F64, cell_m: float) -> F64:
    """Slope of the surface.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 or float64 [m]
    cell_m : float

    Returns
    -------
    (n_rows, n_cols) float64 [%]
        NaN where there is no data.
    """
    dzdx, dzdy = horn_gradient(elev, cell_m)
    return 100.0 * np.hypot(dzdx, dzdy)


def aspect_deg(elev: F32 | F64, cell_m: float) -> F64:
    """Direction the surface faces, downslope, clockwise from north.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 or float64 [m]
    cell_m : float

    Returns
    -------
    (n_rows, n_cols) float64 [deg]
        0 <= aspect < 360; NaN on level ground and where there is no data.
    """
    dzdx, dzdy = horn_gradient(elev, cell_m)
    aspect = np.degrees(np.arctan2(-dzdx, -dzdy)) % 360.0
    aspect[aspect == 360.0] = 0.0  # a tiny negative angle rounds up to a full turn
    aspect[(dzdx == 0.0) & (dzdy == 0.0)] = np.nan
    return aspect


@striped
def _horn(elev: F32 | F64, cell_m: float) -> tuple[F64, F64]:
    n_rows, n_cols = elev.shape
    dzdx = np.empty((n_rows, n_cols), np.float64)
    dzdy = np.empty((n_rows, n_cols), np.float64)
    # Rows are independent; each has a window of its own.
    for row in prange(n_rows):
        z = np.empty(8, np.float64)
        for col in range(n_cols):
            if np.isnan(elev[row, col]):
                dzdx[row, col] = np.nan
                dzdy[row, col] = np.nan
                continue
            _window(elev, row, col, z)
            dzdx[row, col] = ((z[2] + 2 * z[4] + z[7]) - (z[0] + 2 * z[3] + z[5])) / (8 * cell_m)
            dzdy[row, col] = ((z[0] + 2 * z[1] + z[2]) - (z[5] + 2 * z[6] + z[7])) / (8 * cell_m)
    return dzdx, dzdy


@compiled
def _window(elev: F32 | F64, row: int, col: int, z: F64) -> None:
    """Write the eight neighbours relative to the centre, the missing ones extended from the others."""
    n_rows, n_cols = elev.shape
    centre = np.float64(elev[row, col])
    n_missing = 0
    # The neighbours before k are written, `n_missing` of them NaN.
    for k in range(8):
        near_row = row + ROW_STEP[k]
        near_col = col + COL_STEP[k]
        z[k] = np.nan
        if 0 <= near_row < n_rows and 0 <= near_col < n_cols:
            z[k] = np.float64(elev[near_row, near_col]) - centre
        if np.isnan(z[k]):
            n_missing += 1
    if n_missing == 0:
        return
    # Sides first, since the diagonals are made from them. The opposite of k is 7 - k; where both are missing the first
    # becomes 0, the second its mirror.
    for k in (1, 3, 4, 6):
        if np.isnan(z[k]):
            z[k] = 0.0 if np.isnan(z[7 - k]) else -z[7 - k]
    # both diagonals of a pair may be missing: each then lies on the plane of its two sides
    for k, side, beyond in ((0, 3, 4), (2, 4, 3)):
        if np.isnan(z[k]) and np.isnan(z[7 - k]):
            z[k], z[7 - k] = z[1] + z[side], z[6] + z[beyond]
        elif np.isnan(z[k]):
            z[k] = -z[7 - k]
        elif np.isnan(z[7 - k]):
            z[7 - k] = -z[k]
