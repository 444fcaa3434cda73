"""Lots grouped into blocks by place: near ones share a window, and no window is larger than a worker can hold."""

from __future__ import annotations

import numpy as np

from screening.grid import Bounds
from screening.models import F64, I64

LOTS_MAX = 250
"""Most lots of a block: what a killed worker puts at risk, and what its findings take in memory."""
CELLS_MAX = 6_000_000
"""Most cells of a block with the ground that it looks at around, before its window grows."""

_EVERYWHERE: Bounds = (-np.inf, -np.inf, np.inf, np.inf)


def group_lots(bounds_m: F64, *, cell_m: float, around_m: float, within: Bounds) -> I64:
    """Group lots into blocks by place, those that will take longest first.

    What reaches too far is cut amid the longer side of its extent, what holds too many lots at their median, until
    each group is small enough: blocks are compact, and a lot far from everything else has its own. A window looks
    about twice as far as it first takes ground: what lies within that is what a block is expected to cost, and short
    ones come last so that workers end together.

    Parameters
    ----------
    bounds_m
        West, south, east, north of each lot, float64 (n, 4) [m].
    cell_m
        Side of a cell [m].
    around_m
        Ground that a window takes on every side [m].
    within
        Extent of the elevation [m].

    Returns
    -------
    Block number of each lot from 0, int64 (n,).

    Examples
    --------
    >>> boxes = np.array([[0, 0, 9, 9], [10, 0, 19, 9], [90_000, 0, 90_009, 9]], float)
    >>> group_lots(boxes, cell_m=1.0, around_m=500.0, within=(-9e4, -9e4, 9e5, 9e4)).tolist()
    [0, 0, 1]
    """
    waiting = [np.arange(len(bounds_m))] if len(bounds_m) else []
    groups: list[I64] = []
    while waiting:
        group = waiting.pop()
        is_small = _cells(bounds_m[group], cell_m, around_m) <= CELLS_MAX
        if len(group) == 1 or (len(group) <= LOTS_MAX and is_small):
            groups.append(group)
        else:
            waiting.extend(reversed(halve(group, bounds_m) if is_small else _cut(group, bounds_m)))
    groups.sort(key=lambda group: -_cells(bounds_m[group], cell_m, 2 * around_m, within))
    block = np.zeros(len(bounds_m), np.int64)
    for number, group in enumerate(groups):
        block[group] = number
    return block


def halve(group: I64, bounds_m: F64) -> tuple[I64, I64]:
    """Halve two or more lots, given by their rows in `bounds_m`, at the median of the longer side of their extent."""
    centre = (bounds_m[group, :2] + bounds_m[group, 2:]) / 2.0
    along = int(np.argmax(np.ptp(centre, axis=0)))
    order = group[np.argsort(centre[:, along], kind="stable")]
    middle = len(order) // 2
    return np.sort(order[:middle]), np.sort(order[middle:])


def _cut(group: I64, bounds_m: F64) -> tuple[I64, I64]:
    """Cut lots amid the longer side of their extent; at the median where all have one place."""
    centre = (bounds_m[group, :2] + bounds_m[group, 2:]) / 2.0
    along = int(np.argmax(np.ptp(centre, axis=0)))
    place = centre[:, along]
    is_first = place < (place.min() + place.max()) / 2.0
    if is_first.all() or not is_first.any():
        return halve(group, bounds_m)
    return group[is_first], group[~is_first]


def _cells(bounds_m: F64, cell_m: float, around_m: float, within: Bounds = _EVERYWHERE) -> float:
    west, south = np.maximum(bounds_m[:, :2].min(axis=0) - around_m, within[:2])
    east, north = np.minimum(bounds_m[:, 2:].max(axis=0) + around_m, within[2:])
    return float((east - west) * (north - south) / cell_m**2)
