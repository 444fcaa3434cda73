"""Elevations that no ground has: too high, or marks for no data that the file does not tag."""

from __future__ import annotations

import numpy as np

from screening.errors import InputError
from screening.models import F32

HIGHEST_M = 9000.0
"""No ground stands farther above the datum, and none that a house stands on farther below it."""
STEEPEST_STEP_M = 100.0
"""A step between neighbouring cells above which one of them is no ground: common practice. The highest sheer walls are
no places for houses."""
STEP_FROM_ZERO_M = 30.0
"""The same where one of the two is exactly 0, the customary mark of programs that tag none."""
_STEP_PER_CELL = 10.0


def check_heights(elev_m: F32, *, name: str, unit: str, cell_m: float) -> None:
    """Refuse elevations that no ground has.

    Parameters
    ----------
    elev_m
        float32 (n_rows, n_cols) [m], NaN = no data, neighbours beside each other as in the file.
    name
        Of the raster, for messages.
    unit
        Vertical unit that was taken for it.
    cell_m
        Cell size [m]: on wide cells steps are higher.

    Raises
    ------
    InputError
        An elevation lies more than `HIGHEST_M` from 0, or two neighbouring cells lie farther apart than a wall of rock.
    """
    highest = float(np.nanmax(np.abs(elev_m), initial=0.0, where=np.isfinite(elev_m)))
    if highest > HIGHEST_M:
        value = float(elev_m[np.abs(elev_m) == np.float32(highest)][0])
        raise InputError(
            f"The elevation raster {name} holds elevations that no ground has",
            got=f"{value:,.0f} m, taking its vertical unit as {unit}",
            expected=f"within {HIGHEST_M:,.0f} m of 0",
            mend="state the right unit with --vertical-unit m|ft|us-ft|cm; if it is a mark for no data, tag it, "
            "for example with `rio edit-info --nodata VALUE FILE`",
        )
    for axis in (0, 1):
        step = np.abs(np.diff(elev_m, axis=axis))
        found = np.flatnonzero(step > max(STEP_FROM_ZERO_M, _STEP_PER_CELL * cell_m))
        first, second = np.delete(elev_m, -1, axis=axis).flat[found], np.delete(elev_m, 0, axis=axis).flat[found]
        is_mark = (step.flat[found] > STEEPEST_STEP_M) | (first == 0) | (second == 0)
        if is_mark.any():
            pair = float(first[is_mark][0]), float(second[is_mark][0])
            raise InputError(
                f"Neighbouring cells of the elevation raster {name} stand too far apart to be ground: one looks like a "
                "mark for no data that is not tagged",
                got=f"{min(pair):,.2f} m beside {max(pair):,.2f} m",
                expected="ground, or no data tagged as such",
                mend="tag the mark, for example with `rio edit-info --nodata VALUE FILE`; if it is ground, cut the "
                "raster to leave the place out",
            )
